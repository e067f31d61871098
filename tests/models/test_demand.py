"""What meals will take, drawn from habits: as often, as much and as unevenly as the habits say."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from models.calendar import from_days
from models.habits import Habits, MealHabit, demand, unplanned_servings
from models.meals import Absence, MealPlan, Serving
from models.stove import Stove, Use, planned_use

UTC_ZONE = ZoneInfo("UTC")
Cook = Callable[..., Serving]


def test_teas_come_once_a_day_at_their_usual_hour() -> None:
    habits = Habits(unplanned_per_d=1.5, unplanned_sm3=0.03, unplanned_hour=15.5)

    plan = MealPlan(zone=ZoneInfo("Europe/Lisbon"))

    found = unplanned_servings(habits, date(2026, 3, 28), 3, plan)

    assert [from_days(serving.start_d).hour for serving in found] == [15, 14, 14]  # summer time from the 29th
    assert not any(serving.planned for serving in found)
    assert unplanned_servings(Habits(), date(2026, 3, 28), 3, plan) == ()


def test_nobody_makes_tea_in_an_empty_house() -> None:
    away = Absence(first=date(2026, 3, 29), last=date(2026, 3, 30))
    plan = MealPlan(zone=UTC_ZONE, changes=(away,))

    found = unplanned_servings(Habits(unplanned_per_d=1.5, unplanned_sm3=0.03), date(2026, 3, 28), 4, plan)

    assert [serving.day.day for serving in found] == [28, 31]


PATHS = 4000


@pytest.fixture
def draw(stove: Stove, at_hour: Cook) -> Callable[..., tuple[np.ndarray, np.ndarray]]:
    """Need and cooked of one serving drawn on many paths, shape (paths,)."""

    def drawn(habits: Habits, **change: object) -> tuple[np.ndarray, np.ndarray]:
        serving = replace(at_hour(19.0), **change)
        use = planned_use([serving], stove)
        wanted = demand([serving], use, habits, paths=PATHS, rng=np.random.default_rng(5))
        return wanted.need_sm3[:, 0], wanted.cooked[:, 0]

    return drawn


def test_drawn_needs_follow_the_habit(draw: Callable[..., tuple[np.ndarray, np.ndarray]]) -> None:
    habit = MealHabit(cooked=0.7, ratio=0.9, spread=0.25, guests=0.0, observations=200)

    need, cooked = draw(Habits(meals={"dinner": habit}))

    # Standard errors over 4000 paths: 0.001 of 0.27 and 0.007 of the odds.
    assert need.mean() == pytest.approx(0.3 * 0.9, rel=0.02)
    assert np.log(need).std() == pytest.approx(0.25, rel=0.05)
    assert cooked.mean() == pytest.approx(0.7, abs=0.03)


def test_guests_take_more(draw: Callable[..., tuple[np.ndarray, np.ndarray]]) -> None:
    always = MealHabit(cooked=1.0 - 1e-9, spread=0.0, guests=1.0, guest_factor=1.7, observations=10_000)

    need, cooked = draw(Habits(meals={"dinner": always}))

    assert need == pytest.approx(np.full(PATHS, 0.51), rel=1e-6)
    assert cooked.all()


def test_a_short_log_leaves_needs_wider(draw: Callable[..., tuple[np.ndarray, np.ndarray]]) -> None:
    short, _ = draw(Habits(meals={"dinner": MealHabit(guests=0.0)}))
    long, _ = draw(Habits(meals={"dinner": MealHabit(guests=0.0, observations=200)}))

    assert np.log(short).std() > np.log(long).std()


def test_a_meal_the_cook_has_changed_is_cooked_and_brings_no_more_guests(
    draw: Callable[..., tuple[np.ndarray, np.ndarray]],
) -> None:
    doubtful = MealHabit(cooked=0.3, spread=0.0, guests=1.0, guest_factor=3.0, observations=10_000)

    need, cooked = draw(Habits(meals={"dinner": doubtful}), factor=1.5)

    assert cooked.all()
    assert need == pytest.approx(np.full(PATHS, 0.45), rel=1e-6)


def test_what_was_logged_is_taken_as_it_was(draw: Callable[..., tuple[np.ndarray, np.ndarray]]) -> None:
    need, cooked = draw(Habits(), meal="logged", planned=False)

    assert cooked.all()
    assert need == pytest.approx(np.full(PATHS, 0.3))


def test_a_meal_that_the_log_passes_over_is_cooked_at_even_odds_or_as_rarely_as_usual(
    draw: Callable[..., tuple[np.ndarray, np.ndarray]],
) -> None:
    for usual, odds in ((0.9, 0.5), (0.3, 0.3)):
        _, cooked = draw(Habits(meals={"dinner": MealHabit(cooked=usual, observations=2000)}), missed=True)

        assert cooked.mean() == pytest.approx(odds, abs=0.03)  # standard error 0.008


def test_minutes_that_are_not_believed_leave_open_what_was_burned(
    draw: Callable[..., tuple[np.ndarray, np.ndarray]],
) -> None:
    need, cooked = draw(Habits(), meal="logged", planned=False, overstated=10.0)

    assert cooked.all()
    as_written = np.isclose(need, 3.0)
    # Standard errors over 4000 paths: 0.006 of the odds, 0.009 of the middle, 0.006 of the spread.
    assert as_written.mean() == pytest.approx(0.2, abs=0.03)
    assert np.median(need[~as_written]) == pytest.approx(0.3, rel=0.05)
    assert np.log(need[~as_written]).std() == pytest.approx(0.5, abs=0.03)


def test_meals_are_begun_as_often_as_the_cook_does(stove: Stove, at_hour: Cook) -> None:
    asked = [at_hour(19.0)]
    use = planned_use(asked, stove)
    wanted = demand(asked, use, Habits(begun=0.3), paths=PATHS, rng=np.random.default_rng(5))

    assert wanted.begun is not None
    assert wanted.begun.mean() == pytest.approx(0.3, abs=0.03)  # standard error 0.007


def test_what_the_log_tells_of_was_begun(stove: Stove, at_hour: Cook) -> None:
    asked = [at_hour(19.0, "logged"), at_hour(20.0, "unplanned"), at_hour(21.0)]
    wanted = demand(asked, planned_use(asked, stove), Habits(begun=0.0), paths=9, rng=np.random.default_rng(5))

    assert wanted.begun is not None
    assert wanted.begun.tolist() == [[True, True, False]] * 9


def test_teas_are_drawn_with_their_mean_and_not_all_alike(draw: Callable[..., tuple[np.ndarray, np.ndarray]]) -> None:
    need, cooked = draw(Habits(unplanned_per_d=1.5, unplanned_sm3=0.04), meal="unplanned", dishes=(), planned=False)

    assert cooked.all()
    assert need.mean() == pytest.approx(0.06, rel=0.06)  # standard error 1.5 %
    assert need.std() == pytest.approx(0.04 * np.sqrt(1.5 * 1.25), rel=0.1)


def test_gas_that_differs_by_path_makes_needs_differ(at_hour: Cook) -> None:
    plan_sm3 = np.array([[0.2], [0.4]])
    habit = MealHabit(cooked=0.999, spread=0.0, guests=0.0, observations=10_000)

    wanted = demand(
        [at_hour(19.0)],
        Use(sm3=plan_sm3, mj=plan_sm3, useful_mj=plan_sm3),
        Habits(meals={"dinner": habit}),
        paths=2,
        rng=np.random.default_rng(0),
    )

    assert wanted.need_sm3 == pytest.approx(plan_sm3)
