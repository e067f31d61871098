"""Time as the models count it: float days since 1970-01-01T00:00Z, and the household's own midnights."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np

from models.units import ArrayLike, Floats

SECONDS_PER_DAY = 86_400.0
DAYS_PER_YEAR = 365.2425  # mean Gregorian year


def to_days(moment: datetime) -> float:
    """Days since 1970-01-01T00:00Z of an aware time stamp."""
    if moment.tzinfo is None:
        raise ValueError("moment has no offset")
    return moment.timestamp() / SECONDS_PER_DAY


def from_days(time_d: float) -> datetime:
    """Aware UTC time stamp of a day count, rounded to the second."""
    return datetime(1970, 1, 1, tzinfo=UTC) + timedelta(seconds=round(float(time_d) * SECONDS_PER_DAY))


def midnight(day: date, zone: ZoneInfo) -> float:
    """Day count at which a household's day begins. [d]"""
    return to_days(datetime(day.year, day.month, day.day, tzinfo=zone))


def local_midnights(first: date, days: int, zone: ZoneInfo) -> Floats:
    """Edges of `days` consecutive household days, shape (days + 1,); a day lasts 23, 24 or 25 hours. [d]"""
    return np.array([midnight(first + timedelta(days=k), zone) for k in range(days + 1)])


def local_date(time_d: float, zone: ZoneInfo) -> date:
    """The household's date at a day count."""
    return from_days(time_d).astimezone(zone).date()


def year_angle(time_d: ArrayLike) -> Floats:
    """Angle of the year, 0 at the start of January, shape of `time_d`. [rad]"""
    return np.asarray(2.0 * np.pi * (np.asarray(time_d, dtype=float) % DAYS_PER_YEAR) / DAYS_PER_YEAR)
