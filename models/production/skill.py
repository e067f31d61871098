"""How good forecasts were: rolling origins over a household's own log, against what came and the naive guesses."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, fields, replace
from datetime import timedelta

import numpy as np

from models.calendar import local_date, local_midnights, midnight
from models.days import EXACT, day_ledger
from models.household import Household
from models.production.fit import state
from models.production.forecast import sample_paths
from models.production.record import Record, record
from models.production.values import FittedProduction
from models.temperature import PostedWeather
from models.units import Floats

LEAD_DAYS = 14
PATHS = 400
LEVELS = np.arange(0.1, 0.95, 0.1)
WEEK_D = 7
HELD_BACK_D = 14
NO_WORSE = 1.02  # errors this near one another are a draw
SEED = 20_240_229


@dataclass(frozen=True, slots=True, kw_only=True)
class Errors:
    """What became of single forecasts: every column has shape (forecasts,).

    `origin_d` is when it was made [d] and `lead_day` the day it was for, 1 the first whole one. `error_sm3` is the
    median less what came, `pinball_sm3` the mean over nine quantiles; `week_error_sm3` and `last_error_sm3` are those
    of the mean of the seven days before and of the day before. What came is known only to the ledger's error; the
    intervals that `within_80` and `within_95` count allow for it.
    """

    origin_d: Floats
    lead_day: Floats
    came_sm3: Floats
    error_sm3: Floats
    pinball_sm3: Floats
    within_80: Floats
    within_95: Floats
    week_error_sm3: Floats
    last_error_sm3: Floats

    def __len__(self) -> int:
        return len(self.origin_d)

    @classmethod
    def of(cls, origin_d: float, lead_day: Floats, came_sm3: Floats) -> Errors:
        """Forecasts made at one moment whose errors are still to be reckoned."""
        unknown = np.full(len(came_sm3), np.nan)
        others = {column.name: unknown for column in fields(cls)[3:]}
        return cls(origin_d=np.full(len(came_sm3), origin_d), lead_day=lead_day, came_sm3=came_sm3, **others)

    def since(self, time_d: float) -> Errors:
        """Those of forecasts made at or after a time. [d]"""
        return self.select(self.origin_d >= time_d)

    def select(self, rows: np.ndarray[tuple[int], np.dtype[np.bool_]]) -> Errors:
        """The rows that a mask keeps."""
        return Errors(**{column.name: getattr(self, column.name)[rows] for column in fields(self)})


@dataclass(frozen=True, slots=True, kw_only=True)
class Skill:
    """Forecasts of a range of lead days summed up; ratios are to the mean absolute error of the naive forecast.

    None where there is nothing to compare.
    """

    first_lead_day: int
    last_lead_day: int
    forecasts: int
    mean_sm3: float | None
    mae_sm3: float | None
    bias_sm3: float | None
    pinball_sm3: float | None
    within_80: float | None
    within_95: float | None
    to_week_mean: float | None
    to_last_value: float | None


def forecast_errors(
    known: Record,
    posted: PostedWeather | None,
    origins_d: Sequence[float],
    fit_at: Callable[[Record], FittedProduction | None],
) -> Iterator[Errors]:
    """Forecast from each origin with what was known then, and compare with the days that the ledger knows exactly.

    Parameters
    ----------
    known : Record
        With the whole log; each origin sees its past alone, and of absences those that had begun.
    posted : PostedWeather or None
    origins_d : sequence of float
        Household midnights. [d]
    fit_at : callable
        The fit to use at an origin, made on nothing later; None for the prior.

    Yields
    ------
    Errors
        Of one origin, in their order.
    """
    for origin_d in origins_d:
        plan = known.plan and known.plan.begun_by(local_date(origin_d, known.household.zone))
        then = record(known.household, known.written, posted, origin_d, plan)
        yield _errors_from(then, known, fit_at(then))


def _errors_from(known: Record, later: Record, fitted: FittedProduction | None) -> Errors:
    household, zone = known.household, known.household.zone
    first = local_date(known.as_of_d, zone)
    edges = local_midnights(first, LEAD_DAYS, zone)
    paths = sample_paths(state(known, fitted), edges_d=edges, paths=PATHS, rng=np.random.default_rng(SEED))
    whole = record(household, later.written, None, float(edges[-1]), later.plan)
    came = day_ledger(household, whole.log, whole.air, edges)
    past = local_midnights(first - timedelta(days=WEEK_D), WEEK_D, zone)
    week = day_ledger(household, known.log, known.air, past).made_sm3
    told = np.flatnonzero((came.bound == EXACT) & np.isfinite(week).any())
    if not len(told):
        return joined([])
    made, sd = paths.made_sm3[:, told], came.made_sd_sm3[told]
    seen = made + sd * np.random.default_rng(SEED).standard_normal(made.shape)
    return _compared(
        Errors.of(known.as_of_d, (told + 1).astype(float), came.made_sm3[told]), made, seen, week[np.isfinite(week)]
    )


def _compared(blank: Errors, made: Floats, seen: Floats, week: Floats) -> Errors:
    """Errors of paths of what was made, and of what the ledger would see of it, shape (paths, forecasts) both."""
    came, level = blank.came_sm3, LEVELS[:, None]
    off = came - np.quantile(seen, LEVELS, axis=0)
    low, below, above, high = np.quantile(seen, [0.025, 0.1, 0.9, 0.975], axis=0)
    return replace(
        blank,
        error_sm3=np.median(made, axis=0) - came,
        pinball_sm3=np.where(off >= 0.0, level * off, (level - 1.0) * off).mean(axis=0),
        within_80=((came >= below) & (came <= above)).astype(float),
        within_95=((came >= low) & (came <= high)).astype(float),
        week_error_sm3=week.mean() - came,
        last_error_sm3=week[-1] - came,
    )


def joined(parts: Sequence[Errors]) -> Errors:
    """Errors of several origins as one."""
    return Errors(
        **{
            column.name: np.concatenate([np.empty(0), *(getattr(part, column.name) for part in parts)])
            for column in fields(Errors)
        }
    )


def skill(errors: Errors, first_lead_day: int, last_lead_day: int) -> Skill:
    """Sum up the errors of a range of lead days, both ends included."""
    mine = errors.select((errors.lead_day >= first_lead_day) & (errors.lead_day <= last_lead_day))
    mae = _mean(np.abs(mine.error_sm3))
    return Skill(
        first_lead_day=first_lead_day,
        last_lead_day=last_lead_day,
        forecasts=len(mine),
        mean_sm3=_mean(mine.came_sm3),
        mae_sm3=mae,
        bias_sm3=_mean(mine.error_sm3),
        pinball_sm3=_mean(mine.pinball_sm3),
        within_80=_mean(mine.within_80),
        within_95=_mean(mine.within_95),
        to_week_mean=_ratio(mae, _mean(np.abs(mine.week_error_sm3))),
        to_last_value=_ratio(mae, _mean(np.abs(mine.last_error_sm3))),
    )


def _mean(values: Floats) -> float | None:
    return float(values.mean()) if len(values) else None


def _ratio(value: float | None, other: float | None) -> float | None:
    return None if value is None or not other else value / other


def origins_before(household: Household, until_d: float, *, days: int, every_d: int = 1) -> list[float]:
    """Household midnights of the last `days` whole days before a moment, every so many days, oldest first. [d]"""
    today = local_date(until_d, household.zone)
    return [midnight(today - timedelta(days=back), household.zone) for back in range(days, 0, -every_d)]


def no_worse(
    known: Record, posted: PostedWeather | None, *, candidate: FittedProduction, old: FittedProduction
) -> bool:
    """Whether a fit made without the last fortnight forecasts it no worse than the one in use.

    Where the ledger knows none of those days exactly there is nothing to hold against the new fit.
    """
    origins = origins_before(known.household, known.as_of_d, days=HELD_BACK_D, every_d=WEEK_D)

    def pinball_sm3(fitted: FittedProduction) -> float | None:
        parts = forecast_errors(known, posted, origins, lambda _: fitted)
        return skill(joined(list(parts)), 1, LEAD_DAYS).pinball_sm3

    new, before = pinball_sm3(candidate), pinball_sm3(old)
    return new is None or before is None or new <= NO_WORSE * before
