"""The cooking log held against the holder: more gas than there can have been is a slip of the pen."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from models.calendar import local_date
from models.diary import NEAR_D, SMALLEST_SHARE, serving_of
from models.digester import PRODUCTION_TIMES_PRIOR, feedstock, most_sm3_per_d
from models.gauged import contradicted
from models.habits import LOOK_BACK_D, learn_habits
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
from models.log import Log, Readings
from models.meals import MealPlan, servings
from models.plausible import plausible
from models.stove import Stove, planned_use
from models.temperature import AirTemperature, at
from models.units import Bools, Floats, Ints

TOO_MUCH_GAS = "more gas than the holder and the digester can have given; look at the minutes and the flame"
FLAME_SLACK = 1.2  # a rating, and the gas it was made on, are off by a fifth at the most
FEWEST_SPANS = 3  # of a stove's meter, before it is believed against the ratings
SHORTEST_FEEDING_D = 7.0
USUAL_OF = 15  # entries of the same meal, the nearest in time, that say what it usually takes
USUAL_MIN = 30.0  # of full flame, where neither plan nor log says


def slips(household: Household, log: Log, air: AirTemperature) -> Bools:
    """Which entries of `cooking` took more gas than there can have been, and are not sure, shape (readings,).

    Notes
    -----
    No flame burns more than a full holder and what is made while it burns, on all burners or on one. What is made is
    taken generously: three times what the feed can give, by the description or by the log, or what an outlet meter
    counts on average. A meter on the stove that counts less than the burners' ratings say makes every flame smaller.
    Nor is believed what the looks at the gauge around it contradict.
    """
    cooking = log.of("cooking")
    cooked = cooked_gas(household, cooking, air)
    held_sm3 = HIGHEST_FILL * household.holder.capacity_m3 * standard_per_wet(household, air, cooked.start_d)
    made_sm3 = PRODUCTION_TIMES_PRIOR * _usual_sm3_per_d(household, log, air) * (cooked.end_d - cooked.start_d)
    burned_sm3 = _metered_share(cooked, metered_use(household, log, air)) * cooked.used_sm3
    too_much = burned_sm3 > FLAME_SLACK * (held_sm3 + made_sm3)
    too_much |= contradicted(household, log, air, burned_sm3)
    return np.asarray(too_much & ~cooking.sure & ~cooking.doubted)


def believed(household: Household, log: Log, air: AirTemperature, plan: MealPlan | None = None) -> tuple[Log, SetAside]:
    """The log as far as it can be, and its slips with the reason.

    Parameters
    ----------
    household : Household
    log : Log
    air : AirTemperature
    plan : MealPlan, optional

    Returns
    -------
    tuple of Log and SetAside

    Notes
    -----
    What cannot have been fed or measured is left out. An entry whose minutes cannot be says that somebody cooked all
    the same; only its minutes are not believed. In their place stand those that its meal usually takes: by the plan and
    the habits, less what other entries tell of the same serving; where the plan does not have it, or is not known, the
    median of the entries of that name (or hour of the day) that are nearest in time; else of all. What was `written` is
    kept beside them.
    """
    log, unlikely = plausible(household, log)
    out, cooking = slips(household, log, air), log.of("cooking")
    if not out.any():
        return log, unlikely
    slipped = cooking.select(out)
    full = replace(slipped, value=np.ones(len(slipped)), flame_fraction=np.ones(len(slipped)))
    per_min_sm3 = cooked_gas(household, full, air).used_sm3
    usual_sm3 = _usual_sm3(household, log, air, plan, out)
    usual_sm3 = np.where(np.isnan(usual_sm3), USUAL_MIN * per_min_sm3, usual_sm3)
    most_sm3 = household.holder.capacity_m3 * standard_per_wet(household, air, slipped.time_d)
    written = slipped.value * np.where(np.isfinite(slipped.flame_fraction), slipped.flame_fraction, 1.0)
    columns = {name: getattr(cooking, name).copy() for name in ("value", "flame_fraction", "written")}
    columns["value"][out] = np.minimum(usual_sm3, most_sm3) / per_min_sm3
    columns["flame_fraction"][out], columns["written"][out] = 1.0, written
    mended = Log(by_quantity={**log.by_quantity, "cooking": replace(cooking, **columns)})
    return mended, (*unlikely, *((reading, TOO_MUCH_GAS) for reading in slipped.id.tolist()))


def _usual_sm3(household: Household, log: Log, air: AirTemperature, plan: MealPlan | None, out: Bools) -> Floats:
    """Gas that the slips' meals usually take, shape (slips,); NaN where nothing tells. [sm3]"""
    cooking = log.of("cooking")
    used_sm3 = cooked_gas(household, cooking, air).used_sm3
    sound = np.flatnonzero(~out & (used_sm3 > 0.0))
    by_log = np.array([_usual_by_log(cooking, used_sm3, sound, k) for k in np.flatnonzero(out).tolist()])
    if plan is None:
        return by_log
    by_plan = _usual_by_plan(household, log, air, plan, out)
    return np.where(np.isnan(by_plan), by_log, by_plan)


def _usual_by_log(cooking: Readings, used_sm3: Floats, sound: Ints, slip: int) -> float:
    """Median gas of the sound entries of a slip's meal, or of all, that are nearest to it in time; NaN without any."""
    name, away_d = cooking.meal[slip], np.abs(cooking.time_d[sound] - cooking.time_d[slip])
    alike = cooking.meal[sound] == name if name else np.abs((away_d + 0.5) % 1.0 - 0.5) <= NEAR_D
    rows = np.flatnonzero(alike) if alike.any() else np.arange(len(sound))
    nearest = sound[rows[np.argsort(away_d[rows], kind="stable")[:USUAL_OF]]]
    return float(np.median(used_sm3[nearest])) if len(nearest) else np.nan


def _usual_by_plan(household: Household, log: Log, air: AirTemperature, plan: MealPlan, out: Bools) -> Floats:
    """Gas that the plan and the habits expect of the slips' servings, shape (slips,); NaN outside the plan. [sm3]"""
    cooking = log.of("cooking")
    until_d = float(cooking.time_d[-1]) + 1.0
    supply = household.supply(household.gas.methane_fraction, float(at(air, cooking.time_d[-1])))
    stove = Stove(burners=household.burners, pans=household.pans, supply=supply)
    sound = Log(by_quantity={**log.by_quantity, "cooking": cooking.select(~out)})
    habits = learn_habits(plan, sound, stove, holder=household.holder, as_of_d=until_d)
    lately = cooking.time_d >= until_d - LOOK_BACK_D
    first = local_date(float(cooking.time_d[out & lately].min(initial=until_d)) - 1.0, plan.zone)
    asked = servings(plan, first, (local_date(until_d, plan.zone) - first).days + 1, stove)
    usual_sm3 = planned_use(asked, stove).sm3[0] * np.array([habits.of(one.meal).ratio for one in asked])
    used_sm3 = np.nan_to_num(cooked_gas(household, cooking, air).used_sm3)
    serving = serving_of(cooking, used_sm3, asked, usual_sm3) if len(asked) else np.full(len(cooking), -1)
    told = serving >= 0
    others_sm3 = np.bincount(serving[told & ~out], weights=used_sm3[told & ~out], minlength=len(asked))
    many = np.bincount(serving[told & out], minlength=len(asked))
    left_sm3 = np.maximum(usual_sm3 - others_sm3, SMALLEST_SHARE * usual_sm3) / np.maximum(many, 1)
    return np.asarray(np.append(left_sm3, np.nan)[serving[out]])


def _usual_sm3_per_d(household: Household, log: Log, air: AirTemperature) -> float:
    """Gas made on a usual day, by whatever tells of the most. [sm3/d]"""
    made = metered_made(household, log, air)
    lasted_d = float(np.sum(made.end_d - made.start_d))
    metered = float(made.used_sm3.sum()) / lasted_d if lasted_d > 0.0 else 0.0
    return max(most_sm3_per_d(household.digesters), _fed_sm3_per_d(log), metered)


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
