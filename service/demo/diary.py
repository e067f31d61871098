"""What the household writes down: a rough gauge looked at now and then, rounded minutes, forgotten meals, typos."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np

from models.calendar import from_days
from service.demo.holder import STEP_MIN, dry_per_wet
from service.demo.household_days import step_time_d
from service.demo.life import Past
from service.demo.traits import Diary

COLUMNS = ("taken_at", "quantity", "value", "unit", "item", "flame_pct", "meal", "note")
METER_ROLLS_OVER_AT_M3 = 1000.0
LPG_MJ_PER_KG = 46.0

Row = Mapping[str, str]


def keep_diary(past: Past, rng: np.random.Generator) -> list[tuple[float, Row]]:
    """Every line of the diary with its moment [d], in time order."""
    looks = list(_looks(past, rng))
    lines = [
        *(level_row(past, look_d, rng) for look_d in looks),
        *_cooking(past, rng),
        *_feeding(past, rng),
        *_thermometers(past, rng),
        *_methane(past, rng),
        *_venting(past, rng),
        *_meters(past, looks, rng),
    ]
    return sorted(lines, key=lambda line: line[0])


def row(past: Past, time_d: float, quantity: str, value: str, unit: str, **more: str) -> tuple[float, Row]:
    """One line in the canonical columns, its time to the minute in the household's own offset."""
    minute_d = round(time_d * 1440.0) / 1440.0
    taken_at = from_days(minute_d).astimezone(past.traits.zone).isoformat()
    told = {"taken_at": taken_at, "quantity": quantity, "value": value, "unit": unit} | more
    return minute_d, {column: told.get(column, "") for column in COLUMNS}


def level_row(past: Past, time_d: float, rng: np.random.Generator) -> tuple[float, Row]:
    """One look at the gauge."""
    diary, bag = past.traits.diary, past.traits.bag
    dry = past.at(time_d, past.walk.level_sm3)
    wet = float(dry / dry_per_wet(past.at(time_d, past.gas_c), past.pressure_pa))
    seen = wet * diary.level_gain + rng.normal(0.0, diary.level_sd * bag.capacity_m3)
    levels, volumes = np.array(bag.gauge_points).T
    pct = float(np.interp(seen, volumes, levels))
    pct = round(pct / diary.level_step_pct) * diary.level_step_pct
    text, unit = _level_text(pct, float(np.interp(pct, levels, volumes)), diary)
    if rng.random() < diary.typo_odds:
        text = text + "0" if rng.random() < 0.5 else text[::-1]
    return row(past, time_d, "holder_level", text, unit)


def _level_text(pct: float, volume_m3: float, diary: Diary) -> tuple[str, str]:
    if diary.level_unit == "%":
        return f"{pct:g}", "%"
    return (f"{volume_m3:.2f}", "m3") if diary.level_unit == "m3" else (f"{volume_m3 * 1000.0:.0f}", "L")


def _looks(past: Past, rng: np.random.Generator) -> Iterator[float]:
    """Moments at which somebody, or a sensor, looks at the gauge. [d]"""
    diary = past.traits.diary
    sensor = diary.looks_per_d >= 3.0
    for k, start_d in enumerate(past.days.start_d.tolist()):
        seen = sensor or not past.days.away[k]
        if seen and rng.random() >= diary.missed_day_odds:
            yield from sorted(start_d + hour / 24.0 for hour in _look_hours(diary, rng))


def _look_hours(diary: Diary, rng: np.random.Generator) -> list[float]:
    if diary.looks_per_d >= 3.0:
        return [k * 24.0 / diary.looks_per_d for k in range(int(diary.looks_per_d))]
    looks = 2 if rng.random() < diary.looks_per_d - 1.0 else 1
    if diary.any_hour:
        return [float(rng.uniform(6.0, 22.5)) for _ in range(looks)]
    return [float(np.clip(rng.normal(usual, 0.9), 5.0, 23.5)) for usual in (20.5, 7.5)[:looks]]


def _cooking(past: Past, rng: np.random.Generator) -> Iterator[tuple[float, Row]]:
    cook = past.traits.cook
    for serving in past.servings:
        start_d = step_time_d(past.days, serving.step) + float(rng.uniform(0.0, 4.0)) / 1440.0
        noted = serving.meal and rng.random() > cook.unlogged_odds
        minutes = round(serving.burned_min / cook.minute_step) * cook.minute_step
        if noted and minutes > 0:
            flame = {"flame_pct": f"{100 * serving.flame_fraction:g}"} if serving.flame_fraction < 1.0 else {}
            yield row(past, start_d, "cooking", f"{minutes}", "min", item="ring", meal=serving.meal, **flame)
        if serving.short_mj > 0.0 and serving.meal and rng.random() < cook.backup_logged_odds:
            yield row(past, start_d + 0.02, "backup_used", f"{serving.short_mj / LPG_MJ_PER_KG:.2f}", "kg")


def _feeding(past: Past, rng: np.random.Generator) -> Iterator[tuple[float, Row]]:
    for fed, feed in zip(past.traits.fed, past.feeds, strict=True):
        for kg, water_l, time_d in zip(feed.kg.tolist(), feed.water_l.tolist(), feed.time_d.tolist(), strict=True):
            if kg > 0.0 and rng.random() < past.traits.diary.feed_odds:
                yield row(past, time_d, "feed", f"{kg:g}", "kg", item=fed.feeding.feedstock)
                yield row(past, time_d, "water_added", f"{water_l:g}", "L", item=fed.name)


def _thermometers(past: Past, rng: np.random.Generator) -> Iterator[tuple[float, Row]]:
    diary, weather = past.traits.diary, past.weather
    seldom = 1.0 / diary.slurry_every_d if diary.slurry_every_d else 0.0
    for k, start_d in enumerate(past.days.start_d.tolist()):
        if past.days.away[k]:
            continue
        at = start_d + float(rng.uniform(7.0, 20.0)) / 24.0
        air_c = float(weather.air_at(at))
        if rng.random() < diary.ambient_odds:
            yield row(past, at, "ambient_temperature", f"{air_c + rng.normal(0.0, 0.7):.0f}", "Cel")
        for fed, gas in zip(past.traits.fed, past.gases, strict=True):
            if rng.random() < seldom:
                slurry_c = float(np.interp(at, weather.edge_d[1:], gas.slurry_c))
                seen_c = 0.7 * slurry_c + 0.3 * air_c if diary.outside_wall else slurry_c
                yield row(
                    past, at, "digester_temperature", f"{seen_c + rng.normal(0.0, 0.5):.1f}", "Cel", item=fed.name
                )


def _methane(past: Past, rng: np.random.Generator) -> Iterator[tuple[float, Row]]:
    seldom = 1.0 / past.traits.diary.methane_every_d if past.traits.diary.methane_every_d else 0.0
    for k in np.flatnonzero(~past.days.away & (rng.random(len(past.days.dates)) < seldom)):
        at = float(past.days.start_d[k]) + 11.0 / 24.0
        value = 100.0 * float(past.at(at, past.walk.methane)) + rng.normal(0.0, 1.5)
        yield row(past, at, "methane", f"{value:.0f}", "%")


def _venting(past: Past, rng: np.random.Generator) -> Iterator[tuple[float, Row]]:
    for k in np.flatnonzero(~past.days.away & (rng.random(len(past.days.dates)) < past.traits.diary.venting_odds)):
        at = float(past.days.start_d[k]) + float(rng.uniform(9.0, 20.0)) / 24.0
        step = int((at - past.days.start_d[0]) * 1440.0 / STEP_MIN)
        if past.walk.vented_sm3[step] > 0.0:
            yield row(past, at, "venting", "1", "1")


def _meters(past: Past, looks: list[float], rng: np.random.Generator) -> Iterator[tuple[float, Row]]:
    """Gas meters, read on passing the gauge; they roll over at a thousand."""
    for item, wanted, passed in (
        ("outlet", past.traits.diary.outlet_meter, past.made_sm3),
        ("stove", past.traits.diary.stove_meter, past.walk.burned_sm3),
    ):
        if not wanted:
            continue
        counted = np.cumsum(passed / dry_per_wet(past.gas_c, past.pressure_pa)) * float(rng.normal(1.0, 0.015))
        counted += float(rng.uniform(0.0, METER_ROLLS_OVER_AT_M3))
        for look_d in looks:
            if rng.random() < 0.85:
                value = float(past.at(look_d, counted)) % METER_ROLLS_OVER_AT_M3
                yield row(past, look_d, "gas_meter", f"{value:.3f}", "m3", item=item)
