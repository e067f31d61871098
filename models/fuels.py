"""Backup fuels: how much of each does a job the gas could not, and what vented methane weighs on the climate."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from models.errors import OutOfRange, within
from models.iso6976 import COMPONENTS, mixture, properties
from models.units import (
    GAS_CONSTANT_J_PER_MOL_K,
    MJ_PER_KWH,
    STANDARD_PRESSURE_PA,
    STANDARD_TEMPERATURE_K,
    ArrayLike,
    Floats,
)

LPG_PROPANE_MASS_FRACTION = 0.5  # of bottled gas called no more than lpg; the mix moves its heat by 0.7 % either way

PROPANE_KG_PER_L = 0.5075  # liquid under its own vapour at 15 °C, Lemmon and others 2009
BUTANE_KG_PER_L = 0.5843  # n-butane likewise, Bücker and Wagner 2006

GWP100_NON_FOSSIL = 27.0  # kg CO2e per kg CH4 from living matter, IPCC AR6 WG1, Table 7.15
GWP100_FOSSIL = 29.8  # kg CO2e per kg CH4 from the ground, same table


@dataclass(frozen=True, slots=True, kw_only=True)
class Fuel:
    """A backup fuel with its stove: net heat of a unit and the share of it that reaches the pan.

    `efficiency_low` and `efficiency_high` are the range that stoves of the kind are found in. `liquid_kg_per_l` is the
    density of a bottled fuel at 15 °C.
    """

    unit: str
    net_mj_per_unit: float
    efficiency: float
    efficiency_low: float
    efficiency_high: float
    source: str
    liquid_kg_per_l: float | None = None


def lpg_net_mj_per_kg(propane_mass_fraction: ArrayLike) -> Floats:
    """Net calorific value of liquefied petroleum gas, propane with n-butane.

    Parameters
    ----------
    propane_mass_fraction : array_like
        Propane in the bottle by mass. [kg/kg], 0 to 1

    Returns
    -------
    ndarray, shape of `propane_mass_fraction`. [MJ/kg]

    Raises
    ------
    OutOfRange
        Outside 0 to 1.

    References
    ----------
    .. [1] ISO 6976:2016, combustion at 15 °C.
    """
    propane, butane = (float(properties(mixture({name: 1.0})).net_mj_per_kg) for name in ("C3H8", "nC4H10"))
    share = within("propane_mass_fraction", propane_mass_fraction, 0.0, 1.0)
    return np.asarray(share * propane + (1.0 - share) * butane)


GAS_STOVE = "net heat ISO 6976:2016; efficiency as EN 30-2-1 asks of an open burner (52 %) and better (from memory)"
ELECTRIC = "efficiency: usual range of boiling tests on household plates (from memory)"
WOOD = "net heat of air-dry wood IPCC 2006 Guidelines, vol. 2, Table 1.2; efficiency ISO/TR 19867-3 tiers (from memory)"


def _bottled(propane_mass_fraction: float) -> Fuel:
    litres = propane_mass_fraction / PROPANE_KG_PER_L + (1.0 - propane_mass_fraction) / BUTANE_KG_PER_L
    net = float(lpg_net_mj_per_kg(propane_mass_fraction))
    return replace(_fuel("kg", net, (0.50, 0.55, 0.65), GAS_STOVE), liquid_kg_per_l=1.0 / litres)


def _fuel(unit: str, net: float, efficiencies: tuple[float, float, float], source: str) -> Fuel:
    low, usual, high = efficiencies
    return Fuel(
        unit=unit, net_mj_per_unit=net, efficiency=usual, efficiency_low=low, efficiency_high=high, source=source
    )


FUELS: Mapping[str, Fuel] = {
    "lpg": _bottled(LPG_PROPANE_MASS_FRACTION),
    "propane": _bottled(1.0),
    "butane": _bottled(0.0),
    "electric": _fuel("kWh", MJ_PER_KWH, (0.65, 0.74, 0.80), ELECTRIC),
    "induction": _fuel("kWh", MJ_PER_KWH, (0.80, 0.85, 0.90), ELECTRIC),
    "wood": _fuel("kg", 15.6, (0.10, 0.15, 0.20), WOOD),
    "wood_stove": _fuel("kg", 15.6, (0.20, 0.30, 0.40), WOOD),
}
"""Backup fuels by name; `electric` is a resistance plate, `wood` an open fire, `wood_stove` an improved stove."""


def fuel(name: str) -> Fuel:
    """A backup fuel by its name.

    Parameters
    ----------
    name : str
        One of `FUELS`.

    Returns
    -------
    Fuel

    Raises
    ------
    OutOfRange
        A name not in `FUELS`, with those that are.
    """
    if name not in FUELS:
        raise OutOfRange(f"fuel is {name}, must be one of {', '.join(FUELS)}", field="fuel")
    return FUELS[name]


def fuel_needed(
    name: str, useful_mj: ArrayLike, *, efficiency: ArrayLike | None = None, net_mj_per_unit: ArrayLike | None = None
) -> Floats:
    """Fuel that brings heat to the pan, in the fuel's unit.

    Parameters
    ----------
    name : str
        One of `FUELS`.
    useful_mj : array_like
        Heat into the pan. [MJ], 0 and up
    efficiency : array_like, optional
        Share of the fuel's heat that reaches the pan; the fuel's usual one where left out. [1], 0.02 to 1
    net_mj_per_unit : array_like, optional
        Net heat of a unit where it was measured or is printed on the bottle. [MJ/kg or MJ/kWh], 1 to 60

    Returns
    -------
    ndarray, the common shape. [kg or kWh]

    Raises
    ------
    OutOfRange
        An unknown fuel, or an input outside its range.
    """
    chosen = fuel(name)
    share = within("efficiency", chosen.efficiency if efficiency is None else efficiency, 0.02, 1.0)
    net = within("net_mj_per_unit", chosen.net_mj_per_unit if net_mj_per_unit is None else net_mj_per_unit, 1.0, 60.0)
    return np.asarray(within("useful_mj", useful_mj, 0.0, np.inf) / (share * net))


def methane_kg(gas_sm3: ArrayLike, *, methane_fraction: ArrayLike) -> Floats:
    """Methane in dry standard gas, as an ideal gas.

    Parameters
    ----------
    gas_sm3 : array_like
        Dry gas at 15 °C and 101.325 kPa. [sm3], 0 and up
    methane_fraction : array_like
        Share of methane in it. [mol/mol], 0 to 1

    Returns
    -------
    ndarray, the common shape. [kg]

    Raises
    ------
    OutOfRange
        Where an input lies outside its range.
    """
    kg_per_m3 = (
        1e-3
        * COMPONENTS["CH4"].molar_mass_g_per_mol
        * STANDARD_PRESSURE_PA
        / (GAS_CONSTANT_J_PER_MOL_K * STANDARD_TEMPERATURE_K)
    )
    share = within("methane_fraction", methane_fraction, 0.0, 1.0)
    return np.asarray(kg_per_m3 * share * within("gas_sm3", gas_sm3, 0.0, np.inf))


def vented_co2e_kg(
    gas_sm3: ArrayLike, *, methane_fraction: ArrayLike, warming_kg_per_kg: float = GWP100_NON_FOSSIL
) -> Floats:
    """Carbon dioxide that warms as much as biogas let go unburnt.

    Parameters
    ----------
    gas_sm3 : array_like
        Dry gas vented. [sm3], 0 and up
    methane_fraction : array_like
        Share of methane in it. [mol/mol], 0 to 1
    warming_kg_per_kg : float
        Carbon dioxide that warms as much as a kilogram of methane. [kg/kg], 0 and up; over 100 years where left out

    Returns
    -------
    ndarray, the common shape. [kg CO2e]

    Raises
    ------
    OutOfRange
        Where an input lies outside its range.

    References
    ----------
    .. [1] IPCC AR6 WG1 (2021), Table 7.15: 27.0 kg CO2e per kg of non-fossil methane over 100 years.
    """
    return np.asarray(warming_kg_per_kg * methane_kg(gas_sm3, methane_fraction=methane_fraction))
