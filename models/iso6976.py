"""Calorific values, density and Wobbe index of a gas mixture from its composition, as ISO 6976:2016 has them.

A mixture's fractions may be arrays, so that one call covers a whole series of compositions.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from models.errors import Inconsistent, OutOfRange, within
from models.units import GAS_CONSTANT_J_PER_MOL_K, STANDARD_PRESSURE_PA, ZERO_CELSIUS_K, ArrayLike, Floats

METERING_C = (0.0, 15.0, 15.55, 20.0)
"""Temperatures at which a volume may be stated, in the order of the summation factors."""
COMBUSTION_C = (0.0, 15.0, 15.55, 20.0, 25.0)
"""Temperatures of combustion, in the order of the calorific values."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Component:
    """One gas of ISO 6976:2016: molar mass, summation factors, gross calorific values."""

    molar_mass_g_per_mol: float
    hydrogen_atoms: int
    summation: tuple[float, ...]
    gross_kj_per_mol: tuple[float, ...]


def _component(
    mass: float, hydrogen: int, summation: tuple[float, ...], gross: tuple[float, ...] = (0.0,) * 5
) -> Component:
    return Component(molar_mass_g_per_mol=mass, hydrogen_atoms=hydrogen, summation=summation, gross_kj_per_mol=gross)


COMPONENTS: Mapping[str, Component] = {
    "CH4": _component(16.04246, 4, (0.04886, 0.04452, 0.04437, 0.04317), (892.92, 891.51, 891.46, 891.05, 890.58)),
    "C2H6": _component(30.06904, 6, (0.0997, 0.0919, 0.0916, 0.0895), (1564.35, 1562.14, 1562.06, 1561.42, 1560.69)),
    "C3H8": _component(44.09562, 8, (0.1465, 0.1344, 0.1340, 0.1308), (2224.03, 2221.10, 2220.99, 2220.13, 2219.17)),
    "nC4H10": _component(58.1222, 10, (0.2022, 0.1840, 0.1834, 0.1785), (2883.35, 2879.76, 2879.63, 2878.58, 2877.40)),
    "iC4H10": _component(58.1222, 10, (0.1885, 0.1722, 0.1717, 0.1673), (2874.21, 2870.58, 2870.45, 2869.39, 2868.20)),
    "H2": _component(2.01588, 2, (-0.0100, -0.0100, -0.0100, -0.0100), (286.64, 286.15, 286.13, 285.99, 285.83)),
    "H2O": _component(18.01528, 2, (0.3093, 0.2562, 0.2546, 0.2419), (45.064, 44.431, 44.408, 44.222, 44.013)),
    "H2S": _component(34.08088, 2, (0.1006, 0.0923, 0.0920, 0.0898), (562.93, 562.38, 562.36, 562.19, 562.01)),
    "CO": _component(28.0101, 0, (0.0258, 0.0217, 0.0215, 0.0203), (282.80, 282.91, 282.91, 282.95, 282.98)),
    "CO2": _component(44.0095, 0, (0.0821, 0.0752, 0.0749, 0.0730)),
    "N2": _component(28.0134, 0, (0.0214, 0.0170, 0.0169, 0.0156)),
    "O2": _component(31.9988, 0, (0.0311, 0.0276, 0.0275, 0.0265)),
}
"""Every component a mixture may hold."""

AIR_MOLAR_MASS_G_PER_MOL = 28.96546
AIR_COMPRESSION_FACTOR = (0.999419, 0.999595, 0.999601, 0.999645)  # at METERING_C, ISO 6976:2016

SUM_TOLERANCE = 1e-3  # a laboratory's rounding; anything more is a component forgotten


@dataclass(frozen=True, slots=True, kw_only=True)
class Reference:
    """State that a figure refers to: temperatures of combustion and metering [°C], at 101.325 kPa, real gas or ideal.

    The standard tabulates combustion at 0, 15, 15.55, 20, 25 °C and metering at 0, 15, 15.55, 20 °C, and no others.
    """

    combustion_c: float = 15.0
    metering_c: float = 15.0
    real: bool = True

    def __post_init__(self) -> None:
        for name, value, allowed in (
            ("combustion_c", self.combustion_c, COMBUSTION_C),
            ("metering_c", self.metering_c, METERING_C),
        ):
            if value not in allowed:
                choices = ", ".join(f"{choice:g}" for choice in allowed)
                raise OutOfRange(f"{name} is {value:g}, must be one of {choices}", field=name)

    def combustion(self) -> int:
        """Column of the calorific values."""
        return COMBUSTION_C.index(self.combustion_c)

    def metering(self) -> int:
        """Column of the summation factors."""
        return METERING_C.index(self.metering_c)


STANDARD = Reference()
"""Combustion and metering at 15 °C, real gas (ISO 13443): the state of every sm3."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Mixture:
    """A gas by mole fraction; `fractions` are scalars or arrays of one shape, summing to 1."""

    fractions: Mapping[str, Floats]

    def __post_init__(self) -> None:
        unknown = sorted(set(self.fractions) - set(COMPONENTS))
        if unknown:
            raise OutOfRange(
                f"components holds {unknown[0]}, must be among {', '.join(COMPONENTS)}", field="components"
            )
        for name, fraction in self.fractions.items():
            within(f"components.{name}", fraction, 0.0, 1.0)
        total = np.sum(list(self.fractions.values()), axis=0) if self.fractions else np.asarray(0.0)
        off = np.abs(total - 1.0) > SUM_TOLERANCE
        if off.any():
            raise Inconsistent(f"components sum to {float(total[off].flat[0]):g}, must sum to 1", field="components")


def mixture(components: Mapping[str, ArrayLike]) -> Mixture:
    """A gas from the mole fractions of its components.

    Parameters
    ----------
    components : mapping of str to array_like
        Mole fractions by formula, one of `COMPONENTS`; scalars or arrays that broadcast. [mol/mol], 0 to 1 each

    Returns
    -------
    Mixture
        With fractions scaled to sum to exactly 1.

    Raises
    ------
    OutOfRange
        An unknown component or a fraction outside 0 to 1.
    Inconsistent
        Fractions that sum to less than 0.999 or more than 1.001.
    """
    arrays = np.broadcast_arrays(*(np.asarray(value, dtype=float) for value in components.values()))
    given = Mixture(fractions=dict(zip(components, arrays, strict=True)))
    total = np.sum(arrays, axis=0)
    return Mixture(fractions={name: np.asarray(value / total) for name, value in given.fractions.items()})


@dataclass(frozen=True, slots=True, kw_only=True)
class GasProperties:
    """What `properties` finds; every field has the shape of the mixture's fractions."""

    molar_mass_g_per_mol: Floats
    compression_factor: Floats
    gross_kj_per_mol: Floats
    net_kj_per_mol: Floats
    mol_per_m3: Floats
    relative_density: Floats

    @property
    def gross_mj_per_m3(self) -> Floats:
        """Gross calorific value of a cubic metre. [MJ/m3]"""
        return np.asarray(1e-3 * self.gross_kj_per_mol * self.mol_per_m3)

    @property
    def net_mj_per_m3(self) -> Floats:
        """Net calorific value of a cubic metre. [MJ/m3]"""
        return np.asarray(1e-3 * self.net_kj_per_mol * self.mol_per_m3)

    @property
    def gross_mj_per_kg(self) -> Floats:
        """Gross calorific value of a kilogram. [MJ/kg]"""
        return np.asarray(self.gross_kj_per_mol / self.molar_mass_g_per_mol)

    @property
    def net_mj_per_kg(self) -> Floats:
        """Net calorific value of a kilogram. [MJ/kg]"""
        return np.asarray(self.net_kj_per_mol / self.molar_mass_g_per_mol)

    @property
    def density_kg_per_m3(self) -> Floats:
        """Density. [kg/m3]"""
        return np.asarray(1e-3 * self.molar_mass_g_per_mol * self.mol_per_m3)

    @property
    def wobbe_gross_mj_per_m3(self) -> Floats:
        """Gross Wobbe index. [MJ/m3]"""
        return np.asarray(self.gross_mj_per_m3 / np.sqrt(self.relative_density))

    @property
    def wobbe_net_mj_per_m3(self) -> Floats:
        """Net Wobbe index: the heat one injector passes at one pressure goes with it. [MJ/m3]"""
        return np.asarray(self.net_mj_per_m3 / np.sqrt(self.relative_density))


def properties(gas: Mixture, reference: Reference = STANDARD) -> GasProperties:
    """Calorific values, density and Wobbe index of a mixture.

    Parameters
    ----------
    gas : Mixture
        Its water vapour, where it holds any, counts as the standard has it: its heat of condensation is in the gross
        value and none in the net.
    reference : Reference
        Combustion and metering at 15 °C where left out.

    Returns
    -------
    GasProperties
        Of the shape of the fractions; cubic metres are at the reference's metering state.

    Notes
    -----
    Molar values sum by mole fraction; net = gross − (n_H/2)·L with L = 44.431 kJ/mol at 15 °C;
    Z = 1 − (Σ x·s)²; a cubic metre holds p/(R·T·Z) moles. Nothing is refused here: mixture and reference are
    valid from birth.

    References
    ----------
    .. [1] ISO 6976:2016, "Natural gas: calculation of calorific values, density, relative density and Wobbe indices
       from composition".
    """
    mass, s, gross, hydrogen = (
        np.asarray(sum(fraction * row[name] for name, fraction in gas.fractions.items())) for row in _rows(reference)
    )
    z = 1.0 - s * s if reference.real else np.ones_like(s)
    z_air = AIR_COMPRESSION_FACTOR[reference.metering()] if reference.real else 1.0
    latent = COMPONENTS["H2O"].gross_kj_per_mol[reference.combustion()]
    ideal = STANDARD_PRESSURE_PA / (GAS_CONSTANT_J_PER_MOL_K * (reference.metering_c + ZERO_CELSIUS_K))
    return GasProperties(
        molar_mass_g_per_mol=mass,
        compression_factor=z,
        gross_kj_per_mol=gross,
        net_kj_per_mol=np.asarray(gross - 0.5 * hydrogen * latent),
        mol_per_m3=np.asarray(ideal / z),
        relative_density=np.asarray(mass / AIR_MOLAR_MASS_G_PER_MOL * z_air / z),
    )


def _rows(reference: Reference) -> tuple[Mapping[str, float], ...]:
    """Figures to be meant over a mixture: molar mass, summation factor, gross value, hydrogen atoms."""
    return (
        {name: one.molar_mass_g_per_mol for name, one in COMPONENTS.items()},
        {name: one.summation[reference.metering()] for name, one in COMPONENTS.items()},
        {name: one.gross_kj_per_mol[reference.combustion()] for name, one in COMPONENTS.items()},
        {name: float(one.hydrogen_atoms) for name, one in COMPONENTS.items()},
    )


def saturated(dry: GasProperties, vapour_fraction: ArrayLike) -> GasProperties:
    """The same gas with water vapour in it, per cubic metre of wet gas.

    Parameters
    ----------
    dry : GasProperties
    vapour_fraction : array_like
        Mole fraction of vapour, as `models.moisture.vapour_fraction` has it. [mol/mol], 0 to 0.5

    Returns
    -------
    GasProperties
        Of the common shape. Vapour brings mass and takes room: calorific values fall by the factor 1 − y. The
        compression factor is left as the dry gas's, since so much vapour does not exist at 15 °C.

    Raises
    ------
    OutOfRange
        More than half vapour.
    """
    y = within("vapour_fraction", vapour_fraction, 0.0, 0.5)
    water = COMPONENTS["H2O"].molar_mass_g_per_mol
    mass = (1.0 - y) * dry.molar_mass_g_per_mol + y * water
    return GasProperties(
        molar_mass_g_per_mol=mass,
        compression_factor=np.asarray(dry.compression_factor + 0.0 * y),
        gross_kj_per_mol=(1.0 - y) * dry.gross_kj_per_mol,
        net_kj_per_mol=(1.0 - y) * dry.net_kj_per_mol,
        mol_per_m3=np.asarray(dry.mol_per_m3 + 0.0 * y),
        relative_density=np.asarray(dry.relative_density * mass / dry.molar_mass_g_per_mol),
    )
