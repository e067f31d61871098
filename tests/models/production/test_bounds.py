"""Holders that ran over: what such a balance says, against the same odds drawn by the million."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from models.log import Log
from models.production.bounds import Peaks, peaks, propagate, touching
from models.production.parameters import from_z
from models.production.record import balance, record
from models.production.statespace import Rows, run_smoother
from tests.models.production.conftest import readings

MODE = from_z(np.zeros(8))
EXPECTED = np.array([0.4, 0.4, 0.4])
WHOLE_DAY = Peaks(row=np.array([0, 1, 2]), share=np.ones(3), threshold_sm3=np.array([9.0, 0.45, 9.0]))
RAN_OVER = np.array([False, True, False])


def three_days(made, vented=False):
    day = np.arange(20_000.0, 20_003.0)
    no = np.zeros(3, dtype=bool)
    return Rows(
        start_d=day,
        end_d=day + 1.0,
        made_sm3=np.array(made),
        error_var=np.zeros(3),
        error_scale_sm3=np.full(3, 0.8),
        outlet=no,
        widened=no,
        vented=RAN_OVER & vented,
        site_var=np.full(3, np.nan),
    )


def made_on_the_second_day(rows, touched=RAN_OVER):
    return run_smoother(propagate(rows, touched, WHOLE_DAY, EXPECTED, MODE), EXPECTED, MODE).mean_sm3[1]


def test_a_balance_cut_off_at_the_brim_does_not_pull_down():
    rows = three_days([0.60, 0.45, 0.60])

    assert made_on_the_second_day(rows) > made_on_the_second_day(rows, np.zeros(3, dtype=bool))


def test_a_balance_cut_off_at_the_brim_says_at_least():
    rows = three_days([0.30, 0.45, 0.30])

    assert made_on_the_second_day(rows) > made_on_the_second_day(replace(rows, made_sm3=np.array([0.30, np.nan, 0.30])))


def test_the_moments_are_those_of_a_million_draws():
    """One row alone, so that the site must give the exact first two moments."""
    rows = three_days([np.nan, 0.45, np.nan])
    seen = run_smoother(propagate(rows, RAN_OVER, WHOLE_DAY, EXPECTED, MODE), EXPECTED, MODE)

    rng = np.random.default_rng(1)
    count = 2_000_000
    spread = np.sqrt(0.35**2 + MODE.spell_spread**2 + 0.12**2)  # level, spell and season, before any reading
    mean_made = 0.4 * (1.0 + spread * rng.standard_normal(count))
    made = mean_made + 0.4 * MODE.day_spread * rng.standard_normal(count)
    gauge = MODE.gauge_error * 0.8
    error = np.hypot(gauge, 0.02 * 0.8) * rng.standard_normal(count)
    shown = made - np.maximum(made - 0.45 - error, 0.0) - error
    weight = np.where(made > 0.0, np.exp(-0.5 * ((0.45 - shown) / gauge) ** 2) / (gauge * np.sqrt(2.0 * np.pi)), 0.0)
    weight = 0.98 * weight + 0.02 / 0.8
    drawn = np.average(mean_made, weights=weight)

    # Two percent: seven nodes for the gauge error and a grid of 61 for the gas.
    assert seen.mean_sm3[1] == pytest.approx(drawn, rel=0.02)
    assert np.sqrt(seen.var[1]) == pytest.approx(
        np.sqrt(np.average((mean_made - drawn) ** 2, weights=weight)), rel=0.03
    )


def test_venting_that_was_seen_says_more_than_a_full_gauge():
    rows, seen = three_days([0.42, 0.42, 0.42]), three_days([0.42, 0.42, 0.42], vented=True)

    full, vented = (
        run_smoother(propagate(one, RAN_OVER, WHOLE_DAY, EXPECTED, MODE), EXPECTED, MODE).mean_sm3[1]
        for one in (rows, seen)
    )

    assert vented > full


def test_a_holder_with_room_is_taken_at_its_word():
    rows = three_days([0.42, 0.41, 0.43])
    seen = run_smoother(rows, EXPECTED, MODE)
    roomy = Peaks(row=np.array([0, 1, 2]), share=np.ones(3), threshold_sm3=np.array([2.0, 2.0, 2.0]))

    assert not touching(rows, roomy, seen, EXPECTED, MODE).any()
    assert touching(rows, WHOLE_DAY, seen, EXPECTED, MODE).tolist() == [False, True, False]


def test_nothing_touches_where_nobody_looked_at_a_gauge():
    rows = replace(three_days([0.4, 0.4, 0.4]), outlet=np.ones(3, dtype=bool), error_scale_sm3=np.zeros(3))
    none = Peaks(row=np.empty(0, dtype=np.intp), share=np.empty(0), threshold_sm3=np.empty(0))

    assert not touching(rows, none, run_smoother(rows, EXPECTED, MODE), EXPECTED, MODE).any()
    assert propagate(rows, np.zeros(3, dtype=bool), none, EXPECTED, MODE) is rows


def test_the_fullest_moments_are_before_each_cooking_and_at_the_end(plain):
    start = 20_000.5
    log = Log(
        by_quantity={
            "holder_level": readings([start, start + 1.0], [1.0, 1.2]),
            "cooking": readings([start + 0.25], [20.0], "ring"),
        }
    )
    known = record(plain, log, None, start + 1.0)
    found = balance(known)

    at = peaks(known, found)

    room = found.intervals.capacity_sm3[0] - found.intervals.start_sm3[0]
    np.testing.assert_allclose(at.share, [0.25, 1.0])
    # Nothing is burned before the cooking; until the end twenty minutes' gas is. The air is a little warmer by noon.
    np.testing.assert_allclose(at.threshold_sm3, [room, room + found.intervals.used_sm3[0]], rtol=0.03)


def test_a_log_without_a_gauge_has_no_fullest_moments(plain):
    known = record(plain, Log(), None, 20_000.0)

    assert len(peaks(known, balance(known)).row) == 0
