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
    """One gas of ISO 6976:2016: molar mass (Table 1), summation factors (Table 2), gross values (Table 3)."""

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
AIR_COMPRESSION_FACTOR = (0.999419, 0.999595, 0.999601, 0.999645)  # at METERING_C, ISO 6976:2016, A.1

SUM_TOLERANCE = 1e-3  # a laboratory's rounding; anything more is a component forgotten


@dataclass(frozen=True, slots=True, kw_only=True)
class Reference:
    """Temperatures a calorific value refers to; the standard tabulates these and no others. [°C]"""

    combustion_c: float = 15.0
    metering_c: float = 15.0

    def __post_init__(self) -> None:
        _place("combustion_c", self.combustion_c, COMBUSTION_C)
        _place("metering_c", self.metering_c, METERING_C)


def _place(name: str, value: float, allowed: tuple[float, ...]) -> int:
    if value not in allowed:
        choices = ", ".join(f"{choice:g}" for choice in allowed)
        raise OutOfRange(f"{name} is {value:g}, must be one of {choices}", field=name)
    return allowed.index(value)


STANDARD = Reference()


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

    def mean(self, values: Mapping[str, float]) -> Floats:
        """Mole-fraction mean of a figure of the components, shape of the fractions."""
        return np.asarray(sum(fraction * values[name] for name, fraction in self.fractions.items()))


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


def molar_mass_g_per_mol(gas: Mixture) -> Floats:
    """Molar mass, shape of the fractions, eq. 1. [g/mol]"""
    return gas.mean({name: component.molar_mass_g_per_mol for name, component in COMPONENTS.items()})


def compression_factor(gas: Mixture, metering_c: float = 15.0) -> Floats:
    """Compression factor Z at 101.325 kPa, shape of the fractions, eq. 2. [1]

    Raises
    ------
    OutOfRange
        `metering_c` not tabulated.
    """
    column = _place("metering_c", metering_c, METERING_C)
    s = gas.mean({name: component.summation[column] for name, component in COMPONENTS.items()})
    return np.asarray(1.0 - s * s)


def gross_kj_per_mol(gas: Mixture, combustion_c: float = 15.0) -> Floats:
    """Gross (higher) calorific value per mole, shape of the fractions, eq. 3. [kJ/mol]

    Raises
    ------
    OutOfRange
        `combustion_c` not tabulated.
    """
    column = _place("combustion_c", combustion_c, COMBUSTION_C)
    return gas.mean({name: component.gross_kj_per_mol[column] for name, component in COMPONENTS.items()})


def net_kj_per_mol(gas: Mixture, combustion_c: float = 15.0) -> Floats:
    """Net (lower) calorific value per mole, shape of the fractions, eq. 4. [kJ/mol]

    Gross less the heat that the water formed gives up when it condenses, L = 44.431 kJ/mol at 15 °C.

    Raises
    ------
    OutOfRange
        `combustion_c` not tabulated.
    """
    latent = COMPONENTS["H2O"].gross_kj_per_mol[_place("combustion_c", combustion_c, COMBUSTION_C)]
    hydrogen = gas.mean({name: float(component.hydrogen_atoms) for name, component in COMPONENTS.items()})
    return np.asarray(gross_kj_per_mol(gas, combustion_c) - 0.5 * hydrogen * latent)


def mol_per_m3(gas: Mixture, metering_c: float = 15.0, *, real: bool = True) -> Floats:
    """Moles in a cubic metre at 101.325 kPa, of the real gas or of an ideal one, shape of the fractions. [mol/m3]

    Raises
    ------
    OutOfRange
        `metering_c` not tabulated.
    """
    z = compression_factor(gas, metering_c)
    ideal = STANDARD_PRESSURE_PA / (GAS_CONSTANT_J_PER_MOL_K * (metering_c + ZERO_CELSIUS_K))
    return np.asarray(ideal / (z if real else np.ones_like(z)))


def relative_density(gas: Mixture, metering_c: float = 15.0, *, real: bool = True) -> Floats:
    """Density relative to dry air at the same conditions, shape of the fractions, eqs. 11 and 13. [1]

    Raises
    ------
    OutOfRange
        `metering_c` not tabulated.
    """
    ratio = molar_mass_g_per_mol(gas) / AIR_MOLAR_MASS_G_PER_MOL
    if not real:
        return np.asarray(ratio)
    air = AIR_COMPRESSION_FACTOR[_place("metering_c", metering_c, METERING_C)]
    return np.asarray(ratio * air / compression_factor(gas, metering_c))


def net_mj_per_m3(gas: Mixture, reference: Reference = STANDARD, *, real: bool = True) -> Floats:
    """Net calorific value of a cubic metre at the reference temperatures and 101.325 kPa, eqs. 6 and 8. [MJ/m3]"""
    moles = mol_per_m3(gas, reference.metering_c, real=real)
    return np.asarray(1e-3 * net_kj_per_mol(gas, reference.combustion_c) * moles)


def gross_mj_per_m3(gas: Mixture, reference: Reference = STANDARD, *, real: bool = True) -> Floats:
    """Gross calorific value of a cubic metre at the reference temperatures and 101.325 kPa, eqs. 6 and 8. [MJ/m3]"""
    moles = mol_per_m3(gas, reference.metering_c, real=real)
    return np.asarray(1e-3 * gross_kj_per_mol(gas, reference.combustion_c) * moles)


def wobbe_net_mj_per_m3(gas: Mixture, reference: Reference = STANDARD, *, real: bool = True) -> Floats:
    """Net Wobbe index: what one injector passes at one pressure is in proportion to it, eq. 14. [MJ/m3]"""
    density = relative_density(gas, reference.metering_c, real=real)
    return np.asarray(net_mj_per_m3(gas, reference, real=real) / np.sqrt(density))


def wobbe_gross_mj_per_m3(gas: Mixture, reference: Reference = STANDARD, *, real: bool = True) -> Floats:
    """Gross Wobbe index, eq. 14. [MJ/m3]"""
    density = relative_density(gas, reference.metering_c, real=real)
    return np.asarray(gross_mj_per_m3(gas, reference, real=real) / np.sqrt(density))
