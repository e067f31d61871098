"""When the full holder vents: how much is lost, what it could have cooked, what it does to the climate."""

from __future__ import annotations

from typing import Any

from models.boiling import water_boiled_l
from models.cautions import VENTING, cautions
from models.fuels import GWP100_NON_FOSSIL
from models.gas import biogas
from models.moisture import atmosphere_pa
from models.outlook import Outlook
from models.pan import Kitchen
from models.venting import venting_outlook
from service.usecases.outlook import Moment
from service.usecases.stamp import plain, stamp

COLD_WATER_C = 15.0
CO2E_SOURCE = (
    f"IPCC AR6 WG1 (2021), Table 7.15: {GWP100_NON_FOSSIL:g} kg of CO2 warm as much over 100 years as a kilogram of "
    "methane from living matter let go unburnt"
)


def venting_answer(outlook: Outlook, moment: Moment, _: bytes | None = None) -> dict[str, Any]:
    """When the holder vents, how much, and what could be cooked with it instead."""
    household, told = outlook.household, outlook.told
    gas = biogas(household.gas.methane_fraction, hydrogen_sulfide_ppm=household.gas.hydrogen_sulfide_ppm)
    known = {
        "burner": household.burners[0].name,
        "co2e_source": CO2E_SOURCE,
        "cautions": [*VENTING, *cautions(gas)],
        "horizon_d": outlook.horizon_d,
        "days": [],
    }
    if told is None:
        return known | stamp(outlook, moment, "")
    found = venting_outlook(told, methane_fraction=outlook.supply.methane_fraction)
    useful, useful_q90 = (mj * household.burners[0].efficiency for mj in (found.vented_mj, found.vented_q90_mj))
    boiled = {
        "useful_mj": useful,
        "boiled_l": _boiled_l(outlook, useful),
        "boiled_q90_l": _boiled_l(outlook, useful_q90),
    }
    values: dict[str, Any] = plain(found, household.zone)
    return known | values | boiled | stamp(outlook, moment, found.summary)


def _boiled_l(outlook: Outlook, useful_mj: float) -> float:
    """Cold water that heat in the pan brings to the boil here. [L]"""
    kitchen = Kitchen(atmosphere_pa=float(atmosphere_pa(outlook.household.site.altitude_m)))
    return float(water_boiled_l(useful_mj, from_c=COLD_WATER_C, boiling_c=kitchen.boiling_point_c()))
