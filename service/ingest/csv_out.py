"""The log as long-form CSV that an import takes back, and its Frictionless description."""

from __future__ import annotations

import csv
import io
from datetime import UTC, datetime
from typing import Any
from zoneinfo import ZoneInfo

from service.ingest.mapping import FURTHER, LONG_FORM
from service.readings import METERS, RULES, Reading

COLUMNS = LONG_FORM + FURTHER
HEADING = ",".join(COLUMNS) + "\r\n"
MEANING = {
    "taken_at": "when it was read off, or for cooking when it was lit, in the household's own time with its offset",
    "quantity": "what was read",
    "value": "the figure, in `unit`",
    "unit": "UCUM unit of the value",
    "item": f"burner, digester, feedstock or meter ({' or '.join(METERS)}) it belongs to",
    "flame_pct": "flame while cooking, of full [%]",
    "meal": "meal that was cooked",
    "note": "anything else",
    "water_l": "water of a boil test [L]",
    "from_c": "temperature of the water at the start of a boil test [Cel]",
    "sure": "whether whoever took it stands by it: it is never set aside",
    "id": "id of the reading",
    "recorded_at": "when it was put into the log",
}
TYPES = {"taken_at": "datetime", "recorded_at": "datetime", "sure": "boolean"} | dict.fromkeys(
    ("value", "flame_pct", "water_l", "from_c"), "number"
)


def line_of(reading: Reading, zone: ZoneInfo) -> str:
    """One line, ended as RFC 4180 has it."""
    out = io.StringIO()
    csv.writer(out).writerow(
        (
            _local(reading.taken_s, zone),
            reading.quantity,
            repr(reading.value),
            reading.unit,
            reading.item,
            _figure(reading.flame_pct),
            reading.meal,
            reading.note,
            _figure(reading.water_l),
            _figure(reading.from_c),
            str(reading.sure).lower(),
            reading.id,
            _local(reading.recorded_s, zone),
        )
    )
    return out.getvalue()


def datapackage(name: str, csv_name: str, created: datetime) -> dict[str, Any]:
    """The description of the exported CSV, as Frictionless Data Package 1 has it."""
    fields = [{"name": one, "type": TYPES.get(one, "string"), "description": MEANING[one]} for one in COLUMNS]
    for field in fields:
        if field["type"] == "datetime":
            field["format"] = "%Y-%m-%dT%H:%M:%S%z"
    constraints = {"quantity": {"required": True, "enum": list(RULES)}, "value": {"required": True}}
    return {
        "profile": "tabular-data-package",
        "name": f"log-of-{name.lower().replace(' ', '-')}",
        "title": f"Log of the household {name}",
        "created": created.isoformat(timespec="seconds"),
        "resources": [
            {
                "profile": "tabular-data-resource",
                "name": "readings",
                "path": csv_name,
                "format": "csv",
                "mediatype": "text/csv",
                "encoding": "utf-8",
                "dialect": {"delimiter": ",", "lineTerminator": "\r\n", "quoteChar": '"', "doubleQuote": True},
                "schema": {
                    "fields": [
                        field | ({"constraints": constraints[field["name"]]} if field["name"] in constraints else {})
                        for field in fields
                    ],
                    "primaryKey": "id",
                    "missingValues": [""],
                },
            }
        ],
    }


def _figure(value: float | None) -> str:
    return "" if value is None else repr(value)


def _local(time_s: int, zone: ZoneInfo) -> str:
    return datetime.fromtimestamp(time_s, UTC).astimezone(zone).isoformat()
