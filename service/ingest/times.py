"""Dates and times as people and spreadsheets write them, read without guessing."""

from __future__ import annotations

import re
from collections.abc import Iterable
from datetime import datetime
from typing import Literal, NamedTuple
from zoneinfo import ZoneInfo

from service.ingest.errors import FileRefused

DateOrder = Literal["dmy", "mdy"]
ORDERS: tuple[DateOrder, ...] = ("dmy", "mdy")
NOON = "12:00"

_ISO = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}(?:[T ][0-9]{2}:[0-9]{2}.*)?", re.ASCII)
_DATE = re.compile(r"([0-9]{1,4})([/.-])([0-9]{1,2})\2([0-9]{1,4})(?:[T ,]+(.*))?", re.ASCII)
_TIME = re.compile(r"([0-9]{1,2}):([0-9]{2})(?::([0-9]{2})(?:[.,][0-9]+)?)?\s*([AaPp])?\.?(?:[Mm]\.?)?", re.ASCII)
_HOURS_PER_HALF_DAY = 12
_MONTHS = 12


class TimeRefused(ValueError):
    """A time that cannot be read, or that the clock of the place never or twice showed; `code` says which."""

    def __init__(self, message: str, *, code: str = "time") -> None:
        super().__init__(message)
        self.code = code


class Moment(NamedTuple):
    """A moment in whole UTC seconds; `dated` marks one that came as a date without a time of day."""

    time_s: int
    dated: bool


def seconds_of(text: str, *, zone: ZoneInfo, order: DateOrder | None, time_of_day: str | None = None) -> Moment:
    """The moment that a text names.

    Parameters
    ----------
    text : str
        RFC 3339, or a local date with or without a time of day.
    zone : ZoneInfo
        The household's, for a time without an offset.
    order : DateOrder or None
        How dates that do not begin with the year are to be read.
    time_of_day : str, optional
        Local time (`19:00`) for a date without one; left out: noon.

    Raises
    ------
    TimeRefused
        Not readable; or `time_missing`, `time_double` where the clocks were put forward or back.
    """
    moment, dated = _parsed(text, order)
    if moment.tzinfo is not None:
        return Moment(int(moment.timestamp() // 1), dated=False)
    if dated:
        moment = _joined(moment, time_of_day or NOON)
    return Moment(_local(moment, zone, text), dated)


def _parsed(text: str, order: DateOrder | None) -> tuple[datetime, bool]:
    """The moment, and whether it came without a time of day."""
    try:
        if _ISO.fullmatch(text):
            return datetime.fromisoformat(text), len(text) == len("2026-11-26")
        match = _DATE.fullmatch(text)
        if match is None:
            raise TimeRefused(f"{text!r} is no time; write 2026-11-26T19:00 (local) or 2026-11-26T19:00+01:00")
        first, _, second, third, rest = match.groups()
        day = _date((first, second, third), order)
        return (_joined(day, rest), False) if rest else (day, True)
    except ValueError as error:
        if isinstance(error, TimeRefused):
            raise
        raise TimeRefused(
            f"{text!r} is no date and time of the calendar; check the day, the month and the date order"
        ) from error


def _date(parts: tuple[str, str, str], order: DateOrder | None) -> datetime:
    if len(parts[0]) == len("2026"):
        year, month, day = parts
    elif len(parts[2]) != len("2026"):
        raise TimeRefused(f"{'-'.join(parts)} has no year of four digits; write it out")
    elif order == "mdy":
        month, day, year = parts
    else:
        day, month, year = parts
    return datetime(int(year), int(month), int(day))  # noqa: DTZ001 - local until the zone is applied


def _joined(day: datetime, time_of_day: str) -> datetime:
    match = _TIME.fullmatch(time_of_day.strip())
    if match is None:
        raise TimeRefused(f"{time_of_day!r} is no time of day; write 19:00")
    hour, minute, second, half = match.groups()
    hours = int(hour)
    if half is not None:
        if not 1 <= hours <= _HOURS_PER_HALF_DAY:
            raise TimeRefused(f"{time_of_day!r} is no time of day; write 19:00")
        hours = hours % _HOURS_PER_HALF_DAY + (_HOURS_PER_HALF_DAY if half in "Pp" else 0)
    try:
        return day.replace(hour=hours, minute=int(minute), second=int(second or 0))
    except ValueError as error:
        raise TimeRefused(f"{time_of_day!r} is no time of day; write 19:00, 00:00 to 23:59") from error


def _local(naive: datetime, zone: ZoneInfo, text: str) -> int:
    first = naive.replace(tzinfo=zone)
    # The offset of the first and of the second time the clock shows this; they differ only about a change.
    before, after = first.utcoffset(), first.replace(fold=1).utcoffset()
    if before != after and before is not None and after is not None:
        what, code = ("happened twice", "time_double") if before > after else ("never happened", "time_missing")
        message = f"{text!r} {what} in {zone.key}, where the clocks were changed; write it with its offset"
        raise TimeRefused(message, code=code)
    return int(first.timestamp() // 1)


def date_order(texts: Iterable[str], *, asked: DateOrder | None, pointer: str) -> DateOrder | None:
    """The order of day and month in a whole column; None where every date begins with its year.

    Raises
    ------
    FileRefused
        No date tells the day from the month, or some say day first and others month first.
    """
    day_first = month_first = undecided = False
    for text in texts:
        match = _DATE.fullmatch(text)
        if match is None or len(match[1]) == len("2026"):
            continue
        day_first |= int(match[1]) > _MONTHS
        month_first |= int(match[3]) > _MONTHS
        undecided = True
    if asked is not None or not undecided:
        return asked
    if day_first and month_first:
        message = "some dates have the day first and some the month; write them as 2026-11-26"
        raise FileRefused(message, pointer=pointer)
    if not day_first and not month_first:
        message = "no date tells the day from the month; say date_order=dmy or date_order=mdy"
        raise FileRefused(message, pointer="/date_order")
    return "dmy" if day_first else "mdy"
