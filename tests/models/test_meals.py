"""Meals laid out over days: clocks that change, days away, guests, and descriptions that cannot be."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest

from models.calendar import from_days
from models.errors import Inconsistent, OutOfRange
from models.meals import Absence, Meal, MealPlan, Override, Serving, servings
from models.stove import Boiling, Burning, Dish, Simmering, Stove

LISBON = ZoneInfo("Europe/Lisbon")
UTC_ZONE = ZoneInfo("UTC")


def starts(found: tuple[Serving, ...]) -> list[datetime]:
    return [from_days(serving.start_d) for serving in found]


def plan_of(*meals: Meal, changes: tuple[Override | Absence, ...] = (), zone: ZoneInfo = UTC_ZONE) -> MealPlan:
    return MealPlan(zone=zone, meals=meals, changes=changes)


def test_dinner_keeps_its_clock_time_when_summer_time_begins(dinner: Meal, stove: Stove) -> None:
    found = servings(plan_of(dinner, zone=LISBON), date(2026, 3, 28), 2, stove)  # the clock goes forward on the 29th

    assert starts(found) == [datetime(2026, 3, 28, 19, tzinfo=UTC), datetime(2026, 3, 29, 18, tzinfo=UTC)]


def test_dinner_keeps_its_clock_time_when_summer_time_ends(dinner: Meal, stove: Stove) -> None:
    found = servings(plan_of(dinner, zone=LISBON), date(2026, 10, 24), 2, stove)  # the clock goes back on the 25th

    assert starts(found) == [datetime(2026, 10, 24, 18, tzinfo=UTC), datetime(2026, 10, 25, 19, tzinfo=UTC)]


# RFC 5545, 3.3.5: a clock time left out is read with the offset before the change, one that comes twice is the first.
@pytest.mark.parametrize(
    ("day", "expected"),
    [
        (date(2026, 3, 29), datetime(2026, 3, 29, 1, 30, tzinfo=UTC)),
        (date(2026, 10, 25), datetime(2026, 10, 25, 0, 30, tzinfo=UTC)),
    ],
)
def test_a_meal_in_the_changing_hour_is_served_once(day: date, expected: datetime, dinner: Meal, stove: Stove) -> None:
    late = replace(dinner, at=time(1, 30))

    assert starts(servings(plan_of(late, zone=LISBON), day, 1, stove)) == [expected]


def test_servings_come_in_order_with_their_length(dinner: Meal, stove: Stove) -> None:
    lunch = replace(dinner, name="lunch", at=time(12), flame_min=20.0)

    found = servings(plan_of(dinner, lunch), date(2026, 3, 2), 2, stove)

    assert [serving.meal for serving in found] == ["lunch", "dinner", "lunch", "dinner"]
    assert [round((serving.end_d - serving.start_d) * 1440.0, 6) for serving in found] == [20.0, 30.0, 20.0, 30.0]
    assert [serving.day for serving in found] == [date(2026, 3, 2)] * 2 + [date(2026, 3, 3)] * 2


def test_guests_take_longer_and_a_skipped_meal_is_left_out(dinner: Meal, stove: Stove) -> None:
    changes = (
        Override(meal="dinner", day=date(2026, 3, 2), factor=1.6),
        Override(meal="dinner", day=date(2026, 3, 3), factor=0.0),
    )

    found = servings(plan_of(dinner, changes=changes), date(2026, 3, 2), 3, stove)

    assert [(serving.day.day, serving.factor) for serving in found] == [(2, 1.6), (4, 1.0)]
    assert (found[0].end_d - found[0].start_d) * 1440.0 == pytest.approx(48.0)


def test_of_two_changes_of_one_meal_the_later_holds(dinner: Meal, stove: Stove) -> None:
    changes = tuple(Override(meal="dinner", day=date(2026, 3, 2), factor=factor) for factor in (2.0, 1.2))

    assert servings(plan_of(dinner, changes=changes), date(2026, 3, 2), 1, stove)[0].factor == 1.2


def test_nothing_is_cooked_while_away(dinner: Meal, stove: Stove) -> None:
    away = (Absence(first=date(2026, 3, 3), last=date(2026, 3, 5)),)

    found = servings(plan_of(dinner, changes=away), date(2026, 3, 2), 5, stove)

    assert [serving.day.day for serving in found] == [2, 6]


def test_an_absence_outweighs_guests(dinner: Meal, stove: Stove) -> None:
    day = date(2026, 3, 2)
    changes = (Override(meal="dinner", day=day, factor=2.0), Absence(first=day, last=day))

    assert servings(plan_of(dinner, changes=changes), day, 1, stove) == ()


def test_dates_are_taken_out_and_put_in(dinner: Meal, stove: Stove) -> None:
    weekly = replace(
        dinner, rrule="FREQ=WEEKLY;BYDAY=MO", exdates=(date(2026, 3, 9),), rdates=(date(2026, 3, 10), date(2026, 3, 2))
    )

    found = servings(plan_of(weekly), date(2026, 3, 1), 14, stove)

    assert [serving.day.day for serving in found] == [2, 10]


def test_a_meal_without_a_rule_is_cooked_once(dinner: Meal, stove: Stove) -> None:
    once = replace(dinner, rrule=None, starts_on=date(2026, 3, 4))

    assert [serving.day.day for serving in servings(plan_of(once), date(2026, 3, 1), 10, stove)] == [4]


def test_no_days_hold_no_meals(dinner: Meal, stove: Stove) -> None:
    assert servings(plan_of(dinner), date(2026, 3, 2), 0, stove) == ()


def test_minutes_of_flame_are_a_dish_of_one_step(dinner: Meal) -> None:
    assert dinner.courses == (Dish(burner="ring", steps=(Burning(minutes=30.0),)),)


def test_dishes_are_kept_as_described(dinner: Meal, stove: Stove) -> None:
    soup = Dish(burner="ring", pan="two litre", steps=(Boiling(water_l=1.0), Simmering(minutes=20.0)))
    meal = replace(dinner, burner=None, flame_min=None, dishes=(soup,), movable=True)

    (serving,) = servings(plan_of(meal), date(2026, 3, 2), 1, stove)

    assert serving.dishes == (soup,)
    assert serving.movable
    assert serving.end_d - serving.start_d > 20.0 / 1440.0


@pytest.mark.parametrize(
    "change",
    [
        {"burner": None},
        {"flame_min": None},
        {"burner": None, "flame_min": None},
        {"dishes": (Dish(burner="ring", steps=(Burning(minutes=1.0),)),)},
        {"burner": None, "dishes": (Dish(burner="ring", steps=(Burning(minutes=1.0),)),)},
    ],
)
def test_a_meal_is_minutes_of_flame_or_dishes(change: dict[str, object], dinner: Meal) -> None:
    with pytest.raises(Inconsistent, match="burner with flame_min, and not both"):
        replace(dinner, **change)


@pytest.mark.parametrize("name", ["", "unplanned", "logged"])
def test_a_meal_needs_a_name_of_its_own(name: str, dinner: Meal) -> None:
    with pytest.raises(Inconsistent) as refused:
        replace(dinner, name=name)

    assert refused.value.field == "name"


def test_a_bad_rule_is_refused_at_birth(dinner: Meal) -> None:
    with pytest.raises(OutOfRange, match="FREQ is YEARLY"):
        replace(dinner, rrule="FREQ=YEARLY")


@pytest.mark.parametrize("minutes", [0.0, 1441.0])
def test_minutes_beyond_a_day_are_refused(minutes: float, dinner: Meal) -> None:
    with pytest.raises(OutOfRange, match=r"must be 0\.1 to 1440"):
        replace(dinner, flame_min=minutes)


@pytest.mark.parametrize("factor", [-0.1, 20.1])
def test_a_factor_out_of_all_proportion_is_refused(factor: float) -> None:
    with pytest.raises(OutOfRange, match=r"factor is .*, must be 0 to 20"):
        Override(meal="dinner", day=date(2026, 3, 2), factor=factor)


def test_an_absence_ends_after_it_begins() -> None:
    with pytest.raises(Inconsistent, match="must not be before from"):
        Absence(first=date(2026, 3, 3), last=date(2026, 3, 2))


def test_a_change_names_a_meal_of_the_plan(dinner: Meal) -> None:
    supper = Override(meal="supper", day=date(2026, 3, 2), factor=1.0)

    with pytest.raises(Inconsistent, match="meal is 'supper', must be one of dinner") as refused:
        plan_of(dinner, changes=(supper,))
    with pytest.raises(Inconsistent, match="there is none"):
        plan_of(changes=(supper,))

    assert refused.value.field == "meal"


def test_meals_are_told_apart_by_name(dinner: Meal) -> None:
    with pytest.raises(Inconsistent, match="'dinner' is given twice"):
        plan_of(dinner, replace(dinner, at=time(12)))


def test_a_burner_that_is_not_there_is_refused_with_those_that_are(dinner: Meal, stove: Stove) -> None:
    with pytest.raises(Inconsistent, match="burner is 'oven', must be one of ring, plate") as refused:
        servings(plan_of(replace(dinner, burner="oven")), date(2026, 3, 2), 1, stove)

    assert refused.value.field == "burner"


def test_a_schedule_of_years_costs_no_more_than_one_of_days(dinner: Meal, stove: Stove) -> None:
    old = replace(dinner, starts_on=date(1990, 1, 1), rrule="FREQ=WEEKLY;INTERVAL=2;BYDAY=MO,FR")
    first = date(2026, 3, 2)

    found = servings(plan_of(old), first, 28, stove)

    weeks = {(day - date(1990, 1, 1)).days // 7 for day in (first + timedelta(days=k) for k in range(28))}
    expected = sum(2 for week in weeks if week % 2 == 0)
    assert len(found) == expected
