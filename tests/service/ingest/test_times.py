"""Dates and times, read without guessing."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.ingest.errors import FileRefused
from service.ingest.times import TimeRefused, date_order, seconds_of

LISBON = ZoneInfo("Europe/Lisbon")


def utc(text: str, order: str | None = None, time_of_day: str | None = None, zone: ZoneInfo = LISBON) -> str:
    moment = seconds_of(text, zone=zone, order=order, time_of_day=time_of_day)
    return datetime.fromtimestamp(moment.time_s, UTC).strftime("%Y-%m-%d %H:%M:%S")


@pytest.mark.parametrize(
    ("text", "order", "expected"),
    [
        ("2025-07-01T19:00:00+05:30", None, "2025-07-01 13:30:00"),
        ("2025-07-01T19:00:00Z", None, "2025-07-01 19:00:00"),
        ("2025-07-01T19:00", None, "2025-07-01 18:00:00"),  # Lisbon is an hour ahead in summer
        ("2025-07-01 19:00:30.75", None, "2025-07-01 18:00:30"),
        ("2025-7-1 7:05", None, "2025-07-01 06:05:00"),
        ("2025/01/31 19:00", None, "2025-01-31 19:00:00"),
        ("31.01.2025 19:00", "dmy", "2025-01-31 19:00:00"),
        ("3/4/2025 7:15 PM", "mdy", "2025-03-04 19:15:00"),
        ("3/4/2025 12:15 a.m.", "mdy", "2025-03-04 00:15:00"),
        ("3/4/2025, 12:15", "dmy", "2025-04-03 11:15:00"),
    ],
)
def test_times_are_read_as_people_write_them(text: str, order: str | None, expected: str) -> None:
    assert utc(text, order) == expected


def test_a_date_without_a_time_is_noon_or_the_time_the_diary_is_kept_at() -> None:
    assert seconds_of("2025-01-31", zone=LISBON, order=None).dated
    assert utc("2025-01-31") == "2025-01-31 12:00:00"
    assert utc("31-01-2025", "dmy", "07:30") == "2025-01-31 07:30:00"
    assert utc("2025-01-31 09:00", None, "07:30") == "2025-01-31 09:00:00"


@pytest.mark.parametrize(
    "text",
    ["", "yesterday", "2025-13-01", "31.02.2025", "2025-01-31T25:00", "1/2/25", "31.01.2025 7pm", "31.01.2025 13:00 PM",
     "2025-01-31T19:00 Lisbon", "99999-01-01", "31.01-2025", "٢٠٢٥-٠١-٣١"],
)  # fmt: skip
def test_what_is_no_time_is_refused_with_the_way_out(text: str) -> None:
    with pytest.raises(TimeRefused, match=r"write|check"):
        utc(text, "dmy")


def test_a_time_that_the_clock_never_showed_or_showed_twice_is_reported() -> None:
    # Lisbon 2025: on 30 March 01:00 became 02:00, on 26 October 02:00 became 01:00 (tz database).
    with pytest.raises(TimeRefused, match="never happened in Europe/Lisbon") as never:
        utc("2025-03-30T01:30")
    with pytest.raises(TimeRefused, match="happened twice in Europe/Lisbon") as twice:
        utc("26.10.2025 01:30", "dmy")

    assert (never.value.code, twice.value.code) == ("time_missing", "time_double")
    assert utc("2025-10-26T01:30+01:00") == "2025-10-26 00:30:00"
    assert utc("2025-10-26T02:00") == "2025-10-26 02:00:00"


@pytest.mark.parametrize("text", ["0001-01-01T00:00", "9999-12-31T23:59"])
def test_the_edges_of_the_calendar_do_not_break(text: str) -> None:
    for zone in (ZoneInfo("Pacific/Auckland"), ZoneInfo("America/Los_Angeles")):
        try:
            seconds_of(text, zone=zone, order=None)
        except TimeRefused as refused:
            assert "calendar" in str(refused)


def test_the_order_of_day_and_month_is_decided_by_the_whole_column() -> None:
    ambiguous = ["03/04/2025", "05/06/2025 10:00"]

    assert date_order([*ambiguous, "13/04/2025"], asked=None, pointer="") == "dmy"
    assert date_order([*ambiguous, "04/13/2025"], asked=None, pointer="") == "mdy"
    assert date_order(ambiguous, asked="mdy", pointer="") == "mdy"
    assert date_order(["2025-03-04", "2025/04/03"], asked=None, pointer="") is None
    assert date_order([], asked=None, pointer="") is None
    with pytest.raises(FileRefused, match="date_order=dmy or date_order=mdy") as refused:
        date_order(ambiguous, asked=None, pointer="/lines/1")
    assert refused.value.pointer == "/date_order"
    with pytest.raises(FileRefused, match="some dates have the day first"):
        date_order(["13/04/2025", "04/13/2025"], asked=None, pointer="/lines/1")


@given(
    st.datetimes(min_value=datetime(1990, 1, 1), max_value=datetime(2037, 12, 31)),  # noqa: DTZ001 - made aware below
    st.sampled_from(["Europe/Lisbon", "Asia/Kathmandu", "America/St_Johns", "Australia/Lord_Howe"]),
)
def test_every_moment_written_with_its_offset_is_read_back_to_the_second(naive: datetime, name: str) -> None:
    moment = naive.replace(microsecond=0, tzinfo=UTC).astimezone(ZoneInfo(name))

    assert seconds_of(moment.isoformat(), zone=LISBON, order=None).time_s == int(moment.timestamp())


@given(st.integers(min_value=0, max_value=2 * 365 * 24 * 4))
def test_a_local_time_is_read_as_what_the_clock_showed_then(quarter: int) -> None:
    moment = (datetime(2024, 1, 1, tzinfo=UTC) + timedelta(minutes=15 * quarter)).astimezone(LISBON)
    shown = moment.strftime("%d.%m.%Y %H:%M")
    try:
        assert seconds_of(shown, zone=LISBON, order="dmy").time_s == int(moment.timestamp())
    except TimeRefused as refused:
        # A clock put back shows an hour twice; a time that was shown cannot be missing.
        assert refused.code == "time_double"
