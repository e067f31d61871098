"""An example for every field and parameter of the contract, from the operations' own examples where they show it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

Document = dict[str, Any]

FURTHER: Mapping[str, Any] = {
    "air_c": 18.0,
    "altitude_m": 140.0,
    "as_of": "2026-11-25T06:00:00+00:00",
    "atmosphere_kpa": 99.7,
    "backup_kwh": 0.4,
    "backup_q10_kwh": 0.1,
    "backup_q90_kwh": 1.1,
    "bottle_empty_date": "2026-12-19",
    "carbon_dioxide_pct": 38.0,
    "cautions": ["Gas that burns badly gives off carbon monoxide: keep the room aired."],
    "columns": {"start": ["2026-11-26T00:00:00+00:00"], "production_q50_m3": [0.41]},
    "condensate_l_per_sm3": 0.012,
    "cursor": "1763622000.17",
    "date": "tomorrow",
    "date_order": "dmy",
    "diameter_m": 0.2,
    "discharge_coefficient": 0.9,
    "efficiency_pct": 55.0,
    "exdates": ["2026-12-24"],
    "finished_at": "2026-11-25T06:01:10+00:00",
    "from": "2026-11-01",
    "from date-time": "2026-11-01T00:00:00+00:00",
    "from_c": 15.0,
    "fry_min": 8.0,
    "full_at": "2026-11-27T15:00:00+00:00",
    "full_at_q10": "2026-11-26T14:00:00+00:00",
    "gas": "G20",
    "gas_flow_l_per_h": 380.0,
    "gauge_kpa": 0.6,
    "gauge_mm_h2o": 60.0,
    "heat_input_kw": 2.2,
    "held_c": 20.0,
    "humidity_pct": 100.0,
    "injector_mm": 1.4,
    "item": "ring",
    "last_message": "a new fit forecasts the days held back better and replaces the old one",
    "last_outcome": "replaced",
    "last_reading_at": "2026-11-25T05:30:00+00:00",
    "leads": [{"first_lead_day": 1, "last_lead_day": 1, "forecasts": 60}],
    "levels": [0.05, 0.95],
    "loss_w_per_k": 0.8,
    "lowest_flame_pct": 25.0,
    "meal": "dinner",
    "burner": "ring",
    "dishes": [{"burner": "ring", "pan": "two litre", "steps": [{"boil": {"water_l": 2.0}}, {"simmer_min": 20.0}]}],
    "flame_min": 60.0,
    "flame_pct": 60.0,
    "skip": True,
    "message": "value is 140, must be 0 to 100 %",
    "methane_pct": 60.0,
    "methane_sd_pct": 5.0,
    "net_sd_mj_per_sm3": 1.7,
    "next_cursor": 1000,
    "next_venting_date": "2026-11-27",
    "note": "guests for dinner",
    "notes": ["the file separates its columns by ;, so a comma is taken for the decimal sign"],
    "on_hand_at": "2026-11-20T09:00:00+00:00",
    "order_by_date": "2026-12-15",
    "pan": "two litre",
    "pointer": "/value",
    "rdates": ["2026-12-26"],
    "relief_mm_h2o": 100.0,
    "saturated_at_c": 25.0,
    "simmer_min": 20.0,
    "specific_heat_j_per_kg_k": 500.0,
    "started_on": "2025-03-01",
    "then_at_c": 15.0,
    "to": "2026-11-08",
    "to date-time": "2026-11-08T00:00:00+00:00",
    "undone_at": "2026-11-25T07:00:00+00:00",
    "volume_ratio": 1.056,
    "water_l": 2.0,
    "weight_area_m2": 0.79,
    "weight_kg": 48.0,
}
"""What no operation's example shows, by the field's name, and its format where that makes a difference."""

SPECIAL: Mapping[tuple[str, str], Any] = {
    ("Boil", "water_l"): 2.0,
    ("BoilAsked", "components"): {"CH4": 0.6, "CO2": 0.4},
    ("Description", "changed_on"): ["2026-04-02"],
    ("Dish", "steps"): [{"boil": {"water_l": 2.0, "from_c": 15.0}}, {"simmer_min": 20.0}],
    ("FaultOut", "code"): "range",
    ("ForecastFigures", "days_left"): 2.8,
    ("ForecastFigures", "first_backup_date"): "2026-11-27",
    ("ForecastFigures", "holder_m3"): 0.42,
    ("ProblemOut", "detail"): "value is 140, must be 0 to 100 %",
    ("ProblemOut", "errors"): [{"pointer": "/value", "code": "range", "message": "value is 140, must be 0 to 100 %"}],
    ("ProblemOut", "instance"): "/v1/households/home/readings",
    ("ProblemOut", "status"): 422,
    ("ProblemOut", "title"): "Unprocessable Entity",
    ("ProblemOut", "type"): "/problems/reading-refused",
    ("ReadingsPage", "next_cursor"): "1763622000.17",
    ("ReportRow", "message"): "value is 140, must be 0 to 100 %",
    ("ReportRow", "pointer"): "/lines/7/value",
    ("Recorded", "readings"): [
        {"taken_at": "2026-11-25T08:00:00+00:00", "quantity": "holder_level", "value": 62.0, "unit": "%"}
    ],
    ("Recorded", "added"): 1,
    ("Recorded", "unchanged"): 0,
    ("Step", "boil"): {"water_l": 2.0, "from_c": 15.0},
}
"""The same, where a name means something else elsewhere, or holds documents."""

COMPONENT: Mapping[str, float] = {"Components": 0.01}
"""A gas may hold a little of anything."""

QUERY: Mapping[str, Any] = {
    "columns": '{"day": "date", "gauge": "holder_level:%@07:30"}',
    "cursor": 812,
    "key": "3q2-7wAAAAB0aGUga2V5IG9mIG5vYm9keQ",
    "kind": "gas-budget",
    "since": 797,
}
"""The same for what is asked, where it is not what a field of that name holds."""

PATH: Mapping[str, tuple[str, str | int]] = {
    "forecast_id": ("number of the forecast", 812),
    "household": ("name of the household", "home"),
    "meal": ("name of the meal", "dinner"),
    "override": ("id of the one-off change", "holiday-dinner"),
    "reading_id": ("id of the reading, a UUID", "4be2e06b-6d52-4e0b-9c8c-3a86ad3a4a52"),
    "import_id": ("id of the import", "0f0c2f4e-0f6b-4f5e-9d0a-2d4c8d1b7a11"),
}
"""Parts of a path: what they are, and one of them."""


KINDS: Mapping[str, type | tuple[type, ...]] = {
    "array": list,
    "boolean": bool,
    "integer": int,
    "null": type(None),
    "number": (int, float),
    "object": dict,
    "string": str,
}
UNITLESS = {"array": "{list}", "object": "{document}"}


def illustrate(document: Document) -> None:
    """Give every field and parameter of an OpenAPI document an example, where one is known."""
    schemas: Document = document["components"]["schemas"]
    shown: dict[tuple[str, str], Any] = {}
    for body in _bodies(document):
        for field, value in _fields(body.get("schema", {}), body.get("example"), schemas):
            shown.setdefault(field, value)
    for (name, label), about in _properties(schemas):
        known = (SPECIAL.get((name, label)), shown.get((name, label)), _usual(label, about), COMPONENT.get(name))
        examples = [value for value in known if value is not None]
        if examples:
            about.setdefault("examples", examples[:1])
        for kind in {"array", "object"}.intersection(_kinds(about)):
            about.setdefault("x-ucum", UNITLESS[kind])
    for parameter in parameters_of(document):
        _tell(parameter)


def _usual(field: str, about: Document) -> Any:
    """An example for a field that no operation shows: by its name, else its first choice, else its default."""
    if "enum" in about:
        return about["enum"][0]
    known = FURTHER.get(f"{field} {about.get('format')}", FURTHER.get(field))
    return known if known is not None and _fits(known, about) else about.get("default")


def _fits(value: Any, about: Document) -> bool:
    """Whether a value is of a type that a field takes; one that is described elsewhere takes what stands there."""
    allowed = _kinds(about)
    return not allowed or any(isinstance(value, KINDS[kind]) for kind in allowed)


def _kinds(about: Document) -> list[str]:
    kinds = about.get("type", [])
    return [kinds] if isinstance(kinds, str) else list(kinds)


def _tell(parameter: Document) -> None:
    """Say what a parameter is and show one."""
    name, about = parameter["name"], parameter["schema"]
    if parameter["in"] == "path" and name in PATH:
        parameter["description"], parameter["example"] = PATH[name]
        about["x-ucum"] = "{text}"
    elif parameter["in"] == "query":
        known = [value for value in (QUERY.get(name), _usual(name, about)) if value is not None and _fits(value, about)]
        parameter |= {"example": known[0]} if known else {}


def _operations(document: Document) -> Iterator[Document]:
    for item in document["paths"].values():
        yield from (part for part in item.values() if isinstance(part, dict))


def parameters_of(document: Document) -> Iterator[Document]:
    """Every parameter of an OpenAPI document, of a path or of an operation."""
    for item in document["paths"].values():
        yield from item.get("parameters", [])
    for operation in _operations(document):
        yield from operation.get("parameters", [])


def _bodies(document: Document) -> Iterator[Document]:
    for operation in _operations(document):
        for part in (operation.get("requestBody", {}), *operation.get("responses", {}).values()):
            yield from part.get("content", {}).values()


def _properties(schemas: Document) -> Iterator[tuple[tuple[str, str], Document]]:
    for name, schema in schemas.items():
        for field, about in schema.get("properties", {}).items():
            yield (name, field), about


def _fields(schema: Document, value: Any, schemas: Document) -> Iterator[tuple[tuple[str, str], Any]]:
    """Every field that a value of this schema shows."""
    if "$ref" in schema:
        name = schema["$ref"].rsplit("/", 1)[-1]
        properties = schemas.get(name, {}).get("properties", {})
        for field, part in value.items() if isinstance(value, dict) else ():
            if part not in (None, [], {}) and field in properties:
                yield (name, field), part
                yield from _fields(properties[field], part, schemas)
    for part in value if isinstance(value, list) else ():
        yield from _fields(schema.get("items", {}), part, schemas)
    for choice in (*schema.get("anyOf", ()), *schema.get("oneOf", ()), *schema.get("allOf", ())):
        yield from _fields(choice, value, schemas)
