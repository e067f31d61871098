"""How long the holder lasts, with new gas and without, and when it is empty or full."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from models.holder import GasHolder, level_pct
from models.meals import Serving
from models.reckoning import Reckoning, coming, quantile
from models.storage import ROUNDING_SM3
from models.units import Floats

LONGEST_SUMMARY = 200
MOST_NAMED = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class AssumedMeal:
    """A meal of the plan that the level counts as cooked, though nobody wrote it down."""

    meal: str
    start_d: float


@dataclass(frozen=True, slots=True, kw_only=True)
class StorageOutlook:
    """What is in the holder and how long it lasts; None stands for "not within the horizon".

    `days_left` runs to the first planned meal that is cooked and that the holder cannot carry whole. It is empty when
    it stands at its reserve, full when it holds all it can. No mark is the median over paths. `assumed_meals` are those
    since the last look that the level counts as cooked; `shorter` is the summary in fewer words.
    """

    level_pct: float
    holder_m3: float
    usable_m3: float
    capacity_m3: float
    usable_mj: float
    flame_min: float
    days_left: float | None
    days_left_q10: float | None
    days_left_q90: float | None
    days_left_without_production: float | None
    empty_at_d: float | None
    empty_at_q10_d: float | None
    empty_probability: float
    full_at_d: float | None
    full_at_q10_d: float | None
    horizon_d: float
    assumed_meals: tuple[AssumedMeal, ...]
    summary: str
    shorter: str


def storage_outlook(told: Reckoning, holder: GasHolder) -> StorageOutlook:
    """Outlook on the holder over the whole balance.

    Parameters
    ----------
    told : Reckoning
    holder : GasHolder

    Returns
    -------
    StorageOutlook
    """
    usable, now_d = told.run.usable_sm3(), float(told.edges_d[0])
    times_d = storage_times_d(told)
    left, early, late = (_left_d(told, "lacks", times_d, q) for q in (0.5, 0.1, 0.9))
    likely, sooner = _lacking(told, left, early)
    now_m3, flame_min = told.level_m3(0, 0.5), quantile(60.0 * usable[:, 0] / told.flame_sm3_per_h, 0.5)
    return StorageOutlook(
        level_pct=float(level_pct(holder, now_m3)),
        holder_m3=now_m3,
        usable_m3=quantile(usable[:, 0], 0.5) * float(told.m3_per_sm3[0]),
        capacity_m3=holder.capacity_m3,
        usable_mj=quantile(usable[:, 0] * told.mj_per_sm3, 0.5),
        flame_min=flame_min,
        days_left=left,
        days_left_q10=early,
        days_left_q90=late,
        days_left_without_production=_left_d(told, "lacks idle", times_d, 0.5),
        empty_at_d=told.when_d("empty", times_d["empty"], 0.5),
        empty_at_q10_d=told.when_d("empty", times_d["empty"], 0.1),
        empty_probability=float(np.isfinite(times_d["empty"]).mean()),
        full_at_d=told.when_d("full", times_d["full"], 0.5),
        full_at_q10_d=told.when_d("full", times_d["full"], 0.1),
        horizon_d=float(told.edges_d[-1]) - now_d,
        assumed_meals=tuple(AssumedMeal(meal=one.meal, start_d=one.start_d) for one in told.assumed),
        summary=_summary(told.assumed, flame_min, likely + sooner),
        shorter=_summary(told.assumed, flame_min, f"{likely}."),
    )


def storage_times_d(told: Reckoning) -> dict[str, Floats]:
    """When things first happen to the holder, by path, infinite where they do not, shape (paths,) each. [d]

    `lacks`: a planned meal is cooked that gas does not carry whole; `lacks idle`: the same without new gas; `empty`;
    `full`.
    """
    run = told.run
    return {
        "lacks": told.lacks_d(),
        "lacks idle": replace(told, run=run.without_production()).lacks_d(),
        "empty": told.first_time_d(run.usable_sm3() <= ROUNDING_SM3, told.edges_d),
        "full": told.first_time_d(run.room_sm3() <= ROUNDING_SM3, told.edges_d),
    }


def _left_d(told: Reckoning, event: str, times_d: Mapping[str, Floats], q: float) -> float | None:
    """Days from now to a quantile of an event's time."""
    when_d = told.when_d(event, times_d[event], q)
    return None if when_d is None else when_d - float(told.edges_d[0])


def _summary(assumed: Sequence[Serving], flame_min: float, lacking: str) -> str:
    """What is there, what that rests on and what is to come; meals are counted where their names leave no room."""
    gas = f"Gas for {flame_min:.0f} min of full flame"
    if not assumed:
        return f"{gas} is in the holder{lacking}"
    many, names = len(assumed) > 1, [one.meal for one in assumed]
    counted = f"{len(names)} meals" if many else "a meal"
    known = " and ".join(names) if len(set(names)) == len(names) <= MOST_NAMED else counted
    found = [
        f"{gas}, counting {meals} as cooked (read the gauge or log {'them' if many else 'it'}){lacking}"
        for meals in (known, counted)
    ]
    return found[len(found[0]) > LONGEST_SUMMARY]


def _lacking(told: Reckoning, left_d: float | None, early_d: float | None) -> tuple[str, str]:
    """What is likely, and what one time in ten comes sooner."""
    now_d, end_d = float(told.edges_d[0]), float(told.edges_d[-1])
    if not told.planned().any():
        return f"; no meal is planned in {coming(end_d - now_d)}", "."
    if early_d is None:
        return f"; it carries every planned meal of {coming(end_d - now_d)}", "."
    early = told.plain_date(now_d + early_d)
    if left_d is None:
        return "; it likely carries every planned meal", f", but one time in ten one lacks gas on {early} already."
    likely = told.plain_date(now_d + left_d)
    return f"; a meal first lacks gas on {likely}", "." if early == likely else f", one time in ten on {early} already."
