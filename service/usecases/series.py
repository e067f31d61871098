"""The forecast as a series: gas made, meals, holder, venting and backup by day or hour, in quantiles."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from models.calendar import from_days
from models.outlook import Outlook
from models.reckoning import coming
from models.series import series
from models.storage import spread
from models.units import Floats
from service.usecases.outlook import Moment
from service.usecases.stamp import stamp

Point = dict[str, Any]
HOURS_PER_DAY = 24
ALIKE_M3 = 0.005  # levels that a gauge does not tell apart
SOME_M3, MUCH_M3 = 1.0, 100.0


def level_name(level: float) -> str:
    """What a quantile level is called in a field: 0.05 is q05, 0.1 q10, 0.025 q025."""
    digits = f"{level:.6f}".rstrip("0").split(".")[1]
    return f"q{digits.ljust(2, '0')}"


def series_answer(outlook: Outlook, moment: Moment, *, step: str, levels: Sequence[float]) -> dict[str, Any]:
    """The rest of today and the whole days after it, or their hours, as rows under the contract's names."""
    days = np.unique(outlook.day_edges_d)  # a date that the zone left out has no row
    edges = days if step == "day" else hour_edges(days)
    return stamp(outlook, moment, *_summaries(outlook)) | {
        "step": step,
        "horizon_d": outlook.horizon_d,
        "points": _points(outlook, edges, sorted({0.1, 0.5, 0.9, *levels})),
    }


def _summaries(outlook: Outlook) -> list[str]:
    """What comes, what is wanted and when the holder is lowest, the longest wording first."""
    if outlook.told is None:
        return [""]
    told, span = outlook.told, f"In the rest of today and {coming(outlook.days)}"
    made = _range(outlook.made.made_sm3 @ outlook.day_m3_per_sm3)
    wanted = told.run.wanted.need_sm3 * told.run.wanted.cooked
    need = _range(wanted @ told.m3_per_sm3[told.run.timeline.step_of])
    level = np.median(told.run.level_sm3, axis=0) * told.m3_per_sm3
    lowest = int(np.argmax(level <= level.min() + ALIKE_M3))
    least = f"the holder is lowest on {told.plain_date(float(told.edges_d[lowest]))}, at about {level[lowest]:.2f} m3."
    return [
        f"{span} about {made[1]} m3 of gas comes ({made[0]} to {made[2]}) and cooking wants "
        f"{need[1]} m3 ({need[0]} to {need[2]}); {least}",
        f"{span} about {made[1]} m3 of gas comes and cooking wants {need[1]} m3; {least}",
    ]


def _range(paths_m3: Floats) -> list[str]:
    """Low, median and high of an amount, to what can be told apart of it."""
    found = np.quantile(paths_m3, (0.1, 0.5, 0.9))
    digits = 0 if found[1] >= MUCH_M3 else 1 if found[1] >= SOME_M3 else 2
    return [f"{one:.{digits}f}" for one in found.tolist()]


def hour_edges(day_edges_d: Floats) -> Floats:
    """Now, every full hour after it, and the last midnight, which is no full hour in every zone. [d]"""
    first, last = day_edges_d[0], day_edges_d[-1]
    start = np.floor(first * HOURS_PER_DAY + 1e-6) + 1.0
    hours = np.arange(start, np.ceil(last * HOURS_PER_DAY - 1e-6))
    return np.concatenate([[first], hours / HOURS_PER_DAY, [last]])


def _points(outlook: Outlook, edges: Floats, levels: list[float]) -> list[Point]:
    zone = outlook.household.zone
    columns = _made(outlook, edges, levels) | _slurry(outlook, edges) | _balanced(outlook, edges, levels)
    moments = [from_days(edge).astimezone(zone) for edge in edges.tolist()]
    rows = zip(*columns.values(), strict=True)
    return [
        {"start": start, "end": end, **dict(zip(columns, row, strict=True))}
        for start, end, row in zip(moments[:-1], moments[1:], rows, strict=True)
    ]


def _quantiles(name: str, unit: str, paths: Floats, levels: list[float]) -> dict[str, list[float]]:
    """One column of quantiles over paths a level, from values of shape (paths, steps)."""
    found = np.quantile(paths, levels, axis=0)
    return {f"{name}_{level_name(level)}_{unit}": row.tolist() for level, row in zip(levels, found, strict=True)}


def _made(outlook: Outlook, edges: Floats, levels: list[float]) -> dict[str, list[float]]:
    day = outlook.day_edges_d
    made = spread(outlook.made.made_sm3, edges_d=day, onto_d=edges)
    wet = spread(outlook.made.made_sm3 * outlook.day_m3_per_sm3, edges_d=day, onto_d=edges)
    heat = made * outlook.mj_per_sm3[:, None]
    return _quantiles("production", "m3", wet, levels) | _quantiles("production", "mj", heat, levels)


def _slurry(outlook: Outlook, edges: Floats) -> dict[str, list[float]]:
    middle = (edges[:-1] + edges[1:]) / 2.0
    day = np.searchsorted(outlook.day_edges_d, middle, side="right") - 1
    return {"slurry_q50_c": np.median(outlook.made.slurry_c, axis=0)[day].tolist()}


def _balanced(outlook: Outlook, edges: Floats, levels: list[float]) -> dict[str, list[float] | list[None]]:
    holder = [f"holder_end_{level_name(level)}_m3" for level in levels]
    if outlook.told is None:
        unknown = [None] * (len(edges) - 1)
        names = ["need_q50_mj", *holder, "vented_q50_m3", "vented_q90_m3", "backup_probability"]
        return dict.fromkeys(names, unknown)
    found = series(outlook.told, edges, levels=levels)
    median, careful = levels.index(0.5), levels.index(0.9)
    return {
        "need_q50_mj": found.need_mj[median].tolist(),
        **{name: row.tolist() for name, row in zip(holder, found.holder_end_m3, strict=True)},
        "vented_q50_m3": found.vented_m3[median].tolist(),
        "vented_q90_m3": found.vented_m3[careful].tolist(),
        "backup_probability": found.backup_probability.tolist(),
    }
