"""Which entries of the cooking log tell of which meals."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from models.diary import not_yet_logged, serving_of
from models.log import Log
from models.meals import Serving
from models.stove import Stove, planned_use

Logged = Callable[..., Log]
Cook = Callable[..., Serving]
Tell = Callable[..., list[int]]


@pytest.fixture
def meals(at_hour: Cook) -> list[Serving]:
    """A lunch at noon and a dinner at seven, half an hour of flame each."""
    return [at_hour(12.0, "lunch"), at_hour(19.0)]


@pytest.fixture
def tells_of(logged: Logged, meals: list[Serving], stove: Stove) -> Tell:
    """Serving that each entry tells of; a minute of flame takes ten litres."""

    def told(*rows: tuple[object, ...]) -> list[int]:
        cooking = logged(*rows).of("cooking")
        return serving_of(cooking, 0.01 * cooking.value, meals, planned_use(meals, stove).sm3[0]).tolist()

    return told


def test_an_entry_tells_of_the_meal_it_names_or_is_near(tells_of: Tell) -> None:
    assert tells_of(("cooking", 11.0, 30.0), ("cooking", 16.0, 30.0, "dinner"), ("cooking", 20.0, 30.0)) == [0, 1, 1]


def test_an_entry_far_from_every_meal_or_of_another_name_is_outside_the_plan(tells_of: Tell) -> None:
    assert tells_of(("cooking", 15.5, 30.0), ("cooking", 19.0, 30.0, "jam")) == [-1, -1]


def test_a_small_unnamed_entry_is_a_tea(tells_of: Tell) -> None:
    assert tells_of(("cooking", 18.0, 6.0)) == [-1]
    assert tells_of(("cooking", 18.0, 6.0), ("cooking", 19.0, 24.0)) == [1, 1]  # but part of the dinner it belongs to
    assert tells_of(("cooking", 18.0, 6.0, "dinner")) == [1]


def test_a_dinner_already_cooked_is_not_expected_again(meals: list[Serving], logged: Logged, stove: Stove) -> None:
    early = logged(("cooking", 11.5, 30.0), ("cooking", 17.5, 30.0, "dinner")).of("cooking")

    assert not_yet_logged(meals, early.select(slice(0, 1)), stove) == (meals[1],)
    assert not_yet_logged(meals, early, stove) == ()
    assert not_yet_logged([], early, stove) == ()


def test_yesterdays_dinner_says_nothing_of_todays(meals: list[Serving], logged: Logged, stove: Stove) -> None:
    yesterday = [replace(one, start_d=one.start_d - 1.0, end_d=one.end_d - 1.0) for one in meals]
    cooking = logged(("cooking", -5.0, 30.0, "dinner"), ("cooking", 1.0, 30.0, "dinner")).of("cooking")

    assert not_yet_logged(meals, cooking, stove) == tuple(meals)
    assert not_yet_logged([*yesterday, *meals], cooking, stove) == (yesterday[0], *meals)


def test_a_meal_that_is_logged_with_no_minutes_was_not_cooked(
    meals: list[Serving], logged: Logged, stove: Stove
) -> None:
    early = logged(("cooking", 16.0, 0.0, "dinner")).of("cooking")
    both = logged(("cooking", 12.0, 5.0, "lunch"), ("cooking", 12.5, 0.0, "lunch")).of("cooking")
    nothing = logged(("cooking", 19.0, np.nan, "dinner"), ("cooking", 12.0, 0.0), ("cooking", 12.0, 0.0, "jam"))

    assert not_yet_logged(meals, early, stove) == (meals[0],)
    assert not_yet_logged(meals, both, stove) == (meals[1],)
    assert not_yet_logged(meals, nothing.of("cooking"), stove) == tuple(meals)


def test_two_cups_of_tea_do_not_delete_the_dinner(meals: list[Serving], logged: Logged, stove: Stove) -> None:
    teas = logged(("cooking", 17.0, 7.0), ("cooking", 17.75, 7.0)).of("cooking")
    taste = logged(("cooking", 8.0, 2.0, "dinner")).of("cooking")

    assert not_yet_logged(meals, teas, stove) == tuple(meals)
    assert not_yet_logged(meals, taste, stove) == tuple(meals)
