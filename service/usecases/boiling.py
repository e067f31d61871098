"""How long a pan takes to boil: in a household as it stands, or anywhere, from figures alone."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace
from math import pi
from typing import Any

import numpy as np

from models.boil_time import BoilTime, Hob, boil_time
from models.burner import Burner, GasSupply, HeatInputRating, Mode
from models.dilution import other_gas_caution
from models.errors import Inconsistent
from models.gas import GasQuality, from_carbon_dioxide
from models.iso6976 import mixture
from models.moisture import atmosphere_pa, vapour_fraction
from models.outlook import Outlook
from models.pan import Kitchen, Pan
from models.reckoning import fitting
from models.stove import Stove
from models.units import STANDARD_PRESSURE_PA
from service.documents import PA_PER_KPA, rating_of
from service.usecases.outlook import Moment
from service.usecases.stamp import stamp

Answer = dict[str, Any]
Asked = Mapping[str, Any]

USUAL_PAN = Pan(name="usual pan", mass_kg=0.9)
"""What a household that describes no pan is taken to cook with."""
USUAL_GAUGE_PA = 800.0
MOST_VAPOUR = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class BoilAsked:
    """What is asked of a household: names of burner and pan (the first of each where None), water, mode, methane."""

    water_l: float
    from_c: float
    mode: Mode
    burner: str | None = None
    pan: str | None = None
    methane_fraction: float | None = None


def boil_answer(outlook: Outlook, moment: Moment, _before: object, *, asked: BoilAsked) -> Answer:
    """How long a pan takes on a household's gas as it is now."""
    household, source = outlook.household, outlook.household.gas.source
    gas = household.gas
    if asked.methane_fraction is not None:
        gas = replace(gas, methane_fraction=asked.methane_fraction, methane_sd=0.0)
    supply = household.supply(gas.methane_fraction, float(outlook.made.air_c[0]))
    stove = Stove(burners=household.burners, supply=supply, pans=household.pans or (USUAL_PAN,))
    burner = stove.burner(asked.burner or stove.burners[0].name)
    hob = Hob(
        burner=burner,
        pan=stove.pan(asked.pan or stove.pans[0].name),
        supply=supply,
        kitchen=Kitchen(atmosphere_pa=float(atmosphere_pa(household.site.altitude_m))),
        mode=asked.mode,
        methane_sd=gas.methane_sd,
        useful_sd=burner.useful_sd,
    )
    told = told_of(
        hob,
        source if asked.methane_fraction is None else "asked",
        boil_time(hob, water_l=asked.water_l, from_c=asked.from_c),
        asked.water_l,
        asked.from_c,
    )
    # neither gauge nor forecast is in it, so it holds whatever became of those
    basis = "blended" if source in ("measured", "carbon_dioxide") else "prior"
    return stamp(outlook, moment, "") | {"valid": True, "reason": None, "basis": basis} | told


def boil_anywhere(asked: Asked) -> Answer:
    """How long a pan takes, from figures alone: a burner or a heat input, a pan, a gas, a height."""
    quality = _quality(asked)
    air_pa = _atmosphere(asked)
    burner = _burner(asked, quality)
    saturated_at_c = asked.get("saturated_at_c")
    gauge_kpa = asked.get("gauge_kpa")
    supply = GasSupply(
        methane_fraction=quality.methane_fraction,
        gauge_pa=burner.rating.gauge_pa if gauge_kpa is None else gauge_kpa * PA_PER_KPA,
        atmosphere_pa=air_pa,
        temperature_c=asked["gas_c"] if saturated_at_c is None else saturated_at_c,
        humidity=0.0 if saturated_at_c is None else 1.0,
    )
    if asked.get("heat_input_kw") is not None:  # stated as it burns: nothing is left to scale
        supply = _as_rated(supply, burner)
    _refuse_steam(supply)
    hob = Hob(
        burner=burner,
        pan=Pan(**{"name": "pan", "mass_kg": USUAL_PAN.mass_kg} | asked["pan"]),
        supply=supply,
        kitchen=Kitchen(air_c=asked["air_c"], atmosphere_pa=air_pa),
        mode=asked["mode"],
        methane_sd=quality.methane_sd,
        efficiency_from=asked["efficiency_from"],
        loss_w_per_k=asked.get("loss_w_per_k"),
    )
    found = boil_time(hob, water_l=asked["water_l"], from_c=asked["from_c"])
    return told_of(hob, quality.source, found, asked["water_l"], asked["from_c"])


def _quality(asked: Asked) -> GasQuality:
    if asked.get("components") is not None:
        named = mixture(asked["components"])
        if not set(named.fractions) <= {"CH4", "CO2"}:
            message = "components must be CH4 and CO2 alone here; /v1/gas-quality takes the others"
            raise Inconsistent(message, field="components")
        share = float(named.fractions.get("CH4", np.zeros(())))
        return GasQuality(methane_fraction=share, methane_sd=0.0, source="described")
    if asked.get("carbon_dioxide_pct") is not None:
        return from_carbon_dioxide(asked["carbon_dioxide_pct"] / 100.0)
    if asked.get("methane_pct") is None:
        return GasQuality()
    share, spread = asked["methane_pct"] / 100.0, asked["methane_sd_pct"] / 100.0
    return GasQuality(methane_fraction=share, methane_sd=spread, source="described")


def _atmosphere(asked: Asked) -> float:
    if asked.get("atmosphere_kpa") is not None:
        return float(asked["atmosphere_kpa"] * PA_PER_KPA)
    return float(atmosphere_pa(asked["altitude_m"]))


def _burner(asked: Asked, quality: GasQuality) -> Burner:
    described = asked.get("burner") or {}
    rating = (
        rating_of(described["rating"])
        if described
        else HeatInputRating(
            heat_input_kw=asked["heat_input_kw"],
            methane_fraction=quality.methane_fraction,
            gauge_pa=USUAL_GAUGE_PA,
        )
    )
    efficiency_pct = asked.get("efficiency_pct") or described.get("efficiency_pct", 55.0)
    return Burner(
        name=described.get("name", "burner"),
        rating=rating,
        efficiency=efficiency_pct / 100.0,
        lowest_flame_fraction=described.get("lowest_flame_pct", 25.0) / 100.0,
    )


def _as_rated(supply: GasSupply, burner: Burner) -> GasSupply:
    """The supply at which a burner gives what it is rated for."""
    return replace(
        supply,
        gauge_pa=burner.rating.gauge_pa,
        atmosphere_pa=STANDARD_PRESSURE_PA,
        temperature_c=15.0,
        humidity=0.0,
    )


def _refuse_steam(supply: GasSupply) -> None:
    """Refuse gas so warm, in air so thin, that more than half of it would be vapour."""
    pressure_pa = np.asarray(supply.gauge_pa) + np.asarray(supply.atmosphere_pa)
    if np.any(vapour_fraction(supply.temperature_c, pressure_pa=pressure_pa, humidity=supply.humidity) > MOST_VAPOUR):
        message = f"saturated_at_c is {supply.temperature_c:g}, in this air more vapour than gas, must be lower"
        raise Inconsistent(message, field="saturated_at_c")


def told_of(hob: Hob, source: str, found: BoilTime, water_l: float, from_c: float) -> Answer:
    """What was found, under the contract's names."""
    cautions = (other_gas_caution(hob.burner, hob.supply), _depth_caution(hob.pan, water_l))
    return asdict(found) | {
        "simmer_min_flame_pct": 100.0 * found.simmer_fraction if found.simmer_fraction <= 1.0 else None,
        "rule_of_thumb_note": _rule_note(found),
        "summary": _summary(found, hob, f"{water_l:g} L from {from_c:g} °C"),
        "burner": hob.burner.name,
        "pan": hob.pan.name,
        "mode": hob.mode,
        "efficiency_pct": 100.0 * hob.burner.efficiency,
        "efficiency_from": hob.efficiency_from,
        "methane_pct": 100.0 * found.methane_fraction,
        "methane_source": source,
        "cautions": [caution for caution in cautions if caution],
    }


def _depth_caution(pan: Pan, water_l: float) -> str | None:
    """What to check where water would stand deeper than its pan is wide; how much a pan holds is not described."""
    depth_m = 1e-3 * water_l / (pi / 4.0 * pan.diameter_m**2)
    if depth_m <= pan.diameter_m:
        return None
    return (
        f"{water_l:g} L would stand {100.0 * depth_m:.0f} cm deep in a pan {100.0 * pan.diameter_m:.0f} cm across: "
        "see that the pan holds them with room to boil, and that nobody has to lift it hot."
    )


def _rule_note(found: BoilTime) -> str:
    return (
        f"The rule of thumb ({found.rule_of_thumb_penalty_pct:.0f} % longer) would need this gas at "
        f"{found.rule_pressure_factor:.2f} times the pressure behind the same injector, or at "
        f"{found.rule_flow_factor:.2f} times the flow, of the undiluted gas."
    )


def _summary(found: BoilTime, hob: Hob, water: str) -> str:
    """One sentence; names too long for it are left out."""
    return fitting([_sentence(found, where, water) for where in (f" on {hob.burner.name!r} in {hob.pan.name!r}", "")])


def _sentence(found: BoilTime, where: str, water: str) -> str:
    if found.never_boils:
        return f"{water} never boil{where}, or take more than a day: the flame is too small."
    longer = f", {found.penalty_pct:.0f} % longer than on undiluted gas" if found.undiluted_boil_min > 0.0 else ""
    return f"{water} boil in {found.boil_min:.0f} min{where}{longer}, on {1e3 * found.gas_m3:.0f} L of gas."
