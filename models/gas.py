"""The household's gas: how much methane it holds, how sure we are of that, and the heat in a cubic metre."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np

from models.errors import OutOfRange, within
from models.iso6976 import Mixture, mixture, properties
from models.units import ArrayLike, Floats

Source = Literal["default", "described", "measured", "carbon_dioxide"]
TEST_SD = 0.025  # of methane from one absorption test: reading the tube, and air or hydrogen sulphide taken for gas
OXYGEN_PER_MOLE: Mapping[str, float] = {
    "CH4": 2.0, "C2H6": 3.5, "C3H8": 5.0, "nC4H10": 6.5, "iC4H10": 6.5, "H2": 0.5, "CO": 0.5, "H2S": 1.5, "O2": -1.0,
}  # fmt: skip
"""Oxygen that burns one mole of each component; inert gases are left out. [mol/mol]"""
OXYGEN_IN_AIR = 0.2095  # by volume, dry air

SOURCES: tuple[Source, ...] = ("default", "described", "measured", "carbon_dioxide")

TEST_GASES: Mapping[str, Mapping[str, float]] = {
    "G20": {"CH4": 1.0},
    "G21": {"CH4": 0.87, "C3H8": 0.13},
    "G222": {"CH4": 0.77, "H2": 0.23},
    "G23": {"CH4": 0.925, "N2": 0.075},
    "G231": {"CH4": 0.85, "N2": 0.15},
    "G25": {"CH4": 0.86, "N2": 0.14},
    "G26": {"CH4": 0.80, "C3H8": 0.07, "N2": 0.13},
    "G27": {"CH4": 0.82, "N2": 0.18},
    "G271": {"CH4": 0.74, "N2": 0.26},
    "G30": {"nC4H10": 0.5, "iC4H10": 0.5},
    "G31": {"C3H8": 1.0},
}
"""Compositions of the test gases of EN 437 by volume, which differs from moles by less than 0.2 %.

G23 was read beside its figures in EN 437:2003+A1:2009, Table 2; the others are from memory.
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class GasQuality:
    """What is known of a household's gas; the rest of the dry gas is taken to be carbon dioxide.

    `methane_sd` is the standard error of `methane_fraction`; the default is wide, as nothing was measured.
    """

    methane_fraction: float = 0.60
    methane_sd: float = 0.05
    hydrogen_sulfide_ppm: float = 0.0
    source: Source = "default"

    def __post_init__(self) -> None:
        within("methane_fraction", self.methane_fraction, 0.05, 1.0)
        within("methane_sd", self.methane_sd, 0.0, 0.3)
        within("hydrogen_sulfide_ppm", self.hydrogen_sulfide_ppm, 0.0, 50_000.0)
        if self.source not in SOURCES:
            raise OutOfRange(f"source is {self.source}, must be one of {', '.join(SOURCES)}", field="source")


def from_carbon_dioxide(carbon_dioxide_fraction: float, *, test_sd: float = TEST_SD) -> GasQuality:
    """Methane from the carbon dioxide an absorption test found: what the liquid does not take up is counted as methane.

    Parameters
    ----------
    carbon_dioxide_fraction : float
        Share of the dry gas taken up. [mol/mol], 0 to 0.95
    test_sd : float
        Standard error of the methane share found. [mol/mol], 0 to 0.3; 0.025 where left out (common practice)

    Returns
    -------
    GasQuality

    Raises
    ------
    OutOfRange
        Where an input lies outside its range.
    """
    absorbed = float(within("carbon_dioxide_fraction", carbon_dioxide_fraction, 0.0, 0.95))
    return GasQuality(methane_fraction=1.0 - absorbed, methane_sd=test_sd, source="carbon_dioxide")


def net_sd_mj_per_sm3(quality: GasQuality) -> float:
    """Standard error of the net calorific value that the spread of the methane share brings.

    Parameters
    ----------
    quality : GasQuality

    Returns
    -------
    float. [MJ/sm3]

    Notes
    -----
    By the slope of `net_mj_per_sm3`, which is straight within 0.3 % between 0.3 and 1.
    """
    x, half = quality.methane_fraction, 0.01
    low, high = net_mj_per_sm3(np.array([x - half, min(x + half, 1.0)]), quality.hydrogen_sulfide_ppm)
    return float(quality.methane_sd * (high - low) / (min(x + half, 1.0) - (x - half)))


def stoichiometric_air_m3_per_m3(gas: Mixture) -> Floats:
    """Dry air that just burns a gas.

    Parameters
    ----------
    gas : Mixture

    Returns
    -------
    ndarray, shape of the fractions. [m3/m3]; 0 where the gas brings its own oxygen

    Notes
    -----
    From the balance CH4 + 2 O2 and its like, with 20.95 % oxygen in air; ideal gases.
    """
    oxygen = sum(fraction * OXYGEN_PER_MOLE.get(name, 0.0) for name, fraction in gas.fractions.items())
    return np.asarray(np.maximum(oxygen, 0.0) / OXYGEN_IN_AIR)


def biogas(methane_fraction: ArrayLike, *, hydrogen_sulfide_ppm: ArrayLike = 0.0) -> Mixture:
    """Dry gas of methane and carbon dioxide, with a trace of hydrogen sulphide.

    Parameters
    ----------
    methane_fraction : array_like
        Share of methane in the dry gas. [mol/mol], 0 to 1
    hydrogen_sulfide_ppm : array_like
        Share of hydrogen sulphide, taken out of the carbon dioxide. [µmol/mol], 0 to 50 000

    Returns
    -------
    Mixture
        Fractions of the common shape.

    Raises
    ------
    OutOfRange
        Where an input lies outside its range.
    """
    methane = within("methane_fraction", methane_fraction, 0.0, 1.0)
    sulphide = within("hydrogen_sulfide_ppm", hydrogen_sulfide_ppm, 0.0, 50_000.0) * 1e-6
    sulphide = np.minimum(sulphide, 1.0 - methane)
    return Mixture(fractions={"CH4": methane + 0.0 * sulphide, "CO2": 1.0 - methane - sulphide, "H2S": sulphide})


def net_mj_per_sm3(methane_fraction: ArrayLike, hydrogen_sulfide_ppm: ArrayLike = 0.0) -> Floats:
    """Net calorific value of dry biogas at 15 °C and 101.325 kPa.

    Parameters
    ----------
    methane_fraction : array_like
        Share of methane in the dry gas, the rest carbon dioxide. [mol/mol], 0 to 1
    hydrogen_sulfide_ppm : array_like
        Share of hydrogen sulphide. [µmol/mol], 0 to 50 000

    Returns
    -------
    ndarray, the common shape. [MJ/sm3]

    Raises
    ------
    OutOfRange
        Where an input lies outside its range.

    References
    ----------
    .. [1] ISO 6976:2016, combustion and metering at 15 °C, real gas.
    """
    return properties(biogas(methane_fraction, hydrogen_sulfide_ppm=hydrogen_sulfide_ppm)).net_mj_per_m3


def en437_gas(name: str) -> Mixture:
    """A test gas of EN 437 by its name, dry.

    Parameters
    ----------
    name : str
        One of `TEST_GASES`, such as G20 (methane) or G30 (butanes).

    Returns
    -------
    Mixture
        Scalar fractions.

    Raises
    ------
    OutOfRange
        An unknown name.
    """
    if name not in TEST_GASES:
        raise OutOfRange(f"gas is {name}, must be one of {', '.join(TEST_GASES)}", field="gas")
    return mixture(TEST_GASES[name])
