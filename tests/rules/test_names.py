"""Every figure of the contract has its unit in its name, and the name says the same unit as the contract does."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest
import yaml

ROOT = Path(__file__).parents[2]
UNITS = {
    "m3": "m3", "sm3": "m3", "l": "L", "m2": "m2", "mm2": "mm2", "m": "m", "mm": "mm",
    "kg": "kg", "mj": "MJ", "kj": "kJ", "j": "J", "kw": "kW", "w": "W", "kwh": "kW.h",
    "kpa": "kPa", "mm_h2o": "mm[H2O]", "c": "Cel", "k": "K", "deg": "deg",
    "pct": "%", "ppm": "[ppm]", "min": "min", "h": "h", "d": "d", "mol": "mol", "g": "g",
}  # fmt: skip
"""The last part of a name and the unit it stands for, UCUM."""
WORDS = {"days": "d", "day": "d", "months": "mo", "litres": "L"}
"""Units that a name says in full."""
ODDS = re.compile(r"(^|_)(probability|share|fraction|ratio|factor|coefficient|density)$")
"""Figures without a unit that name themselves as such: odds, shares, ratios; a density is one where it is relative."""
COUNTS = re.compile(r"^(added|unchanged|conflict|refused|readings|intervals|bounds|forecasts)$|_(meals|count)$")
PLACES = re.compile(r"^(id|before_id|forecast_id|line|next_cursor|cursor|since|limit|status)$")
"""Numbers that count things, or name a row, a page or a status."""
FREE = {
    "care_level": "a quantile, 0 to 1",
    "factor": "times the usual meal",
    "value": "in the unit that stands beside it",
    "low": "in the unit of the parameter",
    "high": "in the unit of the parameter",
    "sd": "in the unit of the parameter",
    "prior": "in the unit of the parameter",
    "within_80": "a share of days, beside the interval's own per cent",
    "within_95": "a share of days, beside the interval's own per cent",
    "to_week_mean": "an error over another",
    "to_last_value": "an error over another",
}
"""Every other figure without a unit in its name, and why it has none."""
SHORT = {
    "sm3_per_m3": "m3/m3 is 1",
    "sun_k_per_mj": "K to a MJ on the square metre a day",
}
"""Names that say their unit in short."""
FORMULA = re.compile(r"^[in]?-?(C\d?|H\d|N\d|O\d|CO\d?)[A-Z0-9]*$")


def figures() -> list[tuple[str, str, str]]:
    """Place, name and unit of every number of the contract."""
    contract = yaml.safe_load((ROOT / "openapi.yaml").read_text(encoding="utf-8"))
    found: list[tuple[str, str, dict[str, Any]]] = [
        (schema, name, about)
        for schema, document in contract["components"]["schemas"].items()
        for name, about in document.get("properties", {}).items()
    ]
    for path, item in contract["paths"].items():
        for part in item.values():
            parameters = part if isinstance(part, list) else part.get("parameters", [])
            found += [(path, one["name"], one["schema"]) for one in parameters]
    return [(place, name, about["x-ucum"]) for place, name, about in found if is_number(about)]


def is_number(about: dict[str, Any]) -> bool:
    kinds = about.get("type", [])
    return bool({"number", "integer"}.intersection([kinds] if isinstance(kinds, str) else kinds))


def named_unit(name: str) -> str | None:
    """The unit that a name ends with, UCUM; None where it ends with none."""
    whole, _, below = name.rpartition("_per_")
    if whole:
        over, under = named_unit(whole), [UNITS.get(part) for part in below.split("_")]
        if over is None or None in under:
            return None
        return f"{over}/{under[0]}" if len(under) == 1 else f"{over}/({'.'.join(map(str, under))})"
    parts = name.split("_")
    for ending in ("_".join(parts[-2:]), parts[-1]):
        if ending in UNITS:
            return UNITS[ending]
    return next((WORDS[part] for part in parts if part in WORDS), None)


@pytest.mark.parametrize(("name", "unit"), [
    ("gross_mj_per_sm3", "MJ/m3"), ("specific_heat_j_per_kg_k", "J/(kg.K)"), ("gauge_mm_h2o", "mm[H2O]"),
    ("days_left_q10", "d"), ("budget_q10_m3", "m3"), ("budget", None), ("rate_per_moon", None),
])  # fmt: skip
def test_a_unit_is_read_off_a_name(name: str, unit: str | None) -> None:
    assert named_unit(name) == unit


def test_every_figure_has_its_unit_in_its_name_or_a_reason_to_have_none() -> None:
    found = figures()
    nameless = [(place, name, unit) for place, name, unit in found if named_unit(name) is None]
    strange = [
        (place, name)
        for place, name, unit in nameless
        if not (ODDS.search(name) or COUNTS.search(name) or PLACES.search(name) or FORMULA.search(name) or name in FREE)
    ]

    assert len(found) > 300
    assert strange == []
    assert [one for one in nameless if one[2] not in ("1", "mol/mol", "{text}")] == []


def test_a_name_and_the_contract_say_the_same_unit() -> None:
    said = [(place, name, unit) for place, name, unit in figures() if name not in SHORT]
    apart = [(place, name, unit) for place, name, unit in said if named_unit(name) not in (None, unit)]

    assert apart == []


def test_every_reason_is_still_needed() -> None:
    assert sorted({*FREE, *SHORT} - {name for _, name, _ in figures()}) == []


def test_names_are_words_in_lower_case() -> None:
    contract = yaml.safe_load((ROOT / "openapi.yaml").read_text(encoding="utf-8"))
    names = {name for one in contract["components"]["schemas"].values() for name in one.get("properties", {})}
    odd = [
        name for name in names if not re.fullmatch(r"[a-z][a-z0-9]*(_[a-z0-9]+)*", name) and not FORMULA.search(name)
    ]
    paths = [path for path in contract["paths"] if not re.fullmatch(r"(/(\{[a-z_]+\}|[a-z0-9-]+(\.[a-z]+)?))+", path)]

    assert odd == []
    assert paths == []
