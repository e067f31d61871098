"""Cautions that go with a gas: when it burns, where it gathers, what poisons. Data and plain words, never advice."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from models.iso6976 import AIR_MOLAR_MASS_G_PER_MOL, COMPONENTS, Mixture, properties
from models.units import Floats

FLAMMABLE_IN_AIR_PCT: Mapping[str, tuple[float, float]] = {
    "CH4": (4.4, 17.0),
    "C2H6": (2.4, 15.5),
    "C3H8": (1.7, 10.9),
    "nC4H10": (1.4, 9.3),
    "iC4H10": (1.3, 9.8),
    "H2": (4.0, 77.0),
    "H2S": (4.0, 45.5),
    "CO": (10.9, 74.0),
}
"""Lower and upper limit of what burns in air, IEC 60079-20-1 (from memory but for 4.4). [vol-%]"""
METHANE_LIMITS_US_PCT = (5.0, 15.0)
"""Methane in air as practice in the United States has it, beside the wider limits above. [vol-%]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class ExposureLimit:
    """A published limit of hydrogen sulphide in the air people breathe. [ppm]"""

    name: str
    ppm: float


HYDROGEN_SULFIDE_LIMITS = (
    ExposureLimit(name="ACGIH TWA, 8 h", ppm=1.0),
    ExposureLimit(name="ACGIH STEL, 15 min", ppm=5.0),
    ExposureLimit(name="MAK, 8 h", ppm=5.0),
    ExposureLimit(name="NIOSH REL, 10 min", ppm=10.0),
    ExposureLimit(name="OSHA ceiling", ppm=20.0),
    ExposureLimit(name="OSHA peak, 10 min", ppm=50.0),
    ExposureLimit(name="NIOSH IDLH", ppm=100.0),
)
"""As compiled in Nitric Oxide 71 (2017) 1-13, Table 3."""
IMMEDIATE_DANGER_PPM = 100.0  # NIOSH IDLH
VENTING = (
    "The relief keeps the holder from bursting: never block, weigh down or bypass it to save gas.",
    "Vented gas is methane unburnt: no flame, spark or smoking where it comes out, which must be in the open air.",
    "Where and how gas may be let out or flared is for local codes and a licensed gas fitter to say.",
)
"""What to beware of where a full holder lets gas out."""


def heavier_than_air_below() -> float:
    """Methane share under which dry gas of methane and carbon dioxide outweighs air. [mol/mol]

    From the molar masses of ISO 6976:2016.
    """
    methane, carbon_dioxide = (COMPONENTS[name].molar_mass_g_per_mol for name in ("CH4", "CO2"))
    return (carbon_dioxide - AIR_MOLAR_MASS_G_PER_MOL) / (carbon_dioxide - methane)


def lower_flammable_pct(gas: Mixture) -> Floats:
    """Share of a gas in air from which on it burns.

    Parameters
    ----------
    gas : Mixture

    Returns
    -------
    ndarray, shape of the fractions. [vol-%]; infinite where nothing burns, above 100 where too little does

    Notes
    -----
    Le Chatelier's rule over the burning components, which takes inert gas as mere filling: at room temperature and the
    air's usual pressure.

    References
    ----------
    .. [1] IEC 60079-20-1, limits of the components (see `FLAMMABLE_IN_AIR_PCT`).
    """
    parts = sum(
        fraction / FLAMMABLE_IN_AIR_PCT[name][0]
        for name, fraction in gas.fractions.items()
        if name in FLAMMABLE_IN_AIR_PCT
    )
    burning = np.asarray(parts, dtype=float)
    return np.where(burning > 0.0, 1.0 / np.where(burning > 0.0, burning, 1.0), np.inf)


def cautions(gas: Mixture) -> tuple[str, ...]:
    """What to beware of in a gas, in plain words.

    Parameters
    ----------
    gas : Mixture
        Of scalar fractions.

    Returns
    -------
    tuple of str
    """
    told = []
    lower_pct = float(lower_flammable_pct(gas))
    if lower_pct < 100.0:
        told.append(
            f"Burns from {lower_pct:.1f} % in air. No flame, spark or switch near a leak; air the room and call a "
            "licensed fitter."
        )
        told.append("A flame short of air makes carbon monoxide, which has no smell: burn gas only in an aired room.")
    density = float(properties(gas).relative_density)
    if density > 1.0:
        told.append("Heavier than air: it gathers in pits, cellars and along the floor.")
    elif density > 0.9:
        told.append("Nearly as heavy as air: it does not rise away by itself, and cold or moist it may gather low.")
    sulphide_ppm = 1e6 * float(gas.fractions.get("H2S", np.asarray(0.0)))
    if sulphide_ppm >= IMMEDIATE_DANGER_PPM:
        told.append(
            f"Undiluted it holds {sulphide_ppm:.0f} ppm of hydrogen sulphide; {IMMEDIATE_DANGER_PPM:.0f} ppm endangers "
            "life at once, and it dulls the sense of smell."
        )
    return tuple(told)
