"""Months to come: by hand on two days, against the paths they are read off, and as calendars have them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import models.outlook
from models.calendar import local_date, local_midnights, to_days
from models.fuels import FUELS
from models.log import Log
from models.meals import Meal, MealPlan, Serving
from models.outlook import Outlook, look_ahead
from models.production.fit import state
from models.production.forecast import ProductionPaths
from models.production.record import record
from models.reckoning import Reckoning
from models.seasons import Amount, days_of_months, first_of_month, month_edges, seasons
from tests.models.production.conftest import plain_household, readings

Cook = Callable[..., Serving]
Reckon = Callable[..., Reckoning]
MIDNIGHT_D = 20514.0  # 2 March 2026, UTC
UTC_ZONE = ZoneInfo("UTC")


def outlook_of(told: Reckoning | None, made_sm3: np.ndarray, slurry_c: float = 20.0) -> Outlook:
    """An outlook whose cubic metres are standard ones of 20 MJ, on gas made by path and day."""
    paths, days = made_sm3.shape
    household = plain_household()
    return Outlook(
        household=household,
        as_of_d=MIDNIGHT_D,
        days=days - 1,
        basis="fitted",
        last_level_d=None if told is None else MIDNIGHT_D,
        made=ProductionPaths(
            level_sm3=np.zeros(paths),
            level_time_d=MIDNIGHT_D,
            made_before_sm3=np.zeros(paths),
            made_sm3=made_sm3,
            slurry_c=np.full((paths, days), slurry_c),
            air_c=np.full(days, 15.0),
            burned_ratio=np.ones(paths),
        ),
        day_edges_d=MIDNIGHT_D + np.arange(days + 1.0),
        day_m3_per_sm3=np.ones(days),
        mj_per_sm3=np.full(paths, 20.0),
        supply=household.supply(np.full(paths, 0.6), 15.0),
        told=told,
        warnings=(),
    )


def same(figure: float) -> Amount:
    return Amount(q10=pytest.approx(figure), q50=pytest.approx(figure), q90=pytest.approx(figure))


def test_two_days_by_hand(reckon: Reckon, at_hour: Cook) -> None:
    # 0.4 and 0.02 an hour, seven dinners of 0.3: 0.78 at seven on Monday leaves 0.48, at midnight 0.58.
    told = reckon([0.4], [0.02], [at_hour(19.0), at_hour(43.0)], need_sm3=[[0.3, 1.2]], hours=48.0)
    (monday, tuesday), both = seasons(outlook_of(told, np.full((1, 2), 0.48)), MIDNIGHT_D + np.arange(3.0))

    assert (monday.start_d, monday.end_d, tuesday.end_d) == (MIDNIGHT_D, MIDNIGHT_D + 1.0, MIDNIGHT_D + 2.0)
    assert (monday.made_m3, monday.made_mj, monday.slurry_c) == (same(0.48), same(9.6), pytest.approx(20.0))
    one, two = monday.balance, tuesday.balance
    assert one is not None
    assert two is not None
    assert (one.need_m3, one.need_mj, one.on_gas_fraction) == (same(0.3), same(6.0), same(1.0))
    assert (one.backup, one.backup_meals, one.backup_probability) == (same(0.0), same(0.0), 0.0)
    assert (one.vented_m3, one.venting_probability) == (same(0.0), 0.0)
    # By seven on Tuesday 0.96 were there, and half an hour's 0.01; 1.2 are wanted, so 0.23 lack: 2.3 MJ in the pan.
    assert two.on_gas_fraction == same(0.97 / 1.2)
    lpg_kg = 0.23 * 20.0 * 0.5 / 0.55 / FUELS["lpg"].net_mj_per_unit
    assert (two.backup, two.backup_meals, two.backup_probability) == (same(lpg_kg), same(1.0), 1.0)
    assert (both.start_d, both.end_d, both.made_m3) == (MIDNIGHT_D, MIDNIGHT_D + 2.0, same(0.96))
    assert both.balance is not None
    assert (both.balance.need_m3, both.balance.on_gas_fraction) == (same(1.5), same(1.27 / 1.5))


def test_a_holder_without_a_cook_runs_over(reckon: Reckon) -> None:
    told = reckon([0.9, 0.2], [0.02, 0.02])
    (day,), _ = seasons(outlook_of(told, np.full((2, 1), 0.48)), [MIDNIGHT_D, MIDNIGHT_D + 1.0])

    found = day.balance
    assert found is not None
    assert found.on_gas_fraction is None
    assert (found.need_m3, found.venting_probability) == (same(0.0), 0.5)
    assert found.vented_m3.q50 == pytest.approx(0.19)  # 0.38 on one path, nothing on the other
    assert found.vented_mj.q50 == pytest.approx(3.8)


def test_a_holder_that_nobody_looked_at_leaves_the_gas_to_come() -> None:
    (day,), _ = seasons(outlook_of(None, np.array([[0.1], [0.2], [0.3]])), [MIDNIGHT_D, MIDNIGHT_D + 1.0])

    assert (day.made_m3.q50, day.balance) == (pytest.approx(0.2), None)


def test_ranges_are_those_of_each_paths_own_sum() -> None:
    # What one path lacks today it makes tomorrow: every path makes 1.0 in two days.
    today = np.linspace(0.0, 1.0, 101)
    outlook = outlook_of(None, np.stack([today, 1.0 - today], axis=1))

    (alone,), _ = seasons(outlook, [MIDNIGHT_D, MIDNIGHT_D + 2.0])
    (first, second), both = seasons(outlook, MIDNIGHT_D + np.arange(3.0))

    assert both.made_m3 == alone.made_m3 == same(1.0)
    assert first.made_m3.q90 + second.made_m3.q90 == pytest.approx(1.8)


def test_months_are_the_households_own() -> None:
    zone = ZoneInfo("America/Los_Angeles")
    edges = month_edges(to_days(datetime(2026, 12, 1, 3, tzinfo=UTC)), 2, zone)  # still November there

    assert [local_date(edge, zone) for edge in edges.tolist()] == [
        date(2026, 11, 30),
        date(2026, 12, 1),
        date(2027, 1, 1),
        date(2027, 2, 1),
    ]


@given(
    st.floats(9_000.0, 65_000.0),
    st.integers(1, 12),
    st.sampled_from(["UTC", "America/Los_Angeles", "Pacific/Kiritimati", "Asia/Kathmandu"]),
)
def test_days_reach_to_the_end_of_the_last_month(now_d: float, months: int, name: str) -> None:
    zone = ZoneInfo(name)
    tomorrow = local_date(now_d, zone) + timedelta(days=1)
    edges = month_edges(now_d, months, zone)

    midnights = local_midnights(tomorrow, days_of_months(now_d, months, zone), zone)

    assert midnights[-1] == edges[-1]
    assert len(edges) == months + 2
    assert (np.diff(edges) > 0.0).all()
    assert set(edges[1:]) <= set(midnights)


@pytest.mark.parametrize(("ahead", "first"), [(0, (2026, 11)), (1, (2026, 12)), (2, (2027, 1)), (14, (2028, 1))])
def test_months_are_counted_over_the_turn_of_the_year(ahead: int, first: tuple[int, int]) -> None:
    assert first_of_month(date(2026, 11, 30), ahead) == date(*first, 1)


@pytest.fixture(scope="module")
def wide() -> Callable[[int], Outlook]:
    """Two hundred days of a holder that runs over in summer and is short in winter, in steps of some hours."""
    small = replace(plain_household(), changed_on=())
    holder = replace(small.holder, capacity_m3=0.9, gauge_points=((0.0, 0.0), (100.0, 0.9)))
    household = replace(small, holder=holder)
    now_d = to_days(datetime(2026, 2, 10, 9, tzinfo=UTC))
    log = Log(by_quantity={"holder_level": readings(np.array([now_d - 0.1]), np.array([0.4]))})
    dinner = Meal(
        name="dinner",
        starts_on=date(2026, 1, 1),
        at=time(19),
        rrule="FREQ=DAILY",
        burner="ring",
        flame_min=40.0,
    )
    known = record(household, log, None, now_d)
    plan = MealPlan(zone=UTC_ZONE, meals=(dinner,))

    def look(step_h: int) -> Outlook:
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(models.outlook, "SEASON_STEP_H", step_h)
            return look_ahead(known, state(known, None), plan, days_of_months(now_d, 6, UTC_ZONE), seed=3)

    return look


def test_steps_of_six_hours_lose_nothing_that_hours_would_see(wide: Callable[[int], Outlook]) -> None:
    long, short = wide(6), wide(1)
    edges = month_edges(long.as_of_d, 6, UTC_ZONE)
    assert long.told is not None
    assert short.told is not None
    assert long.told.run.timeline.steps < 0.4 * short.told.run.timeline.steps

    for coarse, fine in zip(seasons(long, edges)[0], seasons(short, edges)[0], strict=True):
        assert coarse.made_m3 == fine.made_m3
        assert coarse.balance is not None
        assert fine.balance is not None
        for name in ("vented_m3", "backup"):
            one, other = getattr(coarse.balance, name), getattr(fine.balance, name)
            # A warm afternoon's bag is looked at every six hours instead of every hour: under a litre a day.
            assert one.q50 == pytest.approx(other.q50, rel=0.03, abs=0.03)
            assert one.q90 == pytest.approx(other.q90, rel=0.03, abs=0.03)


def test_on_every_path_all_gas_is_accounted_for_over_the_seasons(wide: Callable[[int], Outlook]) -> None:
    told = wide(6).told
    assert told is not None
    run = told.run

    left = run.level_sm3[:, 0] + run.made_sm3.sum(axis=1) - run.vented_sm3.sum(axis=1) - run.leaked_sm3.sum(axis=1)
    assert left == pytest.approx(run.burned_sm3.sum(axis=1) + run.level_sm3[:, -1])
