"""What a list of forecasts and a comparison of two look like."""

from __future__ import annotations

from typing import Any

ENTRY: dict[str, Any] = {
    "id": 812,
    "kind": "gas-budget",
    "issued_at": "2026-11-25T06:00:09+00:00",
    "as_of": "2026-11-25T06:00:09+00:00",
    "asked": {"date": "tomorrow", "days": 14},
    "etag": "9f2c1b7be0a84f3f8a9d5f1c2b3a4d5e",
    "figures": {
        "date": "2026-11-26",
        "budget_m3": 0.4108,
        "budget_q10_m3": 0.302,
        "need_m3": 0.4268,
        "covered": False,
        "holder_m3": None,
        "days_left": None,
        "first_backup_date": None,
        "summary": "Thursday 26 November: gas for 56 min of full flame, 41 min nine times in ten; the meals want "
        "58 min, covered with odds of 45%: plan dinner on the backup.",
    },
}

PAGE: dict[str, Any] = {"forecasts": [ENTRY], "next_cursor": 812}

CHANGES: dict[str, Any] = {
    "id": 812,
    "issued_at": "2026-11-25T06:00:09+00:00",
    "before_id": 797,
    "before_issued_at": "2026-11-24T19:00:02+00:00",
    "date": "2026-11-26",
    "budget_m3": 0.4108,
    "budget_before_m3": 0.3702,
    "change_l": 40.6,
    "changes": [
        {"why": "time", "litres": -1.1, "what": "11.0 hours passed"},
        {"why": "readings", "litres": 46.3, "what": "readings: 2 new"},
        {"why": "weather", "litres": -5.2, "what": "the weather forecast"},
        {"why": "chance", "litres": 0.6, "what": "chance in the sample paths"},
    ],
    "valid": True,
    "reason": None,
    "summary": "Thursday 26 November: 411 L may be burned, 41 L more than what was said on Tuesday 24 November at "
    "19:00: the readings +46 L, the weather forecast -5 L.",
}
