"""What an invented household says of itself, in the contract's JSON."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

from service.demo.traits import Fed, Habit, Traits
from service.demo.weather import ALTITUDE_M, LATITUDE_DEG, monthly_normals

WEEKDAYS = ("MO", "TU", "WE", "TH", "FR", "SA", "SU")


def describe(traits: Traits) -> dict[str, Any]:
    """The description, as the household would PUT it."""
    bag, cook = traits.bag, traits.cook
    told: dict[str, Any] = {
        "label": traits.label,
        "time_zone": traits.zone.key,
        "care_level": 0.1,
        "site": {
            "altitude_m": ALTITUDE_M,
            "latitude_deg": LATITUDE_DEG,
            "monthly_mean_c": monthly_normals(traits.shift_k),
        },
        "holder": {
            "capacity_m3": bag.capacity_m3,
            "reserve_m3": 0.05,
            "gauge_kpa": round(bag.gauge_pa / 1000.0, 2),
            "relief_kpa": 0.981,
            "level_error_pct": traits.diary.stated_error_pct,
            "gauge_points": [list(point) for point in bag.gauge_points],
        },
        "digesters": [_digester(fed, traits.diary.outside_wall) for fed in traits.fed],
        "burners": [
            {
                "name": "ring",
                "rating": {
                    "heat_input_kw": cook.heat_input_kw,
                    "methane_pct": round(100.0 * cook.stated_methane),
                    "gauge_kpa": cook.stated_gauge_pa / 1000.0,
                },
                "efficiency_pct": 55,
                "lowest_flame_pct": 25,
            }
        ],
        "pans": [{"name": "two litre", "mass_kg": 0.9, "material": "steel", "lid": True}],
        "backup": {"fuel": "lpg", "on_hand_kg": 3.0, "lead_d": 4, "efficiency_pct": 55},
    }
    if traits.stated_methane_pct > 0.0:
        told["gas"] = {"methane_pct": traits.stated_methane_pct}
    return told


def _digester(fed: Fed, outside_wall: bool) -> dict[str, Any]:
    feeding = fed.feeding
    return {
        "name": fed.name,
        "liquid_m3": fed.tank.liquid_m3,
        "usual_feed_kg_per_d": round(feeding.mean_kg_per_d, 1),
        "usual_water_l_per_d": round(feeding.mean_kg_per_d * feeding.water_l_per_kg, 1),
        "feedstock": feeding.feedstock,
        "sensor": "outside_wall" if outside_wall else "inside",
    }


def meal_document(habit: Habit, first: date) -> dict[str, Any]:
    """One meal of the weekly schedule, which begins on a log's first day."""
    starts_on = next(day for k in range(7) if (day := first + timedelta(days=k)).weekday() in habit.weekdays)
    whole_week = len(habit.weekdays) == 7
    days = ",".join(WEEKDAYS[day] for day in habit.weekdays)
    return {
        "name": habit.name,
        "starts_on": starts_on.isoformat(),
        "time": f"{int(habit.hour):02d}:{round(habit.hour % 1.0 * 60.0):02d}",
        "rrule": "FREQ=DAILY" if whole_week else f"FREQ=WEEKLY;BYDAY={days}",
        "exdates": [],
        "burner": "ring",
        "flame_min": habit.flame_min,
        "flame_pct": 100.0 * habit.flame_fraction,
        "movable": False,
    }
