"""What diluted gas costs beside the trade's rule of thumb, and a caution where a burner meets another gas."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from models.burner import Burner, GasSupply, HeatInputRating
from models.errors import within
from models.gas import biogas
from models.iso6976 import properties
from models.units import ArrayLike, Floats

FAR_FROM_RATED = 0.25  # change of Wobbe index past which a flame may lift or burn badly; common practice, no source


@dataclass(frozen=True, slots=True, kw_only=True)
class RuleOfThumb:
    """The trade's rule, "30 % carbon dioxide, 30 % longer", and what would have to be so for it to hold.

    `pressure_factor` is how many times higher the gas pressure behind the same injector would have to be, and
    `flow_factor` how much more of the gas would have to flow, than the undiluted gas has.
    """

    penalty_fraction: Floats
    pressure_factor: Floats
    flow_factor: Floats


def undiluted(supply: GasSupply) -> GasSupply:
    """The same supply of methane alone.

    Parameters
    ----------
    supply : GasSupply

    Returns
    -------
    GasSupply
    """
    return replace(supply, methane_fraction=1.0)


def rule_of_thumb(methane_fraction: ArrayLike) -> RuleOfThumb:
    """The rule of thumb for a gas of methane and carbon dioxide, with the assumptions that would reproduce it.

    Parameters
    ----------
    methane_fraction : array_like
        Share of methane in the dry gas. [mol/mol], 0.05 to 1

    Returns
    -------
    RuleOfThumb
        Fields of the shape of `methane_fraction`. [1]

    Raises
    ------
    OutOfRange
        Outside 0.05 to 1.

    Notes
    -----
    The rule, common practice without a source, takes the time as 1 + c for a share c of carbon dioxide: it counts the
    heat missing from each cubic metre once, where the flame lacks it throughout. One injector at one pressure passes
    heat by the Wobbe index (ISO 6976:2016), and heat goes with the root of pressure.
    """
    x = within("methane_fraction", methane_fraction, 0.05, 1.0)
    gas, methane = properties(biogas(x)), properties(biogas(1.0))
    heat_ratio = 1.0 / (2.0 - x)
    return RuleOfThumb(
        penalty_fraction=np.asarray(1.0 - x),
        pressure_factor=np.asarray((heat_ratio * methane.wobbe_net_mj_per_m3 / gas.wobbe_net_mj_per_m3) ** 2),
        flow_factor=np.asarray(heat_ratio * methane.net_mj_per_m3 / gas.net_mj_per_m3),
    )


def other_gas_caution(burner: Burner, supply: GasSupply) -> str | None:
    """A caution where a burner is described as made for a gas unlike the one that reaches it.

    Parameters
    ----------
    burner : Burner
    supply : GasSupply
        Its mean counts where it holds arrays.

    Returns
    -------
    str or None
        None within 25 % of the rated Wobbe index (common practice, no source), and for a rating that was measured on
        the burner as it stands. Says what is so and who may change it; never how.
    """
    rated = properties(burner.rating.mixture()).wobbe_net_mj_per_m3
    ratio = float(np.mean(supply.wet().wobbe_net_mj_per_m3 / rated))
    if abs(ratio - 1.0) <= FAR_FROM_RATED or not isinstance(burner.rating, HeatInputRating):
        return None
    name = burner.rating.gas or f"{100.0 * (burner.rating.methane_fraction or 0.0):g} % methane"
    return (
        f"{burner.name} is rated on {name}; at one pressure this gas gives it {100.0 * ratio:.0f} % of that heat, and "
        "the flame may lift, go out or burn badly. Only a licensed fitter may adapt an appliance, under local codes."
    )
