"""Examples of the contract: one invented household, the same throughout."""

from __future__ import annotations

from typing import Any

DESCRIPTION: dict[str, Any] = {
    "label": "An invented cottage",
    "time_zone": "Europe/Lisbon",
    "care_level": 0.1,
    "site": {
        "altitude_m": 140,
        "latitude_deg": 41.2,
        "monthly_mean_c": [9, 10, 12, 14, 17, 20, 22, 22, 20, 16, 12, 10],
    },
    "gas": {"methane_pct": 60, "hydrogen_sulfide_ppm": 800},
    "holder": {
        "capacity_m3": 0.9,
        "reserve_m3": 0.05,
        "gauge_kpa": 0.6,
        "relief_kpa": 0.981,
        "level_error_pct": 4,
        "gauge_points": [[0, 0.0], [50, 0.42], [100, 0.9]],
    },
    "digesters": [
        {
            "name": "tank",
            "liquid_m3": 0.85,
            "usual_feed_kg_per_d": 4.0,
            "usual_water_l_per_d": 6.0,
            "feedstock": "kitchen scraps",
            "sensor": "inside",
        }
    ],
    "burners": [
        {
            "name": "ring",
            "rating": {"heat_input_kw": 2.2, "methane_pct": 60, "gauge_kpa": 0.8},
            "efficiency_pct": 55,
            "lowest_flame_pct": 25,
        }
    ],
    "pans": [{"name": "two litre", "mass_kg": 0.9, "material": "steel", "lid": True}],
    "backup": {"fuel": "lpg", "on_hand_kg": 3.0, "lead_d": 4, "efficiency_pct": 55},
}
MEAL: dict[str, Any] = {
    "name": "dinner",
    "starts_on": "2025-01-01",
    "time": "19:00",
    "rrule": "FREQ=DAILY",
    "burner": "ring",
    "flame_min": 35,
    "flame_pct": 100,
    "movable": False,
}
OVERRIDE: dict[str, Any] = {"id": "holiday-dinner", "date": "2026-12-24", "meal": "dinner", "factor": 1.6}
WEATHER: list[dict[str, Any]] = [
    {"date": "2026-11-26", "mean_c": 9.5, "min_c": 6.0, "max_c": 13.0},
    {"date": "2026-11-27", "mean_c": 8.0},
]
FIT_REQUEST: dict[str, Any] = {
    "id": 3,
    "as_of": None,
    "requested_at": "2026-11-25T03:00:00+00:00",
    "finished_at": None,
    "outcome": "waiting",
    "message": None,
}
