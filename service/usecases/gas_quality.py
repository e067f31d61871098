"""What a gas is worth: heat, density and Wobbe index of a composition, and what to beware of."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

import numpy as np

from models.cautions import cautions, lower_flammable_pct
from models.errors import Inconsistent
from models.gas import (
    GasQuality,
    biogas,
    en437_gas,
    from_carbon_dioxide,
    net_sd_mj_per_sm3,
    stoichiometric_air_m3_per_m3,
)
from models.holder import condensate_l_per_sm3, swing_ratio
from models.iso6976 import GasProperties, Mixture, Reference, mixture, properties, saturated
from models.moisture import vapour_fraction
from models.units import Floats
from service.documents import PA_PER_KPA

Answer = dict[str, Any]

ALIASES: Mapping[str, str] = {
    "nC4": "nC4H10",
    "iC4": "iC4H10",
    "n-C4H10": "nC4H10",
    "i-C4H10": "iC4H10",
    "C4H10": "nC4H10",
}
"""Other names a composition may come under."""


def gas_quality_answer(asked: Mapping[str, Any]) -> Answer:
    """Heat, density and Wobbe index of a gas, dry or saturated, under the contract's names."""
    gas, quality = _gas(asked)
    vapour = _vapour(asked)
    wet = saturated(properties(gas), vapour)
    reference = Reference(
        combustion_c=asked["combustion_c"], metering_c=asked["metering_c"], real=asked["state"] == "real"
    )
    methane = float(np.asarray(gas.fractions.get("CH4", 0.0)))
    return _standard(wet) | {
        "net_sd_mj_per_sm3": (1.0 - vapour) * net_sd_mj_per_sm3(quality) if quality else None,
        "water_vapour_fraction": vapour,
        "volume_ratio": _then(asked, swing_ratio),
        "condensate_l_per_sm3": _then(asked, condensate_l_per_sm3),
        "methane_pct": 100.0 * methane,
        "methane_source": quality.source if quality else "composition",
        "stoichiometric_air_m3_per_m3": float(stoichiometric_air_m3_per_m3(gas)) * (1.0 - vapour),
        "lower_flammable_pct": float(lower_flammable_pct(gas)),
        "heavier_than_air": bool(wet.relative_density > 1.0),
        "at_reference": _at(saturated(properties(gas, reference), vapour), asked),
        "cautions": list(cautions(gas)),
    }


def _gas(asked: Mapping[str, Any]) -> tuple[Mixture, GasQuality | None]:
    """The dry gas, and how it is known where it is by its methane share."""
    if asked.get("components") is not None:
        named: dict[str, float] = {}
        for name, share in asked["components"].items():
            formula = ALIASES.get(name, name)
            if formula in named:
                raise Inconsistent(f"components names {formula} twice, must name it once", field="components")
            named[formula] = share
        return mixture(named), None
    if asked.get("gas"):
        return en437_gas(asked["gas"]), None
    if asked.get("carbon_dioxide_pct") is not None:
        quality = from_carbon_dioxide(asked["carbon_dioxide_pct"] / 100.0)
    elif asked.get("methane_pct") is not None:
        quality = GasQuality(
            methane_fraction=asked["methane_pct"] / 100.0,
            methane_sd=asked["methane_sd_pct"] / 100.0,
            source="described",
        )
    else:
        quality = GasQuality()
    return biogas(quality.methane_fraction, hydrogen_sulfide_ppm=asked["hydrogen_sulfide_ppm"]), quality


def _vapour(asked: Mapping[str, Any]) -> float:
    if asked.get("saturated_at_c") is None:
        return 0.0
    warm_c, pressure_kpa = asked["saturated_at_c"], asked["pressure_kpa"]
    share = float(
        vapour_fraction(warm_c, pressure_pa=pressure_kpa * PA_PER_KPA, humidity=asked["humidity_pct"] / 100.0)
    )
    if share > 0.5:
        message = f"saturated_at_c is {warm_c:g}, at pressure_kpa {pressure_kpa:g} more vapour than gas, must be lower"
        raise Inconsistent(message, field="saturated_at_c")
    return share


def _then(asked: Mapping[str, Any], change: Callable[..., Floats]) -> float | None:
    """What becomes of saturated gas at another temperature; None where none is asked for."""
    if asked.get("then_at_c") is None:
        return None
    pressure_pa = asked["pressure_kpa"] * PA_PER_KPA
    return float(change(asked["saturated_at_c"], asked["then_at_c"], pressure_pa=pressure_pa))


def _standard(gas: GasProperties) -> Answer:
    return {
        "gross_mj_per_sm3": float(gas.gross_mj_per_m3),
        "net_mj_per_sm3": float(gas.net_mj_per_m3),
        "relative_density": float(gas.relative_density),
        "wobbe_gross_mj_per_sm3": float(gas.wobbe_gross_mj_per_m3),
        "wobbe_net_mj_per_sm3": float(gas.wobbe_net_mj_per_m3),
        "compression_factor": float(gas.compression_factor),
        "molar_mass_g_per_mol": float(gas.molar_mass_g_per_mol),
        "density_kg_per_sm3": float(gas.density_kg_per_m3),
    }


def _at(gas: GasProperties, asked: Mapping[str, Any]) -> Answer:
    """The same at another reference state."""
    return {
        "combustion_c": asked["combustion_c"],
        "metering_c": asked["metering_c"],
        "state": asked["state"],
        "gross_mj_per_m3": float(gas.gross_mj_per_m3),
        "net_mj_per_m3": float(gas.net_mj_per_m3),
        "wobbe_gross_mj_per_m3": float(gas.wobbe_gross_mj_per_m3),
        "wobbe_net_mj_per_m3": float(gas.wobbe_net_mj_per_m3),
        "relative_density": float(gas.relative_density),
        "compression_factor": float(gas.compression_factor),
        "density_kg_per_m3": float(gas.density_kg_per_m3),
        "gross_mj_per_kg": float(gas.gross_mj_per_kg),
        "net_mj_per_kg": float(gas.net_mj_per_kg),
        "gross_kj_per_mol": float(gas.gross_kj_per_mol),
        "net_kj_per_mol": float(gas.net_kj_per_mol),
    }
