"""Feed and slurry temperature to gas: the physics that the state-space model scales."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from models.digester import KG_PER_M3, Digester, feedstock, named_feedstock
from models.log import Readings
from models.production.record import Record
from models.units import Bools, Floats

POOL_SHARES = (0.6, 0.4)  # of the volatile solids: what decays fast and what slowly
UNLOGGED_FEED = 0.92  # a household that logs no feed gives a little less than it says
MISSING_WINDOW_D = 14  # each side: a day without an entry was fed like those around it
USUAL_WEIGHT_D = 8.0  # days of log that the described usual feed is worth
MAX_DILUTION_PER_D = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Feeding:
    """What went into one digester by day.

    `gas_sm3` is the gas that the day's feed can give in the end and `dilution_per_d` the share of the slurry that it
    displaced, both shape (days,). `logged` marks days with an entry; `usual_gas_sm3` and `usual_dilution_per_d` are
    those of a usual day.
    """

    gas_sm3: Floats
    dilution_per_d: Floats
    logged: Bools
    usual_gas_sm3: float
    usual_dilution_per_d: float


@dataclass(frozen=True, slots=True)
class Kinetics:
    """Decay of the two pools: rates at 35 °C [1/d] and the slurry temperature at which decay stops [°C].

    Each is a float, or an array of one value per path.
    """

    t0_c: float | Floats
    fast_per_d: float | Floats
    slow_per_d: float | Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class Feature:
    """Gas that the physics expects: cumulated at the day edges [sm3], and the pools of each digester at the end."""

    edges_d: Floats
    cumulated_sm3: Floats
    pools_sm3: tuple[tuple[float, float], ...]

    def between(self, start_d: Floats, end_d: Floats) -> Floats:
        """Gas expected between moments, shape of both. [sm3]"""
        return np.interp(end_d, self.edges_d, self.cumulated_sm3) - np.interp(start_d, self.edges_d, self.cumulated_sm3)


def _shares(known: Record) -> Floats:
    usual = np.array([digester.usual_feed_kg_per_d for digester in known.household.digesters])
    return np.asarray(usual / usual.sum()) if usual.sum() > 0.0 else np.full(len(usual), 1.0 / len(usual))


def _portion(known: Record, readings: Readings, index: int) -> Floats:
    """Share of each feed reading that one digester got: all of it where named, its usual share elsewhere."""
    names = [digester.name for digester in known.household.digesters]
    named = np.isin(readings.item, names)
    mine = readings.item == names[index]
    return np.asarray(np.where(named, mine.astype(float), _shares(known)[index]))


def _gas_per_kg(digester: Digester, items: np.ndarray[tuple[int, ...], np.dtype[np.str_]]) -> Floats:
    own = feedstock(digester.feedstock)
    kinds, inverse = np.unique(items, return_inverse=True)
    stocks = [named_feedstock(str(kind)) or own for kind in kinds]
    gas = np.array([stock.volatile_solids_fraction * stock.gas_sm3_per_kg_vs for stock in stocks])
    return gas[inverse] if len(items) else np.empty(0)


def _by_day(known: Record, readings: Readings, amount: Floats) -> tuple[Floats, Bools]:
    day = known.day_of(readings.time_d)
    inside = (day >= 0) & np.isfinite(amount)
    days = len(known.air_c)
    total = np.bincount(day[inside], weights=amount[inside], minlength=days)
    return total.astype(float), np.bincount(day[inside], minlength=days) > 0


def _filled(value: Floats, logged: Bools, usual: float) -> Floats:
    """Days without an entry take the mean of the days around them, or of the whole log far from any."""
    if not logged.any():
        return np.full(value.shape, usual * UNLOGGED_FEED)
    overall = (value[logged].sum() + USUAL_WEIGHT_D * usual * UNLOGGED_FEED) / (logged.sum() + USUAL_WEIGHT_D)
    window = np.ones(2 * MISSING_WINDOW_D + 1)
    around = np.convolve(np.where(logged, value, 0.0), window, mode="same")[: len(value)]
    count = np.convolve(logged.astype(float), window, mode="same")[: len(value)]
    return np.where(logged, value, (around + overall) / (count + 1.0))


def feeding(known: Record, index: int) -> Feeding:
    """Feed of one digester by day, from its log, its neighbours in time and its description.

    On days away nothing was fed and no water added but what is written down: no kitchen, no scraps.
    """
    digester = known.household.digesters[index]
    feed = known.log.of("feed")
    water = known.log.of("water_added")
    portion = _portion(known, feed, index)
    usual = digester.usual_feed_kg_per_d
    usual_gas = usual * float(_gas_per_kg(digester, np.array([""]))[0])
    gas, logged = _by_day(known, feed, feed.value * portion * _gas_per_kg(digester, feed.item))
    mass, _ = _by_day(known, feed, feed.value * portion)
    poured, wet = _by_day(known, water, np.maximum(water.value, 0.0) * _portion(known, water, index))
    home = ~known.away(known.day0, len(known.air_c))
    home[0] = True  # the pools begin as this day would fill them for good
    fed = logged | home
    inflow = fed * _filled(mass, logged, usual) + np.where(wet, poured, home * digester.usual_water_l_per_d)
    whole = digester.liquid_m3 * KG_PER_M3
    return Feeding(
        gas_sm3=fed * _filled(gas, logged, usual_gas),
        dilution_per_d=np.minimum(inflow / whole, MAX_DILUTION_PER_D),
        logged=logged,
        usual_gas_sm3=usual_gas,
        usual_dilution_per_d=min((usual + digester.usual_water_l_per_d) / whole, MAX_DILUTION_PER_D),
    )


def activity(slurry_c: Floats, t0_c: float | Floats) -> Floats:
    """Speed of decay relative to 35 °C, shape of `slurry_c`: a square root law with a floor, and no gain past 36 °C."""
    return np.asarray(np.clip(slurry_c - t0_c, 0.3, 36.0 - t0_c) ** 2 / (35.0 - t0_c) ** 2)


def decay_shares(rate_per_d: float | Floats, active: Floats, dilution_per_d: Floats | float) -> tuple[Floats, Floats]:
    """Of what is in a pool in the morning: what is left the next day, and what became gas."""
    decay = rate_per_d * active
    leaving = decay + dilution_per_d
    left = np.exp(-leaving)
    return left, decay / leaving * (1.0 - left)


def _walk(half_dose: list[float], left: list[float], gassed: list[float]) -> tuple[list[float], float]:
    """One pool through the days on plain floats: half the feed in before the day's decay, half after."""
    pool = half_dose[0] * 2.0 / max(1.0 - left[0], 1e-9) * left[0]
    made = []
    for half, stays, gas in zip(half_dose, left, gassed, strict=True):
        pool += half
        made.append(pool * gas)
        pool = pool * stays + half
    return made, pool


def feature(known: Record, feedings: tuple[Feeding, ...], slurry_c: tuple[Floats, ...], kinetics: Kinetics) -> Feature:
    """Gas expected through the log: two pools for each digester, summed."""
    daily = np.zeros(len(known.air_c))
    pools = []
    for fed, warm in zip(feedings, slurry_c, strict=True):
        active = activity(warm, kinetics.t0_c)
        ends = []
        for share, rate in zip(POOL_SHARES, (kinetics.fast_per_d, kinetics.slow_per_d), strict=True):
            left, gassed = decay_shares(rate, active, fed.dilution_per_d)
            made, end = _walk((fed.gas_sm3 * share / 2.0).tolist(), left.tolist(), gassed.tolist())
            daily += np.array(made)
            ends.append(end)
        pools.append((ends[0], ends[1]))
    return Feature(edges_d=known.edges_d, cumulated_sm3=np.append(0.0, np.cumsum(daily)), pools_sm3=tuple(pools))
