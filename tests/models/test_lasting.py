"""How long the holder lasts, on days worked by hand and on paths that differ."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from models.holder import GasHolder
from models.lasting import AssumedMeal, StorageOutlook, storage_outlook
from models.meals import Serving
from models.reckoning import Reckoning

HOLDER = GasHolder(capacity_m3=1.0, gauge_points=((0.0, 0.0), (50.0, 0.4), (100.0, 1.0)))
MIDNIGHT_D = 20514.0
Cook = Callable[..., Serving]
Reckon = Callable[..., Reckoning]


def of(told: Reckoning) -> StorageOutlook:
    return storage_outlook(told, HOLDER)


def test_three_dinners_without_new_gas_by_hand(reckon: Reckon, at_hour: Cook) -> None:
    dinners = [at_hour(19.0 + 24.0 * day) for day in range(4)]
    outlook = of(reckon([0.8], [0.0], dinners, hours=96.0, reserve_sm3=0.1))

    # 0.7 above the reserve carries two dinners whole; the third has 0.1 and ends ten minutes in, within its step.
    assert outlook.days_left == pytest.approx(2.0 + 19.0 / 24.0)
    assert outlook.days_left_q10 == outlook.days_left == outlook.days_left_q90
    assert outlook.empty_at_d == pytest.approx(MIDNIGHT_D + 2.0 + 19.5 / 24.0, abs=1e-5)
    assert outlook.empty_probability == 1.0
    assert (outlook.full_at_d, outlook.full_at_q10_d) == (None, None)
    assert outlook.holder_m3 == pytest.approx(0.8)
    assert outlook.usable_m3 == pytest.approx(0.7)
    assert outlook.usable_mj == pytest.approx(14.0)
    assert outlook.flame_min == pytest.approx(70.0)
    assert outlook.level_pct == pytest.approx(50.0 + 50.0 * 0.4 / 0.6)
    assert outlook.capacity_m3 == 1.0
    assert outlook.horizon_d == pytest.approx(4.0)
    assert "a meal first lacks gas on" in outlook.summary


def test_new_gas_is_told_from_what_is_there(reckon: Reckon, at_hour: Cook) -> None:
    dinners = [at_hour(19.0 + 24.0 * day) for day in range(3)]
    outlook = of(reckon([0.5], [0.0125], dinners, hours=72.0))  # just what the dinners take

    assert outlook.days_left is None
    assert outlook.days_left_without_production == pytest.approx(1.0 + 19.0 / 24.0)
    assert outlook.empty_probability == 0.0
    assert outlook.summary.endswith("it carries every planned meal of the next 3 days.")


def test_a_filling_holder_says_when_it_is_full(reckon: Reckon) -> None:
    outlook = of(reckon([0.5, 0.7, 0.9], [0.05, 0.05, 0.05], capacity_sm3=1.0))

    assert outlook.full_at_d == pytest.approx(MIDNIGHT_D + 6.0 / 24.0, abs=1e-6)
    assert outlook.full_at_q10_d == pytest.approx(MIDNIGHT_D + 2.0 / 24.0, abs=1e-6)


def test_what_happens_on_a_few_paths_is_not_within_the_horizon(reckon: Reckon, at_hour: Cook) -> None:
    starts = [0.2] * 2 + [0.8] * 8
    outlook = of(reckon(starts, np.zeros(10), [at_hour(19.0)]))

    assert outlook.days_left is None
    assert outlook.days_left_q10 == pytest.approx(19.0 / 24.0)
    assert outlook.days_left_q90 is None
    assert outlook.empty_probability == pytest.approx(0.2)
    assert outlook.summary.endswith(
        "; it likely carries every planned meal of the next day, but one time in ten one lacks gas on Monday 2 March "
        "already."
    )


def test_a_holder_at_its_reserve_is_empty_at_once(reckon: Reckon) -> None:
    outlook = of(reckon([0.1], [0.0], reserve_sm3=0.1))

    assert outlook.usable_m3 == 0.0
    assert outlook.empty_at_d == pytest.approx(MIDNIGHT_D, abs=1e-6)


def test_a_full_holder_is_full_now(reckon: Reckon) -> None:
    assert of(reckon([1.0], [0.0])).full_at_d == pytest.approx(MIDNIGHT_D, abs=1e-6)


def test_gas_outside_the_plan_ends_no_days(reckon: Reckon, at_hour: Cook) -> None:
    outlook = of(reckon([0.1], [0.0], [at_hour(16.0, "unplanned", planned=False)]))

    assert outlook.days_left is None
    assert outlook.empty_probability == 1.0


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    starts=st.lists(st.floats(0.0, 1.0), min_size=4, max_size=4),
    hourly=st.lists(st.floats(0.0, 0.03), min_size=4, max_size=4),
    more=st.floats(0.0, 0.02),
)
def test_more_gas_never_gives_fewer_days(
    starts: list[float], hourly: list[float], more: float, reckon: Reckon, at_hour: Cook
) -> None:
    meals = [at_hour(24.0 * day + hour) for day in range(3) for hour in (12.0, 19.0)]
    poor = of(reckon(starts, hourly, meals, hours=72.0))
    rich = of(reckon(starts, np.asarray(hourly) + more, meals, hours=72.0))

    for name in ("days_left", "days_left_q10", "days_left_q90", "days_left_without_production"):
        few, many = (getattr(one, name) or np.inf for one in (poor, rich))
        assert many >= few
    assert rich.empty_probability <= poor.empty_probability
    assert len(poor.summary) <= 200


def test_meals_that_the_level_counts_as_cooked_are_named(reckon: Reckon, at_hour: Cook) -> None:
    told = reckon([0.5], [0.0], [at_hour(19.0), at_hour(43.0)], hours=96.0)
    breakfast, lunch = at_hour(-17.0, "breakfast"), at_hour(-12.0, "lunch")
    gas, lacks = "Gas for 50 min of full flame", "; a meal first lacks gas on Tuesday 3 March."

    assert (of(told).assumed_meals, of(told).summary) == ((), f"{gas} is in the holder{lacks}")
    one = of(replace(told, assumed=(breakfast,)))
    assert one.assumed_meals == (AssumedMeal(meal="breakfast", start_d=MIDNIGHT_D - 17.0 / 24.0),)
    assert one.summary == f"{gas}, counting breakfast as cooked (read the gauge or log it){lacks}"
    both = of(replace(told, assumed=(breakfast, lunch)))
    assert both.summary == f"{gas}, counting breakfast and lunch as cooked (read the gauge or log them){lacks}"
    for many in ((lunch, lunch), (breakfast, lunch, breakfast)):
        assert f", counting {len(many)} meals as cooked (read the gauge or log them)" in (
            of(replace(told, assumed=many)).summary
        )


def test_meals_whose_minutes_cannot_be_right_are_to_be_mended_and_not_logged_again(
    reckon: Reckon, at_hour: Cook
) -> None:
    told = reckon([0.5], [0.0], [at_hour(19.0), at_hour(43.0)], hours=96.0)
    breakfast, lunch = at_hour(-17.0, "breakfast"), replace(at_hour(-12.0, "lunch"), overstated=10.0)
    other = replace(at_hour(-10.0, "unplanned"), overstated=4.0)
    gas, lacks = "Gas for 50 min of full flame", "; a meal first lacks gas on Tuesday 3 March."

    one = of(replace(told, assumed=(lunch,)))
    assert one.assumed_meals == (AssumedMeal(meal="lunch", start_d=lunch.start_d),)
    assert one.summary == f"{gas}, counting lunch as usual (its minutes cannot be right: mend them){lacks}"
    two = of(replace(told, assumed=(lunch, other)))
    assert "counting lunch and other cooking as usual (their minutes cannot be right: mend them)" in two.summary
    both = of(replace(told, assumed=(breakfast, lunch)))
    assert both.summary == f"{gas}, counting breakfast as cooked (log it) and lunch as usual (mend its minutes){lacks}"
    assert [meal.meal for meal in both.assumed_meals] == ["breakfast", "lunch"]


def test_of_meals_that_the_log_passes_over_no_more_is_said_than_is_known(reckon: Reckon, at_hour: Cook) -> None:
    told = reckon([0.5], [0.0], [at_hour(19.0)])
    breakfast, lunch = replace(at_hour(-17.0, "breakfast"), missed=True), at_hour(-12.0, "lunch")

    alone, both = (of(replace(told, assumed=some)).summary for some in ((breakfast,), (breakfast, lunch)))
    assert ", counting breakfast as perhaps cooked (read the gauge or log it); " in alone
    assert ", counting breakfast and lunch as cooked (read the gauge or log them); " in both


@pytest.mark.parametrize("name", ["breakfast", "m" * 100], ids=["short", "long"])
@pytest.mark.parametrize("missed", [False, True], ids=["", "passed over"])
@pytest.mark.parametrize("wrong", [0, 1, 2], ids=["none wrong", "all wrong", "every other wrong"])
@pytest.mark.parametrize("count", [0, 1, 2, 120])
@pytest.mark.parametrize("starts", [[0.2, 0.2, *[0.8] * 8], [0.2, 0.2, *[1.0] * 8], [1.0] * 10], ids=str)
def test_the_summary_fits_its_line_whatever_it_rests_on(
    reckon: Reckon, at_hour: Cook, starts: list[float], count: int, wrong: int, missed: bool, name: str
) -> None:
    """The longest day and month there are, hours of flame, names that leave no room, and the gauge's age before it."""
    usual = at_hour(19.0)
    meals = [replace(usual, start_d=usual.start_d + day, end_d=usual.end_d + day) for day in (205.0, 212.0)]
    told = reckon(starts, np.zeros(10), meals, need_sm3=0.5, hours=24.0 * 214.0)
    before = tuple(
        replace(
            usual,
            meal=name if k % 2 else "lunch",
            start_d=usual.start_d - k,
            overstated=10.0 if wrong and k % wrong == 0 else 1.0,
            missed=missed,
        )
        for k in range(count, 0, -1)
    )
    outlook = of(replace(told, assumed=before, flame_sm3_per_h=np.asarray(0.005)))

    assert len(outlook.summary) <= 200
    assert len("Gauge last read 100 days ago: read it again. ") + len(outlook.shorter) <= 200
    if starts[0] < 1.0:
        assert "Wednesday 23 September" in outlook.summary
    assert ("counting" in outlook.summary) == ("counting" in outlook.shorter) == (count > 0)
    assert ("mend" in outlook.summary) == ("mend" in outlook.shorter) == any(one.overstated > 1.0 for one in before)


def test_the_summary_fits_its_line(reckon: Reckon, at_hour: Cook) -> None:
    told = reckon([0.2, 0.8], [0.0, 0.0], [at_hour(43.0)], hours=96.0)

    assert len(of(replace(told, care_level=0.5)).summary) <= 200
