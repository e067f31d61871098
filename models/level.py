"""The gas in the holder now: the last reading of the gauge, and what was made and cooked since."""

from __future__ import annotations

from typing import Protocol
from zoneinfo import ZoneInfo

import numpy as np

from models.calendar import local_date
from models.diary import not_yet_logged
from models.habits import Habits, unplanned_servings
from models.log import Log, Readings
from models.meals import LOGGED, MealPlan, Serving, servings
from models.storage import Conditions, Timeline, Wanted, run_balance, spread
from models.stove import SHORTEST_MIN, Burning, Dish, Stove
from models.units import MINUTES_PER_DAY, Floats

LONGEST_D = 30.0  # an older reading tells nothing of today's level
LONGEST_COOKING_MIN = 1440.0
LOWEST_FLAME = 0.02
JUST_NOW_D = 1.0 / 1440.0


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
        The logged cooking as it was, of what was on at the reading the rest; after the last entry, what the plan and
        the habits expect and the log does not tell of already.

    Notes
    -----
    Up to its last entry the log is taken at its word: a meal that is not in it was not cooked.
    """
    since_d, now_d = between_d
    cooking = log.of("cooking").between(since_d - LONGEST_COOKING_MIN / MINUTES_PER_DAY, now_d)
    cooking = cooking.select(cooking.value > 0.0)
    told_d = max(since_d, float(cooking.time_d[-1])) if len(cooking) else since_d
    logged = [_logged(cooking.select(slice(k, k + 1)), stove, plan.zone, since_d) for k in range(len(cooking))]
    first, last = local_date(since_d, plan.zone), local_date(now_d, plan.zone)
    days = (last - first).days + 1
    meals = not_yet_logged(servings(plan, first, days, stove), cooking, stove)
    expected = (*meals, *unplanned_servings(habits, first, days, plan.zone))
    found = [
        *(one for one in logged if one.end_d > since_d),
        *(one for one in expected if told_d < one.start_d < now_d),
    ]
    return tuple(sorted(found, key=lambda one: one.start_d))


def _logged(entry: Readings, stove: Stove, zone: ZoneInfo, since_d: float) -> Serving:
    """What one entry of the cooking log took since a moment; one that names no known burner was on the first."""
    start_d, flame, item = float(entry.time_d[0]), float(entry.flame_fraction[0]), str(entry.item[0])
    end_d = start_d + min(float(entry.value[0]), LONGEST_COOKING_MIN) / MINUTES_PER_DAY
    start_d = min(max(start_d, since_d), end_d)
    known = {burner.name for burner in stove.burners}
    minutes = max((end_d - start_d) * MINUTES_PER_DAY, SHORTEST_MIN)
    dish = Dish(
        burner=item if item in known else stove.burners[0].name,
        steps=(Burning(minutes=minutes, flame_fraction=flame if LOWEST_FLAME <= flame <= 1.0 else 1.0),),
    )
    return Serving(
        meal=LOGGED, day=local_date(start_d, zone), start_d=start_d, end_d=end_d, dishes=(dish,), planned=False
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
