"""The most methane a substance can give: Buswell and Boyle's balance of a substrate with water."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass

from models.errors import OutOfRange

ATOMIC_MASS_G_PER_MOL: Mapping[str, float] = {"C": 12.011, "H": 1.008, "O": 15.999, "N": 14.007, "S": 32.06}
"""IUPAC abridged standard atomic weights."""
NORMAL_L_PER_MOL = 22.41396954  # ideal gas at 0 °C and 101.325 kPa, CODATA
OXYGEN_G_PER_MOL = 31.998


@dataclass(frozen=True, slots=True, kw_only=True)
class Theory:
    """What a substance gives when all of it is digested; litres are ideal gas at 0 °C and 101.325 kPa.

    `methane_fraction` is methane over methane and carbon dioxide; `methane_l_per_g_cod` refers to the oxygen that
    burning the substance would take.
    """

    methane_l_per_g: float
    methane_fraction: float
    methane_l_per_g_cod: float


def theory(formula: str) -> Theory:
    """Methane from the elements of a substance.

    Parameters
    ----------
    formula : str
        Such as C6H12O6; of C, H, O, N, S, with carbon.

    Returns
    -------
    Theory

    Raises
    ------
    OutOfRange
        Another element, no carbon, or a substance too oxidised to give methane.

    Notes
    -----
    CcHhOoNnSs gives c/2 + h/8 − o/4 − 3n/8 − s/4 moles of methane and the rest of the carbon as carbon dioxide;
    nitrogen leaves as ammonia and sulphur as hydrogen sulphide.

    References
    ----------
    .. [1] A. M. Buswell and H. F. Mueller, "Mechanism of Methane Fermentation", Ind. Eng. Chem. 44 (1952) 550-552.
    """
    parts = re.findall(r"([A-Z][a-z]?)(\d*)", formula)
    atoms = {element: float(count or 1) for element, count in parts}
    known = "".join(element + count for element, count in parts) == formula and set(atoms) <= set(ATOMIC_MASS_G_PER_MOL)
    if not known or "C" not in atoms:
        raise OutOfRange(f"formula is {formula}, must be of C with H, O, N, S, such as C6H12O6", field="formula")
    c, h, o, n, s = (atoms.get(element, 0.0) for element in ATOMIC_MASS_G_PER_MOL)
    methane = c / 2.0 + h / 8.0 - o / 4.0 - 3.0 * n / 8.0 - s / 4.0
    if methane <= 0.0:
        raise OutOfRange(f"formula is {formula}, must hold less oxygen to give methane", field="formula")
    mass = sum(count * ATOMIC_MASS_G_PER_MOL[element] for element, count in atoms.items())
    return Theory(
        methane_l_per_g=methane * NORMAL_L_PER_MOL / mass,
        methane_fraction=methane / c,
        methane_l_per_g_cod=NORMAL_L_PER_MOL / (2.0 * OXYGEN_G_PER_MOL),
    )
