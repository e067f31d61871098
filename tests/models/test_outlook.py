"""What an outlook is drawn from."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, time, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from models.calendar import local_date
from models.log import Log
from models.meals import Absence, Meal, MealPlan
from models.outlook import Draws, look_ahead
from models.production.fit import state
from models.production.record import Record, record
from tests.models.production.conftest import plain_household, readings

NOW_D = 20_514.0  # 2 March 2026, UTC


def test_a_part_that_draws_more_leaves_the_others_as_they_were() -> None:
    few, many = Draws.seeded(7), Draws.seeded(7)
    few.made.standard_normal(10)
    many.made.standard_normal(10_000)

    for part in ("methane", "since", "coming"):
        assert np.array_equal(getattr(few, part).random(100), getattr(many, part).random(100))


def test_no_two_parts_draw_the_same() -> None:
    draws = Draws.seeded(7)
    first = [getattr(draws, part).random() for part in Draws.__slots__]

    assert len(set(first)) == len(first)


def kitchen(now_d: float = NOW_D) -> tuple[Record, MealPlan]:
    """A month of dinners, two hours before a look at the gauge, with breakfasts, late or not, and dinners to come."""
    evenings = NOW_D - np.arange(30.0, 0.0, -1.0) + 0.8
    log = Log(
        by_quantity={
            "holder_level": readings(evenings + 0.1, np.full(30, 1.5)),
            "cooking": readings(evenings, np.full(30, 40.0), "ring", "dinner"),
        }
    )
    dinner = Meal(
        name="dinner", starts_on=date(2025, 1, 1), at=time(19), rrule="FREQ=DAILY", burner="ring", flame_min=40.0
    )
    plan = MealPlan(zone=ZoneInfo("UTC"), meals=(dinner, replace(dinner, name="breakfast", at=time(8))))
    return record(plain_household(), log, None, now_d), plan


def test_a_flame_that_takes_more_than_its_rating_does_so_in_what_was_made_and_in_what_is_cooked() -> None:
    known, plan = kitchen()

    found = look_ahead(known, state(known, None), plan, 6, seed=1)

    assert found.told is not None
    ratio, run = found.made.burned_ratio, found.told.run
    assert ratio.std() > 0.03
    for taken in (run.wanted.need_sm3.sum(axis=1), found.flame_sm3_per_h(plain_household().burners[0])):
        slope = np.polyfit(np.log(ratio), np.log(taken), 1)[0]
        assert 0.8 < slope < 1.2  # a tenth more by the rating is a tenth more gas, habits and methane apart
    made_slope = np.polyfit(np.log(ratio), np.log(found.made.made_sm3.sum(axis=1)), 1)[0]
    assert made_slope > 0.5


@pytest.mark.parametrize(("near", "far"), [(1, 14), (6, 40), (15, 90)])
def test_who_looks_less_far_is_told_the_same_of_the_days_that_both_see(near: int, far: int) -> None:
    known, plan = kitchen(NOW_D + 0.5)  # today's breakfast is over

    less, more = (look_ahead(known, state(known, None), plan, days, seed=1) for days in (near, far))

    assert less.told is not None
    assert more.told is not None
    steps, servings = less.told.run.timeline.steps, len(less.told.run.timeline.servings)
    assert less.told.run.timeline.servings == more.told.run.timeline.servings[:servings]
    assert servings == 2 * near + 1
    np.testing.assert_array_equal(less.made.made_sm3, more.made.made_sm3[:, : near + 1])
    np.testing.assert_allclose(less.told.run.level_sm3, more.told.run.level_sm3[:, : steps + 1], rtol=1e-12)
    np.testing.assert_array_equal(less.told.run.on_gas, more.told.run.on_gas[:, :servings])


def test_days_away_are_told_as_far_as_one_looks() -> None:
    known, plan = kitchen(NOW_D + 0.5)
    today = local_date(NOW_D + 0.5, plan.zone)
    gone = Absence(first=today + timedelta(days=2), last=today + timedelta(days=30))

    found = look_ahead(known, state(known, None), replace(plan, changes=(gone,)), 3, seed=1)

    assert found.told is not None
    assert found.told.away == {today + timedelta(days=2), today + timedelta(days=3)}
