"""Slurry temperature: air and sun through a first-order lag, learnt from the logged slurry temperatures."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import asdict, dataclass
from itertools import product
from typing import Any

import numpy as np
from scipy.signal import lfilter

from models.digester import Digester
from models.log import Readings
from models.production.record import Record
from models.units import Floats, Ints

LAGS_D = (1.5, 2.5, 4.0, 6.0, 9.0)
LAG_PRIOR = (np.log(4.0), 0.5)
WARMTH_PRIOR_K = (1.5, 2.0)  # ground, insulation and its own heat, above the air
SUN_PRIOR = (0.12, 0.08)  # K per MJ/m2/d
AIR_SHARES = (1.0, 0.75, 0.5, 0.25)  # below 1 the ground evens out the year
AIR_SHARE_PRIOR = (1.0, 0.3)
WALL_SHARES = (0.2, 0.35, 0.5)  # how much of the air an outside-wall sensor reads
WALL_PRIOR = (0.35, 0.15)
HEATED_PRIOR_C = (35.0, 8.0)
HEATED_PENALTY = 8.0  # in units of minus twice the log density: one digester in fifty is heated
READING_SD_K = 1.2
SERIAL_FACTOR = 2.5  # neighbouring readings err alike, so they count for less
RESIDUAL_DECAY_PER_D = 0.92
RESIDUAL_SD_K = 1.2
FEW_READINGS = 5
FEW_READINGS_SD_K = 2.5


@dataclass(frozen=True, slots=True, kw_only=True)
class SlurryFit:
    """How one digester's slurry follows the air.

    `lag_d` is its time constant, `warmth_k` and `sun_k_per_mj` what it stands above the air at night and per unit of
    sun; it feels `air_share` of the air's departure from `ground_c`, the year's mean. `wall_share` is how much of the
    air the sensor reads, `held_c` the temperature of a heated digester (None where it follows the air) and
    `residual_sd_k` the spread of what the lag leaves unexplained.
    """

    lag_d: float = 4.0
    warmth_k: float = WARMTH_PRIOR_K[0]
    sun_k_per_mj: float = SUN_PRIOR[0]
    air_share: float = 1.0
    ground_c: float = 0.0
    wall_share: float = 0.0
    held_c: float | None = None
    residual_sd_k: float = RESIDUAL_SD_K
    readings: int = 0

    def to_dict(self) -> dict[str, Any]:
        """As plain JSON."""
        return asdict(self)


@dataclass(frozen=True, slots=True, kw_only=True)
class SlurryNow:
    """Slurry of one digester through the log, daily mean shape (days,), and what is known of it at the end. [°C]

    `lagged_c` is the lag's own value on the last day; the residual decays from `residual_k`, known to `residual_var`.
    """

    fit: SlurryFit
    daily_c: Floats
    lagged_c: float
    residual_k: float
    residual_var: float


def lagged(forcing: Floats, lag_d: float) -> Floats:
    """A daily series seen through a first-order lag that starts settled, same shape."""
    decay = np.exp(-1.0 / lag_d)
    start = decay * forcing[:1]
    passed, _ = lfilter([1.0 - decay], [1.0, -decay], forcing, zi=start)
    return np.asarray(passed)


def own_readings(known: Record, digester: Digester) -> Readings:
    """Slurry temperatures of one digester; a reading that names no digester belongs to the first."""
    readings = known.log.of("digester_temperature")
    names = [one.name for one in known.household.digesters]
    mine = readings.item == digester.name
    if digester.name == names[0]:
        mine |= ~np.isin(readings.item, names)
    return readings.select(mine & (readings.time_d >= known.edges_d[0]))


def _penalty(value: float, prior: tuple[float, float]) -> float:
    return float(((value - prior[0]) / prior[1]) ** 2)


def _regress(y: Floats, columns: Floats, priors: tuple[tuple[float, float], ...]) -> tuple[Floats, float]:
    """Penalised least squares: coefficients, and minus twice the log density at them."""
    weight = 1.0 / (READING_SD_K * SERIAL_FACTOR)
    mean, sd = np.array(priors).T
    design = np.vstack([columns * weight, np.diag(1.0 / sd)])
    target = np.append(y * weight, mean / sd)
    solution, *_ = np.linalg.lstsq(design, target, rcond=None)
    return solution, float(np.sum((target - design @ solution) ** 2))


def _candidates(known: Record, digester: Digester, value: Floats, day: Ints) -> Iterator[tuple[float, SlurryFit]]:
    """Fits to choose from, each with minus twice its log density."""
    ground_c = float(known.air.normal[0])
    one = np.ones(len(value))
    lags = [(lag_d, lagged(known.air_c, lag_d)[day], lagged(known.sun_mj_per_m2_d, lag_d)[day]) for lag_d in LAGS_D]
    for wall in WALL_SHARES if digester.sensor == "outside_wall" else (0.0,):
        inside = (value - wall * known.air_c[day]) / (1.0 - wall)
        toll = _penalty(wall, WALL_PRIOR) if wall else 0.0
        for (lag_d, air, sun), share in product(lags, AIR_SHARES):
            outside = share * air + (1.0 - share) * ground_c
            (warmth, gain), cost = _regress(inside - outside, np.column_stack([one, sun]), (WARMTH_PRIOR_K, SUN_PRIOR))
            yield (
                cost + toll + _penalty(np.log(lag_d), LAG_PRIOR) + _penalty(share, AIR_SHARE_PRIOR),
                SlurryFit(
                    lag_d=lag_d,
                    warmth_k=float(warmth),
                    sun_k_per_mj=float(gain),
                    air_share=share,
                    ground_c=ground_c,
                    wall_share=wall,
                ),
            )
        (held,), cost = _regress(inside, one[:, None], (HEATED_PRIOR_C,))
        yield cost + toll + HEATED_PENALTY, SlurryFit(held_c=float(held), wall_share=wall)


def forcing_c(fit: SlurryFit, air_c: Floats, sun_mj_per_m2_d: Floats | float) -> Floats:
    """Temperature that the slurry tends to, shape of `air_c`. [°C]"""
    outside = fit.air_share * air_c + (1.0 - fit.air_share) * fit.ground_c
    return np.asarray(outside + fit.warmth_k + fit.sun_k_per_mj * sun_mj_per_m2_d)


def base_c(fit: SlurryFit, air_c: Floats, sun_mj_per_m2_d: Floats) -> Floats:
    """Daily slurry temperature by the lag alone, shape of `air_c`. [°C]"""
    if fit.held_c is not None:
        return np.full(air_c.shape, fit.held_c)
    return lagged(forcing_c(fit, air_c, sun_mj_per_m2_d), fit.lag_d)


def fit_slurry(known: Record, digester: Digester) -> SlurryFit:
    """Lag, warmth and sun of one digester: most probable values given its logged slurry temperatures."""
    readings = own_readings(known, digester)
    if not len(readings):
        return SlurryFit()
    day = known.day_of(readings.time_d)
    _, best = min(_candidates(known, digester, readings.value, day), key=lambda pair: pair[0])
    residual = _inside(best, readings.value, known.air_c[day]) - base_c(best, known.air_c, known.sun_mj_per_m2_d)[day]
    spread = (np.sum(residual**2) + 10.0 * (READING_SD_K**2 + RESIDUAL_SD_K**2)) / (len(residual) + 10.0)
    return SlurryFit(
        **{
            **asdict(best),
            "residual_sd_k": float(np.sqrt(max(spread - READING_SD_K**2, 0.1))),
            "readings": len(readings),
        }
    )


def _inside(fit: SlurryFit, value: Floats, air_c: Floats) -> Floats:
    return (value - fit.wall_share * air_c) / (1.0 - fit.wall_share)


def _smoothed_residual(seen: Floats, count: Floats, sd_k: float) -> tuple[Floats, float]:
    """Residual on every day from the days with readings (`count` of them, mean `seen`), and its last variance."""
    decay, stationary, noise = RESIDUAL_DECAY_PER_D, sd_k**2, READING_SD_K**2
    shock = stationary * (1.0 - decay**2)
    mean, var, ahead = [], [], []
    m, p = 0.0, stationary
    for value, n in zip(seen.tolist(), count.tolist(), strict=True):
        m, p = decay * m, decay * decay * p + shock
        ahead.append(p)
        if n:
            gain = p / (p + noise / n)
            m, p = m + gain * (value - m), (1.0 - gain) * p
        mean.append(m)
        var.append(p)
    last = var[-1]
    for k in range(len(mean) - 2, -1, -1):
        mean[k] += var[k] * decay / ahead[k + 1] * (mean[k + 1] - decay * mean[k])
    return np.array(mean), last


def follow(known: Record, digester: Digester, fit: SlurryFit) -> SlurryNow:
    """Slurry of one digester day by day: the lag, drawn towards the readings."""
    base = base_c(fit, known.air_c, known.sun_mj_per_m2_d)
    readings = own_readings(known, digester)
    day = known.day_of(readings.time_d)
    off = _inside(fit, readings.value, known.air_c[day]) - base[day]
    count = np.bincount(day, minlength=len(base)).astype(float)
    seen = np.bincount(day, weights=off, minlength=len(base)) / np.maximum(count, 1.0)
    residual, last_var = _smoothed_residual(seen, count, fit.residual_sd_k)
    return SlurryNow(
        fit=fit,
        daily_c=base + residual,
        lagged_c=float(base[-1]),
        residual_k=float(residual[-1]),
        residual_var=last_var,
    )
