"""Examples of the log: a reading, a CSV file and the report of its import."""

from __future__ import annotations

from typing import Any

READING: dict[str, Any] = {
    "id": "4be2e06b-6d52-4e0b-9c8c-3a86ad3a4a52",
    "taken_at": "2025-11-20T19:30:00+00:00",
    "quantity": "cooking",
    "value": 35.0,
    "unit": "min",
    "item": "ring",
    "flame_pct": 100.0,
    "meal": "dinner",
    "note": None,
    "water_l": None,
    "from_c": None,
    "sure": False,
    "recorded_at": "2025-11-20T20:05:12+00:00",
}
CSV = (
    "taken_at,quantity,value,unit,item,flame_pct,meal,note\n"
    "2025-11-20T07:30,holder_level,62,%,,,,\n"
    "2025-11-20T19:30,cooking,35,min,ring,,dinner,\n"
)
IMPORT_REPORT: dict[str, Any] = {
    "id": "0f0c2f4e-0f6b-4f5e-9d0a-2d4c8d1b7a11",
    "dry_run": False,
    "summary": "1 added, 1 unchanged, 0 in conflict, 0 refused",
    "imported_at": "2025-11-21T08:00:00+00:00",
    "undone_at": None,
    "added": 1,
    "unchanged": 1,
    "conflict": 0,
    "refused": 0,
    "separator": ",",
    "decimal": ".",
    "date_order": None,
    "notes": [],
    "rows": [
        {
            "line": 2,
            "code": "added",
            "reading_id": "c7a2c2a5-0be4-4a5e-8f0e-9a54a7cf9d60",
            "pointer": None,
            "message": None,
        },
        {"line": 3, "code": "unchanged", "reading_id": READING["id"], "pointer": None, "message": None},
    ],
    "next_cursor": None,
}
LISTED = ("id", "summary", "imported_at", "undone_at", "added", "unchanged", "conflict", "refused")
IMPORTS: dict[str, Any] = {
    "imports": [{name: IMPORT_REPORT[name] for name in LISTED}],
    "next_cursor": 7,
}
