"""Entries as an iCalendar object (RFC 5545, RFC 7986)."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from importlib.metadata import version
from typing import Any

from icalendar import Calendar, Event, vText

REFRESHED = timedelta(hours=1)
FIRST_REVISION = datetime(2020, 1, 1, tzinfo=UTC)
"""Revisions count the seconds from here: the number never falls, even where nobody knows what was told before."""
ABOUT = "What Kettlecast expects of the coming days; it is told anew every hour."


def to_ical(answer: dict[str, Any]) -> bytes:
    """The calendar of an answer; nothing recurs, every event stands for itself."""
    calendar = Calendar()
    name = vText(f"Gas and meals: {answer['label']}")
    for key, value in (
        ("prodid", f"-//Kettlecast//Kettlecast {version('kettlecast')}//EN"),
        ("version", "2.0"),
        ("calscale", "GREGORIAN"),
        ("name", name),
        ("x-wr-calname", name),
        ("x-wr-timezone", answer["time_zone"]),
        ("description", ABOUT),
        ("last-modified", _utc(max(one["modified_at"] for one in answer["entries"]))),
    ):
        calendar.add(key, value)
    calendar.add("refresh-interval", REFRESHED, parameters={"VALUE": "DURATION"})
    for entry in answer["entries"]:
        calendar.add_component(_event(entry, _utc(answer["issued_at"])))
    text: bytes = calendar.to_ical(sorted=False)
    return text


def _event(entry: dict[str, Any], issued_at: datetime) -> Event:
    event = Event()
    revised_at = _utc(entry["revised_at"])
    for key, value in (
        ("uid", entry["uid"]),
        ("dtstamp", issued_at),
        ("last-modified", _utc(entry["modified_at"])),
        ("sequence", int((revised_at - FIRST_REVISION).total_seconds())),
        ("dtstart", _when(entry["start"])),
        ("dtend", _when(entry["end"])),
        ("summary", entry["summary"]),
        ("description", entry["description"]),
        ("categories", [entry["category"].upper()]),
        ("transp", "TRANSPARENT"),
    ):
        event.add(key, value)
    return event


def _utc(text: str) -> datetime:
    return datetime.fromisoformat(text).astimezone(UTC)


def _when(text: str) -> datetime | date:
    """A moment in UTC, or a day."""
    return _utc(text) if "T" in text else date.fromisoformat(text)
