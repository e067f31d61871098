"""The log as people keep it: readings taken down, looked up, corrected and taken out again."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import asdict, replace
from datetime import UTC, datetime
from typing import Any, Protocol
from zoneinfo import ZoneInfo

from models.calendar import SECONDS_PER_DAY, midnight
from service.documents import first_start, zone_of
from service.readings import (
    EARLIEST_S,
    Complaint,
    Filter,
    Outcome,
    Reading,
    ReadingRefused,
    Scope,
    one_spelling,
    reading_from,
)

CURSOR = re.compile(r"([0-9]{1,12})\.([0-9]{1,18})")
"""Second and row of the log to go on after, within what a database can hold."""


class Described(Protocol):
    """A stored description."""

    @property
    def document(self) -> dict[str, Any]:
        """The description, as the contract writes it."""


class Homes(Protocol):
    """Where descriptions are kept."""

    def get(self, name: str) -> Described:
        """The description; refused where there is none."""


class Logs(Protocol):
    """Where readings are kept."""

    def earlier(self, name: str, reading_id: str) -> list[tuple[Reading, datetime]]:
        """What stood before each correction, and until when."""

    def page(
        self, name: str, which: Filter, *, limit: int, after: tuple[int, int] | None = None
    ) -> tuple[list[Reading], tuple[int, int] | None]:
        """Readings in the order they were taken, and the place to go on from."""

    def add(self, name: str, readings: Sequence[Reading]) -> list[tuple[Reading, Outcome]]:
        """Keep new readings, all or none."""

    def add_one(self, name: str, given: Reading) -> tuple[Reading, Outcome]:
        """Keep one new reading."""

    def put(self, name: str, given: Reading, *, if_match: str | None = None, now: datetime) -> tuple[Reading, Outcome]:
        """Keep a reading in place of what stood under its id."""


def scope_of(name: str, *, homes: Homes, now: datetime) -> Scope:
    """What this household's readings are checked against."""
    document = homes.get(name).document
    zone, started = zone_of(document["time_zone"]), first_start(document)
    return Scope(
        zone=zone,
        burners=tuple(one["name"] for one in document["burners"]),
        digesters=tuple(one["name"] for one in document["digesters"]),
        now_s=int(now.timestamp()),
        earliest_s=EARLIEST_S if started is None else round(midnight(started, zone) * SECONDS_PER_DAY),
    )


def document_of(reading: Reading, zone: ZoneInfo) -> dict[str, Any]:
    """A reading with its times in the household's own time, and null for what it does not say."""
    fields = {name: None if value == "" else value for name, value in asdict(reading).items()}
    times = {"taken_at": _moment(reading.taken_s, zone), "recorded_at": _moment(reading.recorded_s, zone)}
    return fields | times


def _moment(time_s: int, zone: ZoneInfo) -> datetime:
    return datetime.fromtimestamp(time_s, UTC).astimezone(zone)


def record(
    name: str, given: Sequence[Mapping[str, Any]], *, homes: Homes, logs: Logs, now: datetime
) -> list[tuple[Reading, Outcome]]:
    """Take readings down, all or none; one that stands already is left as it is.

    Raises
    ------
    ReadingRefused
        With a complaint for every field of every reading that cannot be so.
    """
    scope = scope_of(name, homes=homes, now=now)
    readings: list[Reading] = []
    complaints: list[Complaint] = []
    for place, one in enumerate(given):
        try:
            readings.append(reading_from(_fields(one), scope))
        except ReadingRefused as error:
            complaints.extend(replace(each, field=f"{place}/{each.field}") for each in error.complaints)
    if complaints:
        raise ReadingRefused(complaints)
    return logs.add(name, readings)


def record_one(
    name: str, given: Mapping[str, Any], *, homes: Homes, logs: Logs, now: datetime
) -> tuple[Reading, Outcome]:
    """Take one reading down; one that stands already is left as it is."""
    reading = reading_from(_fields(given), scope_of(name, homes=homes, now=now))
    return logs.add_one(name, reading)


def correct(
    name: str, given: Mapping[str, Any], *, if_match: str | None, homes: Homes, logs: Logs, now: datetime
) -> tuple[Reading, Outcome]:
    """Put a reading under its id; what stood there before is kept as its history. Safe to repeat."""
    reading = reading_from(_fields(given), scope_of(name, homes=homes, now=now))
    return logs.put(name, reading, if_match=if_match, now=now)


def named(given: Mapping[str, Any], reading_id: str) -> dict[str, Any]:
    """A reading under the id of its address; refused where it says another."""
    if given.get("id") is not None and one_spelling(given["id"]) != reading_id:
        message = f"id is {given['id']!r}, must be that of the address, {reading_id!r}, or left out"
        raise ReadingRefused([Complaint(field="id", code="id", message=message)])
    return {**given, "id": reading_id}


def documents_of(name: str, readings: Sequence[Reading], *, homes: Homes) -> list[dict[str, Any]]:
    """Readings in the household's own time."""
    zone = zone_of(homes.get(name).document["time_zone"])
    return [document_of(reading, zone) for reading in readings]


def history(name: str, reading_id: str, *, homes: Homes, logs: Logs, now: datetime) -> list[dict[str, Any]]:
    """What stood before each correction, oldest first, each with the time it was replaced."""
    zone = scope_of(name, homes=homes, now=now).zone
    return [
        document_of(reading, zone) | {"replaced_at": until.astimezone(zone)}
        for reading, until in logs.earlier(name, reading_id)
    ]


def page(
    name: str, which: Filter, *, limit: int, cursor: str | None, homes: Homes, logs: Logs, now: datetime
) -> dict[str, Any]:
    """A page of readings in the order they were taken, and the cursor of the next."""
    zone = scope_of(name, homes=homes, now=now).zone
    readings, more = logs.page(name, which, limit=limit, after=_place(cursor))
    return {
        "readings": [document_of(reading, zone) for reading in readings],
        "next_cursor": None if more is None else f"{more[0]}.{more[1]}",
    }


def _fields(given: Mapping[str, Any]) -> dict[str, Any]:
    fields = {name: value for name, value in given.items() if name not in ("taken_at", "recorded_at")}
    return {**fields, "taken_s": int(given["taken_at"].timestamp() // 1)}


def _place(cursor: str | None) -> tuple[int, int] | None:
    if cursor is None:
        return None
    place = CURSOR.fullmatch(cursor)
    if place is None:
        complaint = Complaint(field="cursor", code="cursor", message=f"cursor is {cursor!r}, must be a next_cursor")
        raise ReadingRefused([complaint])
    return int(place[1]), int(place[2])
