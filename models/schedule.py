"""On which days a meal recurs: daily and weekly RFC 5545 rules on the household's own clock."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from itertools import islice
from typing import Literal
from zoneinfo import ZoneInfo

from dateutil.rrule import DAILY, FR, MO, SA, SU, TH, TU, WE, WEEKLY, rrule, weekday

from models.errors import OutOfRange

FREQUENCIES: Mapping[str, Literal[2, 3]] = {"DAILY": DAILY, "WEEKLY": WEEKLY}
WEEKDAYS: Mapping[str, weekday] = {"MO": MO, "TU": TU, "WE": WE, "TH": TH, "FR": FR, "SA": SA, "SU": SU}
PERIOD_D = {"DAILY": 1, "WEEKLY": 7}
KNOWN = ("FREQ", "INTERVAL", "BYDAY", "COUNT", "UNTIL", "WKST")
FIRST_YEAR, LAST_YEAR = 1990, 2200
"""Years in which a rule may end; outside of them calendars and time zones run out."""
REMEDY = 'write it like "FREQ=DAILY" or "FREQ=WEEKLY;BYDAY=SA,SU"'


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """A recurrence rule, read and found sound. `until` without an offset is on the household's own clock."""

    frequency: str
    interval: int = 1
    weekdays: tuple[weekday, ...] = ()
    week_start: weekday = MO
    count: int | None = None
    until: datetime | None = None


def parse_rule(text: str) -> Rule:
    """Read a recurrence rule.

    Parameters
    ----------
    text : str
        An RRULE value with FREQ `DAILY` or `WEEKLY` and any of INTERVAL, BYDAY, COUNT or UNTIL, WKST.

    Raises
    ------
    OutOfRange
        On field `rrule`, for a part that is malformed, repeated or not supported.

    References
    ----------
    .. [1] RFC 5545, "Internet Calendaring and Scheduling Core Object Specification", 3.3.10.
    """
    parts = _parts(text)
    if parts.get("FREQ") not in FREQUENCIES:
        raise _refused(f"FREQ is {parts.get('FREQ', 'missing')}, must be DAILY or WEEKLY")
    if "COUNT" in parts and "UNTIL" in parts:
        raise _refused("it has both COUNT and UNTIL, must have one of them at most")
    return Rule(
        frequency=parts["FREQ"],
        interval=_whole("INTERVAL", parts.get("INTERVAL", "1"), 366),
        weekdays=tuple(_weekday("BYDAY", day) for day in parts["BYDAY"].split(",")) if "BYDAY" in parts else (),
        week_start=_weekday("WKST", parts.get("WKST", "MO")),
        count=_whole("COUNT", parts["COUNT"], 100_000) if "COUNT" in parts else None,
        until=_until(parts["UNTIL"]) if "UNTIL" in parts else None,
    )


def rule_dates(rule: Rule, *, starts_on: date, at: time, zone: ZoneInfo, between: tuple[date, date]) -> list[date]:
    """Dates of a rule between two days, both included, for a meal at local time `at`; a date is there at most once."""
    first, last = between
    if rule.count is None:
        starts_on = _skipped_ahead(rule, starts_on, first)
    end = datetime.combine(last, at)
    if rule.until is not None:
        until = rule.until if rule.until.tzinfo is None else rule.until.astimezone(zone).replace(tzinfo=None)
        end = min(end, until)
    found = rrule(
        FREQUENCIES[rule.frequency],
        dtstart=datetime.combine(starts_on, at),
        interval=rule.interval,
        byweekday=rule.weekdays or None,
        wkst=rule.week_start,
        until=end,
    )
    return [moment.date() for moment in islice(found, rule.count) if moment.date() >= first]


def _skipped_ahead(rule: Rule, starts_on: date, first: date) -> date:
    """A later start in the same rhythm, so that an old schedule costs no more than a new one."""
    period_d = PERIOD_D[rule.frequency] * rule.interval
    return starts_on + timedelta(days=max(0, (first - starts_on).days // period_d - 1) * period_d)


def _parts(text: str) -> dict[str, str]:
    parts: dict[str, str] = {}
    for part in text.strip().upper().removeprefix("RRULE:").split(";"):
        name, _, value = part.partition("=")
        if name not in KNOWN or not value:
            raise _refused(f"{part or 'an empty part'!r} is not understood, must be one of {', '.join(KNOWN)}")
        if name in parts:
            raise _refused(f"{name} is given twice, must be given once")
        parts[name] = value
    return parts


def _whole(name: str, value: str, most: int) -> int:
    if not re.fullmatch(r"[0-9]{1,6}", value) or not 1 <= int(value) <= most:
        raise _refused(f"{name} is {value}, must be a whole number from 1 to {most}")
    return int(value)


def _weekday(name: str, value: str) -> weekday:
    if value not in WEEKDAYS:
        raise _refused(f"{name} has {value}, must be of {', '.join(WEEKDAYS)}")
    return WEEKDAYS[value]


def _until(value: str) -> datetime:
    """The last moment of a rule, within the years that calendars know."""
    until = _read_until(value)
    if not FIRST_YEAR <= until.year <= LAST_YEAR:
        raise _refused(f"UNTIL is {value}, must be in the years {FIRST_YEAR} to {LAST_YEAR}")
    return until


def _read_until(value: str) -> datetime:
    """The last moment as written; a bare date means to the end of that day."""
    for form, zone in (("%Y%m%dT%H%M%SZ", UTC), ("%Y%m%dT%H%M%S", None)):
        try:
            return datetime.strptime(value, form).replace(tzinfo=zone)
        except ValueError:
            continue
    try:
        return datetime.combine(datetime.strptime(value, "%Y%m%d").date(), time.max)  # noqa: DTZ007
    except ValueError:
        raise _refused(f"UNTIL is {value}, must look like 20261231 or 20261231T215959Z") from None


def _refused(why: str) -> OutOfRange:
    return OutOfRange(f"rrule cannot be used: {why}; {REMEDY}", field="rrule")
