"""Examples of venting, windows and seasons, as the invented household of the demonstration was given them."""

from __future__ import annotations

from typing import Any

VENTING: dict[str, Any] = {
    "issued_at": "2026-07-15T11:00:00-07:00",
    "as_of": "2026-07-15T11:00:00-07:00",
    "valid_until": "2026-07-15T12:00:00-07:00",
    "last_reading_at": "2026-07-14T19:20:00-07:00",
    "time_zone": "America/Los_Angeles",
    "basis": "fitted",
    "valid": True,
    "reason": None,
    "summary": "The holder likely vents now or within hours; cook more: over the next 15 "
    "days it lets out gas for 19 hours of full flame.",
    "first_venting_at": "2026-07-15T11:00:00-07:00",
    "first_venting_at_q10": "2026-07-15T11:00:00-07:00",
    "days_until_venting": 0.0,
    "venting_probability": 1.0,
    "vented_m3": 6.6869,
    "vented_q90_m3": 10.6733,
    "vented_mj": 135.479,
    "vented_q90_mj": 215.814,
    "burner": "ring",
    "flame_min": 1167.5,
    "flame_q90_min": 1864.6,
    "useful_mj": 74.513,
    "boiled_l": 210.6,
    "boiled_q90_l": 335.4,
    "methane_kg": 2.699,
    "co2e_kg": 72.88,
    "co2e_q90_kg": 116.1,
    "co2e_source": "IPCC AR6 WG1 (2021), Table 7.15: 27 kg of CO2 warm as much over 100 years as a "
    "kilogram of methane from living matter let go unburnt",
    "days": [{"date": "2026-07-15", "probability": 0.999, "vented_m3": 0.211, "vented_q90_m3": 0.3311}],
    "cautions": [
        "The relief keeps the holder from bursting: never block, weigh down or bypass it to save gas.",
        "Vented gas is methane unburnt: no flame, spark or smoking where it comes out, which must be in the open air.",
        "Where and how gas may be let out or flared is for local codes and a licensed gas fitter to say.",
        "Burns from 6.9 % in air. No flame, spark or switch near a leak; air the room and call a licensed fitter.",
        "A flame short of air makes carbon monoxide, which has no smell: burn gas only in an aired room.",
        "Nearly as heavy as air: it does not rise away by itself, and cold or moist it may gather low.",
    ],
    "horizon_d": 14.54,
}
WINDOWS: dict[str, Any] = {
    "issued_at": "2026-07-15T11:00:00-07:00",
    "as_of": "2026-07-15T11:00:00-07:00",
    "valid_until": "2026-07-15T12:00:00-07:00",
    "last_reading_at": "2026-07-14T19:20:00-07:00",
    "time_zone": "America/Los_Angeles",
    "basis": "fitted",
    "valid": True,
    "reason": None,
    "summary": "60 min of extra flame can be counted on from Wednesday 15 July, 11:00.",
    "flame_min": 60.0,
    "burner": "ring",
    "hours": "06:00-22:00",
    "from": "2026-07-15T11:00:00-07:00",
    "to": "2026-07-22T11:00:00-07:00",
    "gas_m3": 0.3511,
    "gas_mj": 7.01,
    "soonest": {
        "start": "2026-07-15T11:00:00-07:00",
        "end": "2026-07-15T12:00:00-07:00",
        "probability": 0.999,
        "sure": True,
        "saved_m3": 0.3497,
    },
    "surest": {
        "start": "2026-07-15T11:00:00-07:00",
        "end": "2026-07-15T12:00:00-07:00",
        "probability": 0.999,
        "sure": True,
        "saved_m3": 0.3497,
    },
    "windows": [
        {
            "start": "2026-07-15T11:00:00-07:00",
            "end": "2026-07-15T12:00:00-07:00",
            "probability": 0.999,
            "sure": True,
            "saved_m3": 0.3497,
        }
    ],
    "horizon_d": 14.54,
}
OUTLOOK: dict[str, Any] = {
    "issued_at": "2026-11-25T03:40:00-08:00",
    "as_of": "2026-11-25T03:40:00-08:00",
    "valid_until": "2026-11-25T04:00:00-08:00",
    "last_reading_at": "2026-11-25T03:10:00-08:00",
    "time_zone": "America/Los_Angeles",
    "basis": "fitted",
    "valid": True,
    "reason": None,
    "summary": "To the end of November 2027 the meals take about 8.4 kg of LPG besides gas (4.6 to "
    "13), most in December; the full holder vents most in July.",
    "months": [
        {
            "month": "2026-12",
            "complete": True,
            "rests_on": "log",
            "start": "2026-12-01T00:00:00-08:00",
            "end": "2027-01-01T00:00:00-08:00",
            "production_q10_m3": 4.8575,
            "production_m3": 7.5223,
            "production_q90_m3": 10.6609,
            "production_q10_mj": 104.9,
            "production_mj": 163.8,
            "production_q90_mj": 233.4,
            "need_q10_m3": 12.4386,
            "need_m3": 13.2285,
            "need_q90_m3": 14.0067,
            "need_q10_mj": 269.2,
            "need_mj": 291.6,
            "need_q90_mj": 310.7,
            "on_gas_q10_pct": 36.3,
            "on_gas_pct": 56.3,
            "on_gas_q90_pct": 78.9,
            "backup_q10_kg": 1.32,
            "backup_kg": 2.741,
            "backup_q90_kg": 4.062,
            "backup_q10_kwh": None,
            "backup_kwh": None,
            "backup_q90_kwh": None,
            "backup_q10_meals": 14.9,
            "backup_meals": 33.0,
            "backup_q90_meals": 51.1,
            "backup_probability": 1.0,
            "vented_q10_m3": 0.0,
            "vented_m3": 0.0,
            "vented_q90_m3": 0.1498,
            "vented_q10_mj": 0.0,
            "vented_mj": 0.0,
            "vented_q90_mj": 3.2,
            "venting_probability": 0.17,
            "slurry_c": 7.2,
        }
    ],
    "total": {
        "start": "2026-11-25T03:40:00-08:00",
        "end": "2027-12-01T00:00:00-08:00",
        "production_q10_m3": 179.1788,
        "production_m3": 213.1099,
        "production_q90_m3": 252.4731,
        "production_q10_mj": 3709.3,
        "production_mj": 4485.6,
        "production_q90_mj": 5350.0,
        "need_q10_m3": 156.3454,
        "need_m3": 160.7756,
        "need_q90_m3": 164.8486,
        "need_q10_mj": 3223.5,
        "need_mj": 3422.2,
        "need_q90_mj": 3596.3,
        "on_gas_q10_pct": 82.9,
        "on_gas_pct": 88.5,
        "on_gas_q90_pct": 93.6,
        "backup_q10_kg": 4.578,
        "backup_kg": 8.383,
        "backup_q90_kg": 12.71,
        "backup_q10_kwh": None,
        "backup_kwh": None,
        "backup_q90_kwh": None,
        "backup_q10_meals": 56.0,
        "backup_meals": 102.0,
        "backup_q90_meals": 157.1,
        "backup_probability": 1.0,
        "vented_q10_m3": 40.9838,
        "vented_m3": 68.9542,
        "vented_q90_m3": 104.3516,
        "vented_q10_mj": 862.1,
        "vented_mj": 1448.3,
        "vented_q90_mj": 2201.8,
        "venting_probability": 1.0,
        "slurry_c": 17.1,
    },
    "trust": "The first weeks rest on the log and the weather posted; beyond about three months it is "
    "the season, the usual feed and the usual meals: a year like others, not this one in "
    "particular.",
    "fuel": "lpg",
    "on_hand_kg": 3.0,
    "bottle_empty_date": "2026-12-18",
    "order_by_date": "2026-12-14",
    "horizon_d": 370.85,
}
OUTLOOK_CSV = (
    "month,complete,rests_on,start,end,production_q10_m3,production_m3,production_q90_m3,production_q10_m"
    "j,production_mj,production_q90_mj,need_q10_m3,need_m3,need_q90_m3,need_q10_mj,need_mj,need_q90_mj,on"
    "_gas_q10_pct,on_gas_pct,on_gas_q90_pct,backup_q10_kg,backup_kg,backup_q90_kg,backup_q10_kwh,backup_k"
    "wh,backup_q90_kwh,backup_q10_meals,backup_meals,backup_q90_meals,backup_probability,vented_q10_m3,ve"
    "nted_m3,vented_q90_m3,vented_q10_mj,vented_mj,vented_q90_mj,venting_probability,slurry_c\r\n"
    "2026-12,true,log,2026-12-01T00:00:00-08:00,2027-01-01T00:00:00-08:00,4.8575,7.5223,10.6609,104.9,163"
    ".8,233.4,12.4386,13.2285,14.0067,269.2,291.6,310.7,36.3,56.3,78.9,1.32,2.741,4.062,,,,14.9,33.0,51.1"
    ",1.0,0.0,0.0,0.1498,0.0,0.0,3.2,0.17,7.2\r\n"
)
FORECAST_CSV = (
    "start,end,production_q10_m3,production_q50_m3,production_q90_m3,production_q10_mj,production_q50_mj,"
    "production_q90_mj,need_q50_mj,holder_end_q10_m3,holder_end_q50_m3,holder_end_q90_m3,vented_q50_m3,ve"
    "nted_q90_m3,backup_probability,slurry_q50_c\r\n"
    "2026-11-26T00:00:00-08:00,2026-11-27T00:00:00-08:00,0.1788,0.2404,0.3085,3.9278,5.2618,6.7874,9.4671"
    ",0.0847,0.1551,0.3287,0.0,0.0,0.671,8.37\r\n"
)
