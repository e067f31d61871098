"""The bag and the kitchen walked together in ten-minute steps: gas made, leaked, cooked with and, when full, vented."""

from __future__ import annotations

from dataclasses import dataclass, field
from math import exp, sqrt

import numpy as np

from models.units import Floats
from service.demo.traits import Bag, Cook

STEP_MIN = 10.0
STEPS_PER_HOUR = 6
METHANE_MJ_PER_SM3 = 34.01
GAS_CONSTANT = 8.314
POOREST_FLAME = 0.3  # methane fraction below which the flame lifts off and goes out


def vapour_pa(temperature_c: Floats | float) -> Floats:
    """Water vapour above water, Buck's equation (1996). [Pa]"""
    t = np.asarray(temperature_c, dtype=float)
    return np.asarray(611.21 * np.exp((18.678 - t / 234.5) * t / (257.14 + t)))


def dry_per_wet(temperature_c: Floats | float, pressure_pa: float) -> Floats:
    """Dry gas at 15 °C and 101.325 kPa in a volume of saturated gas. [sm3/m3]"""
    kelvin = np.asarray(temperature_c, dtype=float) + 273.15
    return np.asarray((pressure_pa - vapour_pa(temperature_c)) / 101_325.0 * 288.15 / kelvin)


def air_pressure_pa(altitude_m: float) -> float:
    """Pressure of the standard atmosphere. [Pa]"""
    return float(101_325.0 * (1.0 - 2.25577e-5 * altitude_m) ** 5.25588)


@dataclass(frozen=True, slots=True, kw_only=True)
class Injector:
    """A burner's injector as Bernoulli has it: flow = bore · √(2 Δp / ρ)."""

    bore_m2: float

    def flow_sm3_per_min(self, methane: float, temperature_c: float, air_pa: float, gauge_pa: float) -> float:
        """Dry gas drawn from saturated gas at a temperature, full flame."""
        pressure = air_pa + gauge_pa
        moist = 611.21 * exp((18.678 - temperature_c / 234.5) * temperature_c / (257.14 + temperature_c)) / pressure
        mass = (1.0 - moist) * (16.043 * methane + 44.01 * (1.0 - methane)) + moist * 18.015
        density = pressure * mass / 1000.0 / (GAS_CONSTANT * (temperature_c + 273.15))
        wet = self.bore_m2 * sqrt(2.0 * gauge_pa / density)
        return wet * 60.0 * (1.0 - moist) * pressure / 101_325.0 * 288.15 / (temperature_c + 273.15)


def injector(cook: Cook) -> Injector:
    """The bore that gives the cook's true heat input on dry gas of the stated kind at 15 °C and sea level."""
    pressure = 101_325.0 + cook.stated_gauge_pa
    mass = 16.043 * cook.stated_methane + 44.01 * (1.0 - cook.stated_methane)
    density = pressure * mass / 1000.0 / (GAS_CONSTANT * 288.15)
    speed = sqrt(2.0 * cook.stated_gauge_pa / density)
    heat_per_m3 = pressure / 101_325.0 * cook.stated_methane * METHANE_MJ_PER_SM3
    true_kw = cook.heat_input_kw * cook.rating_error
    return Injector(bore_m2=true_kw / 1000.0 / heat_per_m3 / speed)


def usual_flow_sm3_per_min(cook: Cook, air_pa: float, gauge_pa: float) -> float:
    """Flow of a full flame on the stated gas, at the holder's pressure and 15 °C."""
    return injector(cook).flow_sm3_per_min(cook.stated_methane, 15.0, air_pa, gauge_pa)


@dataclass(slots=True, kw_only=True)
class Serving:
    """One use of the stove: wanted beforehand, and filled in as it happens; `held_mj` was in the bag to begin with."""

    meal: str
    step: int
    minutes: float  # of flame on gas of the stated kind at the holder's pressure
    flame_fraction: float
    glance_error: float  # of capacity, when the cook looks whether the gas will do
    daring: float  # below one the cook begins on gas that may not do
    wanted_mj: float = 0.0
    held_mj: float = 0.0
    left_mj: float = 0.0
    burned_min: float = 0.0
    burned_sm3: float = 0.0
    short_mj: float = 0.0

    @property
    def carried(self) -> bool:
        """Whether gas carried it whole, or would have, had the cook not misjudged the bag and left it to the backup."""
        return self.short_mj == 0.0 or (self.burned_min == 0.0 and self.held_mj >= self.wanted_mj)


@dataclass(frozen=True, slots=True, kw_only=True)
class Supply:
    """What the walk is given, by ten-minute step; the bag's `room_sm3` is its capacity at that step's warmth."""

    made_sm3: Floats
    made_methane_sm3: Floats
    room_sm3: Floats
    gas_c: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class Walk:
    """What happened, by ten-minute step: `level_sm3` at its end, the others within it, and methane at its end."""

    level_sm3: Floats
    burned_sm3: Floats
    vented_sm3: Floats
    leaked_sm3: Floats
    methane: Floats


@dataclass(slots=True, kw_only=True)
class Kitchen:
    """The stove in use: decides on gas or backup, and draws what the flames take."""

    cook: Cook
    bag: Bag
    air_pa: float
    supply: Supply
    servings: list[Serving]
    waiting: dict[int, list[Serving]] = field(default_factory=dict)
    alight: list[Serving] = field(default_factory=list)
    jet: Injector = field(init=False)
    usual_mj_per_min: float = field(init=False)

    def __post_init__(self) -> None:
        self.jet = injector(self.cook)
        flow = usual_flow_sm3_per_min(self.cook, self.air_pa, self.bag.gauge_pa)
        self.usual_mj_per_min = flow * self.cook.stated_methane * METHANE_MJ_PER_SM3
        for serving in self.servings:
            self.waiting.setdefault(serving.step, []).append(serving)

    def draw(self, step: int, level: float, methane: float) -> float:
        """Gas burned in one step out of what the bag holds. [sm3]"""
        for serving in self.waiting.get(step, ()):
            self._light(serving, level, methane)
        burned = 0.0
        flow = self.jet.flow_sm3_per_min(methane, float(self.supply.gas_c[step]), self.air_pa, self.bag.gauge_pa)
        for serving in list(self.alight):
            burned += self._burn(serving, level - burned, flow, methane * METHANE_MJ_PER_SM3)
        return burned

    def _light(self, serving: Serving, level: float, methane: float) -> None:
        serving.wanted_mj = serving.left_mj = serving.minutes * serving.flame_fraction * self.usual_mj_per_min
        mj_per_sm3 = methane * METHANE_MJ_PER_SM3
        serving.held_mj = level * mj_per_sm3 if methane >= POOREST_FLAME else 0.0
        glance_mj = serving.glance_error * float(self.supply.room_sm3[serving.step]) * mj_per_sm3
        if methane < POOREST_FLAME or serving.held_mj + glance_mj < serving.daring * serving.wanted_mj:
            serving.short_mj = serving.wanted_mj
        else:
            self.alight.append(serving)

    def _burn(self, serving: Serving, held: float, flow: float, mj_per_sm3: float) -> float:
        pace = flow * serving.flame_fraction
        minutes = min(STEP_MIN, serving.left_mj / (pace * mj_per_sm3))
        gas = min(pace * minutes, held)
        serving.left_mj -= gas * mj_per_sm3
        serving.burned_min += gas / pace
        serving.burned_sm3 += gas
        if gas < pace * minutes:
            serving.short_mj = serving.left_mj
        if gas < pace * STEP_MIN:
            self.alight.remove(serving)
        return gas


def walk(kitchen: Kitchen, leak_per_d: float, *, start_sm3: float, start_methane: float) -> Walk:
    """Walk the bag through every step; gas is cooked with before a full bag lets it go."""
    supply, waiting = kitchen.supply, kitchen.waiting
    leak = leak_per_d * STEP_MIN / 1440.0
    level, methane = start_sm3, start_methane
    rows = []
    made = supply.made_sm3.tolist()
    of_methane = supply.made_methane_sm3.tolist()
    for k, room in enumerate(supply.room_sm3.tolist()):
        fresh = level + made[k]
        if fresh > 0.0:
            methane = (methane * level + of_methane[k]) / fresh
        leaked = fresh * leak
        level = fresh - leaked
        burned = kitchen.draw(k, level, methane) if kitchen.alight or k in waiting else 0.0
        level -= burned
        vented = max(level - room, 0.0)
        level -= vented
        rows.append((level, burned, vented, leaked, methane))
    columns = np.array(rows).T
    return Walk(
        level_sm3=columns[0], burned_sm3=columns[1], vented_sm3=columns[2], leaked_sm3=columns[3], methane=columns[4]
    )
