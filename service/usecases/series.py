"""The forecast as a series: gas made, meals, holder, venting and backup by day or hour, in quantiles."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import Any

import numpy as np

from models.calendar import from_days
from models.outlook import Outlook
from models.reckoning import Reckoning
from models.storage import spread
from models.units import Floats
from service.usecases.outlook import Moment
from service.usecases.stamp import stamp

Point = dict[str, Any]
HOURS_PER_DAY = 24


def level_name(level: float) -> str:
    """What a quantile level is called in a field: 0.05 is q05, 0.1 q10, 0.025 q025."""
    digits = f"{level:.6f}".rstrip("0").split(".")[1]
    return f"q{digits.ljust(2, '0')}"


def series_answer(outlook: Outlook, moment: Moment, *, step: str, levels: Sequence[float]) -> dict[str, Any]:
    """The rest of today and the whole days after it, or their hours, as rows under the contract's names."""
    edges = outlook.day_edges_d if step == "day" else hour_edges(outlook.day_edges_d)
    summary = (
        f"The next {outlook.days} days by the {step}: gas made, meals, what the holder then holds, vents and lacks."
    )
    return stamp(outlook, moment, summary) | {
        "step": step,
        "horizon_d": outlook.days,
        "points": _points(outlook, edges, sorted({0.1, 0.5, 0.9, *levels})),
    }


def hour_edges(day_edges_d: Floats) -> Floats:
    """Now and every full hour after it to the last midnight. [d]"""
    first, last = day_edges_d[0], day_edges_d[-1]
    start = np.floor(first * HOURS_PER_DAY + 1e-6) + 1.0
    hours = np.arange(start, np.round(last * HOURS_PER_DAY) + 1.0)
    return np.append(first, hours / HOURS_PER_DAY)


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
    unknown = [None] * (len(edges) - 1)
    names = ["need_q50_mj", *(f"holder_end_{level_name(one)}_m3" for one in levels), "backup_probability"]
    names += ["vented_q50_m3", "vented_q90_m3"]
    if outlook.told is None:
        return dict.fromkeys(names, unknown)
    told = outlook.told
    at = [told.edge(edge) for edge in edges.tolist()]
    return {
        "need_q50_mj": _need_mj(told, at),
        **_quantiles("holder_end", "m3", _levels_m3(told, at), levels),
        **_quantiles("vented", "m3", _vented_m3(told, at), [0.5, 0.9]),
        "backup_probability": _lacking(told, at),
    }


def _levels_m3(told: Reckoning, at: list[int]) -> Floats:
    ends = np.array(at[1:])
    return np.asarray(told.run.level_sm3[:, ends] * told.m3_per_sm3[ends])


def _vented_m3(told: Reckoning, at: list[int]) -> Floats:
    return np.stack([told.vented_m3(first, last) for first, last in pairwise(at)], axis=1)


def _need_mj(told: Reckoning, at: list[int]) -> list[float] | list[None]:
    wanted = np.where(told.run.cooked, told.run.wanted_sm3, 0.0)
    spans = pairwise(at)
    needs = [wanted[:, told.within_steps(first, last)].sum(axis=1) * told.mj_per_sm3 for first, last in spans]
    return [float(np.median(need)) for need in needs]


def _lacking(told: Reckoning, at: list[int]) -> list[float] | list[None]:
    lacks = (told.run.shortfall_sm3 > 0.0) & told.planned()
    spans = pairwise(at)
    return [float(lacks[:, told.within_steps(first, last)].any(axis=1).mean()) for first, last in spans]
