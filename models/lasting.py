"""How long the holder lasts, with new gas and without, and when it is empty or full."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from models.holder import GasHolder, level_pct
from models.meals import UNPLANNED, Serving
from models.reckoning import LONGEST_SUMMARY, MOST_NAMED, Reckoning, coming, fitting, quantile
from models.storage import ROUNDING_SM3
from models.units import Floats

LEFT_FOR_AGE = 45
"""What is kept of a summary for how old the last look at the gauge is."""


@dataclass(frozen=True, slots=True, kw_only=True)
class AssumedMeal:
    """A meal that the level counts as it usually is: nobody wrote it down, or its minutes cannot be right."""

    meal: str
    start_d: float


@dataclass(frozen=True, slots=True, kw_only=True)
class StorageOutlook:
    """What is in the holder and how long it lasts; None stands for "not within the horizon".

    `days_left` runs to the first planned meal that is cooked and that the holder cannot carry whole. It is empty when
    it stands at its reserve, full when it holds all it can. No mark is the median over paths. `assumed_meals` are those
    since the last look that the level counts as they usually are; `shorter` is the summary in fewer words.
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
    lacking = _lacking(told, left, early)
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
        summary=fitting(_wordings(told.assumed, flame_min, lacking[:-1] or lacking)),
        shorter=fitting(_summaries(told.assumed, flame_min, lacking[-1]), LONGEST_SUMMARY - LEFT_FOR_AGE),
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


def _wordings(assumed: Sequence[Serving], flame_min: float, lacking: Sequence[str]) -> list[str]:
    """Every wording of what is to come with every one of what is there; names of meals are left out last."""
    by_words = (_summaries(assumed, flame_min, words) for words in lacking)
    return [one for alike in zip(*by_words, strict=True) for one in alike]


def _summaries(assumed: Sequence[Serving], flame_min: float, lacking: str) -> list[str]:
    """What is there, what that rests on and what is to come, the longest wording first."""
    gas = f"Gas for {flame_min:.0f} min of full flame"
    if not assumed:
        return [f"{gas} is in the holder{lacking}"]
    return [f"{gas}, counting {meals}{lacking}" for meals in _counting(assumed)]


def _counting(assumed: Sequence[Serving]) -> list[str]:
    """Which meals count as they usually are and what to do about them; counted where their names leave no room."""
    missing, wrong = ([one.meal for one in assumed if (one.overstated > 1.0) == said] for said in (False, True))
    words = [(known(missing), known(wrong)) for known in (_named, _counted)]
    if not wrong:
        how = "as perhaps cooked" if all(one.missed for one in assumed) else "as cooked"
        known = [f"{meals} {how} (read the gauge or log {_them(missing)})" for meals, _ in words]
        return [*known, f"{_counted(missing)} {how} (read the gauge)"]
    its = "its" if len(wrong) == 1 else "their"
    if not missing:
        usual = [f"{meals} as usual ({its} minutes cannot be right: mend them)" for _, meals in words]
        return [*usual, f"{_counted(wrong)} as usual (mend {its} minutes)"]
    return [
        *(
            f"{meals} as cooked (log {_them(missing)}) and {others} as usual (mend {its} minutes)"
            for meals, others in words
        ),
        f"{_counted(assumed)} as usual (read the gauge, mend the log)",
    ]


def _named(meals: Sequence[str]) -> str:
    known = " and ".join("other cooking" if meal == UNPLANNED else meal for meal in meals)
    return known if len(set(meals)) == len(meals) <= MOST_NAMED else _counted(meals)


def _counted(meals: Sequence[object]) -> str:
    return "a meal" if len(meals) == 1 else f"{len(meals)} meals"


def _them(meals: Sequence[str]) -> str:
    return "it" if len(meals) == 1 else "them"


def _lacking(told: Reckoning, left_d: float | None, early_d: float | None) -> tuple[str, ...]:
    """What is likely, and what one time in ten comes sooner; the last wording leaves that out."""
    now_d, days = float(told.edges_d[0]), coming(float(told.edges_d[-1] - told.edges_d[0]))
    if not told.planned().any():
        return (f"; no meal is planned in {days}.",)
    if early_d is None:
        return (f"; it carries every planned meal of {days}.",)
    early = told.plain_date(now_d + early_d)
    if left_d is None:
        likely = f"; it likely carries every planned meal of {days}"
        fewer = f"; it likely lasts {days}; one time in ten a meal lacks gas on {early}."
        return f"{likely}, but one time in ten one lacks gas on {early} already.", fewer, f"{likely}."
    likely = f"; a meal first lacks gas on {told.plain_date(now_d + left_d)}"
    if likely.endswith(early):
        return (f"{likely}.",)
    return f"{likely}, one time in ten on {early} already.", f"{likely}."
