"""Recurrence rules against the standard's own examples, the calendar, and what must be refused."""

from __future__ import annotations

from datetime import date, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from models.errors import OutOfRange
from models.schedule import parse_rule, rule_dates

NEW_YORK = ZoneInfo("America/New_York")
WEEKDAYS = ("MO", "TU", "WE", "TH", "FR", "SA", "SU")


def days(
    rule: str, starts_on: date, last: date, *, at: time = time(9), zone: ZoneInfo = NEW_YORK, first: date | None = None
) -> list[date]:
    return rule_dates(parse_rule(rule), starts_on=starts_on, at=at, zone=zone, between=(first or starts_on, last))


def september(*numbers: int) -> list[date]:
    return [date(1997, 9, number) for number in numbers]


# Examples of RFC 5545, 3.8.5.3, DTSTART;TZID=America/New_York:19970902T090000.
START = date(1997, 9, 2)


def test_daily_for_ten_occurrences() -> None:
    assert days("FREQ=DAILY;COUNT=10", START, date(1997, 12, 31)) == september(*range(2, 12))


def test_daily_until_christmas_eve() -> None:
    found = days("FREQ=DAILY;UNTIL=19971224T000000Z", START, date(1998, 12, 31))

    assert found[0] == START
    assert found[-1] == date(1997, 12, 23)
    assert len(found) == 113  # 29 in September, 31, 30 and 23


def test_every_other_day() -> None:
    assert days("FREQ=DAILY;INTERVAL=2", START, date(1997, 9, 10)) == september(2, 4, 6, 8, 10)


def test_every_ten_days_five_times() -> None:
    found = days("FREQ=DAILY;INTERVAL=10;COUNT=5", START, date(1997, 12, 31))

    assert found == [*september(2, 12, 22), date(1997, 10, 2), date(1997, 10, 12)]


def test_weekly_for_ten_occurrences() -> None:
    found = days("FREQ=WEEKLY;COUNT=10", START, date(1998, 1, 1))

    assert found == [START + timedelta(weeks=week) for week in range(10)]


def test_weekly_on_tuesday_and_thursday_for_five_weeks() -> None:
    found = days("FREQ=WEEKLY;COUNT=10;WKST=SU;BYDAY=TU,TH", START, date(1998, 1, 1))

    assert found == [*september(2, 4, 9, 11, 16, 18, 23, 25, 30), date(1997, 10, 2)]


def test_every_other_week_on_tuesday_and_thursday() -> None:
    found = days("FREQ=WEEKLY;INTERVAL=2;COUNT=8;WKST=SU;BYDAY=TU,TH", START, date(1998, 1, 1))

    assert found == [*september(2, 4, 16, 18, 30), date(1997, 10, 2), date(1997, 10, 14), date(1997, 10, 16)]


@pytest.mark.parametrize(("week_start", "expected"), [("MO", (5, 10, 19, 24)), ("SU", (5, 17, 19, 31))])
def test_the_first_day_of_the_week_matters_every_other_week(week_start: str, expected: tuple[int, ...]) -> None:
    rule = f"FREQ=WEEKLY;INTERVAL=2;COUNT=4;BYDAY=TU,SU;WKST={week_start}"

    found = days(rule, date(1997, 8, 5), date(1998, 1, 1))

    assert found == [date(1997, 8, number) for number in expected]


def test_a_rule_until_a_date_holds_to_the_end_of_that_day() -> None:
    assert days("FREQ=DAILY;UNTIL=19970904", START, date(1997, 12, 31), at=time(23, 30))[-1] == date(1997, 9, 4)


def test_a_rule_until_a_clock_time_stops_before_a_later_meal() -> None:
    assert days("FREQ=DAILY;UNTIL=19970904T120000", START, date(1997, 12, 31), at=time(19))[-1] == date(1997, 9, 3)


@pytest.mark.parametrize("zone", ["Pacific/Kiritimati", "Pacific/Pago_Pago"])
@pytest.mark.parametrize("until", ["19900101", "19900101T000000Z", "22001231", "22001231T235959Z"])
def test_the_first_and_the_last_end_of_a_rule_can_be_used_in_every_zone(until: str, zone: str) -> None:
    found = days(f"FREQ=WEEKLY;UNTIL={until}", date(2026, 1, 1), date(2026, 1, 31), zone=ZoneInfo(zone))

    assert len(found) == (5 if until.startswith("22") else 0)


def test_a_start_that_the_rule_does_not_meet_is_no_occurrence() -> None:
    assert days("FREQ=WEEKLY;BYDAY=SA", START, date(1997, 9, 14)) == september(6, 13)


def test_a_rule_that_never_meets_its_own_days_ends() -> None:
    assert days("FREQ=DAILY;INTERVAL=7;BYDAY=MO;COUNT=3", START, date(1998, 9, 2)) == []


@given(
    weekly=st.booleans(),
    interval=st.integers(1, 5),
    chosen=st.sets(st.sampled_from(WEEKDAYS), min_size=1),
    offset=st.integers(0, 2000),
)
def test_looking_in_late_finds_the_same_days(weekly: bool, interval: int, chosen: set[str], offset: int) -> None:
    rule = f"FREQ={'WEEKLY' if weekly else 'DAILY'};INTERVAL={interval};BYDAY={','.join(sorted(chosen))}"
    first = START + timedelta(days=offset)
    last = first + timedelta(days=30)

    assert days(rule, START, last, first=first) == [day for day in days(rule, START, last) if day >= first]


@given(chosen=st.sets(st.sampled_from(WEEKDAYS), min_size=1))
def test_weekdays_are_those_of_the_calendar(chosen: set[str]) -> None:
    found = days(f"FREQ=WEEKLY;BYDAY={','.join(chosen)}", START, START + timedelta(days=27))

    assert len(found) == 4 * len(chosen)
    assert {WEEKDAYS[day.weekday()] for day in found} == chosen


@pytest.mark.parametrize(
    ("rule", "complaint"),
    [
        ("", "an empty part"),
        ("FREQ=MONTHLY", "FREQ is MONTHLY, must be DAILY or WEEKLY"),
        ("INTERVAL=2", "FREQ is missing"),
        ("FREQ=DAILY;FREQ=DAILY", "FREQ is given twice"),
        ("FREQ=DAILY;BYMONTH=1", "'BYMONTH=1' is not understood"),
        ("FREQ=DAILY;INTERVAL=0", "INTERVAL is 0, must be a whole number from 1 to 366"),
        ("FREQ=DAILY;INTERVAL=367", "INTERVAL is 367"),
        ("FREQ=DAILY;INTERVAL=two", "INTERVAL is TWO"),
        ("FREQ=DAILY;COUNT=0", "COUNT is 0"),
        ("FREQ=DAILY;COUNT=3;UNTIL=20260101", "both COUNT and UNTIL"),
        ("FREQ=WEEKLY;BYDAY=1MO", "BYDAY has 1MO, must be of MO, TU, WE, TH, FR, SA, SU"),
        ("FREQ=WEEKLY;WKST=XX", "WKST has XX"),
        ("FREQ=DAILY;UNTIL=2026-01-01", "UNTIL is 2026-01-01, must look like 20261231"),
        ("FREQ=DAILY;UNTIL=20260231", "UNTIL is 20260231"),
        ("FREQ=DAILY;UNTIL=00010101T000000Z", "UNTIL is 00010101T000000Z, must be in the years 1990 to 2200"),
        ("FREQ=DAILY;UNTIL=22010101", "must be in the years 1990 to 2200"),
    ],
)
def test_a_rule_that_cannot_be_used_says_what_would_be(rule: str, complaint: str) -> None:
    with pytest.raises(OutOfRange) as refused:
        parse_rule(rule)

    assert complaint in str(refused.value)
    assert 'write it like "FREQ=DAILY"' in str(refused.value)
    assert refused.value.field == "rrule"
