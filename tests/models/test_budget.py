"""The gas budget of days worked by hand, and what more gas or more care may do to it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from models.backup import Backup
from models.budget import GasBudget, gas_budget
from models.errors import OutOfRange
from models.meals import Serving
from models.reckoning import Reckoning, Said

MONDAY = date(2026, 3, 2)
LPG = Backup(on_hand_kg=3.0)
Cook = Callable[..., Serving]
Reckon = Callable[..., Reckoning]


def of(told: Reckoning, day: date = MONDAY) -> GasBudget:
    return gas_budget(told, day, backup=LPG)


def test_an_ordinary_day_by_hand(reckon: Reckon, at_hour: Cook) -> None:
    budget = of(reckon([0.5], [0.02], [at_hour(12.0), at_hour(19.0)], reserve_sm3=0.1))

    # Above the reserve 0.4, and 19.5 hours of 0.02 until dinner ends: 0.79; the two meals want 0.6 of it.
    assert budget.budget_m3 == pytest.approx(0.79)
    assert budget.budget_q10_m3 == pytest.approx(0.79)
    assert budget.need_m3 == pytest.approx(0.6)
    assert budget.margin_q10_m3 == pytest.approx(0.19)
    assert budget.budget_mj == pytest.approx(15.8)  # 20 MJ/sm3
    assert budget.flame_min == pytest.approx(79.0)  # 0.6 sm3/h
    assert (budget.holder_at_start_m3, budget.reserve_m3) == (pytest.approx(0.5), pytest.approx(0.1))
    assert budget.covered
    assert budget.cover_probability == 1.0
    assert [(meal.meal, meal.verdict) for meal in budget.meals] == [("dinner", "gas"), ("dinner", "gas")]
    assert budget.meals[0].need_m3 == pytest.approx(0.3)
    assert (budget.vented_m3, budget.backup) == (0.0, 0.0)
    assert (budget.end_d - budget.start_d) * 24.0 == pytest.approx(24.0)
    assert "79 min of full flame" in budget.summary


def test_without_meals_the_budget_runs_to_midnight(reckon: Reckon) -> None:
    budget = of(reckon([0.5], [0.02], reserve_sm3=0.1))

    assert budget.budget_m3 == pytest.approx(0.88)
    assert (budget.need_m3, budget.covered, budget.meals) == (0.0, True, ())
    assert budget.summary.endswith("no meal is planned.")


def test_the_usual_cooking_is_told_from_meals(reckon: Reckon, at_hour: Cook) -> None:
    tea = at_hour(16.0, "unplanned", planned=False)

    assert of(reckon([0.2], [0.0], [tea])).summary.endswith(
        "; no meal is planned, the usual cooking is covered with odds of 0%: have the backup ready."
    )
    assert of(reckon([0.9], [0.0], [tea])).summary.endswith("; no meal is planned.")


def test_gas_that_would_be_vented_before_dinner_may_be_burned_first(reckon: Reckon, at_hour: Cook) -> None:
    budget = of(reckon([1.0], [0.02], [at_hour(10.0)]))

    # Full all night: 0.2 would be let out by ten; that, dinner and what is left when it ends are the budget.
    assert budget.budget_m3 == pytest.approx(1.21)
    assert budget.vented_m3 == pytest.approx(0.2)


def test_what_dinner_lacks_goes_to_the_backup(reckon: Reckon, at_hour: Cook) -> None:
    budget = of(reckon([0.2], [0.0], [at_hour(19.0)], reserve_sm3=0.1))

    # 0.2 sm3 of 20 MJ, half of it into the pan, is 2 MJ; a bottle stove of 55 % takes 3.6 MJ of gas of 46 MJ/kg.
    assert budget.backup == pytest.approx(2.0 / 0.55 / 46.0, rel=0.01)
    assert budget.margin_q10_m3 == pytest.approx(-0.2)
    assert not budget.covered
    assert budget.meals[0].verdict == "backup"
    assert budget.summary.endswith("plan dinner on the backup.")


@pytest.mark.parametrize(
    ("names", "says"),
    [
        (("lunch", "dinner"), "plan lunch and dinner on the backup."),
        (("breakfast", "lunch", "dinner"), "plan breakfast and lunch and more on the backup."),
        (("a" * 64,), "plan a meal on the backup."),
        (("a" * 64, "b" * 64, "dinner"), "plan 3 meals on the backup."),
    ],
)
def test_meals_are_named_where_the_sentence_has_room_for_it(
    reckon: Reckon, at_hour: Cook, names: tuple[str, ...], says: str
) -> None:
    budget = of(reckon([0.1], [0.0], [at_hour(9.0 + 4.0 * k, name) for k, name in enumerate(names)], reserve_sm3=0.1))

    assert budget.summary.endswith(says)
    assert len(budget.summary) <= 200


def test_tea_takes_from_the_margin_and_is_no_meal(reckon: Reckon, at_hour: Cook) -> None:
    tea = at_hour(16.0, "unplanned", planned=False)
    budget = of(reckon([0.5], [0.0], [tea, at_hour(19.0)], need_sm3=[[0.1, 0.3]]))

    assert budget.need_m3 == pytest.approx(0.4)
    assert budget.margin_q10_m3 == pytest.approx(0.1)
    assert len(budget.meals) == 1


def test_what_a_meal_takes_is_what_the_day_takes_however_often_it_is_skipped(reckon: Reckon, at_hour: Cook) -> None:
    needs = np.linspace(0.2, 0.4, 11)
    meal, tea = at_hour(19.0), at_hour(16.0, "unplanned", planned=False)
    told = reckon([0.6] * 11, np.zeros(11), [tea, meal], need_sm3=np.column_stack([np.full(11, 0.1), needs]))
    skipped = np.array([[False, k % 3 > 0] for k in range(11)])  # nobody makes tea
    warm = told.m3_per_sm3 * np.linspace(1.0, 1.2, len(told.m3_per_sm3))
    run = replace(told.run, wanted=replace(told.run.wanted, cooked=skipped))
    budget = of(replace(told, run=run, m3_per_sm3=warm))

    factor = warm[told.run.timeline.step_of[1]]
    assert budget.need_m3 == pytest.approx(budget.meals[0].need_m3) == pytest.approx(0.3 * factor)
    assert budget.need_q90_m3 == pytest.approx(0.38 * factor)


def test_odds_and_quantiles_are_those_of_the_paths(reckon: Reckon, at_hour: Cook) -> None:
    starts = np.linspace(0.21, 0.4, 20)  # one path in two has the 0.3 that dinner takes
    budget = of(reckon(starts, np.zeros(20), [at_hour(19.0)]))

    assert budget.cover_probability == pytest.approx(0.55)
    assert budget.budget_m3 == pytest.approx(np.quantile(starts, 0.5))
    assert budget.budget_q10_m3 == pytest.approx(np.quantile(starts, 0.1))
    assert budget.budget_q90_m3 == pytest.approx(np.quantile(starts, 0.9))
    assert budget.meals[0].on_gas_probability == pytest.approx(0.55)
    assert budget.meals[0].verdict == "tight"
    assert "odds of 55%" in budget.summary


def test_a_later_day_starts_from_what_the_first_leaves(reckon: Reckon, at_hour: Cook) -> None:
    told = reckon([0.5], [0.02], [at_hour(19.0), at_hour(43.0)], hours=48.0, capacity_sm3=2.0)

    tuesday = of(told, date(2026, 3, 3))
    assert tuesday.holder_at_start_m3 == pytest.approx(0.5 + 0.48 - 0.3)
    assert tuesday.budget_m3 == pytest.approx(0.68 + 19.5 * 0.02)


def test_a_meal_past_midnight_belongs_to_the_day_it_starts_on(reckon: Reckon, at_hour: Cook) -> None:
    told = reckon([0.5], [0.02], [at_hour(23.5, minutes=60.0)], hours=48.0)

    assert of(told).budget_m3 == pytest.approx(0.5 + 24.5 * 0.02)
    assert of(told, date(2026, 3, 3)).meals == ()


def test_a_wet_and_warm_holder_shows_more_than_standard_gas(reckon: Reckon, at_hour: Cook) -> None:
    told = reckon([0.5], [0.0], [at_hour(19.0)])
    shown = of(replace(told, m3_per_sm3=1.1 * told.m3_per_sm3))

    assert shown.budget_m3 == pytest.approx(0.55)
    assert shown.need_m3 == pytest.approx(0.33)
    assert shown.budget_mj == pytest.approx(10.0)


def test_a_verdict_turns_only_past_a_margin(reckon: Reckon, at_hour: Cook) -> None:
    dinner = at_hour(19.0)
    told = reckon([0.4] * 88 + [0.2] * 12, np.zeros(100), [dinner])  # covered with odds of 0.88

    held = of(replace(told, before=Said(covered={MONDAY: True}, verdicts={dinner.key: "gas"})))
    assert (of(told).covered, of(told).meals[0].verdict) == (False, "tight")
    assert (held.covered, held.meals[0].verdict) == (True, "gas")


def test_a_day_beyond_the_forecast_is_refused(reckon: Reckon) -> None:
    with pytest.raises(OutOfRange, match="date is 2026-03-03, must be 2026-03-02 to 2026-03-02"):
        of(reckon([0.5], [0.0]), date(2026, 3, 3))


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    starts=st.lists(st.floats(0.0, 1.0), min_size=5, max_size=5),
    hourly=st.lists(st.floats(0.0, 0.05), min_size=5, max_size=5),
    more=st.floats(0.0, 0.5),
    cares=st.tuples(st.floats(0.01, 0.5), st.floats(0.01, 0.5)),
)
def test_more_gas_and_less_care_never_promise_less(
    starts: list[float],
    hourly: list[float],
    more: float,
    cares: tuple[float, float],
    reckon: Reckon,
    at_hour: Cook,
) -> None:
    meals = [at_hour(7.0), at_hour(12.0), at_hour(19.0)]
    told = reckon(starts, hourly, meals, capacity_sm3=2.0, reserve_sm3=0.05)
    richer = reckon(np.asarray(starts) + more, hourly, meals, capacity_sm3=2.0, reserve_sm3=0.05)
    strict, loose = sorted(cares)

    assert of(richer).budget_q10_m3 >= of(told).budget_q10_m3 - 1e-12
    assert of(richer).cover_probability >= of(told).cover_probability
    assert of(replace(told, care_level=loose)).covered or not of(replace(told, care_level=strict)).covered
    assert len(of(told).summary) <= 200
