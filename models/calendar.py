"""Time as the models count it: float days since 1970-01-01T00:00Z, and the household's own midnights."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np

from models.units import ArrayLike, Floats

SECONDS_PER_DAY = 86_400.0
DAYS_PER_YEAR = 365.2425  # mean Gregorian year
SHORTLY = timedelta(seconds=1)


def to_days(moment: datetime) -> float:
    """Days since 1970-01-01T00:00Z of an aware time stamp."""
    if moment.tzinfo is None:
        raise ValueError("moment has no offset")
    return moment.timestamp() / SECONDS_PER_DAY


def from_days(time_d: float) -> datetime:
    """Aware UTC time stamp of a day count, rounded to the second."""
    return datetime(1970, 1, 1, tzinfo=UTC) + timedelta(seconds=round(float(time_d) * SECONDS_PER_DAY))


def midnight(day: date, zone: ZoneInfo) -> float:
    """Day count at which a household's day begins. [d]

    Where the clock skips midnight it is the moment of the skip; where midnight comes twice it is the first, unless the
    clock went back into the day before: then that day is not over yet, and it is the second. A date that the zone left
    out altogether (a move across the date line) begins and ends at once.
    """
    first = datetime(day.year, day.month, day.day, tzinfo=zone)
    again = first.replace(fold=1)
    # The zone's own arithmetic would count on the clock's face: compare in UTC.
    if (
        first.astimezone(UTC) < again.astimezone(UTC)
        and (again.astimezone(UTC) - SHORTLY).astimezone(zone).date() < day
    ):
        return to_days(again)
    return to_days(first)


def local_midnights(first: date, days: int, zone: ZoneInfo) -> Floats:
    """Edges of `days` consecutive household days, shape (days + 1,). [d]

    A day lasts 23, 24 or 25 hours; where a zone moved by more or less than an hour, by as much more or less.
    """
    return np.array([midnight(first + timedelta(days=k), zone) for k in range(days + 1)])


def local_date(time_d: float, zone: ZoneInfo) -> date:
    """The household's date at a day count: the one whose midnights it stands between."""
    moment = from_days(time_d)
    day = moment.astimezone(zone).date()
    # A clock put back across midnight shows tomorrow's date for a moment before the day is over.
    return day if to_days(moment) >= midnight(day, zone) else date.fromordinal(day.toordinal() - 1)


def year_angle(time_d: ArrayLike) -> Floats:
    """Angle of the year, 0 at the start of January, shape of `time_d`. [rad]"""
    return np.asarray(2.0 * np.pi * (np.asarray(time_d, dtype=float) % DAYS_PER_YEAR) / DAYS_PER_YEAR)
