"""Real daily weather, Seattle 2012-2015 (vega-datasets, MIT), laid under invented dates and drawn out to hours."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from functools import cache
from importlib.resources import files
from zoneinfo import ZoneInfo

import numpy as np
from scipy.interpolate import PchipInterpolator

from models.calendar import local_midnights, midnight
from models.units import Floats

LATITUDE_DEG = 47.5
ALTITUDE_M = 130.0
FIRST_YEAR = 2012
YEARS = 4
COLDEST_HOUR = 6.0
WARMEST_HOUR = 15.0
SOLAR_CONSTANT_W_PER_M2 = 1361.0
HARGREAVES_PER_SQRT_K = 0.16  # inland value of the radiation formula from the daily temperature range


@dataclass(frozen=True, slots=True, kw_only=True)
class Weather:
    """Weather by the hour over whole household days.

    `edge_d` has one entry more than the hours; `air_c` stands at the edges, `sun_w_per_m2` (on level ground)
    and `wind_m_per_s` are means of the hours between them; `day_edge_d` and `day_mean_c` go by household day.
    """

    edge_d: Floats
    air_c: Floats
    sun_w_per_m2: Floats
    wind_m_per_s: Floats
    day_edge_d: Floats
    day_mean_c: Floats

    def air_at(self, time_d: Floats | float) -> Floats:
        """Air temperature at any moment within the span. [°C]"""
        return np.asarray(np.interp(time_d, self.edge_d, self.air_c))


@cache
def recorded() -> dict[date, tuple[float, float, float]]:
    """The recorded days: lowest and highest temperature [°C] and mean wind [m/s]."""
    text = (files("vega_datasets") / "_data" / "seattle-weather.csv").read_text(encoding="utf-8")
    return {
        date.fromisoformat(row["date"].replace("/", "-")): (
            float(row["temp_min"]),
            float(row["temp_max"]),
            float(row["wind"]),
        )
        for row in csv.DictReader(text.splitlines())
    }


def monthly_normals(shift_k: float = 0.0) -> list[float]:
    """Mean air temperature of each calendar month over the recorded years, January first. [°C]"""
    months: list[list[float]] = [[] for _ in range(12)]
    for day, (low, high, _) in recorded().items():
        months[day.month - 1].append((low + high) / 2.0)
    return [round(float(np.mean(month)) + shift_k, 1) for month in months]


def _recorded_day(day: date, anchor_year: int) -> tuple[float, float, float]:
    year = FIRST_YEAR + (day.year - anchor_year) % YEARS
    if (day.month, day.day) == (2, 29):
        day = day - timedelta(days=1)  # three recorded years in four have no such day
    return recorded()[day.replace(year=year)]


def _sun_w_per_m2(hour_d: Floats, daily_range_k: Floats, zone: ZoneInfo) -> Floats:
    """Sunshine on level ground from the sun's height and, for cloud, the day's temperature range."""
    winter = datetime.fromtimestamp(float(hour_d[0]) * 86_400.0, tz=zone).replace(month=1, day=1).utcoffset()
    offset_d = (winter or timedelta()).total_seconds() / 86_400.0
    angle = 2.0 * np.pi * ((hour_d + offset_d) % 1.0 - 0.5)
    season = 2.0 * np.pi * (hour_d % 365.2425) / 365.2425
    declination = np.radians(-23.44) * np.cos(season + 2.0 * np.pi * 10.0 / 365.2425)
    latitude = np.radians(LATITUDE_DEG)
    height = np.sin(latitude) * np.sin(declination) + np.cos(latitude) * np.cos(declination) * np.cos(angle)
    clearness = HARGREAVES_PER_SQRT_K * np.sqrt(daily_range_k)
    return np.asarray(SOLAR_CONSTANT_W_PER_M2 * np.clip(height, 0.0, None) * clearness)


def hourly(first: date, days: int, zone: ZoneInfo, *, anchor_year: int, shift_k: float = 0.0) -> Weather:
    """Weather of invented dates: those of `anchor_year` lived through 2012, and so on, round again after 2015.

    Parameters
    ----------
    first : date
        First household day.
    days : int
        Whole household days.
    anchor_year : int
        Year that takes the weather of 2012; leap years take it twice on 29 February.
    shift_k : float
        Constant added to every temperature. [K]
    """
    dates = [first + timedelta(days=k) for k in range(-1, days + 1)]
    low, high, wind = np.array([_recorded_day(day, anchor_year) for day in dates]).T
    starts = np.array([midnight(day, zone) for day in dates])
    knot_d = np.column_stack([starts + COLDEST_HOUR / 24.0, starts + WARMEST_HOUR / 24.0]).ravel()
    air = PchipInterpolator(knot_d, np.column_stack([low, high]).ravel() + shift_k)
    day_edge_d = local_midnights(first, days, zone)
    hours = round((day_edge_d[-1] - day_edge_d[0]) * 24.0)
    edge_d = day_edge_d[0] + np.arange(hours + 1) / 24.0
    middle_d = edge_d[:-1] + 0.5 / 24.0
    day = np.clip(np.searchsorted(day_edge_d, middle_d, side="right") - 1, 0, days - 1)
    air_c = np.asarray(air(edge_d))
    hour_mean_c = (air_c[1:] + air_c[:-1]) / 2.0
    return Weather(
        edge_d=edge_d,
        air_c=air_c,
        sun_w_per_m2=_sun_w_per_m2(middle_d, (high - low)[1:-1][day], zone),
        wind_m_per_s=wind[1:-1][day],
        day_edge_d=day_edge_d,
        day_mean_c=np.bincount(day, hour_mean_c, days) / np.bincount(day, minlength=days),
    )
