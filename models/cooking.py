"""The cooking log held against the holder: more gas than there can have been is a slip of the pen."""

from __future__ import annotations

import numpy as np

from models.digester import feedstock
from models.household import Household
from models.ledger import (
    HIGHEST_FILL,
    GasUse,
    SetAside,
    cooked_gas,
    metered_made,
    metered_use,
    standard_per_wet,
    within_spans,
)
from models.log import Log
from models.temperature import AirTemperature
from models.units import Bools

TOO_MUCH_GAS = "more gas than the full holder and the digester could have given; look at the minutes and the flame"
PRODUCTION_TIMES_PRIOR = 3.0  # what a digester cannot give, in shares of what its feed would
FLAME_SLACK = 1.2  # a rating, and the gas it was made on, are off by a fifth at the most
FEWEST_SPANS = 3  # of a stove's meter, before it is believed against the ratings
SHORTEST_FEEDING_D = 7.0


def most_sm3_per_d(household: Household) -> float:
    """Gas that the usual feed can give at the most, all digesters together. [sm3/d]"""
    given = 0.0
    for one in household.digesters:
        kind = feedstock(one.feedstock)
        given += one.usual_feed_kg_per_d * kind.volatile_solids_fraction * kind.gas_sm3_per_kg_vs
    return given


def slips(household: Household, log: Log, air: AirTemperature) -> Bools:
    """Which entries of `cooking` took more gas than there can have been, and are not sure, shape (readings,).

    Notes
    -----
    No flame burns more than a full holder and what is made while it burns, on all burners or on one. What is made is
    taken generously: three times what the feed can give, by the description or by the log, or what an outlet meter
    counts on average. A meter on the stove that counts less than the burners' ratings say makes every flame smaller.
    """
    cooking = log.of("cooking")
    cooked = cooked_gas(household, cooking, air)
    held_sm3 = HIGHEST_FILL * household.holder.capacity_m3 * standard_per_wet(household, air, cooked.start_d)
    made_sm3 = PRODUCTION_TIMES_PRIOR * _usual_sm3_per_d(household, log, air) * (cooked.end_d - cooked.start_d)
    burned_sm3 = _metered_share(cooked, metered_use(household, log, air)) * cooked.used_sm3
    return np.asarray((burned_sm3 > FLAME_SLACK * (held_sm3 + made_sm3)) & ~cooking.sure)


def believed(household: Household, log: Log, air: AirTemperature) -> tuple[Log, SetAside]:
    """The log without its slips, and those with the reason."""
    out, cooking = slips(household, log, air), log.of("cooking")
    if not out.any():
        return log, ()
    kept = Log(by_quantity={**log.by_quantity, "cooking": cooking.select(~out)})
    return kept, tuple((reading, TOO_MUCH_GAS) for reading in cooking.id[out].tolist())


def _usual_sm3_per_d(household: Household, log: Log, air: AirTemperature) -> float:
    """Gas made on a usual day, by whatever tells of the most. [sm3/d]"""
    made = metered_made(household, log, air)
    lasted_d = float(np.sum(made.end_d - made.start_d))
    metered = float(made.used_sm3.sum()) / lasted_d if lasted_d > 0.0 else 0.0
    return max(most_sm3_per_d(household), _fed_sm3_per_d(log), metered)


def _fed_sm3_per_d(log: Log) -> float:
    """Gas in the feed that was logged, by day. [sm3/d]"""
    feed = log.of("feed")
    if not len(feed):
        return 0.0
    names, which = np.unique(feed.item, return_inverse=True)
    kinds = [feedstock(name) for name in names.tolist()]
    per_kg = np.array([kind.volatile_solids_fraction * kind.gas_sm3_per_kg_vs for kind in kinds])[which]
    return float(np.nansum(feed.value * per_kg)) / max(float(np.ptp(feed.time_d)), SHORTEST_FEEDING_D)


def _metered_share(cooked: GasUse, metered: GasUse) -> float:
    """Share of what the ratings say that a stove's meter counts, mostly; 1 where it counts more, or there is none."""
    if not len(metered.used_sm3):
        return 1.0
    inside = within_spans(metered, cooked.start_d)
    span = np.searchsorted(metered.start_d, cooked.start_d[inside], side="right") - 1
    logged = np.bincount(span, weights=cooked.used_sm3[inside], minlength=len(metered.used_sm3))
    told = logged > 0.0
    if told.sum() < FEWEST_SPANS:
        return 1.0
    return min(float(np.median(metered.used_sm3[told] / logged[told])), 1.0)
