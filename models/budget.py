"""The gas that may be burned on a day, what its meals want, and whether that is enough."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np

from models.backup import Backup, backup_amount
from models.reckoning import MOST_NAMED, Reckoning, Verdict, in_words, is_sure, quantile, verdict
from models.units import Bools, Floats, Ints

READY = "have the backup ready"
LONGEST_NAMES = 40
"""What a sentence of 200 characters leaves for the names of meals."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MealOutlook:
    """One planned meal: what it needs, and the odds that gas carries it whole if it is cooked."""

    meal: str
    start_d: float
    need_m3: float
    on_gas_probability: float
    verdict: Verdict


@dataclass(frozen=True, slots=True, kw_only=True)
class GasBudget:
    """The gas budget of one day.

    `budget` is the gas that may be burned before the last planned meal ends (before the day ends where none is planned)
    without touching the reserve: what planned cooking burns until then, what a full holder would otherwise let out (it
    may be burned first, at any hour), and what is left above the reserve. `need` is what the day's meals take if all of
    them are cooked, and teas as far as they usually are; `margin` is the difference of the two. No mark is the median
    over paths. `backup` is in the unit of the fuel.
    """

    date: date
    start_d: float
    end_d: float
    holder_at_start_m3: float
    reserve_m3: float
    budget_m3: float
    budget_q10_m3: float
    budget_q90_m3: float
    budget_mj: float
    budget_q10_mj: float
    flame_min: float
    flame_q10_min: float
    need_m3: float
    need_q90_m3: float
    margin_q10_m3: float
    covered: bool
    cover_probability: float
    vented_m3: float
    vented_q90_m3: float
    meals: tuple[MealOutlook, ...]
    backup: float
    backup_q90: float
    summary: str


def gas_budget(told: Reckoning, day: date, *, backup: Backup) -> GasBudget:
    """Gas budget of one of the household's days.

    Parameters
    ----------
    told : Reckoning
    day : date
        A day the balance runs through; a day already begun counts from now.
    backup : Backup

    Returns
    -------
    GasBudget

    Raises
    ------
    OutOfRange
        A day beyond the balance, on field `date`.
    """
    first, last = told.span(day)
    meals, earlier, _ = _until_last_flame(told, day)
    budget, need, need_m3 = _allowed_sm3(told, day), *_wanted(told, earlier)
    m3 = float(told.m3_per_sm3[first : last + 1].mean())
    flame_min, want_min = 60.0 * budget / told.flame_sm3_per_h, 60.0 * need / told.flame_sm3_per_h
    lacking = backup_amount(told, backup)[:, told.within_steps(first, last)].sum(axis=1)
    (probability, covered), outlooks = odds_covered(told, day), meal_outlooks(told, meals)
    return GasBudget(
        date=day,
        start_d=float(told.edges_d[first]),
        end_d=float(told.edges_d[last]),
        holder_at_start_m3=told.level_m3(first, 0.5),
        reserve_m3=told.reserve_m3(first),
        **_quantiles("budget{}_m3", budget, (0.5, 0.1, 0.9), times=m3),
        **_quantiles("budget{}_mj", budget * told.mj_per_sm3, (0.5, 0.1)),
        **_quantiles("flame{}_min", flame_min, (0.5, 0.1)),
        **_quantiles("need{}_m3", need_m3, (0.5, 0.9)),
        **_quantiles("margin{}_m3", budget - need, (0.1,), times=m3),
        covered=covered,
        cover_probability=probability,
        **_quantiles("vented{}_m3", told.vented_m3(first, last), (0.5, 0.9)),
        meals=outlooks,
        **_quantiles("backup{}", lacking, (0.5, 0.9)),
        summary=_told_allowed(day, flame_min) + _told_wanted(outlooks, want_min, covered, probability),
    )


def _allowed_sm3(told: Reckoning, day: date) -> Floats:
    """Gas that may be burned on a day, by path. [sm3]"""
    run, (first, _), (_, earlier, until) = told.run, told.span(day), _until_last_flame(told, day)
    budget = run.burned_sm3[:, earlier].sum(axis=1) + run.vented_sm3[:, first:until].sum(axis=1)
    return np.asarray(budget + run.usable_sm3()[:, until])


def _wanted(told: Reckoning, which: Bools) -> tuple[Floats, Floats]:
    """Gas that some servings take, by path: meals as if all are cooked, teas where they are. [sm3], [m3]"""
    wanted = told.run.wanted
    need = (wanted.need_sm3 * (wanted.cooked | told.planned()))[:, which]
    return need.sum(axis=1), need @ told.m3_per_sm3[told.run.timeline.step_of[which]]


def _quantiles(name: str, values: Floats, levels: Sequence[float], *, times: float = 1.0) -> dict[str, float]:
    """Quantiles over paths under their names: the median's has no mark, and others stand before the unit."""
    marks = ("" if level == 0.5 else f"_q{100.0 * level:.0f}" for level in levels)
    return {name.format(mark): times * quantile(values, level) for mark, level in zip(marks, levels, strict=True)}


def odds_covered(told: Reckoning, day: date) -> tuple[float, bool]:
    """Odds that gas carries everything that is cooked on a day, and whether they are enough to promise it."""
    run, (meals, earlier, _) = told.run, _until_last_flame(told, day)
    besides = np.flatnonzero(earlier & ~told.planned())
    carried = run.on_gas[:, meals].all(axis=1) & (run.shortfall_sm3[:, besides] <= 0.0).all(axis=1)
    probability = float(carried.mean())
    return probability, is_sure(probability, told.care_level, before=told.before.covered.get(day))


def meal_outlooks(told: Reckoning, meals: Ints) -> tuple[MealOutlook, ...]:
    """What to count on for some of the servings, by their index; holds to what was said before."""
    run, outlooks = told.run, []
    for index in meals.tolist():
        serving, step = run.timeline.servings[index], run.timeline.step_of[index]
        probability = float(run.on_gas[:, index].mean())
        outlooks.append(
            MealOutlook(
                meal=serving.meal,
                start_d=serving.start_d,
                need_m3=quantile(run.wanted.need_sm3[:, index], 0.5) * float(told.m3_per_sm3[step]),
                on_gas_probability=probability,
                verdict=verdict(probability, told.care_level, before=told.before.verdicts.get(serving.key)),
            )
        )
    return tuple(outlooks)


def _until_last_flame(told: Reckoning, day: date) -> tuple[Ints, Bools, int]:
    """A day's planned meals by index, which servings are cooked until the last of them ends, and the edge of that."""
    first, last = told.span(day)
    meals = np.flatnonzero(told.within_steps(first, last) & told.planned())
    until = _last_flame(told, meals, last)
    return meals, told.within_steps(first, until), until


def _last_flame(told: Reckoning, meals: Ints, last: int) -> int:
    """Edge at which the last of some servings ends; `last` where there is none."""
    if not len(meals):
        return last
    timeline = told.run.timeline
    end = told.edge(max(timeline.servings[index].end_d for index in meals.tolist()))
    return max(end, int(timeline.step_of[meals].max()) + 1)


def _told_allowed(day: date, flame_min: Floats) -> str:
    median, careful = quantile(flame_min, 0.5), quantile(flame_min, 0.1)
    return f"{in_words(day)}: gas for {median:.0f} min of full flame, {careful:.0f} min nine times in ten"


def _told_wanted(meals: Sequence[MealOutlook], want_min: Floats, covered: bool, probability: float) -> str:
    if not meals and covered:
        return "; no meal is planned."
    if not meals:
        return f"; no meal is planned, the usual cooking is covered with odds of {probability:.0%}: {READY}."
    want = f"; the meals want {quantile(want_min, 0.5):.0f} min"
    if covered:
        return f"{want} and are covered."
    return f"{want}, covered with odds of {probability:.0%}: {_ready(meals)}."


def _ready(meals: Sequence[MealOutlook]) -> str:
    """What to do about a day that is not covered."""
    named = [meal.meal for meal in meals if meal.verdict == "backup"]
    if not named:
        return READY
    told = " and ".join(named[:MOST_NAMED]) + (" and more" if len(named) > MOST_NAMED else "")
    counted = "a meal" if len(named) == 1 else f"{len(named)} meals"
    return f"plan {told if len(told) <= LONGEST_NAMES else counted} on the backup"
