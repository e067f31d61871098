"""Examples of the ledger, as the invented household of the demonstration was given them."""

from __future__ import annotations

from typing import Any

DAYS: dict[str, Any] = {
    "as_of": "2026-11-25T12:30:00-08:00",
    "time_zone": "America/Los_Angeles",
    "summary": "1 of 2 days known, 0 with gas vented or perhaps, 1 unknown; on the known days 0.22 sm3 a day was made.",
    "days": [
        {
            "date": "2026-11-24",
            "start": "2026-11-24T00:00:00-08:00",
            "end": "2026-11-25T00:00:00-08:00",
            "bound": "exact",
            "valid": True,
            "reason": None,
            "made_m3": 0.2252,
            "made_error_m3": 0.0878,
            "burned_m3": 0.2,
            "burned_error_m3": 0.0767,
            "vented_m3": 0.0,
            "vented_error_m3": 0.0,
            "sm3_per_m3": 1.00759,
        },
        {
            "date": "2026-11-25",
            "start": "2026-11-25T00:00:00-08:00",
            "end": "2026-11-26T00:00:00-08:00",
            "bound": "missing",
            "valid": False,
            "reason": "no two readings near enough",
            "made_m3": None,
            "made_error_m3": None,
            "burned_m3": 0.0884,
            "burned_error_m3": 0.0775,
            "vented_m3": None,
            "vented_error_m3": None,
            "sm3_per_m3": 1.00556,
        },
    ],
    "set_aside": [
        {
            "reading": "2740ca37-a43f-4052-80c9-f52a73b344f2",
            "taken_at": "2024-11-20T07:10:00-08:00",
            "quantity": "holder_level",
            "why": "above what the holder can hold",
        },
    ],
    "warnings": [
        {
            "code": "stale_readings",
            "since": "2026-11-21T19:40:00-08:00",
            "message": "The last look at the gauge is 4 days old; what the holder holds now is a guess.",
            "look_first": "Read the gauge and log the level; if a sensor does that, see whether it still runs.",
        },
    ],
}
DAYS_CSV = (
    "date,start,end,bound,valid,reason,made_m3,made_error_m3,burned_m3,burned_error_m3,vented_m3,vented_error_m3,"
    "sm3_per_m3\r\n"
    "2026-11-24,2026-11-24T00:00:00-08:00,2026-11-25T00:00:00-08:00,exact,true,,0.2252,0.0878,0.2,0.0767,0.0,0.0,"
    "1.00759\r\n"
)
