"""Scores of forecasts: against scoringrules where a library has them, and against forecasts whose skill is known."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest
import scoringrules

from models.calendar import local_date, midnight
from models.meals import Absence, MealPlan
from models.production.fit import fit
from models.production.record import record
from models.production.skill import (
    LEVELS,
    Errors,
    _compared,
    forecast_errors,
    joined,
    no_worse,
    origins_before,
    skill,
)
from service.demo.reading import household_of, log_of
from service.demo.world import World, draw_world


@pytest.fixture(scope="module")
def world() -> World:
    return draw_world(21, days=90)


def errors_of(paths: np.ndarray, came: np.ndarray, week: np.ndarray) -> Errors:
    return _compared(Errors.of(1.0, np.arange(1.0, len(came) + 1), came), paths, paths, week)


def test_pinball_loss_is_that_of_the_library() -> None:
    rng = np.random.default_rng(1)
    paths, came = rng.gamma(4.0, 0.1, (400, 6)), rng.gamma(4.0, 0.1, 6)

    found = errors_of(paths, came, np.array([0.4]))

    quantiles = np.quantile(paths, LEVELS, axis=0)
    expected = np.mean([scoringrules.quantile_score(came, quantiles[k], LEVELS[k]) for k in range(len(LEVELS))], axis=0)
    np.testing.assert_allclose(found.pinball_sm3, expected)


def test_intervals_of_the_true_distribution_hold_as_often_as_they_say() -> None:
    rng = np.random.default_rng(2)
    found = errors_of(rng.gamma(4.0, 0.1, (4000, 3000)), rng.gamma(4.0, 0.1, 3000), np.array([0.4]))

    told = skill(found, 1, 3000)

    # Three standard errors of a share over 3000 days: 2.2 points at 80 %, 1.2 at 95 %.
    assert told.within_80 == pytest.approx(0.80, abs=0.022)
    assert told.within_95 == pytest.approx(0.95, abs=0.012)


def test_a_forecast_as_good_as_the_week_mean_scores_one() -> None:
    came = np.array([0.2, 0.4, 0.6])
    told = skill(errors_of(np.full((10, 3), 0.5), came, np.array([0.3, 0.7])), 1, 3)

    assert told.to_week_mean == pytest.approx(1.0)
    assert told.to_last_value == pytest.approx(np.abs(0.5 - came).sum() / np.abs(0.7 - came).sum())
    assert told.bias_sm3 == pytest.approx(0.1)


def test_nothing_to_compare_is_said_and_not_zero() -> None:
    told = skill(joined([]), 1, 7)

    assert told.forecasts == 0
    assert (told.mae_sm3, told.within_80, told.to_week_mean) == (None, None, None)


def test_origins_are_the_households_midnights(world: World) -> None:
    household = household_of(world)
    origins = origins_before(household, 20_000.3, days=9, every_d=3)
    days = [local_date(origin, household.zone) for origin in origins]

    assert len(days) == 3
    assert days[1] - days[0] == timedelta(days=3)
    assert origins[-1] < 20_000.3 - 2.0


def test_a_household_without_a_log_has_nothing_to_compare(world: World) -> None:
    household, empty = household_of(world), log_of(draw_world(21, days=1))

    parts = list(forecast_errors(record(household, empty, None, 10_020.0), None, [10_000.0], lambda _: None))

    assert [len(part) for part in parts] == [0]


def test_of_absences_a_forecast_knows_those_that_had_begun(world: World) -> None:
    household, log = household_of(world), log_of(world)
    origin_d = midnight(world.truth.index[60], household.zone)
    today = world.truth.index[60]

    def forecast(*changes: Absence) -> float:
        plan = MealPlan(zone=household.zone, changes=changes)
        known = record(household, log, None, float(log.of("holder_level").time_d[-1]), plan)
        [errors] = forecast_errors(known, None, [origin_d], lambda _: None)
        return float(errors.error_sm3[-1] + errors.came_sm3[-1])

    at_home = forecast()
    begun = Absence(first=today, last=today + timedelta(days=13))

    assert forecast(begun) < 0.9 * at_home
    assert forecast(replace(begun, first=today + timedelta(days=1))) == at_home


def test_a_fit_that_is_far_off_does_not_replace_a_good_one(world: World) -> None:
    household, log = household_of(world), log_of(world)
    now_d = float(log.of("holder_level").time_d[-1])
    known = record(household, log, None, now_d)
    good = fit(record(household, log, None, now_d - 14.0))
    spoilt = type(good).from_dict(good.to_dict() | {"z": dict.fromkeys(good.to_dict()["z"], 3.4)})

    assert no_worse(known, None, candidate=good, old=spoilt)
    assert not no_worse(known, None, candidate=spoilt, old=good)
