"""Invented households with their log and the truth behind it."""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

import numpy as np
import pandas as pd

from models.calendar import to_days
from models.units import Floats
from service.demo.description import describe, meal_document
from service.demo.diary import COLUMNS, Row, keep_diary, level_row
from service.demo.household_days import absences, step_time_d
from service.demo.life import Past, live
from service.demo.traits import Traits, demo_traits, draw_traits

WARM_UP_D = 240


@dataclass(frozen=True, slots=True, kw_only=True)
class World:
    """An invented household: what it says of itself, what it wrote down, and what really happened.

    `readings` are rows of the canonical long CSV. `truth` goes by household day: made_sm3, burned_sm3, vented_sm3,
    leaked_sm3, level_start_sm3, level_end_sm3, methane_fraction, slurry_c (first tank), air_mean_c. `kitchen` has
    a row for every serving wanted: start_d, meal (empty for tea), wanted_mj, burned_sm3, burned_min, on_gas
    (cooked on it to the end), carried (so, or it would have been, had the cook not misjudged the bag).
    """

    description: dict[str, Any]
    meals: list[dict[str, Any]]
    overrides: list[dict[str, Any]]
    readings: list[Row]
    truth: pd.DataFrame
    kitchen: pd.DataFrame


def to_csv(readings: list[Row]) -> str:
    """The log as the text of a CSV file."""
    out = io.StringIO()
    writer = csv.DictWriter(out, COLUMNS, lineterminator="\n")
    writer.writeheader()
    writer.writerows(readings)
    return out.getvalue()


def draw_world(seed: int, days: int = 1096, end: date | None = None) -> World:
    """A household drawn at large.

    Parameters
    ----------
    seed : int
        Same seed, same household and log.
    days : int
        Whole household days of log.
    end : date, optional
        Last of them; drawn when left out, so that logs end in every season.
    """
    rng = np.random.default_rng(seed)
    traits = draw_traits(rng)
    last = end or date(2024, 1, 1) + timedelta(days=int(rng.integers(0, 730)))
    return imagine(traits, last - timedelta(days=days - 1), days, rng)


def imagine(traits: Traits, first: date, days: int, rng: np.random.Generator) -> World:
    """A household of given traits, with a log of whole days from `first` on."""
    past = live(traits, first - timedelta(days=WARM_UP_D), WARM_UP_D + days, rng)
    return _world(past, [line for _, line in _kept(past, rng)])


def demo_world(now: datetime) -> World:
    """The one household of `kettlecast demo`: three to four years of log, ended at `now` by a look at the gauge."""
    traits = demo_traits(now.year)
    today, now_d = now.astimezone(traits.zone).date(), to_days(now)
    first = date(today.year - 3, 1, 1)
    rng = np.random.default_rng(20)
    past = live(traits, first - timedelta(days=WARM_UP_D), WARM_UP_D + (today - first).days + 1, rng)
    lines = [(time_d, line) for time_d, line in _kept(past, rng) if time_d < now_d - 1.0 / 24.0]
    last_look = level_row(past, max(now_d - 0.5 / 24.0, past.days.start_d[-1]), rng)
    return _world(past, [line for _, line in [*lines, last_look]], whole_days=len(past.days.dates) - 1)


def _kept(past: Past, rng: np.random.Generator) -> list[tuple[float, Row]]:
    return [(time_d, line) for time_d, line in keep_diary(past, rng) if time_d >= past.days.start_d[WARM_UP_D]]


def _world(past: Past, readings: list[Row], whole_days: int | None = None) -> World:
    first = past.days.dates[WARM_UP_D]
    return World(
        description=describe(past.traits),
        meals=[meal_document(habit, first) for habit in past.traits.cook.habits],
        overrides=[
            {"from": start.isoformat(), "to": end.isoformat()} for start, end in absences(past.days) if start >= first
        ],
        readings=readings,
        truth=_truth(past).iloc[WARM_UP_D:whole_days],
        kitchen=_kitchen(past),
    )


def _truth(past: Past) -> pd.DataFrame:
    edge_d, walk = past.weather.day_edge_d, past.walk

    def by_day(series: Floats) -> Floats:
        return np.diff(past.at(edge_d, np.cumsum(series)), prepend=0.0)[1:]

    slurry_c = np.interp((edge_d[1:] + edge_d[:-1]) / 2.0, past.weather.edge_d[1:], past.gases[0].slurry_c)
    return pd.DataFrame(
        {
            "made_sm3": by_day(past.made_sm3),
            "burned_sm3": by_day(walk.burned_sm3),
            "vented_sm3": by_day(walk.vented_sm3),
            "leaked_sm3": by_day(walk.leaked_sm3),
            "level_start_sm3": past.at(edge_d[:-1], walk.level_sm3),
            "level_end_sm3": past.at(edge_d[1:], walk.level_sm3),
            "methane_fraction": past.at((edge_d[1:] + edge_d[:-1]) / 2.0, walk.methane),
            "slurry_c": slurry_c,
            "air_mean_c": past.weather.day_mean_c,
        },
        index=pd.Index(past.days.dates, name="date"),
    )


def _kitchen(past: Past) -> pd.DataFrame:
    begun = [one for one in past.servings if step_time_d(past.days, one.step) >= past.days.start_d[WARM_UP_D]]
    return pd.DataFrame(
        {
            "start_d": [step_time_d(past.days, one.step) for one in begun],
            "meal": [one.meal for one in begun],
            "wanted_mj": [one.wanted_mj for one in begun],
            "burned_sm3": [one.burned_sm3 for one in begun],
            "burned_min": [one.burned_min for one in begun],
            "on_gas": [one.short_mj == 0.0 for one in begun],
            "carried": [one.carried for one in begun],
        }
    )
