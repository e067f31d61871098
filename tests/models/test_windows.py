"""Hours for extra cooking, by hand: gas that would be vented is free, gas that dinner needs is not."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date, time
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from models.calendar import from_days
from models.errors import Inconsistent, OutOfRange
from models.meals import Serving
from models.reckoning import Reckoning
from models.windows import CLOSE, Extra, Window, cooking_windows

Cook = Callable[..., Serving]
Reckon = Callable[..., Reckoning]
MIDNIGHT_D = 20514.0


def extra(**change: object) -> Extra:
    """Thirty minutes on the ring, 0.3 sm3, any time of the first day from six to ten."""
    usual = {"flame_min": 30.0, "flame_sm3_per_h": np.asarray(0.6), "from_d": MIDNIGHT_D, "to_d": MIDNIGHT_D + 1.0}
    return Extra(**usual | change)


def hours(windows: tuple[Window, ...]) -> list[float]:
    return [round((window.start_d - MIDNIGHT_D) * 24.0, 6) for window in windows]


def test_gas_to_spare_is_there_at_once(reckon: Reckon, at_hour: Cook) -> None:
    found = cooking_windows(reckon([0.7], [0.0], [at_hour(19.0)]), extra())

    assert hours(found.windows) == [6.0, 7.0, 8.0, 9.0, 10.0]
    assert found.soonest == found.surest == found.windows[0]
    assert found.windows[0].probability == 1.0
    assert found.windows[0].saved_m3 == 0.0
    assert found.summary == "30 min of extra flame can be counted on from Monday 2 March, 06:00."


def test_gas_that_dinner_needs_is_not_to_spare(reckon: Reckon, at_hour: Cook) -> None:
    found = cooking_windows(reckon([0.5], [0.0], [at_hour(19.0)]), extra())

    assert {window.probability for window in found.windows} == {0.0}
    assert found.soonest is None
    assert found.summary == "30 min of extra flame cannot be counted on at any hour of those allowed."


@pytest.mark.parametrize("reserve", [0.0, 0.2])
def test_who_asks_for_more_than_a_full_holder_is_told_what_it_gives(reckon: Reckon, reserve: float) -> None:
    # A full holder of 1.0 lasts a burner of 0.6 an hour for 100 min; with 0.2 in reserve, for 80.
    most = round((1.0 - reserve) / 0.6 * 60.0)
    told = reckon([1.0], [0.02], reserve_sm3=reserve, hours=48.0)
    enough, more = (cooking_windows(told, extra(flame_min=minutes)).summary for minutes in (most, most + 1))

    assert enough == f"{most} min of extra flame can be counted on from Monday 2 March, 06:00."
    assert more == f"{most + 1} min of extra flame is more than the full holder gives, {most} min; ask for less."


def test_where_odds_are_low_the_best_are_told(reckon: Reckon) -> None:
    found = cooking_windows(reckon([0.2] * 7 + [0.5] * 3, np.zeros(10)), extra())

    assert found.summary == (
        "30 min of extra flame cannot be counted on; the best odds, 30%, are on Monday 2 March, 06:00."
    )


def test_gas_that_would_be_vented_before_dinner_is_free(reckon: Reckon, at_hour: Cook) -> None:
    # Full at ten in the morning; by half past seven it would vent 0.38, more than the 0.3 asked for.
    told = reckon([0.6], [0.04], [at_hour(19.0)], need_sm3=1.0)
    found = cooking_windows(told, extra(from_d=MIDNIGHT_D + 8.0 / 24.0, to_d=MIDNIGHT_D + 13.0 / 24.0))

    # At twelve 0.3 are vented later still; at one only 0.26, and dinner takes all the rest.
    assert hours(tuple(window for window in found.windows if window.probability == 1.0)) == [8.0, 9.0, 10.0, 11.0, 12.0]
    assert found.windows[0].saved_m3 == pytest.approx(0.3)


def test_sure_hours_come_soonest_first_and_say_what_each_saves(reckon: Reckon, at_hour: Cook) -> None:
    # Full at noon, so until dinner 0.14 is vented; dinner takes 0.3, which is made again by ten the day after.
    told = reckon([0.76], [0.02], [at_hour(19.0)], hours=48.0)
    found = cooking_windows(told, extra(from_d=MIDNIGHT_D + 9.0 / 24.0, to_d=MIDNIGHT_D + 2.0))

    assert hours(found.windows) == [9.0, 10.0, 11.0, 12.0, 13.0]
    assert found.windows[0] == found.soonest
    # Within a day of eleven an hour of the next day's venting counts as well; at one, an hour of this day's is gone.
    assert [window.saved_m3 for window in found.windows] == pytest.approx([0.14, 0.14, 0.16, 0.18, 0.18])


def test_windows_do_not_overlap(reckon: Reckon, at_hour: Cook) -> None:
    found = cooking_windows(reckon([5.0], [0.0], [at_hour(9.25)], capacity_sm3=6.0), extra(flame_min=120.0))

    assert hours(found.windows) == [6.0, 8.0, 10.0, 12.0, 14.0]


def test_hours_are_the_households_own(reckon: Reckon) -> None:
    told = replace(reckon([0.7], [0.0]), zone=ZoneInfo("Asia/Tokyo"))  # nine hours ahead
    found = cooking_windows(told, extra(earliest=time(10), latest=time(12)))

    assert hours(found.windows) == [1.0, 2.0]
    assert [from_days(window.end_d).astimezone(told.zone).time() for window in found.windows] == [
        time(10, 30),
        time(11, 30),
    ]


def test_cooking_ends_by_the_last_hour_and_within_the_forecast(reckon: Reckon) -> None:
    told = reckon([0.7], [0.0])

    assert max(hours(cooking_windows(told, extra(from_d=MIDNIGHT_D + 20.0 / 24.0)).windows)) == 21.0
    late = extra(from_d=MIDNIGHT_D + 22.0 / 24.0, latest=time(23, 59), flame_min=90.0)
    found = cooking_windows(told, late)
    assert hours(found.windows) == [22.0]


def test_no_hour_left_says_so(reckon: Reckon) -> None:
    found = cooking_windows(reckon([0.7], [0.0]), extra(from_d=MIDNIGHT_D + 23.0 / 24.0))

    assert (found.windows, found.soonest, found.surest) == ((), None, None)
    assert found.summary == "No hour of those allowed is left for 30 min of extra flame."


def test_nobody_cooks_on_a_day_away(reckon: Reckon) -> None:
    monday, tuesday = date(2026, 3, 2), date(2026, 3, 3)
    told = replace(reckon([0.7], [0.0], hours=72.0), away=frozenset({monday, tuesday}))
    back = cooking_windows(told, extra(to_d=MIDNIGHT_D + 3.0))
    never = cooking_windows(told, extra(to_d=MIDNIGHT_D + 1.9))

    assert hours(back.windows) == [54.0, 55.0, 56.0, 57.0, 58.0]
    assert back.soonest == back.windows[0]
    assert never.windows == ()
    assert never.summary == (
        "No hour of those allowed is left for 30 min of extra flame on a day when somebody is at home."
    )


def test_odds_are_those_of_the_paths(reckon: Reckon) -> None:
    found = cooking_windows(reckon([0.2] * 3 + [0.5] * 7, np.zeros(10)), extra())

    assert found.surest is not None
    assert found.surest.probability == pytest.approx(0.7)
    assert found.soonest is None


def test_likelier_hours_come_before_unlikely_ones(reckon: Reckon) -> None:
    # 0.3 is there at ten in the morning on one path, at five on the other.
    found = cooking_windows(reckon([0.1, 0.2], [0.02, 0.02]), extra())

    assert found.windows[0].probability == 1.0
    assert [window.probability for window in found.windows] == sorted(
        (window.probability for window in found.windows), reverse=True
    )


def test_a_burner_with_a_meal_on_it_takes_no_extra(reckon: Reckon, at_hour: Cook) -> None:
    told = reckon([5.0], [0.0], [at_hour(12.25, "lunch", minutes=60.0)], capacity_sm3=6.0)
    span = {"from_d": MIDNIGHT_D + 11.0 / 24.0, "to_d": MIDNIGHT_D + 14.0 / 24.0}
    on_ring = cooking_windows(told, extra(**span, burner="ring"))
    on_plate = cooking_windows(told, extra(**span, burner="plate"))

    # Lunch is on the ring from a quarter past twelve to a quarter past one.
    assert sorted(hours(on_ring.windows)) == [11.0, 13.25, 14.0]
    assert sorted(hours(on_plate.windows)) == [11.0, 12.0, 13.0, 14.0]


def test_what_is_not_planned_keeps_no_burner(reckon: Reckon, at_hour: Cook) -> None:
    told = reckon([5.0], [0.0], [at_hour(12.0, "unplanned", planned=False)], capacity_sm3=6.0)
    found = cooking_windows(told, extra(from_d=MIDNIGHT_D + 12.0 / 24.0, to_d=MIDNIGHT_D + 12.1 / 24.0, burner="ring"))

    assert hours(found.windows) == [12.0]


def test_of_times_nearly_as_sure_the_first_counts(reckon: Reckon) -> None:
    # At six 0.3 is there on 99 paths of a hundred, at seven on all.
    found = cooking_windows(reckon([0.29] + [0.5] * 99, [0.0015] + [0.0] * 99), extra())

    assert found.surest is not None
    assert hours((found.surest,)) == [6.0]
    assert found.surest.probability == pytest.approx(0.99)
    assert all(window.sure for window in found.windows)


def test_where_none_is_sure_the_likelier_comes_first_and_of_equal_odds_the_sooner(reckon: Reckon) -> None:
    # Of 100 paths, 3 hold 0.3 from six on, 4 from nine, 6 from noon: nearer to each other than odds are told apart for.
    held = [0.3] * 3 + [0.3 - 9 * 0.01 + 0.001] + [0.3 - 12 * 0.01 + 0.001] * 2 + [0.0] * 94
    made = [0.0] * 3 + [0.01] * 3 + [0.0] * 94
    found = cooking_windows(reckon(held, made), extra(to_d=MIDNIGHT_D + 14.0 / 24.0))

    assert [(window.probability, round((window.start_d - MIDNIGHT_D) * 24.0)) for window in found.windows] == [
        (0.06, 12),
        (0.06, 13),
        (0.06, 14),
        (0.04, 9),
        (0.04, 10),
    ]


def test_nobody_begins_but_at_whole_five_minutes(reckon: Reckon, at_hour: Cook) -> None:
    # A look at 06:39:34 and a dinner that ends at 19:38:24 are edges of the balance.
    odd = (6.0 + 39.0 / 60.0 + 34.0 / 3600.0, 19.14)
    servings = [at_hour(hour, "tea", planned=False, minutes=29.9) for hour in odd]
    told = reckon([0.9], [0.0], servings, need_sm3=0.01)
    minutes = {
        from_days(window.start_d).time()
        for first in range(6, 21)
        for window in cooking_windows(told, extra(from_d=MIDNIGHT_D + first / 24.0)).windows
    }

    assert time(6, 40) in minutes
    assert time(19, 40) in minutes
    assert all(one.minute % 5 == 0 and one.second == 0 for one in minutes)


def test_what_is_vented_before_the_extra_cooking_begins_is_gone(reckon: Reckon, at_hour: Cook) -> None:
    # Full, and making 0.6 an hour; half a minute of tea at 06:01 makes edges whose five minutes are full at 06:05.
    tea = at_hour(6.0 + 1.0 / 60.0, "tea", planned=False, minutes=0.5)
    told = reckon([1.0], [0.6], [tea], need_sm3=0.0, hours=6.5)
    span = {"from_d": MIDNIGHT_D + 6.02 / 24.0, "to_d": MIDNIGHT_D + 6.1 / 24.0}
    found = cooking_windows(told, extra(flame_min=20.0, flame_sm3_per_h=np.asarray(0.9), **span))
    (five_past,) = found.windows

    # Of the 0.3 that are to be burned, the 25 minutes that are left to half past six would have vented 0.25.
    assert hours((five_past,)) == [round(6.0 + 5.0 / 60.0, 6)]
    assert five_past.saved_m3 == pytest.approx(0.25)
    assert five_past.probability == 1.0


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    starts=st.lists(st.floats(0.0, 1.0), min_size=1, max_size=8),
    hourly=st.floats(0.0, 0.05),
    minutes=st.tuples(st.floats(1.0, 90.0), st.floats(1.0, 90.0)),
)
def test_a_longer_flame_is_never_likelier(
    reckon: Reckon, at_hour: Cook, starts: list[float], hourly: float, minutes: tuple[float, float]
) -> None:
    told = reckon(starts, np.full(len(starts), hourly), [at_hour(19.0)])
    short, long = (cooking_windows(told, extra(flame_min=flame)).surest for flame in sorted(minutes))

    assert short is not None
    assert long is not None
    best = max(window.probability for window in cooking_windows(told, extra(flame_min=max(minutes))).windows)
    assert short.probability >= best - CLOSE


@pytest.mark.parametrize(
    ("change", "refusal", "complaint"),
    [
        ({"flame_min": 0.5}, OutOfRange, "flame_min is 0.5"),
        ({"flame_min": 1441.0}, OutOfRange, "flame_min is 1441"),
        ({"earliest": time(20), "latest": time(8)}, Inconsistent, "hours is 20:00-08:00"),
    ],
)
def test_extra_cooking_that_cannot_be_is_refused(
    change: dict[str, object], refusal: type[Exception], complaint: str
) -> None:
    with pytest.raises(refusal, match=complaint):
        extra(**change)
