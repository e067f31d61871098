"""The gas in the holder now: the last reading of the gauge, and what was made and cooked since."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import Protocol
from zoneinfo import ZoneInfo

import numpy as np

from models.calendar import local_date
from models.diary import MOSTLY_COOKED, logged_share, serving_of
from models.habits import Habits, unplanned_servings
from models.log import Log, Readings
from models.meals import LOGGED, UNPLANNED, MealPlan, Serving, servings
from models.storage import Conditions, Timeline, Wanted, run_balance, spread
from models.stove import SHORTEST_MIN, Burning, Dish, Stove, gas_of_cooking, planned_use, typical
from models.units import MINUTES_PER_DAY, Floats

LONGEST_D = 30.0  # an older reading tells nothing of today's level
LONGEST_COOKING_MIN = 1440.0
LOWEST_FLAME = 0.02
JUST_NOW_D = 1.0 / 1440.0
TELLING_PART = 0.25  # of a meal
LATE_MEAL_D = 0.25  # one of the evening before may be on past midnight


class Reading(Protocol):
    """What the last reading of the gauge is worth, by path: true level then (NaN: never read), gas made since. [sm3]"""

    @property
    def level_sm3(self) -> Floats: ...

    @property
    def level_time_d(self) -> float: ...

    @property
    def made_before_sm3(self) -> Floats: ...


def cooked_since(
    plan: MealPlan, log: Log, stove: Stove, habits: Habits, *, between_d: tuple[float, float]
) -> tuple[Serving, ...]:
    """What was cooked, or may have been, between the last reading of the gauge and now.

    Parameters
    ----------
    plan : MealPlan
    log : Log
    stove : Stove
    habits : Habits
    between_d : tuple of float
        The last reading and now. [d]

    Returns
    -------
    tuple of Serving, sorted by start
        The logged cooking as it was, and what the plan and the habits expect and the log does not tell of. Of what was
        on at the reading, or is on now, the part between.

    Notes
    -----
    A meal that is not in the log is expected as usual; where a later one is, it was skipped or forgotten (`missed`).
    Teas and other cooking say nothing of the meals before them; an entry of no minutes says that there was none.
    """
    since_d, now_d = between_d
    first, last = local_date(since_d, plan.zone), local_date(now_d, plan.zone)
    teas = unplanned_servings(habits, first, (last - first).days + 1, plan)
    found = [_part(one, since_d, now_d) for one in (*_flames(plan, log, stove, since_d, now_d), *teas)]
    return tuple(sorted((one for one in found if one.part > 0.0), key=lambda one: one.start_d))


def assumed(plan: MealPlan, stove: Stove, past: Sequence[Serving]) -> tuple[Serving, ...]:
    """Of what `cooked_since` tells, the meals that nobody wrote down, whole as the plan has them.

    One of which less than a quarter falls into the time is left out: a look just after dinner has seen the dinner.
    """
    told = {(one.meal, one.day): one.missed for one in past if one.planned and one.part >= TELLING_PART}
    if not told:
        return ()
    days = [day for _, day in told]
    whole = servings(plan, min(days), (max(days) - min(days)).days + 1, stove)
    return tuple(replace(one, missed=told[one.meal, one.day]) for one in whole if (one.meal, one.day) in told)


def doubted(plan: MealPlan, log: Log, stove: Stove, *, between_d: tuple[float, float]) -> tuple[Serving, ...]:
    """The meals between two moments whose logged minutes are not believed, as the plan has them, in order. [d]

    Cooking outside the plan goes by the name it was logged under, or none.
    """
    since_d, now_d = between_d
    cooking = log.of("cooking").between(since_d - LONGEST_COOKING_MIN / MINUTES_PER_DAY, now_d)
    cooking = cooking.select(cooking.doubted)
    if not len(cooking):
        return ()
    first, last = local_date(float(cooking.time_d[0]) - 1.0, plan.zone), local_date(now_d, plan.zone)
    asked = servings(plan, first, (last - first).days + 1, stove)
    found = np.full(len(cooking), -1)
    if asked:
        found = serving_of(cooking, gas_of_cooking(cooking, stove), asked, planned_use(asked, typical(stove)).sm3[0])
    told = []
    for row, index in enumerate(found.tolist()):
        entry = _logged(cooking.select(slice(row, row + 1)), stove, plan.zone)
        meal = replace(entry, meal=str(cooking.meal[row]) or UNPLANNED) if index < 0 else asked[index]
        if _part(entry, since_d, now_d).part >= TELLING_PART:
            told.append(replace(meal, overstated=entry.overstated))
    return tuple(told)


def still_on(plan: MealPlan, log: Log, stove: Stove, now_d: float) -> tuple[Serving, ...]:
    """The rest of what is on the stove now, by the log or, where it does not tell yet, by the plan."""
    rests = [_part(one, now_d, one.end_d) for one in _flames(plan, log, stove, now_d, now_d)]
    return tuple(one for one in rests if 0.0 < one.part < 1.0)


def _flames(plan: MealPlan, log: Log, stove: Stove, since_d: float, now_d: float) -> list[Serving]:
    """Logged cooking that may reach into a time, whole, and meals of those days that may have begun in it by now."""
    cooking = log.of("cooking").between(since_d - LONGEST_COOKING_MIN / MINUTES_PER_DAY, now_d)
    flames = cooking.select(cooking.value > 0.0)
    told_d = float(flames.time_d[-1]) if len(flames) else -np.inf
    logged = [_logged(flames.select(slice(k, k + 1)), stove, plan.zone) for k in range(len(flames))]
    first, last = local_date(since_d - LATE_MEAL_D, plan.zone), local_date(now_d, plan.zone)
    meals = servings(plan, first, (last - first).days + 1, stove)
    return [*logged, *_unwritten(meals, logged_share(meals, cooking, stove), told_d, now_d)]


def _unwritten(meals: Sequence[Serving], share: Floats, told_d: float, now_d: float) -> Iterator[Serving]:
    """Meals begun by now that the log does not hold, from what share of them it does and its last entry. [d]

    Some of one before that entry are enough; of one after it the rest may still be written down.
    """
    last_d = max((one.start_d for one, told in zip(meals, share.tolist(), strict=True) if told > 0.0), default=-np.inf)
    for one, told in zip(meals, share.tolist(), strict=True):
        if one.start_d < now_d and (told < MOSTLY_COOKED if one.start_d > told_d else told == 0.0):
            yield replace(one, missed=one.start_d < last_d)


def _part(serving: Serving, from_d: float, to_d: float) -> Serving:
    """What of a serving falls between two moments: all, some or nothing of it."""
    start_d, end_d = max(serving.start_d, from_d), min(serving.end_d, to_d)
    part = max(end_d - start_d, 0.0) / max(serving.end_d - serving.start_d, JUST_NOW_D)
    return replace(serving, start_d=start_d, end_d=end_d, part=part)


def _logged(entry: Readings, stove: Stove, zone: ZoneInfo) -> Serving:
    """One entry of the cooking log as a serving; one that names no known burner was on the first."""
    start_d, flame, item = float(entry.time_d[0]), float(entry.flame_fraction[0]), str(entry.item[0])
    minutes = min(max(float(entry.value[0]), SHORTEST_MIN), LONGEST_COOKING_MIN)
    known = {burner.name for burner in stove.burners}
    share = min(max(flame, LOWEST_FLAME), 1.0) if np.isfinite(flame) else 1.0
    dish = Dish(
        burner=item if item in known else stove.burners[0].name,
        steps=(Burning(minutes=minutes, flame_fraction=share),),
    )
    return Serving(
        meal=LOGGED,
        day=local_date(start_d, zone),
        start_d=start_d,
        end_d=start_d + minutes / MINUTES_PER_DAY,
        dishes=(dish,),
        planned=False,
        overstated=max(float(entry.written[0]) / minutes, 1.0) if entry.doubted[0] else 1.0,
    )


def looked_at_d(reading: Reading, now_d: float) -> float:
    """Moment from which the level is rolled forward: the last reading, if it is not too old or missing. [d]"""
    earliest_d = now_d - LONGEST_D
    return float(np.fmax(reading.level_time_d, earliest_d))


def level_now(
    reading: Reading, timeline: Timeline, *, wanted: Wanted, conditions: Conditions, rng: np.random.Generator
) -> Floats:
    """Gas in the holder at the end of a timeline that began at the last reading of the gauge.

    Parameters
    ----------
    reading : Reading
    timeline : Timeline
        From `looked_at_d` to now, with the servings of `cooked_since`.
    wanted : Wanted
        What those took, shape (paths, servings). [sm3]
    conditions : Conditions
    rng : numpy Generator

    Returns
    -------
    ndarray, shape (paths,). [sm3]

    Notes
    -----
    Where the gauge was never read, or not for a month, the level at the start is anything up to the capacity.
    """
    edges_d, paths = timeline.edges_d, len(reading.level_sm3)
    fullest = float(np.max(conditions.capacity_sm3))
    unknown = ~np.isfinite(reading.level_sm3) | (reading.level_time_d < edges_d[0] - JUST_NOW_D)
    start = np.where(unknown, rng.uniform(0.0, fullest, paths), np.nan_to_num(reading.level_sm3))
    span_d = edges_d[-1] - min(np.fmin(reading.level_time_d, edges_d[0]), edges_d[0])
    share = (edges_d[-1] - edges_d[0]) / span_d
    made = spread(share * reading.made_before_sm3[:, None], edges_d=edges_d[[0, -1]], onto_d=edges_d)
    run = run_balance(
        timeline, start_sm3=np.clip(start, 0.0, fullest), made_sm3=made, wanted=wanted, conditions=conditions
    )
    return run.level_sm3[:, -1]
