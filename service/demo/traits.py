"""What an invented household is really like; its own description knows some of that, and not all of it rightly."""

from __future__ import annotations

from dataclasses import dataclass, replace
from zoneinfo import ZoneInfo

import numpy as np

from service.demo.digestion import Microbes, Tank


@dataclass(frozen=True, slots=True, kw_only=True)
class Feeding:
    """How one tank is fed. `weekday` are seven factors, Monday first."""

    feedstock: str
    mean_kg_per_d: float
    organic_share: float  # kg of organic matter per kg fresh
    water_l_per_kg: float
    spread: float
    weekday: tuple[float, ...]
    gap_odds: float
    hour: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Fed:
    """A tank, the life in it and how it is fed."""

    name: str
    tank: Tank
    microbes: Microbes
    feeding: Feeding


@dataclass(frozen=True, slots=True, kw_only=True)
class Bag:
    """The gas holder as it is; no capacity means that it is still to be chosen.

    `sun_k` is how far full sun lifts the gas above the air.
    """

    capacity_m3: float
    gauge_pa: float
    leak_per_d: float
    sun_k: float
    gauge_points: tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Habit:
    """One meal as the household means to cook it, and how it really goes."""

    name: str
    weekdays: tuple[int, ...]  # Monday is 0
    hour: float
    flame_min: float
    flame_fraction: float
    skip_odds: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Cook:
    """The cook: meals, moods and what is forgotten."""

    habits: tuple[Habit, ...]
    spread: float
    guest_odds: float
    tea_per_d: float
    unlogged_odds: float
    minute_step: int
    heat_input_kw: float  # as stated, on the stated gas and pressure
    stated_methane: float
    stated_gauge_pa: float
    rating_error: float  # true over stated heat input
    appetite: float  # usual need over the digester's median day; 0 keeps the minutes as they are
    holidays_per_year: float
    backup_logged_odds: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Diary:
    """What is written down, how often and how well; a quantity never logged has odds or an interval of zero."""

    level_unit: str
    level_sd: float  # of capacity
    level_step_pct: float
    level_gain: float
    stated_error_pct: float
    looks_per_d: float  # one to two by eye; from three on a sensor looks, evenly round the clock
    any_hour: bool  # looked at when passing by, not at morning and evening
    missed_day_odds: float
    typo_odds: float
    slurry_every_d: float
    outside_wall: bool
    ambient_odds: float
    feed_odds: float
    methane_every_d: float
    venting_odds: float
    outlet_meter: bool
    stove_meter: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Traits:
    """An invented household, whole."""

    label: str
    zone: ZoneInfo
    shift_k: float
    anchor_year: int
    fed: tuple[Fed, ...]
    bag: Bag
    cook: Cook
    diary: Diary
    winter_rest: bool
    stated_methane_pct: float  # 0 while still to be found out, negative where it is never told


FEEDSTOCKS = {"kitchen scraps": 0.21, "garden cuttings": 0.20, "cattle dung": 0.13}
"""Feedstocks of the invented households with their usual organic share, kg per kg fresh."""
LABELS = ("An invented farmhouse", "An invented cottage", "An invented mill", "An invented lodge")
ZONES = ("America/Los_Angeles", "Europe/Lisbon", "Europe/Berlin")


def draw_traits(rng: np.random.Generator) -> Traits:
    """A household drawn at large; its meals and holder are sized later to the gas it turns out to make."""
    water = 40.0 if rng.random() < 0.12 else None
    first = _fed(rng, "tank", "kitchen scraps" if rng.random() < 0.75 else "cattle dung", water)
    second = (_fed(rng, "drum", "garden cuttings", None),) if rng.random() < 0.2 else ()
    return Traits(
        label=str(rng.choice(LABELS)),
        zone=ZoneInfo(str(rng.choice(ZONES))),
        shift_k=round(float(rng.uniform(-1.0, 5.0)), 1),
        anchor_year=2012 + int(rng.integers(4)),
        fed=(first, *second),
        bag=_bag(rng),
        cook=_cook(rng),
        diary=_diary(rng),
        winter_rest=bool(rng.random() < 0.15),
        stated_methane_pct=0.0 if rng.random() < 0.7 else -1.0,
    )


def _fed(rng: np.random.Generator, name: str, feedstock: str, heated_water_c: float | None) -> Fed:
    liquid = float(rng.uniform(0.6, 1.6))
    feed = float(np.clip(liquid * rng.uniform(3.5, 7.0) * 0.2 / FEEDSTOCKS[feedstock], 2.5, 8.0))
    weekday = rng.lognormal(0.0, 0.25, 7)
    return Fed(
        name=name,
        tank=Tank(
            liquid_m3=round(liquid, 2),
            insulation_m2k_per_w=float(rng.uniform(0.2, 0.8)),
            sun_m2=float(rng.uniform(0.15, 0.4)),
            ground_share=float(rng.uniform(0.05, 0.25)),
            heated_water_c=heated_water_c,
        ),
        microbes=Microbes(
            growth_per_d=float(rng.uniform(0.30, 0.38)),
            coldest_c=float(rng.uniform(1.5, 3.5)),
            activation_j_per_mol=float(rng.uniform(56_000.0, 70_000.0)),
            hydrolysis_per_d=float(rng.uniform(0.09, 0.16)),
            washout_share=float(rng.uniform(0.25, 0.45)),
            degradable=float(rng.uniform(0.6, 0.8)),
            ready_share=float(rng.uniform(0.15, 0.35)),
        ),
        feeding=Feeding(
            feedstock=feedstock,
            mean_kg_per_d=feed,
            organic_share=FEEDSTOCKS[feedstock] * float(rng.uniform(0.85, 1.15)),
            water_l_per_kg=float(rng.uniform(1.0, 2.0)),
            spread=float(rng.uniform(0.2, 0.5)),
            weekday=tuple((weekday / weekday.mean()).tolist()),
            gap_odds=float(rng.uniform(0.02, 0.12)),
            hour=float(rng.choice([8.5, 14.0, 20.5])),
        ),
    )


def _bag(rng: np.random.Generator) -> Bag:
    return Bag(
        capacity_m3=0.0,
        gauge_pa=float(rng.uniform(400.0, 900.0)),
        leak_per_d=float(rng.uniform(0.0, 0.02)),
        sun_k=float(rng.uniform(0.0, 3.0)),
        gauge_points=(),
    )


def _cook(rng: np.random.Generator) -> Cook:
    return Cook(
        habits=_habits(rng),
        spread=float(rng.uniform(0.12, 0.25)),
        guest_odds=float(rng.uniform(0.03, 0.1)),
        tea_per_d=float(rng.uniform(0.0, 0.8)),
        unlogged_odds=float(rng.uniform(0.05, 0.15)),
        minute_step=int(rng.choice([1, 5, 5, 5])),
        heat_input_kw=round(float(rng.uniform(1.6, 3.0)), 1),
        stated_methane=round(float(rng.uniform(0.57, 0.63)), 2),
        stated_gauge_pa=float(rng.choice([600.0, 800.0])),
        rating_error=float(rng.uniform(0.9, 1.1)),
        appetite=float(rng.uniform(0.9, 1.4)),
        holidays_per_year=float(rng.uniform(0.0, 3.0)),
        backup_logged_odds=float(rng.uniform(0.2, 0.9)),
    )


def _habits(rng: np.random.Generator) -> tuple[Habit, ...]:
    week, weekend, whole = (0, 1, 2, 3, 4), (5, 6), (0, 1, 2, 3, 4, 5, 6)
    skip = rng.uniform(0.02, 0.14, 4)
    meals = [Habit(name="dinner", weekdays=whole, hour=19.0, flame_min=38, flame_fraction=1.0, skip_odds=skip[0])]
    if rng.random() < 0.8:
        meals.append(
            Habit(name="breakfast", weekdays=week, hour=7.5, flame_min=10, flame_fraction=1.0, skip_odds=skip[1])
        )
        meals.append(
            Habit(
                name="late breakfast", weekdays=weekend, hour=9.5, flame_min=18, flame_fraction=1.0, skip_odds=skip[2]
            )
        )
    if rng.random() < 0.6:
        days = whole if rng.random() < 0.6 else weekend
        meals.append(
            Habit(name="lunch", weekdays=days, hour=12.5, flame_min=22, flame_fraction=0.75, skip_odds=skip[3])
        )
    shift = rng.choice([-0.5, 0.0, 0.5], len(meals))
    return tuple(replace(meal, hour=meal.hour + float(by)) for meal, by in zip(meals, shift, strict=True))


def _diary(rng: np.random.Generator) -> Diary:
    return Diary(
        level_unit=str(rng.choice(["%", "%", "%", "%", "m3", "L"])),
        level_sd=float(rng.uniform(0.02, 0.06)),
        level_step_pct=float(rng.choice([1.0, 5.0, 5.0])),
        level_gain=float(rng.normal(1.0, 0.01)),
        stated_error_pct=4.0,
        looks_per_d=float(rng.uniform(1.0, 2.0)),
        any_hour=bool(rng.random() < 0.25),
        missed_day_odds=float(rng.uniform(0.02, 0.2)),
        typo_odds=float(rng.choice([0.0, 0.0, 0.004])),
        slurry_every_d=float(rng.choice([0.0, 3.0, 4.0, 6.0, 6.0])),
        outside_wall=bool(rng.random() < 0.25),
        ambient_odds=float(rng.choice([0.0, 0.5, 0.8, 0.9])),
        feed_odds=float(rng.choice([0.0, 0.8, 0.9, 0.95])),
        methane_every_d=float(rng.choice([0.0, 0.0, 20.0, 45.0])),
        venting_odds=float(rng.choice([0.0, 0.2, 0.5])),
        outlet_meter=bool(rng.random() < 0.12),
        stove_meter=bool(rng.random() < 0.12),
    )


def demo_traits(last_year: int) -> Traits:
    """The fixed household of `kettlecast demo`, whose log ends in `last_year`."""
    fed = Fed(
        name="tank",
        tank=Tank(liquid_m3=0.85, insulation_m2k_per_w=0.6, sun_m2=0.3, ground_share=0.12),
        microbes=Microbes(growth_per_d=0.33, coldest_c=2.5, activation_j_per_mol=64_000.0),
        feeding=Feeding(
            feedstock="kitchen scraps",
            mean_kg_per_d=5.5,
            organic_share=0.21,
            water_l_per_kg=1.5,
            spread=0.35,
            weekday=(0.8, 0.9, 1.0, 0.9, 1.0, 1.1, 1.3),
            gap_odds=0.06,
            hour=20.5,
        ),
    )
    return Traits(
        label="An invented cottage",
        zone=ZoneInfo("America/Los_Angeles"),
        shift_k=0.0,
        anchor_year=last_year - 3,
        fed=(fed,),
        bag=Bag(
            capacity_m3=0.9,
            gauge_pa=600.0,
            leak_per_d=0.005,
            sun_k=1.5,
            gauge_points=((0.0, 0.0), (50.0, 0.42), (100.0, 0.9)),
        ),
        cook=_demo_cook(),
        diary=_demo_diary(),
        winter_rest=False,
        stated_methane_pct=62.0,
    )


def _demo_cook() -> Cook:
    week, weekend, whole = (0, 1, 2, 3, 4), (5, 6), (0, 1, 2, 3, 4, 5, 6)
    return Cook(
        habits=(
            Habit(name="dinner", weekdays=whole, hour=19.0, flame_min=50.0, flame_fraction=1.0, skip_odds=0.06),
            Habit(name="breakfast", weekdays=week, hour=7.5, flame_min=10.0, flame_fraction=1.0, skip_odds=0.05),
            Habit(
                name="late breakfast", weekdays=weekend, hour=9.5, flame_min=16.0, flame_fraction=1.0, skip_odds=0.08
            ),
            Habit(name="lunch", weekdays=whole, hour=13.0, flame_min=25.0, flame_fraction=0.8, skip_odds=0.1),
        ),
        spread=0.15,
        guest_odds=0.06,
        tea_per_d=0.3,
        unlogged_odds=0.08,
        minute_step=5,
        heat_input_kw=2.2,
        stated_methane=0.6,
        stated_gauge_pa=800.0,
        rating_error=1.04,
        appetite=0.0,
        holidays_per_year=1.0,
        backup_logged_odds=0.7,
    )


def _demo_diary() -> Diary:
    return Diary(
        level_unit="%",
        level_sd=0.035,
        level_step_pct=5.0,
        level_gain=1.0,
        stated_error_pct=4.0,
        looks_per_d=1.6,
        any_hour=False,
        missed_day_odds=0.06,
        typo_odds=0.002,
        slurry_every_d=4.0,
        outside_wall=False,
        ambient_odds=0.8,
        feed_odds=0.92,
        methane_every_d=30.0,
        venting_odds=0.4,
        outlet_meter=False,
        stove_meter=False,
    )
