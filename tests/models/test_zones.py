"""Days of households in every zone of the IANA time zone database, which every date here is read from."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo, available_timezones

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from models.calendar import SECONDS_PER_DAY, from_days, local_date, local_midnights, midnight, to_days

ZONES = sorted(available_timezones())
YEARS = {"min_value": date(1990, 1, 2), "max_value": date(2200, 12, 30)}
ONE_SECOND_D = 1.0 / SECONDS_PER_DAY
LOOK_D = 7


def hours(first: date, days: int, zone: str) -> list[float]:
    return [round(float(one), 6) for one in np.diff(local_midnights(first, days, ZoneInfo(zone))) * 24.0]


@settings(max_examples=2000)
@given(zone=st.sampled_from(ZONES), moment=st.integers(631_152_000 + 86_400, 7_289_000_000))
def test_every_moment_stands_between_the_midnights_of_its_own_day(zone: str, moment: int) -> None:
    # Counted in whole seconds: 1990 to 2200.
    there, time_d = ZoneInfo(zone), moment / SECONDS_PER_DAY
    day = local_date(time_d, there)
    start, end = local_midnights(day, 1, there)

    assert start <= time_d < end
    assert abs(day - from_days(time_d).astimezone(there).date()) <= timedelta(days=1)


@settings(max_examples=2000)
@given(zone=st.sampled_from(ZONES), day=st.dates(**YEARS))
def test_a_day_begins_where_the_one_before_ends(zone: str, day: date) -> None:
    there = ZoneInfo(zone)
    before, start, end = local_midnights(day - timedelta(days=1), 2, there)

    assert before <= start <= end
    if start < end:  # a date that was not left out
        assert local_date(start, there) == day
        assert local_date(end - ONE_SECOND_D, there) == day
    if before < start:
        assert local_date(start - ONE_SECOND_D, there) == day - timedelta(days=1)


@pytest.mark.parametrize("zone", ZONES)
def test_the_days_at_every_change_of_the_clock_fit_together(zone: str) -> None:
    there = ZoneInfo(zone)
    looked = [date(1990, 1, 1) + timedelta(days=LOOK_D * k) for k in range(366 * 50 // LOOK_D)]
    clocks = [datetime(day.year, day.month, day.day, 12, tzinfo=there).utcoffset() for day in looked]
    changes = [day for day, (now, later) in zip(looked, pairwise(clocks), strict=False) if now != later]
    for first in changes:
        edges = local_midnights(first - timedelta(days=1), LOOK_D + 3, there)

        assert np.all(np.diff(edges) >= 0.0)
        for ahead, (start, end) in enumerate(pairwise(edges)):
            if start < end:
                whole = (start, (start + end) / 2.0, end - ONE_SECOND_D)
                assert {local_date(one, there) for one in whole} == {first + timedelta(days=ahead - 1)}


@pytest.mark.parametrize(
    ("zone", "day", "lasts_h"),
    [
        ("Europe/Lisbon", date(2026, 3, 29), 23.0),
        ("Europe/Lisbon", date(2026, 10, 25), 25.0),
        ("America/Santiago", date(2026, 9, 6), 23.0),  # 24:00 became 01:00: there was no midnight
        ("America/Santiago", date(2026, 4, 4), 25.0),  # 24:00 became 23:00
        ("Asia/Beirut", date(2026, 3, 29), 23.0),
        ("America/Havana", date(2026, 3, 8), 23.0),
        ("America/Havana", date(2026, 11, 1), 25.0),  # 01:00 became 00:00: midnight came twice
        ("America/St_Johns", date(2010, 11, 6), 25.0),  # a minute past midnight became 23:01 of the day before
        ("America/St_Johns", date(2010, 11, 7), 24.0),
        ("Australia/Lord_Howe", date(2026, 4, 5), 24.5),
        ("Australia/Lord_Howe", date(2026, 10, 4), 23.5),
        ("Antarctica/Troll", date(2026, 3, 29), 22.0),
        ("Pacific/Apia", date(2011, 12, 30), 0.0),  # west of the date line one day, east of it the next
        ("Asia/Kathmandu", date(2026, 3, 29), 24.0),
    ],
)
def test_days_last_as_long_as_their_clocks_say(zone: str, day: date, lasts_h: float) -> None:
    assert hours(day, 1, zone) == [lasts_h]


def test_a_day_without_midnight_begins_when_the_clock_skips_it() -> None:
    zone = ZoneInfo("America/Santiago")
    start = midnight(date(2026, 9, 6), zone)

    assert from_days(start).astimezone(zone).isoformat() == "2026-09-06T01:00:00-03:00"
    assert local_date(start, zone) == date(2026, 9, 6)
    assert local_date(start - ONE_SECOND_D, zone) == date(2026, 9, 5)


def test_a_midnight_that_comes_twice_begins_the_day_once() -> None:
    zone = ZoneInfo("America/Havana")
    start = midnight(date(2026, 11, 1), zone)

    assert from_days(start) == datetime(2026, 11, 1, 4, 0, tzinfo=UTC)  # at 00:00 of summer time, an hour before 00:00
    assert local_date(to_days(datetime(2026, 11, 1, 5, 30, tzinfo=UTC)), zone) == date(2026, 11, 1)


def test_a_clock_put_back_across_midnight_prolongs_the_day() -> None:
    zone = ZoneInfo("America/St_Johns")
    midnight_passed = datetime(2010, 11, 7, 0, 0, 30, tzinfo=zone)

    assert local_date(to_days(midnight_passed), zone) == date(2010, 11, 6)
    assert local_date(to_days(midnight_passed) + 1.0 / 24.0, zone) == date(2010, 11, 7)
