"""Units and reference states of the contract."""

from __future__ import annotations

from typing import Any

from models.log import QUANTITIES
from models.units import STANDARD_PRESSURE_PA, STANDARD_TEMPERATURE_K, ZERO_CELSIUS_K
from service.api.contract import Blueprint
from service.api.schemas.physics import Units

blueprint = Blueprint("units", __name__, url_prefix="/v1", description="units and reference states")

SUFFIXES = (
    ("_m3", "m3", "gas as the gauge shows it: wet, at the holder's temperature and pressure"),
    ("_sm3", "m3", "dry gas at 15 °C and 101.325 kPa, real gas"),
    ("_mj", "MJ", "net heat (lower heating value)"),
    ("_mj_per_sm3", "MJ/m3", "heat of a standard cubic metre; gross or net as the name says"),
    ("_kw", "kW", "net heat input, or power"),
    ("_kwh", "kW.h", "electricity"),
    ("_kg", "kg", "mass"),
    ("_l", "L", "volume of a liquid"),
    ("_kpa", "kPa", "pressure; gauge_kpa above the air's, pressure_kpa and atmosphere_kpa absolute"),
    ("_mm_h2o", "mm[H2O]", "pressure above the air's as a column of water, 9.80665 Pa to the millimetre"),
    ("_c", "Cel", "temperature"),
    ("_k", "K", "difference of temperature"),
    ("_min", "min", "minutes"),
    ("_d", "d", "days of 24 hours"),
    ("_pct", "%", "share of a hundred"),
    ("_ppm", "[ppm]", "share of a million, by volume"),
    ("_fraction", "1", "share of one"),
    ("_probability", "1", "odds, 0 to 1"),
    ("_m", "m", "length or height"),
    ("_m2", "m2", "area"),
    ("_mm", "mm", "length"),
    ("_deg", "deg", "angle"),
)
TOLD: dict[str, Any] = {
    "standard_temperature_c": STANDARD_TEMPERATURE_K - ZERO_CELSIUS_K,
    "standard_pressure_kpa": STANDARD_PRESSURE_PA / 1e3,
    "standard_source": "ISO 13443, standard reference conditions; calorific values by ISO 6976:2016",
    "units": [{"suffix": suffix, "ucum": ucum, "meaning": meaning} for suffix, ucum, meaning in SUFFIXES],
    "readings": {quantity: list(units) for quantity, units in QUANTITIES.items()},
    "quantiles": "q10 before the unit is the 0.1 quantile: nine times in ten at least this much; no mark is the median",
    "unknown_figures": "null, with valid: false and a reason beside it; never 0, never a missing key",
    "times": "RFC 3339 with offset; start and end half-open; a date is the household's own, in its IANA time zone",
}


@blueprint.get("/units")
@blueprint.response(200, Units, example=TOLD)
def get_units() -> dict[str, Any]:
    """What the names of figures say of their units and reference states."""
    return TOLD
