"""Venting by hand: when a full holder lets gas out, how much, what it could cook and what it weighs."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from models.backup import Backup, backup_outlook
from models.fuels import GWP100_NON_FOSSIL
from models.meals import Serving
from models.reckoning import Reckoning
from models.venting import venting_outlook

Cook = Callable[..., Serving]
Reckon = Callable[..., Reckoning]
MIDNIGHT_D = 20514.0


def test_a_full_holder_over_two_days_by_hand(reckon: Reckon) -> None:
    outlook = venting_outlook(reckon([0.8], [0.02], hours=48.0), methane_fraction=0.6)

    # Full after ten hours; the other 38 vent 0.02 each: 0.28 on Monday, 0.48 on Tuesday.
    assert outlook.first_venting_at_d == pytest.approx(MIDNIGHT_D + 10.0 / 24.0, abs=1e-6)
    assert outlook.first_venting_at_q10_d == outlook.first_venting_at_d
    assert outlook.days_until_venting == pytest.approx(10.0 / 24.0)
    assert outlook.venting_probability == 1.0
    assert outlook.vented_m3 == outlook.vented_q90_m3 == pytest.approx(0.76)
    assert outlook.vented_mj == outlook.vented_q90_mj == pytest.approx(15.2)
    assert outlook.flame_min == outlook.flame_q90_min == pytest.approx(76.0)
    assert [(day.date, round(day.vented_m3, 9)) for day in outlook.days] == [
        (date(2026, 3, 2), 0.28),
        (date(2026, 3, 3), 0.48),
    ]
    # A cubic metre of methane at 15 °C and 101.325 kPa weighs 16.043 kg/kmol / 23.645 m3/kmol.
    assert outlook.methane_kg == pytest.approx(0.76 * 0.6 * 16.043 / 23.645, rel=1e-3)
    assert outlook.co2e_kg == outlook.co2e_q90_kg == pytest.approx(GWP100_NON_FOSSIL * outlook.methane_kg)
    assert outlook.horizon_d == pytest.approx(2.0)
    assert outlook.summary.startswith("The full holder likely vents from Monday 2 March")


def test_a_holder_with_room_vents_nothing(reckon: Reckon) -> None:
    outlook = venting_outlook(reckon([0.1], [0.01]), methane_fraction=0.6)

    assert (outlook.first_venting_at_d, outlook.days_until_venting) == (None, None)
    assert (outlook.vented_m3, outlook.co2e_kg, outlook.venting_probability) == (0.0, 0.0, 0.0)
    assert "odds of venting 0%" in outlook.summary


def test_odds_are_those_of_the_paths(reckon: Reckon) -> None:
    starts = [0.5] * 6 + [1.0] * 4
    outlook = venting_outlook(reckon(starts, np.full(10, 0.01)), methane_fraction=np.full(10, 0.6))

    assert outlook.first_venting_at_d is None
    assert outlook.first_venting_at_q10_d == pytest.approx(MIDNIGHT_D, abs=1e-6)
    assert outlook.venting_probability == pytest.approx(0.4)
    assert outlook.vented_m3 == 0.0
    assert outlook.vented_q90_m3 == pytest.approx(0.24)
    assert outlook.days[0].probability == pytest.approx(0.4)
    assert outlook.days[0].vented_q90_m3 == pytest.approx(0.24)
    assert len(outlook.summary) <= 200


@pytest.mark.parametrize(
    ("start", "words"),
    [
        (1.0, "The holder likely vents now or within hours; cook more: over the next 4 days it lets out"),
        (0.5, "The full holder likely vents from Tuesday 3 March; cook more before then: over the next 4 days"),
    ],
)
def test_it_is_said_whether_there_is_time_left(reckon: Reckon, start: float, words: str) -> None:
    outlook = venting_outlook(reckon([start], [0.02], hours=96.0), methane_fraction=0.6)

    assert outlook.summary.startswith(words)
    assert len(outlook.summary) <= 200


@pytest.mark.parametrize(
    ("away", "words"),
    [
        (
            (4, 5),
            "The full holder likely vents from Wednesday 4 March; cook more by Tuesday 3 March, before you leave:",
        ),
        ((3, 5), "The full holder likely vents from Wednesday 4 March; cook more today, before you leave:"),
        ((2, 5), "The full holder likely vents from Wednesday 4 March: over the next 4 days"),
        ((2, 3), "The full holder likely vents from Wednesday 4 March; cook more before then:"),
        ((5, 5), "The full holder likely vents from Wednesday 4 March; cook more before then:"),
    ],
)
def test_who_is_away_is_told_to_cook_before_leaving_or_nothing(
    reckon: Reckon, away: tuple[int, int], words: str
) -> None:
    # From Monday 2 March on, 0.02 an hour fill the last 1.04 in 52 hours.
    told = reckon([0.46], [0.02], hours=96.0, capacity_sm3=1.5)
    first, last = away
    gone = replace(told, away=frozenset(date(2026, 3, day) for day in range(first, last + 1)))

    assert venting_outlook(gone, methane_fraction=0.6).summary.startswith(words)


def test_who_is_away_today_is_not_told_to_cook_at_once(reckon: Reckon) -> None:
    gone = replace(reckon([1.0], [0.02], hours=48.0), away=frozenset({date(2026, 3, 2)}))

    assert venting_outlook(gone, methane_fraction=0.6).summary.startswith(
        "The holder likely vents now or within hours: over"
    )


@pytest.mark.parametrize(
    ("hour", "away", "words"),
    [
        (5.0, (), ", though gas is short before then: over the next 4 days"),
        (5.0, (3,), ", though gas is short before then: over the next 4 days"),
        (67.0, (), "; cook more before then: over the next 4 days"),
    ],
    ids=["before", "before an absence", "after"],
)
def test_nobody_is_told_to_cook_more_who_lacks_gas_before(
    reckon: Reckon, at_hour: Cook, hour: float, away: tuple[int, ...], words: str
) -> None:
    # A feast takes all there is and lacks more; the empty holder is full again after 40 hours.
    told = reckon([0.0], [0.025], [at_hour(hour, "feast")], need_sm3=3.0, hours=96.0)
    told = replace(told, away=frozenset(date(2026, 3, day) for day in away))
    need = backup_outlook(told, Backup())
    venting = venting_outlook(told, methane_fraction=0.6)

    assert (need.days_until_backup < venting.days_until_venting) == ("short" in words)
    assert venting.summary.startswith(f"The full holder likely vents from Tuesday 3 March{words}")


def test_much_flame_is_told_in_hours(reckon: Reckon) -> None:
    # 96 hours of 0.02 are 1.92; at 0.6 an hour that is 192 minutes.
    outlook = venting_outlook(reckon([1.0], [0.02], hours=96.0), methane_fraction=0.6)

    assert outlook.flame_min == pytest.approx(192.0)
    assert outlook.summary.endswith("gas for 3 hours of full flame.")


@pytest.mark.parametrize(("full", "words"), [(1, "should take all the gas of"), (4, "may vent some of the gas of")])
def test_a_holder_that_may_just_not_vent_is_not_called_safe(reckon: Reckon, full: int, words: str) -> None:
    outlook = venting_outlook(reckon([1.0] * full + [0.2] * (10 - full), [0.01] * 10), methane_fraction=0.6)

    assert outlook.summary == f"The holder {words} the next day (odds of venting {10 * full}%)."
