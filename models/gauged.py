"""Cooking held against the gauge: an entry several times its meal's usual that the looks around it contradict."""

from __future__ import annotations

import numpy as np

from models.household import Household
from models.ledger import standard_per_wet
from models.log import Log, Readings
from models.temperature import AirTemperature
from models.units import Bools, Floats

TIMES_USUAL = 4.0  # guests and feasts stay below; minutes with a digit too many do not
FEWEST_ALIKE = 5  # entries of a meal before there is a usual
SPANS_AROUND = 15  # each side: what a day usually makes, by gauge and log
FEWEST_SPANS = 5
SPAN_D = (0.2, 3.0)
CLEAR_GAP = 0.15  # of the capacity: more than three errors of a usual gauge
BETTER = 0.5  # of the gap is left at most, once the usual stands for what is written


def usual_of_name(cooking: Readings, used_sm3: Floats) -> Floats:
    """Median gas of the entries with the same meal's name, shape (readings,); NaN where they are few. [sm3]"""
    names, which = np.unique(cooking.meal, return_inverse=True)
    usual = np.full(len(names), np.nan)
    for number in range(len(names)):
        mine = used_sm3[(which == number) & (used_sm3 > 0.0)]
        if len(mine) >= FEWEST_ALIKE:
            usual[number] = np.median(mine)
    return usual[which] if len(names) else np.empty(0)


def contradicted(household: Household, log: Log, air: AirTemperature, used_sm3: Floats) -> Bools:
    """Which entries of `cooking` the gauge says cannot have been, shape (readings,).

    Parameters
    ----------
    household : Household
    log : Log
    air : AirTemperature
    used_sm3 : ndarray
        Gas of each entry by its minutes, shape (readings,). [sm3]

    Notes
    -----
    Between the looks around such an entry the log makes the digester give what it gives on no other day, and gives what
    it usually does once the meal's usual gas stands for the entry. A gauge that fell as far as the entry says bears it
    out. An entry with a look on one side only is let be: the next look will tell.
    """
    cooking, levels = log.of("cooking"), log.of("holder_level")
    out = np.zeros(len(cooking), dtype=bool)
    usual_sm3 = usual_of_name(cooking, used_sm3)
    span = np.searchsorted(levels.time_d, cooking.time_d, side="right") - 1
    inside = (span >= 0) & (span < len(levels) - 1)
    doubtful = np.flatnonzero(inside & (used_sm3 > TIMES_USUAL * usual_sm3))
    if not len(doubtful):
        return out
    level_sm3 = levels.value * standard_per_wet(household, air, levels.time_d)
    lasted_d = np.diff(levels.time_d)
    made_sm3 = np.diff(level_sm3) + np.bincount(span[inside], used_sm3[inside], len(lasted_d))
    clear_sm3 = CLEAR_GAP * household.holder.capacity_m3 * standard_per_wet(household, air, cooking.time_d)
    for entry in doubtful.tolist():
        rate = _usual_rate(made_sm3, lasted_d, int(span[entry]))
        gap = made_sm3[span[entry]] - rate * lasted_d[span[entry]]
        left = gap - (used_sm3[entry] - usual_sm3[entry])
        out[entry] = gap > clear_sm3[entry] and abs(left) < BETTER * gap
    return out


def _usual_rate(made_sm3: Floats, lasted_d: Floats, span: int) -> float:
    """Median gas made by day in the spans around one; NaN, which contradicts nothing, where they are few. [sm3/d]"""
    around = np.arange(max(span - SPANS_AROUND, 0), min(span + SPANS_AROUND + 1, len(lasted_d)))
    around = around[(around != span) & (lasted_d[around] > SPAN_D[0]) & (lasted_d[around] < SPAN_D[1])]
    if len(around) < FEWEST_SPANS:
        return np.nan
    return float(np.median(made_sm3[around] / lasted_d[around]))
