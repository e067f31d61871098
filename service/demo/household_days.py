"""The household's days: who is away, what is fed and what is to be cooked, before any gas is made or burned."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from models.units import Bools, Floats, Ints
from service.demo.digestion import Intake
from service.demo.holder import STEP_MIN, STEPS_PER_HOUR, Serving
from service.demo.traits import Cook, Fed, Habit
from service.demo.weather import Weather

FEASTS = ((1, 1), (5, 1), (10, 31), (12, 24), (12, 25), (12, 31))
TEA_MIN = (3.0, 8.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Days:
    """Household days with what marks each: `feast` and `away` are true or false by day."""

    dates: tuple[date, ...]
    start_d: Floats
    feast: Bools
    away: Bools


@dataclass(frozen=True, slots=True, kw_only=True)
class Feed:
    """What was fed to one tank, by day: fresh mass, water and the moment. [kg], [L], [d]"""

    kg: Floats
    water_l: Floats
    time_d: Floats


def household_days(first: date, weather: Weather, cook: Cook, rng: np.random.Generator) -> Days:
    """Days with feasts on the calendar and holidays away drawn at random."""
    count = len(weather.day_edge_d) - 1
    dates = tuple(first + timedelta(days=k) for k in range(count))
    away = np.zeros(count, dtype=bool)
    for start in np.flatnonzero(rng.random(count) < cook.holidays_per_year / 365.0):
        away[start : start + int(rng.integers(4, 15))] = True
    feast = np.array([(day.month, day.day) in FEASTS for day in dates])
    return Days(dates=dates, start_d=weather.day_edge_d[:-1], feast=feast, away=away)


def absences(days: Days) -> list[tuple[date, date]]:
    """First and last day of every holiday away."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], days.away, [False]]).astype(int)))
    return [(days.dates[a], days.dates[b - 1]) for a, b in edges.reshape(-1, 2)]


def feed_days(fed: Fed, days: Days, winter_rest: bool, rng: np.random.Generator) -> Feed:
    """What one tank is fed on each day."""
    feeding, count = fed.feeding, len(days.dates)
    weekday = np.array([feeding.weekday[day.weekday()] for day in days.dates])
    kg = feeding.mean_kg_per_d * weekday * rng.lognormal(-(feeding.spread**2) / 2, feeding.spread, count)
    kg = np.where(days.feast, kg * rng.uniform(1.3, 2.2, count), kg)
    resting = np.array([winter_rest and day.month in (1, 2) for day in days.dates])
    kg[days.away | resting | (rng.random(count) < feeding.gap_odds)] = 0.0
    kg = np.round(kg * 2.0) / 2.0
    time_d = days.start_d + (feeding.hour + rng.normal(0.0, 0.5, count)) / 24.0
    return Feed(kg=kg, water_l=np.round(kg * feeding.water_l_per_kg), time_d=time_d)


def intake(fed: Fed, feed: Feed, weather: Weather, rng: np.random.Generator) -> Intake:
    """The feed as the tank meets it, by hour; no two buckets hold the same."""
    hours = len(weather.edge_d) - 1
    hour = np.clip(((feed.time_d - weather.edge_d[0]) * 24.0).astype(int), 0, hours - 1)
    organic = feed.kg * fed.feeding.organic_share * rng.lognormal(-0.01, 0.15, len(feed.kg))
    tap_c = np.interp(weather.edge_d[:-1], weather.day_edge_d[:-1], weather.day_mean_c) * 0.5 + 6.0
    water_c = np.full(hours, fed.tank.heated_water_c) if fed.tank.heated_water_c else tap_c
    return Intake(
        organic_kg=_by_hour(hour, organic, hours),
        volume_m3=_by_hour(hour, (feed.kg + feed.water_l) / 1000.0, hours),
        temperature_c=water_c,
    )


def _by_hour(hour: Ints, amount: Floats, hours: int) -> Floats:
    return np.asarray(np.bincount(hour, amount, hours), dtype=float)


def servings(cook: Cook, days: Days, rng: np.random.Generator) -> list[Serving]:
    """Everything that will be wanted from the stove, in time order."""
    wanted = [one for habit in cook.habits for one in _meals(habit, cook, days, rng)]
    wanted += _teas(cook, days, rng)
    return sorted(wanted, key=lambda one: one.step)


def _step(days: Days, day: int, hour: float) -> int:
    return round((float(days.start_d[day] - days.start_d[0]) * 24.0 + hour) * STEPS_PER_HOUR)


def _meals(habit: Habit, cook: Cook, days: Days, rng: np.random.Generator) -> list[Serving]:
    out = []
    for k, day in enumerate(days.dates):
        if day.weekday() not in habit.weekdays or days.away[k] or rng.random() < habit.skip_odds:
            continue
        factor = float(rng.lognormal(-(cook.spread**2) / 2, cook.spread))
        if days.feast[k] or rng.random() < cook.guest_odds:
            factor *= float(rng.uniform(1.3, 1.8))
        hour = float(np.clip(habit.hour + rng.normal(0.0, 0.35), 5.0, 22.0))
        out.append(_serving(habit.name, _step(days, k, hour), habit.flame_min * factor, habit.flame_fraction, rng))
    return out


def _teas(cook: Cook, days: Days, rng: np.random.Generator) -> list[Serving]:
    out = []
    for k, count in enumerate(rng.poisson(cook.tea_per_d, len(days.dates)).tolist()):
        for _ in range(0 if days.away[k] else count):
            step = _step(days, k, float(rng.uniform(6.5, 22.0)))
            out.append(_serving("", step, float(rng.uniform(*TEA_MIN)), 1.0, rng))
    return out


def _serving(meal: str, step: int, minutes: float, flame_fraction: float, rng: np.random.Generator) -> Serving:
    return Serving(
        meal=meal,
        step=step,
        minutes=minutes,
        flame_fraction=flame_fraction,
        glance_error=float(rng.normal(0.0, 0.04)),
        daring=float(rng.uniform(0.6, 1.1)),
    )


def step_time_d(days: Days, step: int) -> float:
    """Moment at which a step begins. [d]"""
    return float(days.start_d[0]) + step * STEP_MIN / 1440.0
