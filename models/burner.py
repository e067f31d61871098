"""A burner and what it makes of the gas that reaches it: heat input and gas flow on another gas, pressure or height."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, TypeAlias

import numpy as np

from models.errors import Inconsistent, OutOfRange, within
from models.gas import biogas, en437_gas
from models.iso6976 import GasProperties, Mixture, properties, saturated
from models.moisture import vapour_fraction
from models.units import (
    GAS_CONSTANT_J_PER_MOL_K,
    MJ_PER_KWH,
    STANDARD_PRESSURE_PA,
    STANDARD_TEMPERATURE_K,
    ZERO_CELSIUS_K,
    ArrayLike,
    Floats,
)

Mode = Literal["fixed_injector", "fixed_flow", "resized_injector"]
MODES: tuple[Mode, ...] = ("fixed_injector", "fixed_flow", "resized_injector")


@dataclass(frozen=True, slots=True, kw_only=True)
class HeatInputRating:
    """Rated by net heat input on a gas, named (`gas`, EN 437) or by its methane share, dry at 15 °C behind `gauge_pa`.

    Into air of 101.325 kPa, as every rating here.
    """

    heat_input_kw: float
    gauge_pa: float
    methane_fraction: float | None = None
    gas: str | None = None

    def __post_init__(self) -> None:
        within("heat_input_kw", self.heat_input_kw, 0.05, 50.0)
        within("gauge_pa", self.gauge_pa, 50.0, 20_000.0)
        if (self.methane_fraction is None) == (self.gas is None):
            raise Inconsistent(
                "rating must name its gas either by methane_fraction or by gas", field="methane_fraction"
            )
        self.mixture()

    def mixture(self) -> Mixture:
        """The gas of the rating."""
        if self.gas is not None:
            return en437_gas(self.gas)
        return biogas(within("methane_fraction", np.asarray(self.methane_fraction, dtype=float), 0.05, 1.0))


@dataclass(frozen=True, slots=True, kw_only=True)
class GasFlowRating:
    """Rated by the flow of a gas of stated methane share behind `gauge_pa`, as dry gas at 15 °C and 101.325 kPa."""

    gas_flow_l_per_h: float
    methane_fraction: float
    gauge_pa: float

    def __post_init__(self) -> None:
        within("gas_flow_l_per_h", self.gas_flow_l_per_h, 5.0, 20_000.0)
        within("methane_fraction", self.methane_fraction, 0.05, 1.0)
        within("gauge_pa", self.gauge_pa, 50.0, 20_000.0)

    @property
    def heat_input_kw(self) -> float:
        """Net heat input on the gas of the rating. [kW]"""
        return float(self.gas_flow_l_per_h * 1e-3 * properties(self.mixture()).net_mj_per_m3 / MJ_PER_KWH)

    def mixture(self) -> Mixture:
        """The gas of the rating."""
        return biogas(self.methane_fraction)


@dataclass(frozen=True, slots=True, kw_only=True)
class InjectorRating:
    """Rated by the bore of its injector; what another gas changes is reckoned from undiluted methane."""

    injector_mm: float
    gauge_pa: float
    discharge_coefficient: float = 0.9

    def __post_init__(self) -> None:
        within("injector_mm", self.injector_mm, 0.2, 10.0)
        within("discharge_coefficient", self.discharge_coefficient, 0.3, 1.0)
        within("gauge_pa", self.gauge_pa, 50.0, 20_000.0)

    @property
    def heat_input_kw(self) -> float:
        """Net heat input on undiluted methane, dry at 15 °C, into air of 101.325 kPa. [kW]"""
        supply = GasSupply(
            methane_fraction=1.0, gauge_pa=self.gauge_pa, atmosphere_pa=STANDARD_PRESSURE_PA, humidity=0.0
        )
        flow = injector_flow_m3_per_h(self.injector_mm, supply=supply, discharge_coefficient=self.discharge_coefficient)
        standard = (STANDARD_PRESSURE_PA + self.gauge_pa) / STANDARD_PRESSURE_PA
        return float(flow * standard * properties(self.mixture()).net_mj_per_m3 / MJ_PER_KWH)

    def mixture(self) -> Mixture:
        """The gas of the rating."""
        return biogas(1.0)


Rating: TypeAlias = HeatInputRating | GasFlowRating | InjectorRating


@dataclass(frozen=True, slots=True, kw_only=True)
class Burner:
    """A cooking burner. `efficiency` is from a boil test with a lidded pan, so it holds that pan's losses.

    `useful_sd` is the relative standard error of heat input times efficiency: a description is trusted to 20 % (common
    practice, no source) until boil tests say more.
    """

    name: str
    rating: Rating
    efficiency: float = 0.55
    lowest_flame_fraction: float = 0.25
    useful_sd: float = 0.20

    def __post_init__(self) -> None:
        within("useful_sd", self.useful_sd, 0.0, 1.0)
        within("efficiency", self.efficiency, 0.05, 1.0)
        within("lowest_flame_fraction", self.lowest_flame_fraction, 0.01, 1.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class GasSupply:
    """The gas as it reaches the burner; every field a scalar or an array, of shapes that broadcast."""

    methane_fraction: ArrayLike
    gauge_pa: ArrayLike
    atmosphere_pa: ArrayLike
    temperature_c: ArrayLike = 15.0
    humidity: ArrayLike = 1.0

    def __post_init__(self) -> None:
        within("methane_fraction", self.methane_fraction, 0.0, 1.0)
        within("gauge_pa", self.gauge_pa, 0.0, 20_000.0)
        within("atmosphere_pa", self.atmosphere_pa, 30_000.0, 110_000.0)
        within("temperature_c", self.temperature_c, -45.0, 60.0)
        within("humidity", self.humidity, 0.0, 1.0)

    def mixture(self) -> Mixture:
        """The dry gas."""
        return biogas(self.methane_fraction)

    def pressure_pa(self) -> Floats:
        """Absolute pressure of the gas. [Pa]"""
        return np.asarray(np.asarray(self.atmosphere_pa, dtype=float) + np.asarray(self.gauge_pa, dtype=float))

    def temperature_k(self) -> Floats:
        """Absolute temperature of the gas. [K]"""
        return np.asarray(np.asarray(self.temperature_c, dtype=float) + ZERO_CELSIUS_K)

    def vapour(self) -> Floats:
        """Mole fraction of water vapour. [mol/mol]"""
        return vapour_fraction(self.temperature_c, pressure_pa=self.pressure_pa(), humidity=self.humidity)

    def wet(self) -> GasProperties:
        """Properties of the gas with its vapour."""
        return saturated(properties(self.mixture()), self.vapour())


def injector_flow_m3_per_h(
    injector_mm: ArrayLike, *, supply: GasSupply, discharge_coefficient: ArrayLike = 0.9
) -> Floats:
    """Wet gas an injector passes, as volume before the injector.

    Parameters
    ----------
    injector_mm : array_like
        Bore. [mm], 0.2 to 10
    supply : GasSupply
    discharge_coefficient : array_like
        Share of the ideal flow. [1], 0.3 to 1

    Returns
    -------
    ndarray, the common shape. [m3/h]

    Raises
    ------
    OutOfRange
        Where an input lies outside its range.

    Notes
    -----
    Incompressible flow through an orifice, Cd·A·√(2Δp/ρ), with the density before it.
    """
    area_m2 = 0.25 * np.pi * (within("injector_mm", injector_mm, 0.2, 10.0) * 1e-3) ** 2
    coefficient = within("discharge_coefficient", discharge_coefficient, 0.3, 1.0)
    wet = supply.wet()
    per_mol_j = wet.compression_factor * GAS_CONSTANT_J_PER_MOL_K * supply.temperature_k()
    density = 1e-3 * wet.molar_mass_g_per_mol * supply.pressure_pa() / per_mol_j
    return np.asarray(3600.0 * coefficient * area_m2 * np.sqrt(2.0 * np.asarray(supply.gauge_pa) / density))


def heat_input_kw(burner: Burner, supply: GasSupply, mode: Mode = "fixed_injector") -> Floats:
    """Net heat input of a burner at full flame on the gas that reaches it.

    Parameters
    ----------
    burner : Burner
    supply : GasSupply
    mode : str
        `fixed_injector`: the injector stays, so heat goes with the Wobbe index and the root of pressure and density.
        `fixed_flow`: the volume flow is kept by the tap, so heat goes with the calorific value and the density.
        `resized_injector`: the injector was made for this gas, so the rated heat input is met.

    Returns
    -------
    ndarray, shape of the supply. [kW]

    Raises
    ------
    OutOfRange
        An unknown mode.

    References
    ----------
    .. [1] EN 30-1-1, correction of a measured heat input to reference conditions.
    .. [2] ISO 6976:2016 for Wobbe index and calorific value.
    """
    if mode not in MODES:
        raise OutOfRange(f"mode is {mode}, must be one of {', '.join(MODES)}", field="mode")
    rating, gas, gauge = burner.rating, supply.wet(), np.asarray(supply.gauge_pa, dtype=float)
    rated = properties(rating.mixture())
    # both densities at the same gauge pressure: past the orifice the gas is back at the air's
    air = supply.pressure_pa() / (STANDARD_PRESSURE_PA + gauge) * STANDARD_TEMPERATURE_K / supply.temperature_k()
    if mode == "resized_injector":
        ratio = np.ones(np.broadcast_shapes(air.shape, gas.net_mj_per_m3.shape))
    elif mode == "fixed_flow":
        ratio = gas.net_mj_per_m3 / rated.net_mj_per_m3 * air
    else:
        ratio = gas.wobbe_net_mj_per_m3 / rated.wobbe_net_mj_per_m3 * np.sqrt(gauge / rating.gauge_pa * air)
    return np.asarray(rating.heat_input_kw * ratio)


def gas_flow_sm3_per_h(burner: Burner, supply: GasSupply, mode: Mode = "fixed_injector") -> Floats:
    """Dry standard gas that a burner takes at full flame.

    Parameters
    ----------
    burner : Burner
    supply : GasSupply
        With some methane in it.
    mode : str
        As `heat_input_kw` has it.

    Returns
    -------
    ndarray, shape of the supply. [sm3/h]

    Raises
    ------
    OutOfRange
        An unknown mode.
    """
    return np.asarray(MJ_PER_KWH * heat_input_kw(burner, supply, mode) / properties(supply.mixture()).net_mj_per_m3)
