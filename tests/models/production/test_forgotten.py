"""Meals that were cooked and not written down: the level tells them from meals that were skipped."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest

from models.calendar import from_days
from models.log import Log
from models.meals import Absence, MealPlan
from models.production.forgotten import Forgotten, Missed, forgotten, missed_servings, remembered, with_forgotten
from models.production.parameters import NAMES, from_z
from models.production.record import balance, record
from models.production.statespace import Rows
from tests.models.production.conftest import readings
from tests.models.production.test_bounds import three_days

START_D = 20_000.0


def days_of(count):
    """So many rows of a day each, none of which says anything yet."""
    three = three_days([np.nan, np.nan, np.nan])
    index = np.zeros(count, dtype=int)
    day = START_D + np.arange(count)
    columns = {name: getattr(three, name)[index] for name in Rows.__dataclass_fields__}
    return Rows(**columns | {"start_d": day, "end_d": day + 1.0})


def diary(household, days, left_out, **more):
    """A dinner of half an hour every evening at seven, but for the days left out; the gauge is read at nine."""
    day = START_D + np.arange(days)
    cooked = np.array([k not in left_out for k in range(days)])
    log = Log(
        by_quantity={
            "holder_level": readings(day + 21.0 / 24.0, np.full(days, 1.5)),
            "cooking": readings(day + 19.0 / 24.0, np.full(days, 30.0), "ring", "dinner").select(cooked),
        }
        | more
    )
    known = record(household, log, None, START_D + days)
    return known, balance(known)


def test_a_dinner_that_habit_expected_is_missed(plain):
    known, found = diary(plain, 40, {20})

    missed = missed_servings(known, found)

    assert found.intervals.end_d[missed.row] == pytest.approx(START_D + 20.0 + 21.0 / 24.0)
    assert missed.use_sm3 == pytest.approx(float(np.median(found.cooked.used_sm3)))


def test_a_home_where_nobody_is_forgets_nothing(plain):
    known, found = diary(plain, 40, set(range(20, 25)))
    away = replace(
        known,
        log=Log(
            by_quantity={
                "cooking": known.log.of("cooking"),
                "holder_level": known.log.of("holder_level").select(slice(0, 20)),
            }
        ),
    )

    assert len(missed_servings(known, found).row) == 5
    assert len(missed_servings(away, balance(away)).row) == 0


def test_on_days_away_nothing_is_forgotten_though_a_sensor_reads_the_gauge(plain):
    known, found = diary(plain, 40, set(range(20, 25)))
    first = from_days(START_D + 20.5).date()
    plan = MealPlan(zone=plain.zone, changes=(Absence(first=first, last=first + timedelta(days=3)),))

    missed = missed_servings(replace(known, plan=plan), found)

    assert found.intervals.end_d[missed.row] == pytest.approx(START_D + 24.0 + 21.0 / 24.0)


def test_a_dinner_that_is_logged_as_not_cooked_was_not_forgotten(plain):
    day = START_D + np.arange(40.0)
    minutes = np.where(np.isin(np.arange(40), (20, 21)), 0.0, 30.0)
    log = {"cooking": readings(day + 19.0 / 24.0, minutes, "ring", "dinner")}
    known, found = diary(plain, 40, set(), **log)
    renamed = replace(known.log.of("cooking"), meal=np.where(minutes > 0.0, "dinner", ""))
    unnamed = replace(known, log=Log(by_quantity=dict(known.log.by_quantity) | {"cooking": renamed}))

    assert len(missed_servings(known, found).row) == 0
    assert len(missed_servings(unnamed, found).row) == 2  # no minutes of nothing in particular tell nothing


def test_cooking_that_names_no_meal_is_told_by_the_hour(plain):
    known, found = diary(plain, 40, {20})
    nameless = replace(found, cooking=replace(found.cooking, meal=np.full(39, "")))

    assert len(missed_servings(known, nameless).row) == 1


def test_a_stove_meter_forgets_nothing(plain):
    meter = readings(START_D + np.arange(40.0), 10.0 + 0.3 * np.arange(40.0), "stove")
    known, found = diary(plain, 40, {20}, gas_meter=meter)

    assert len(missed_servings(known, found).row) == 0


def test_without_a_gauge_there_is_no_row_to_miss_it_in(plain):
    known, _ = diary(plain, 40, {20})
    blind = replace(known, log=Log(by_quantity={"cooking": known.log.of("cooking")}))

    assert len(missed_servings(blind, balance(blind)).row) == 0


@pytest.mark.parametrize(("gap", "low", "high"), [(-0.3, 0.27, 0.30), (0.0, 0.0, 0.03)])
def test_the_level_tells_forgotten_from_skipped(gap, low, high):
    """A serving of 0.3 sm3 is missing; the balance is short by a gap, foretold to fifty litres."""
    rows = three_days([0.4, 0.4 + gap, 0.4])

    found = forgotten(rows, Missed(row=np.array([1]), use_sm3=np.array([0.3])), np.full(3, 0.4), np.full(3, 0.0025))

    assert low <= found.use_sm3[1] <= high
    assert found.use_sm3[0] == 0.0
    assert found.var[1] >= 0.0


def test_the_odds_are_those_of_two_plain_hypotheses():
    rows = three_days([0.4, 0.25, 0.4])
    found = forgotten(rows, Missed(row=np.array([1]), use_sm3=np.array([0.3])), np.full(3, 0.4), np.full(3, 0.01))

    # Short by 0.15: skipped is 0.15 off at sd 0.1; cooked is 0.15 off the other way at sd sqrt(0.01 + 0.09²).
    skipped = np.exp(-0.5 * 0.15**2 / 0.01) / 0.1
    cooked = np.exp(-0.5 * 0.15**2 / 0.0181) / np.sqrt(0.0181)
    odds = 0.5
    for _ in range(4):
        share = odds * cooked / (odds * cooked + (1.0 - odds) * skipped)
        odds = (share + 5.0) / 11.0
    share = odds * cooked / (odds * cooked + (1.0 - odds) * skipped)
    assert found.use_sm3[1] == pytest.approx(0.3 * share)


def test_a_long_span_takes_the_odds_alone():
    rows = three_days([0.4, 0.4, np.nan])
    many = Missed(row=np.array([1] * 6 + [2]), use_sm3=np.full(7, 0.1))

    found = forgotten(rows, many, np.full(3, 0.4), np.full(3, 0.01))

    assert found.use_sm3[1] == pytest.approx(0.3)  # even odds of six servings
    assert found.var[1] == pytest.approx(0.015)
    assert found.use_sm3[2] == 0.0  # a balance that says nothing tells nothing


def test_what_was_forgotten_is_put_back_with_its_doubt():
    rows = three_days([0.4, 0.1, 0.4])
    put_back = with_forgotten(rows, Forgotten(use_sm3=np.array([0.0, 0.3, 0.0]), var=np.array([0.0, 0.01, 0.0])))

    np.testing.assert_allclose(put_back.made_sm3, [0.4, 0.4, 0.4])
    np.testing.assert_allclose(put_back.error_var, [0.0, 0.01, 0.0])


def test_as_much_is_put_back_as_was_forgotten():
    """A third of the dinners are not in the log, of those a quarter were skipped: drawn, so the sum is known."""
    rng, days, dinner = np.random.default_rng(5), 400, 0.3
    gone, skipped = rng.random(days) < 1.0 / 3.0, rng.random(days) < 0.25
    burned_unwritten = dinner * (gone & ~skipped)
    expected = np.full(days, dinner)
    drawn = expected * rng.normal(1.0, 0.13, days)
    rows = replace(days_of(days), made_sm3=drawn - burned_unwritten)
    missed = Missed(row=np.flatnonzero(gone), use_sm3=np.full(int(gone.sum()), dinner))

    found = remembered(rows, np.zeros(days, dtype=bool), missed, expected, from_z(np.zeros(len(NAMES))))

    put_back = float(np.sum(found.made_sm3 - rows.made_sm3))
    assert put_back == pytest.approx(burned_unwritten.sum(), rel=0.03)
