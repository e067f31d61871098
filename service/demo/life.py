"""An invented household lived from end to end: weather, feed, digestion, and a stove and bag sized to the gas."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date

import numpy as np

from models.units import Floats
from service.demo import weather as skies
from service.demo.digestion import Gas, digest
from service.demo.holder import (
    STEP_MIN,
    STEPS_PER_HOUR,
    Kitchen,
    Serving,
    Supply,
    Walk,
    air_pressure_pa,
    dry_per_wet,
    usual_flow_sm3_per_min,
    walk,
)
from service.demo.household_days import Days, Feed, feed_days, household_days, intake, servings
from service.demo.traits import Cook, Traits
from service.demo.weather import Weather

FULL_SUN_W_PER_M2 = 800.0
DINNER_SM3 = (0.10, 0.40)


@dataclass(frozen=True, slots=True, kw_only=True)
class Past:
    """Everything that happened; series go by ten-minute step unless they say otherwise."""

    traits: Traits
    days: Days
    weather: Weather
    feeds: tuple[Feed, ...]
    gases: tuple[Gas, ...]  # by hour
    made_sm3: Floats
    gas_c: Floats
    servings: list[Serving]
    walk: Walk

    @property
    def pressure_pa(self) -> float:
        return air_pressure_pa(skies.ALTITUDE_M) + self.traits.bag.gauge_pa

    def at(self, time_d: Floats | float, series: Floats) -> Floats:
        """A series of step ends, read at any moment."""
        position = np.clip(
            (np.asarray(time_d) - self.days.start_d[0]) * 1440.0 / STEP_MIN - 1.0, 0.0, len(series) - 1.0
        )
        before = np.minimum(position.astype(int), len(series) - 2)
        share = position - before
        return np.asarray((1.0 - share) * series[before] + share * series[before + 1])


def live(traits: Traits, first: date, count: int, rng: np.random.Generator) -> Past:
    """Live `count` household days from `first` on.

    The digester is fed and left to work first; what it makes decides the bag that was bought and the meals
    that are cooked, so that gas is short in the cold and vented in the warm.
    """
    sky = skies.hourly(first, count, traits.zone, anchor_year=traits.anchor_year, shift_k=traits.shift_k)
    days = household_days(first, sky, traits.cook, rng)
    feeds = tuple(feed_days(fed, days, traits.winter_rest, rng) for fed in traits.fed)
    gases = tuple(
        digest(fed.tank, fed.microbes, sky, intake(fed, feed, sky, rng))
        for fed, feed in zip(traits.fed, feeds, strict=True)
    )
    traits = suited(traits, gases, rng)
    supply = _supply(traits, sky, gases)
    wanted = servings(traits.cook, days, rng)
    kitchen = Kitchen(
        cook=traits.cook, bag=traits.bag, air_pa=air_pressure_pa(skies.ALTITUDE_M), supply=supply, servings=wanted
    )
    walked = walk(kitchen, traits.bag.leak_per_d, start_sm3=0.5 * float(supply.room_sm3[0]), start_methane=0.6)
    return Past(
        traits=traits,
        days=days,
        weather=sky,
        feeds=feeds,
        gases=gases,
        made_sm3=supply.made_sm3,
        gas_c=supply.gas_c,
        servings=wanted,
        walk=walked,
    )


def suited(traits: Traits, gases: tuple[Gas, ...], rng: np.random.Generator) -> Traits:
    """Traits with the bag, the meals and the stated methane suited to the gas that is made, where they are open."""
    hourly = np.sum([gas.methane_sm3 + gas.carbon_dioxide_sm3 for gas in gases], axis=0)
    daily = hourly[: len(hourly) // 24 * 24].reshape(-1, 24).sum(axis=1)
    methane = float(np.sum([gas.methane_sm3 for gas in gases]) / hourly.sum())
    if traits.bag.capacity_m3 == 0.0:
        size = float(np.clip(np.quantile(daily, 0.85) / 0.95 * rng.uniform(0.5, 1.5), rng.uniform(0.5, 0.9), 1.6))
        middle = round(float(rng.uniform(0.44, 0.56)) * size, 2)
        points = ((0.0, 0.0), (50.0, middle), (100.0, round(size, 2)))
        traits = replace(traits, bag=replace(traits.bag, capacity_m3=round(size, 2), gauge_points=points))
    if traits.cook.appetite:
        need = float(np.median(daily)) * traits.cook.appetite
        traits = replace(traits, cook=_sized(traits.cook, need, traits.bag.gauge_pa))
    if traits.stated_methane_pct == 0.0:
        traits = replace(traits, stated_methane_pct=float(round(100.0 * methane + rng.normal(0.0, 2.0))))
    return traits


def _sized(cook: Cook, need_sm3_per_d: float, gauge_pa: float) -> Cook:
    """The cook's flame minutes stretched so that an average day takes what is given."""
    flow = usual_flow_sm3_per_min(cook, air_pressure_pa(skies.ALTITUDE_M), gauge_pa)
    dinner, *others = (meal.flame_min * meal.flame_fraction * len(meal.weekdays) / 7.0 * flow for meal in cook.habits)
    least, most = DINNER_SM3[0] / dinner, DINNER_SM3[1] / dinner
    first = float(np.clip(need_sm3_per_d / (dinner + sum(others)), least, most))
    rest = float(np.clip((need_sm3_per_d - first * dinner) / sum(others), 0.4, 3.0)) if others else first
    return replace(
        cook,
        habits=tuple(
            replace(meal, flame_min=float(max(round(meal.flame_min * (rest if number else first)), 4)))
            for number, meal in enumerate(cook.habits)
        ),
    )


def _supply(traits: Traits, sky: Weather, gases: tuple[Gas, ...]) -> Supply:
    methane = np.sum([gas.methane_sm3 for gas in gases], axis=0)
    dioxide = np.sum([gas.carbon_dioxide_sm3 for gas in gases], axis=0)
    middle_d = sky.edge_d[0] + (np.arange(len(methane) * STEPS_PER_HOUR) + 0.5) * STEP_MIN / 1440.0
    sun = np.interp(middle_d, sky.edge_d[:-1] + 0.5 / 24.0, sky.sun_w_per_m2)
    gas_c = sky.air_at(middle_d) + traits.bag.sun_k * sun / FULL_SUN_W_PER_M2
    pressure = air_pressure_pa(skies.ALTITUDE_M) + traits.bag.gauge_pa
    return Supply(
        made_sm3=np.repeat((methane + dioxide) / STEPS_PER_HOUR, STEPS_PER_HOUR),
        made_methane_sm3=np.repeat(methane / STEPS_PER_HOUR, STEPS_PER_HOUR),
        room_sm3=traits.bag.capacity_m3 * dry_per_wet(gas_c, pressure),
        gas_c=gas_c,
    )
