"""A digester from first principles: a tank of slurry that gains and loses heat, and the life in it.

Heat: sun, wind-swept walls with insulation, ground, and the water that comes with the feed.
Life: scraps are hydrolysed to acids at an Arrhenius rate, methanogens grow on the acids (Monod, held back by
too much acid) at a rate that follows the cardinal temperature model of Rosso et al. (1993), and wash out.
In the cold the methanogens lag behind and acids pile up; in spring they catch up and the gas surges.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from models.units import Floats
from service.demo.weather import Weather

HEAT_CAPACITY_J_PER_M3_K = 4.18e6
METHANE_SM3_PER_KG_COD = 0.369  # 0.350 m3 at 0 °C, taken to 15 °C
ACID_CARBON_DIOXIDE_SM3_PER_KG_COD = 0.10
METHANOGENIC_CARBON_DIOXIDE_PER_METHANE = 0.42
COD_KG_PER_KG_VS = 1.4


@dataclass(frozen=True, slots=True, kw_only=True)
class Tank:
    """A tank of slurry as a lump of heat. `sun_m2` is the area that would take in all the sun the tank takes in."""

    liquid_m3: float
    insulation_m2k_per_w: float
    sun_m2: float
    ground_share: float
    heated_water_c: float | None = None  # warm water is added in some homes

    @property
    def surface_m2(self) -> float:
        return float(5.6 * self.liquid_m3 ** (2.0 / 3.0))


@dataclass(frozen=True, slots=True, kw_only=True)
class Microbes:
    """What lives in the tank; rates per day, concentrations in kg COD per m3 of slurry."""

    hydrolysis_per_d: float = 0.13  # at 35 °C
    activation_j_per_mol: float = 58_000.0
    growth_per_d: float = 0.36  # at the best temperature
    coldest_c: float = 1.0
    best_c: float = 37.0
    hottest_c: float = 46.0
    half_rate_acid: float = 0.6
    inhibiting_acid: float = 9.0
    yield_kg_per_kg: float = 0.06
    decay_per_d: float = 0.02  # at 35 °C
    washout_share: float = 0.35  # of the living matter that would leave if it did not settle
    degradable: float = 0.74
    ready_share: float = 0.22


@dataclass(frozen=True, slots=True, kw_only=True)
class Intake:
    """What goes into a tank, by hour: organic matter, the volume it displaces, and how warm it comes."""

    organic_kg: Floats
    volume_m3: Floats
    temperature_c: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class Gas:
    """Gas leaving the slurry by hour, dry at 15 °C and 101.325 kPa, and the slurry's temperature."""

    methane_sm3: Floats
    carbon_dioxide_sm3: Floats
    slurry_c: Floats


def _smoothed(series: Floats, days: float) -> Floats:
    keep = np.exp(-1.0 / (24.0 * days))
    value = float(np.mean(series[: 24 * 60]))
    out = []
    for x in series.tolist():
        value = keep * value + (1.0 - keep) * x
        out.append(value)
    return np.array(out)


def slurry_temperature_c(tank: Tank, weather: Weather, intake: Intake) -> Floats:
    """Slurry temperature at the end of every hour. [°C]"""
    air_c = (weather.air_c[1:] + weather.air_c[:-1]) / 2.0
    ground_c = _smoothed(air_c, 45.0)
    film = tank.surface_m2 / (tank.insulation_m2k_per_w + 1.0 / (6.0 + 4.0 * weather.wind_m_per_s))
    to_air, to_ground = film * (1.0 - tank.ground_share), tank.ground_share * tank.surface_m2 * 1.2
    per_watt = 3600.0 / (HEAT_CAPACITY_J_PER_M3_K * tank.liquid_m3)
    drive_k = per_watt * (to_air * air_c + to_ground * ground_c + tank.sun_m2 * weather.sun_w_per_m2)
    drive_k += intake.volume_m3 / tank.liquid_m3 * intake.temperature_c
    keep = 1.0 - per_watt * (to_air + to_ground) - intake.volume_m3 / tank.liquid_m3
    value, out = float(ground_c[0]) + 3.0, []
    for drive, share in zip(drive_k.tolist(), keep.tolist(), strict=True):
        value = value * share + drive
        out.append(value)
    return np.array(out)


def cardinal(temperature_c: Floats, microbes: Microbes) -> Floats:
    """Growth relative to the best, by the cardinal temperature model with inflection (Rosso et al. 1993)."""
    low, best, high = microbes.coldest_c, microbes.best_c, microbes.hottest_c
    t = np.clip(temperature_c, low, high)
    bottom = (best - low) * ((best - low) * (t - best) - (best - high) * (best + low - 2.0 * t))
    return np.asarray((t - high) * (t - low) ** 2 / bottom)


def _arrhenius(temperature_c: Floats, microbes: Microbes) -> Floats:
    kelvin = temperature_c + 273.15
    return np.exp(microbes.activation_j_per_mol / 8.314 * (1.0 / 308.15 - 1.0 / kelvin))


def digest(tank: Tank, microbes: Microbes, weather: Weather, intake: Intake) -> Gas:
    """Gas made by one tank, hour by hour, from a seeded start."""
    slurry_c = slurry_temperature_c(tank, weather, intake)
    warm = _arrhenius(slurry_c, microbes)
    hydrolysed, eaten = _live(microbes, warm, cardinal(slurry_c, microbes), _doses(tank, microbes, intake))
    methane = METHANE_SM3_PER_KG_COD * (1.0 - microbes.yield_kg_per_kg) * eaten * tank.liquid_m3
    dioxide = ACID_CARBON_DIOXIDE_SM3_PER_KG_COD * hydrolysed * tank.liquid_m3
    dioxide += METHANOGENIC_CARBON_DIOXIDE_PER_METHANE * methane
    # cold slurry holds more carbon dioxide, so the gas of winter is the richer one
    dioxide *= 1.0 - np.clip(0.008 * (30.0 - slurry_c), 0.0, 0.3)
    return Gas(methane_sm3=methane, carbon_dioxide_sm3=dioxide, slurry_c=slurry_c)


def _doses(tank: Tank, microbes: Microbes, intake: Intake) -> tuple[Floats, Floats]:
    """Degradable matter per hour [kg COD/m3], and the share of the slurry it pushes out."""
    degradable = intake.organic_kg * COD_KG_PER_KG_VS * microbes.degradable / tank.liquid_m3
    return degradable, intake.volume_m3 / tank.liquid_m3


def _live(microbes: Microbes, warm: Floats, growth: Floats, doses: tuple[Floats, Floats]) -> tuple[Floats, Floats]:
    """Matter hydrolysed and acid eaten in every hour. [kg COD/m3]"""
    half, inhibiting, made = microbes.half_rate_acid, microbes.inhibiting_acid, microbes.yield_kg_per_kg
    break_down = (microbes.hydrolysis_per_d / 24.0 * warm).tolist()
    appetite = (microbes.growth_per_d / 24.0 / made * growth).tolist()
    death = (microbes.decay_per_d / 24.0 * warm).tolist()
    ready, settle = microbes.ready_share, microbes.washout_share
    solids, acids, living = 8.0, 0.5, 1.2
    hydrolysed, eaten = [], []
    for k, (dose, pushed) in enumerate(zip(*(column.tolist() for column in doses), strict=True)):
        if dose or pushed:
            solids += dose * (1.0 - ready) - pushed * 0.6 * solids
            acids += dose * ready - pushed * acids
            living += 0.002 * dose - pushed * settle * living
        broken = break_down[k] * solids / (1.0 + acids / (2.0 * inhibiting))
        meal = min(appetite[k] * living * acids / (half + acids + acids * acids / inhibiting), 0.5 * acids)
        solids -= broken
        acids += broken - meal
        living += made * meal - death[k] * living
        hydrolysed.append(broken)
        eaten.append(meal)
    return np.array(hydrolysed), np.array(eaten)
