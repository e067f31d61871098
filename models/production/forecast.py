"""Sample paths of the gas to come, from the state that the log left. Needs no statsmodels."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import timedelta

import numpy as np

from models.calendar import local_midnights
from models.production.parameters import LEVEL_PRIOR, drawn_kinetics, season
from models.production.pools import POOL_MEMORY_D, Pools, pools_now, recent_feed, unseen
from models.production.slurry import (
    FEW_READINGS,
    FEW_READINGS_SD_K,
    RESIDUAL_DECAY_PER_D,
    SlurryNow,
    forcing_c,
)
from models.production.substrate import (
    UNLOGGED_FEED,
    USUAL_WEIGHT_D,
    Feeding,
    Kinetics,
)
from models.production.values import ProductionState
from models.temperature import ANOMALY_DECAY_PER_D, daily_mean, extraterrestrial_mj_per_m2_d
from models.units import Floats

KINETIC_DRAWS = 64
LEVELLED_D = 45  # every draw of the kinetics explains the gas of this long as the fit does
FEED_SAMPLE_D = 60
BRIM_SPREAD = 0.13  # of what a holder that always runs over tells: capacity, gauge and habits err alike every time
BOOK_SPREAD = 0.07  # of what a flame takes by its rating and the minutes noted: common practice, no source


@dataclass(frozen=True, slots=True, kw_only=True)
class ProductionPaths:
    """Sample paths of gas made.

    `level_sm3` (paths,) is the gas truly in the holder at `level_d`, the last gauge reading; NaN where it was never
    read. `made_before_sm3` (paths,) was made from then to the first edge, `made_sm3` (paths, steps) between successive
    edges. `slurry_c` (paths, steps) is the slurry of the first digester, `air_c` (steps,) the expected air.
    `burned_ratio` (paths,) is what cooking truly takes over what rating and minutes make of it; where the gas made was
    read from such minutes, it is off by as much.
    """

    level_sm3: Floats
    level_time_d: float
    made_before_sm3: Floats
    made_sm3: Floats
    slurry_c: Floats
    air_c: Floats
    burned_ratio: Floats

    def first(self, steps: int) -> ProductionPaths:
        """The paths over the first steps."""
        near = slice(steps)
        made, slurry = self.made_sm3[:, near], self.slurry_c[:, near]
        return replace(self, made_sm3=made, slurry_c=slurry, air_c=self.air_c[near])


def _mirrored(paths: int, others: int, rng: np.random.Generator) -> Floats:
    """Standard normal draws, (paths, others): every second path the mirror image of the one before.

    So the middle of the paths is where it would be with many more of them, and medians do not wander with the seed.
    """
    half = rng.standard_normal(((paths + 1) // 2, others))
    return np.stack([half, -half], axis=1).reshape(-1, others)[:paths]


def _coming_days(state: ProductionState, until_d: float) -> Floats:
    """Edges of the days after the as-of day, until they cover a moment. [d]"""
    known = state.known
    past = len(known.air_c)
    count = max(int(np.ceil(until_d - known.edges_d[-1] + 0.1)), 0)
    return local_midnights(known.day0 + timedelta(days=past), count, known.household.zone)


def _air_paths(state: ProductionState, edges_d: Floats, paths: int, rng: np.random.Generator) -> Floats:
    """Daily air temperature of each path, shape (days, paths): exact where posted, wandering beyond. [°C]"""
    air = state.known.air
    expected = daily_mean(air, edges_d)
    middle = np.floor((edges_d[:-1] + edges_d[1:]) / 2.0 + air.offset_d)
    posted = np.isin(middle, air.day)
    shock_sd = air.anomaly_sd_k * np.sqrt(1.0 - ANOMALY_DECAY_PER_D**2)
    off = np.zeros(paths)
    out = np.empty((len(expected), paths))
    for day, mean in enumerate(expected.tolist()):
        off = np.zeros(paths) if posted[day] else ANOMALY_DECAY_PER_D * off + shock_sd * rng.standard_normal(paths)
        out[day] = mean + off
    return out


def _slurry_paths(now: SlurryNow, air_c: Floats, sun: Floats, shift_k: Floats, rng: np.random.Generator) -> Floats:
    """Slurry of one digester on the coming days, shape (days, paths), off by a lasting shift of each path. [°C]"""
    fit, paths = now.fit, air_c.shape[1]
    decay = np.exp(-1.0 / fit.lag_d)
    lagged = np.full(paths, now.lagged_c)
    off = now.residual_k + np.sqrt(now.residual_var) * rng.standard_normal(paths)
    shock_sd = fit.residual_sd_k * np.sqrt(1.0 - RESIDUAL_DECAY_PER_D**2)
    out = np.empty_like(air_c)
    for day in range(len(air_c)):
        if fit.held_c is None:
            lagged = decay * lagged + (1.0 - decay) * forcing_c(fit, air_c[day], float(sun[day]))
        off = RESIDUAL_DECAY_PER_D * off + shock_sd * rng.standard_normal(paths)
        out[day] = lagged + off + shift_k
    return out


def _feed_paths(fed: Feeding, days: int, paths: int, rhythm: bool, rng: np.random.Generator) -> tuple[Floats, Floats]:
    """Feed of the coming days, drawn from the last logged ones: gas it can give and dilution, (days, paths) each.

    With a weekly rhythm, from the same weekday.
    """
    sample = np.flatnonzero(fed.logged)[-FEED_SAMPLE_D:]
    if not len(sample):
        amount = UNLOGGED_FEED * unseen((days, paths), rng)
        return fed.usual_gas_sm3 * amount, fed.usual_dilution_per_d * amount
    gas, dilution = np.empty((days, paths)), np.empty((days, paths))
    usual = rng.random((days, paths)) < USUAL_WEIGHT_D / (len(sample) + USUAL_WEIGHT_D)
    for day in range(days):
        alike = sample[(len(fed.logged) + day - sample) % 7 == 0] if rhythm else sample
        drawn = rng.choice(alike if len(alike) else sample, paths)
        gas[day] = np.where(usual[day], fed.usual_gas_sm3, fed.gas_sm3[drawn])
        dilution[day] = np.where(usual[day], fed.usual_dilution_per_d, fed.dilution_per_d[drawn])
    return gas, dilution


def _shifts(now: SlurryNow, draws: int, rng: np.random.Generator) -> Floats:
    """Lasting error of a slurry temperature that hardly anybody measured, shape (draws,). [K]"""
    sd = FEW_READINGS_SD_K if now.fit.readings < FEW_READINGS else 0.0
    return np.asarray(sd * rng.standard_normal(draws))


@dataclass(frozen=True, slots=True, kw_only=True)
class Physics:
    """The physics feature of each path by day, (days, paths), and the first digester's slurry; from `edges_d[0]` on."""

    edges_d: Floats
    expected_sm3: Floats
    slurry_c: Floats


def _trust(state: ProductionState) -> float:
    """How far the log, not the prior, tells the level: 0 to 1."""
    return float(np.clip(1.0 - state.covariance[0, 0] / LEVEL_PRIOR[1] ** 2, 0.0, 1.0))


def _physics(state: ProductionState, until_d: float, paths: int, rng: np.random.Generator) -> Physics:
    """Pools of every digester from the last weeks of the log to a moment. [d]"""
    known, fitted = state.known, state.parameters.kinetics
    path = np.arange(paths) % KINETIC_DRAWS
    kinetics = drawn_kinetics(state.z, state.z_covariance, KINETIC_DRAWS, rng)
    own = Kinetics(*(np.asarray(getattr(kinetics, name))[path] for name in Kinetics.__dataclass_fields__))
    coming_d = _coming_days(state, until_d)
    air_c = _air_paths(state, coming_d, paths, rng)
    sun = extraterrestrial_mj_per_m2_d(known.household.site.latitude_deg, coming_d[:-1])
    home = ~known.away(known.day0 + timedelta(days=len(known.air_c)), len(air_c))[:, None]
    past, best, future, slurry = [], [], [], []
    for one in state.digesters:
        shift = _shifts(one.slurry, KINETIC_DRAWS, rng)
        pools, made = pools_now(one, kinetics, shift, recent_feed(one.feeding, KINETIC_DRAWS, rng))
        past.append(made)
        best.append(pools_now(one, fitted, np.zeros(1), one.feeding.gas_sm3[-POOL_MEMORY_D:, None])[1])
        warm = _slurry_paths(one.slurry, air_c, sun, shift[path], rng)
        rhythm = state.diagnostics["weekday_rhythm"] == "found"
        gas, dilution = _feed_paths(one.feeding, len(warm), paths, rhythm, rng)
        walked = Pools(own, pools.fast[path], pools.slow[path])
        days = zip(warm, home * gas, home * dilution, strict=True)
        future.append(np.array([walked.step(*day) for day in days]).reshape(-1, paths))
        before = one.slurry.daily_c[-len(made) :, None] + shift[path]
        slurry.append(np.vstack([before, warm]))
    drawn, fit_sm3 = np.sum(past, axis=0), np.sum(best, axis=0)
    recent = slice(-LEVELLED_D, None)
    ratio = (fit_sm3[recent].sum() + 1e-9) / (drawn[recent].sum(axis=0) + 1e-9)
    levelled = (ratio ** _trust(state))[path]
    return Physics(
        edges_d=np.append(known.edges_d[-len(drawn) - 1 : -1], coming_d),
        expected_sm3=np.vstack([drawn[:, path], np.sum(future, axis=0)]) * levelled,
        slurry_c=slurry[0],
    )


def _multipliers(state: ProductionState, alpha: Floats, middle_d: Floats, rng: np.random.Generator) -> Floats:
    """Gas made over gas expected on each day, (days, paths): level, spell and season, without the day's own shock."""
    parameters, paths = state.parameters, len(alpha)
    level, spell = alpha[:, 0].copy(), alpha[:, 1].copy()
    brim = 1.0 + BRIM_SPREAD * state.brim_share * _mirrored(paths, 1, rng)[:, 0]
    drift, spread = state.widening * parameters.drift, state.widening * parameters.spell_spread
    now = state.state_d
    out = np.empty((len(middle_d), paths))
    waves = season(middle_d)
    strays = _mirrored(paths, 2 * len(middle_d), rng).T
    for day, moment in enumerate(middle_d.tolist()):
        step = max(moment - now, 0.0)
        now = max(moment, now)
        stays = np.exp(-step / parameters.spell_d)
        level += drift * np.sqrt(step) * strays[2 * day]
        spell = stays * spell + spread * np.sqrt(1.0 - stays**2) * strays[2 * day + 1]
        out[day] = (level + spell + alpha[:, 2:4] @ waves[:, day]) * brim
    return out


def _alphas(state: ProductionState, paths: int, rng: np.random.Generator) -> Floats:
    """Draws of the joint state, (paths, 6)."""
    values, vectors = np.linalg.eigh(state.covariance)
    root = vectors * np.sqrt(np.maximum(values, 0.0))
    return np.asarray(state.mean + _mirrored(paths, len(state.mean), rng) @ root.T)


def _levels(state: ProductionState, alpha: Floats, rng: np.random.Generator) -> Floats:
    """Gas truly in the holder at the last look at the gauge, (paths,). [sm3]"""
    error = alpha[:, 4] if state.level_in_state else state.level_error_sm3 * rng.standard_normal(len(alpha))
    return np.clip(state.level_sm3 - error, 0.0, state.capacity_sm3)


def _cumulated_at(time_d: Floats, edges_d: Floats, made_sm3: Floats) -> Floats:
    """Gas made since the first edge up to each moment, (moments, paths), even within a day. [sm3]"""
    total = np.vstack([np.zeros(made_sm3.shape[1]), np.cumsum(made_sm3, axis=0)])
    day = np.clip(np.searchsorted(edges_d, time_d, side="right") - 1, 0, len(made_sm3) - 1)
    share = np.clip((time_d - edges_d[day]) / (edges_d[day + 1] - edges_d[day]), 0.0, 1.0)
    return np.asarray(total[day] + share[:, None] * made_sm3[day])


def sample_paths(state: ProductionState, *, edges_d: Floats, paths: int, rng: np.random.Generator) -> ProductionPaths:
    """Draw sample paths of the gas made between edges.

    Parameters
    ----------
    state : ProductionState
    edges_d : ndarray
        Increasing, from the as-of moment on, shape (steps + 1,). [d]
    paths : int
    rng : Generator
        The only source of chance.

    Returns
    -------
    ProductionPaths
    """
    edges = np.asarray(edges_d, dtype=float)
    physics = _physics(state, float(edges[-1]), paths, rng)
    start_d = state.level_d if np.isfinite(state.level_d) else float(edges[0])
    first = int(np.clip(np.searchsorted(physics.edges_d, min(start_d, edges[0]), side="right") - 1, 0, None))
    days_d, expected = physics.edges_d[first:], physics.expected_sm3[first:]
    alpha = _alphas(state, paths, rng)
    flame = 0.0 if state.known.stove_metered else BOOK_SPREAD
    burned_ratio = np.exp(flame * _mirrored(paths, 1, rng)[:, 0])
    booked = burned_ratio**state.booked_share
    ratio = _multipliers(state, alpha, (days_d[:-1] + days_d[1:]) / 2.0, rng) * booked
    shock = state.parameters.day_spread * _mirrored(paths, len(ratio), rng).T
    made = np.minimum(expected * np.maximum(ratio + shock, 0.0), state.most_sm3_per_d)
    today = int(np.searchsorted(days_d, edges[0], side="right")) - 1
    echo = state.echo.added(float(np.median(made[today])), len(made) - today)
    made[today:] = np.maximum(made[today:] + echo[:, None], 0.0)
    at = _cumulated_at(np.append(start_d, edges), days_d, made)
    middle = (edges[:-1] + edges[1:]) / 2.0
    day = np.clip(np.searchsorted(physics.edges_d, middle, side="right") - 1, 0, len(physics.slurry_c) - 1)
    return ProductionPaths(
        level_sm3=_levels(state, alpha, rng),
        level_time_d=state.level_d,
        made_before_sm3=at[1] - at[0],
        made_sm3=np.diff(at[1:], axis=0).T,
        slurry_c=physics.slurry_c[day].T,
        air_c=daily_mean(state.known.air, physics.edges_d)[day],
        burned_ratio=burned_ratio,
    )
