"""The level now: from the last look at the gauge, by what was made and cooked since."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import time
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from models.habits import Habits, MealHabit, demand
from models.level import assumed, cooked_since, doubted, level_now, looked_at_d, still_on
from models.log import Log
from models.meals import Meal, MealPlan
from models.storage import Conditions, Wanted, lay_timeline
from models.stove import Stove, planned_use

MIDNIGHT_D = 20514.0
NEVER_SKIPPED = Habits(
    meals={
        "dinner": MealHabit(cooked=1.0 - 1e-9, spread=0.0, guests=0.0, observations=10**9),
        "lunch": MealHabit(cooked=1.0 - 1e-9, spread=0.0, guests=0.0, observations=10**9),
    },
    begun=1.0,
    unplanned_per_d=0.0,
)
Logged = Callable[..., Log]


@dataclass(frozen=True, slots=True, kw_only=True)
class Read:
    """What is known of the last reading."""

    level_sm3: np.ndarray
    level_time_d: float
    made_before_sm3: np.ndarray


@pytest.fixture
def plan(dinner: Meal) -> MealPlan:
    """Lunch at noon and dinner at seven, 0.3 sm3 each."""
    return MealPlan(zone=ZoneInfo("UTC"), meals=(dinner, replace(dinner, name="lunch", at=time(12))))


@pytest.fixture
def now(plan: MealPlan, stove: Stove) -> Callable[..., np.ndarray]:
    """Level at an hour of 2 March 2026 from a reading at an earlier one."""

    def level(read: Read, hour: float, log: Log, *, capacity_sm3: float = 1.0) -> np.ndarray:
        now_d, rng = MIDNIGHT_D + hour / 24.0, np.random.default_rng(0)
        since_d = looked_at_d(read, now_d)
        asked = cooked_since(plan, log, stove, NEVER_SKIPPED, between_d=(since_d, now_d))
        timeline = lay_timeline(since_d, now_d, asked)
        wanted = demand(
            timeline.servings,
            planned_use(timeline.servings, stove),
            NEVER_SKIPPED,
            paths=len(read.level_sm3),
            rng=rng,
        )
        return level_now(read, timeline, wanted=wanted, conditions=Conditions(capacity_sm3=capacity_sm3), rng=rng)

    return level


def read_at(hour: float, level_sm3: float = 0.6, made_sm3: float = 0.0, paths: int = 1) -> Read:
    return Read(
        level_sm3=np.full(paths, level_sm3),
        level_time_d=MIDNIGHT_D + hour / 24.0,
        made_before_sm3=np.full(paths, made_sm3),
    )


def test_logged_cooking_is_taken_off_and_new_gas_added(now: Callable[..., np.ndarray], logged: Logged) -> None:
    log = logged(("cooking", 12.0, 25.0), ("cooking", 16.0, 5.0), ("cooking", 6.0, 60.0))

    assert now(read_at(8.0, made_sm3=0.1), 17.0, log) == pytest.approx([0.6 + 0.1 - 0.25 - 0.05])


def test_meals_since_the_last_entry_are_expected(now: Callable[..., np.ndarray], logged: Logged) -> None:
    assert now(read_at(8.0), 14.0, logged()) == pytest.approx([0.3])
    assert now(read_at(8.0), 20.0, logged(("cooking", 12.0, 10.0))) == pytest.approx([0.2])


def test_a_tea_does_not_say_that_lunch_was_not_cooked(now: Callable[..., np.ndarray], logged: Logged) -> None:
    tea, jam = ("cooking", 16.0, 10.0), ("cooking", 15.5, 20.0, "jam")

    assert now(read_at(8.0), 17.0, logged()) == pytest.approx([0.3])
    assert now(read_at(8.0), 17.0, logged(tea)) == pytest.approx([0.2])
    assert now(read_at(8.0, 0.8), 17.0, logged(tea, jam)) == pytest.approx([0.2])


def test_of_a_meal_that_the_log_passes_over_the_odds_are_even(now: Callable[..., np.ndarray], logged: Logged) -> None:
    """Dinner is in the log and lunch is not: skipped or forgotten, and both logged levels are lower than neither."""
    dinner, lunch = ("cooking", 19.0, 30.0, "dinner"), ("cooking", 12.0, 30.0)
    read = read_at(8.0, 0.8, paths=4000)
    passed_over = now(read, 20.0, logged(dinner))

    # Standard error over 4000 paths: 0.008.
    assert np.isclose(passed_over, 0.5).mean() == pytest.approx(0.5, abs=0.03)
    assert np.isclose(passed_over, 0.2).mean() == pytest.approx(0.5, abs=0.03)
    assert now(read, 20.0, logged(dinner, lunch)) == pytest.approx(np.full(4000, 0.2))
    assert now(read, 20.0, logged(lunch)) == pytest.approx(np.full(4000, 0.2))
    assert now(read, 20.0, logged(dinner, ("cooking", 12.0, 0.0, "lunch"))) == pytest.approx(np.full(4000, 0.5))
    # ten minutes are a short lunch, not one of which the rest is still to be written down
    assert now(read, 20.0, logged(dinner, ("cooking", 12.0, 10.0))) == pytest.approx(np.full(4000, 0.4))


def test_a_meal_that_is_logged_with_no_minutes_takes_nothing(
    now: Callable[..., np.ndarray], logged: Logged, plan: MealPlan, stove: Stove
) -> None:
    said = [("cooking", 12.1, 0.0, "lunch"), ("cooking", 19.0, 0.0, "dinner")]

    assert now(read_at(8.0), 20.0, logged()) == pytest.approx([0.6 - 0.3 - 0.3], abs=1e-9)
    assert now(read_at(8.0), 20.0, logged(*said[:1])) == pytest.approx([0.3])
    assert now(read_at(8.0), 20.0, logged(*said)) == pytest.approx([0.6])
    assert still_on(plan, logged(*said), stove, MIDNIGHT_D + 19.1 / 24.0) == ()


def test_an_entry_is_no_meal_twice(now: Callable[..., np.ndarray], logged: Logged) -> None:
    assert now(read_at(8.0), 14.0, logged(("cooking", 12.2, 20.0))) == pytest.approx([0.4])


def test_a_dinner_cooked_before_its_hour_is_no_second_dinner(now: Callable[..., np.ndarray], logged: Logged) -> None:
    log = logged(("cooking", 12.0, 20.0), ("cooking", 18.5, 25.0, "dinner"))

    assert now(read_at(8.0), 20.0, log) == pytest.approx([0.6 - 0.2 - 0.25])


def test_of_what_was_on_at_the_reading_only_the_rest_is_taken_off(
    now: Callable[..., np.ndarray], logged: Logged
) -> None:
    log = logged(("cooking", 12.0, 30.0), ("cooking", 16.0, 5.0))

    # Read at a quarter past twelve: fifteen of the thirty minutes were still to come.
    assert now(read_at(12.25), 17.0, log) == pytest.approx([0.6 - 0.15 - 0.05])
    assert now(read_at(12.5), 17.0, log) == pytest.approx([0.6 - 0.05])


def test_of_a_meal_that_was_on_at_the_reading_and_is_not_in_the_log_the_rest_is_expected(
    now: Callable[..., np.ndarray], logged: Logged
) -> None:
    # Dinner is half an hour from seven; looked at ten minutes after it began, two thirds of its 0.3 are to come.
    read = read_at(19.0 + 1.0 / 6.0)

    assert now(read, 20.0, logged()) == pytest.approx([0.6 - 0.2])
    assert now(read, 20.0, logged(("cooking", 19.0, 30.0, "dinner"))) == pytest.approx([0.6 - 0.2])
    assert now(read_at(19.5), 20.0, logged()) == pytest.approx([0.6])


@pytest.mark.parametrize(
    ("looked", "now", "rows", "names"),
    [
        (8.0, 20.0, [], ["lunch", "dinner"]),
        (8.0, 20.0, [("cooking", 12.0, 25.0)], ["dinner"]),
        (8.0, 20.0, [("cooking", 16.0, 5.0)], ["lunch", "dinner"]),
        (8.0, 20.0, [("cooking", 19.0, 30.0, "dinner")], ["lunch"]),
        (8.0, 20.0, [("cooking", 12.0, 0.0, "lunch")], ["dinner"]),
        (8.0, 20.0, [("cooking", 12.0, 25.0), ("cooking", 19.0, 30.0, "dinner")], []),
        (13.0, 18.0, [], []),
        (13.0, 19.1, [], []),  # six minutes of thirty
        (13.0, 19.2, [], ["dinner"]),
        (19.25, 20.0, [], ["dinner"]),
        (19.4, 20.0, [], []),  # a look six minutes before its end has seen it
        (19.4, 44.0, [], ["lunch", "dinner"]),
    ],
)
def test_meals_counted_as_cooked_are_named_as_the_plan_has_them(
    plan: MealPlan, stove: Stove, logged: Logged, looked: float, now: float, rows: list[tuple[str, float, float]],
    names: list[str],
) -> None:  # fmt: skip
    tea = replace(NEVER_SKIPPED, unplanned_per_d=1.0, unplanned_sm3=0.05)
    between_d = (MIDNIGHT_D + looked / 24.0, MIDNIGHT_D + now / 24.0)
    past = cooked_since(plan, logged(*rows), stove, tea, between_d=between_d)
    found = assumed(plan, stove, past)

    assert [one.meal for one in found] == names
    assert [one.missed for one in found] == [names == ["lunch"] and looked == 8.0] * len(names)
    assert {round((one.start_d - MIDNIGHT_D) * 24.0, 6) % 24.0 for one in found} <= {12.0, 19.0}


def test_of_meals_whose_minutes_are_not_believed_the_plan_s_names_are_told(
    plan: MealPlan, stove: Stove, logged: Logged
) -> None:
    """Three hundred minutes were written of each: a dinner before the look, a nameless lunch, jam, and a late tea."""
    log = logged(
        ("cooking", -5.0, 30.0), ("cooking", 12.5, 30.0), ("cooking", 15.5, 20.0, "jam"), ("cooking", 23.0, 10.0)
    )  # fmt: skip
    cooking = log.of("cooking")
    slips = Log(by_quantity={"cooking": replace(cooking, written=np.full(4, 300.0))})
    between_d = (MIDNIGHT_D + 6.0 / 24.0, MIDNIGHT_D + 1.0)
    found = doubted(plan, slips, stove, between_d=between_d)

    assert [(one.meal, one.overstated) for one in found] == [("lunch", 10.0), ("jam", 15.0), ("unplanned", 30.0)]
    assert [round((one.start_d - MIDNIGHT_D) * 24.0, 6) for one in found] == [12.0, 15.5, 23.0]
    assert doubted(plan, log, stove, between_d=between_d) == ()
    none = MealPlan(zone=plan.zone)
    assert [one.meal for one in doubted(none, slips, stove, between_d=between_d)] == ["unplanned", "jam", "unplanned"]


def test_what_is_on_is_split_between_the_level_now_and_what_is_to_come(
    now: Callable[..., np.ndarray], plan: MealPlan, logged: Logged, stove: Stove
) -> None:
    ten_past = MIDNIGHT_D + 19.0 / 24.0 + 10.0 / 1440.0
    said = logged(("cooking", 19.0, 30.0, "dinner"))

    (rest,) = still_on(plan, logged(), stove, ten_past)
    (told,) = still_on(plan, said, stove, ten_past)

    assert (rest.meal, rest.start_d, rest.planned) == ("dinner", ten_past, True)
    assert rest.part == told.part == pytest.approx(2.0 / 3.0)
    assert not told.planned
    for log in (logged(), said):
        assert now(read_at(18.0), 19.0 + 1.0 / 6.0, log) == pytest.approx([0.6 - 0.1])
    # Two minutes of something else say nothing of it; an entry that names it with none does.
    assert [one.meal for one in still_on(plan, logged(("cooking", 19.1, 2.0)), stove, ten_past)] == ["dinner"]
    assert still_on(plan, logged(("cooking", 19.1, 0.0, "dinner")), stove, ten_past) == ()


def test_gas_beyond_the_capacity_was_vented_before_the_meal(now: Callable[..., np.ndarray], logged: Logged) -> None:
    level = now(read_at(8.0, 0.95, made_sm3=0.2), 13.0, logged(("cooking", 12.0, 30.0)))

    # 0.04 an hour: full after an hour and a quarter, 0.11 vented by noon, then 0.3 burned and 0.04 made.
    assert level == pytest.approx([1.0 - 0.3 + 0.04])


def test_a_reading_just_taken_is_the_level(now: Callable[..., np.ndarray], logged: Logged) -> None:
    assert now(read_at(8.0, 0.42), 8.0 + 1.0 / 60.0, logged()) == pytest.approx([0.42])


@pytest.mark.parametrize("hour", [np.nan, -24.0 * 40.0])
def test_a_level_never_read_or_forgotten_may_be_anything(
    hour: float, now: Callable[..., np.ndarray], logged: Logged
) -> None:
    read = read_at(hour, np.nan if np.isnan(hour) else 0.5, paths=2000)
    days_h = 24.0 * np.arange(-31.0, 1.0)
    none = [("cooking", hour, 0.0, "lunch") for hour in (days_h + 12.0).tolist()]
    none += [("cooking", hour, 0.0, "dinner") for hour in (days_h + 19.0).tolist()]
    no_meals = logged(*none, ("cooking", 11.9, 0.1))

    level = now(read, 12.0, no_meals)
    # Uniform on 0 to 1, less a minute's flame: mean 0.5 with a standard error of 0.006.
    assert level.mean() == pytest.approx(0.5, abs=0.02)
    assert level.std() == pytest.approx(np.sqrt(1.0 / 12.0), abs=0.02)


def test_of_gas_made_since_a_forgotten_reading_the_last_month_counts(stove: Stove) -> None:
    now_d = MIDNIGHT_D + 60.0
    read = Read(level_sm3=np.array([0.5]), level_time_d=MIDNIGHT_D, made_before_sm3=np.array([6.0]))
    timeline = lay_timeline(looked_at_d(read, now_d), now_d, ())

    level = level_now(
        read,
        timeline,
        wanted=Wanted(need_sm3=np.empty((1, 0)), cooked=np.empty((1, 0), dtype=bool)),
        conditions=Conditions(capacity_sm3=100.0),
        rng=np.random.default_rng(0),
    )
    start = np.random.default_rng(0).uniform(0.0, 100.0, 1)
    assert level == pytest.approx(start + 3.0)


def test_burners_and_flames_of_old_entries_are_read_as_well_as_can_be(
    now: Callable[..., np.ndarray], logged: Logged
) -> None:
    log = logged(("cooking", 12.0, 20.0, "lunch"))
    odd = replace(log.of("cooking"), item=np.array(["gone"]), flame_fraction=np.array([np.nan]))
    low = replace(log.of("cooking"), flame_fraction=np.array([0.5]))
    tiny = replace(log.of("cooking"), flame_fraction=np.array([0.01]))

    assert now(read_at(8.0), 14.0, Log(by_quantity={"cooking": odd})) == pytest.approx([0.4])
    assert now(read_at(8.0), 14.0, Log(by_quantity={"cooking": low})) == pytest.approx([0.5])
    assert now(read_at(8.0), 14.0, Log(by_quantity={"cooking": tiny})) == pytest.approx([0.6 - 0.02 * 0.2])
