"""A pan: what it weighs in heat, and the heat it loses to the kitchen, with a lid or without."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from models.errors import OutOfRange, within
from models.moisture import boiling_point_c, latent_heat_j_per_kg, saturation_pressure_pa
from models.units import GAS_CONSTANT_J_PER_MOL_K, STANDARD_PRESSURE_PA, ZERO_CELSIUS_K, ArrayLike, Floats

SPECIFIC_HEAT_J_PER_KG_K: Mapping[str, float] = {
    "aluminium": 900.0,
    "steel": 500.0,
    "enamel": 500.0,
    "cast_iron": 460.0,
    "copper": 385.0,
    "glass": 830.0,
    "clay": 850.0,
}
"""Specific heats of pan materials near 60 °C, usual handbook values rounded. [J/(kg K)]"""

WATER_J_PER_KG_K = 4186.0  # within 0.1 % of the IAPWS-IF97 mean from 20 to 100 °C
WATER_KG_PER_L = 1.0  # a litre from the tap weighs within 0.3 % of a kilogram
PAN_EMISSIVITY = 0.6  # a used metal pan, between bright and sooted
WATER_EMISSIVITY = 0.95
STEFAN_BOLTZMANN = 5.670374e-8  # W/(m2 K4), CODATA
WATER_MOLAR_MASS_KG = 0.01801528
AIR_VOLUMETRIC_J_PER_M3_K = 1_060.0  # density times specific heat of air near 60 °C
LEWIS_POWER = 0.9  # Lewis number of vapour in air, 0.86, to the two thirds


@dataclass(frozen=True, slots=True, kw_only=True)
class Kitchen:
    """The air around the pan."""

    air_c: float = 20.0
    atmosphere_pa: float = STANDARD_PRESSURE_PA
    air_humidity: float = 0.5

    def __post_init__(self) -> None:
        within("air_c", self.air_c, -20.0, 50.0)
        within("atmosphere_pa", self.atmosphere_pa, 30_000.0, 110_000.0)
        within("air_humidity", self.air_humidity, 0.0, 1.0)

    def boiling_point_c(self) -> float:
        """Temperature at which water boils here. [°C]"""
        return float(boiling_point_c(self.atmosphere_pa))


@dataclass(frozen=True, slots=True, kw_only=True)
class Pan:
    """A pan by its empty mass, material, lid and width; a specific heat, where given, goes before the material's."""

    name: str
    mass_kg: float
    material: str = "steel"
    lid: bool = True
    diameter_m: float = 0.22
    specific_heat_j_per_kg_k: float | None = None

    def __post_init__(self) -> None:
        within("mass_kg", self.mass_kg, 0.0, 50.0)
        within("diameter_m", self.diameter_m, 0.05, 1.5)
        if self.material not in SPECIFIC_HEAT_J_PER_KG_K:
            choices = ", ".join(SPECIFIC_HEAT_J_PER_KG_K)
            raise OutOfRange(f"material is {self.material}, must be one of {choices}", field="material")
        if self.specific_heat_j_per_kg_k is not None:
            within("specific_heat_j_per_kg_k", self.specific_heat_j_per_kg_k, 100.0, 5000.0)

    def heat_capacity_j_per_k(self, water_l: ArrayLike) -> Floats:
        """Heat that warms the pan and its water by one kelvin.

        Parameters
        ----------
        water_l : array_like
            Water in it. [L], 0.05 to 100

        Returns
        -------
        ndarray, shape of `water_l`. [J/K]

        Raises
        ------
        OutOfRange
            Where the water lies outside its range.
        """
        water_kg = within("water_l", water_l, 0.05, 100.0) * WATER_KG_PER_L
        own = self.specific_heat_j_per_kg_k or SPECIFIC_HEAT_J_PER_KG_K[self.material]
        return np.asarray(water_kg * WATER_J_PER_KG_K + self.mass_kg * own)


def pan_loss_w(pan: Pan, water_c: ArrayLike, kitchen: Kitchen) -> Floats:
    """Heat a pan of hot water gives to the kitchen: a guide value, good to about a third.

    Parameters
    ----------
    pan : Pan
        Its wall is taken as 0.45 diameters high.
    water_c : array_like
        Water temperature. [°C], 0 to 120
    kitchen : Kitchen

    Returns
    -------
    ndarray, shape of `water_c`. [W]

    Raises
    ------
    OutOfRange
        Where the water lies outside its range.

    Notes
    -----
    Natural convection in its short form for air, h = 1.42 (ΔT/L)^¼ on the wall and 1.32 (ΔT/D)^¼ on top, radiation, and
    without a lid evaporation by the analogy of heat and mass transfer, moist air rising by its virtual temperature.

    References
    ----------
    .. [1] J. P. Holman, "Heat Transfer", table of simplified equations for free convection in air.
    """
    water = within("water_c", water_c, 0.0, 120.0)
    hot_k, air_k = water + ZERO_CELSIUS_K, kitchen.air_c + ZERO_CELSIUS_K
    rise = np.maximum(hot_k - air_k, 0.0)
    height, top_m2 = 0.45 * pan.diameter_m, 0.25 * np.pi * pan.diameter_m**2
    radiated = STEFAN_BOLTZMANN * np.maximum(hot_k**4 - air_k**4, 0.0)
    wall = 1.42 * (rise / height) ** 0.25 * rise + PAN_EMISSIVITY * radiated
    wall_w = np.pi * pan.diameter_m * height * wall
    if pan.lid:
        return np.asarray(wall_w + top_m2 * (1.32 * (rise / pan.diameter_m) ** 0.25 * rise + PAN_EMISSIVITY * radiated))
    vapour_pa = np.minimum(saturation_pressure_pa(water), kitchen.atmosphere_pa)
    room_pa = kitchen.air_humidity * saturation_pressure_pa(kitchen.air_c)
    lift = _virtual_k(hot_k, vapour_pa, kitchen) - _virtual_k(air_k, room_pa, kitchen)
    film = 1.32 * (np.maximum(lift, 0.0) / pan.diameter_m) ** 0.25
    vapour_kg_per_m3 = WATER_MOLAR_MASS_KG / GAS_CONSTANT_J_PER_MOL_K * (vapour_pa / hot_k - room_pa / air_k)
    evaporated = film / (AIR_VOLUMETRIC_J_PER_M3_K * LEWIS_POWER) * np.maximum(vapour_kg_per_m3, 0.0)
    return np.asarray(
        wall_w + top_m2 * (film * rise + WATER_EMISSIVITY * radiated + evaporated * latent_heat_j_per_kg(water))
    )


def _virtual_k(temperature_k: ArrayLike, vapour_pa: ArrayLike, kitchen: Kitchen) -> Floats:
    """Temperature at which dry air would be as light as this moist air. [K]"""
    return np.asarray(np.asarray(temperature_k) / (1.0 - 0.378 * np.asarray(vapour_pa) / kitchen.atmosphere_pa))
