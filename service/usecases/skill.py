"""How good the forecasts of a household were: measured on its own log by the command line or in the background."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import asdict, dataclass, fields
from datetime import datetime
from typing import Any, Protocol

import numpy as np

from models.calendar import from_days
from models.production.fit import fit
from models.production.record import Record, record
from models.production.skill import Errors, Skill, forecast_errors, joined, origins_before, skill
from models.production.values import FittedProduction
from service.documents import zone_of
from service.usecases.situation import Fits, Homes, Logs, situation

KIND = "skill?"
RANGES = ((1, 1), (1, 7), (8, 14))
REFIT_D = 28.0
LEAST_TO_WEEK = 1.0


class Kept(Protocol):
    """A measurement as stored."""

    @property
    def issued_at(self) -> datetime:
        """When it was made."""

    @property
    def body(self) -> bytes:
        """Its errors as JSON."""


class Measurements(Protocol):
    """Where measurements are kept."""

    def latest(self, name: str, beginning: str) -> Kept | None:
        """The one made last among those whose key begins so, or none."""

    def add(self, name: str, key: str, issued_at: datetime, body: bytes, inputs: dict[str, Any]) -> object:
        """Keep one."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Backtest:
    """What to measure: origins every so many days over the `days` before `as_of`."""

    as_of: datetime
    days: int = 90
    every_d: int = 3


Progress = Callable[[int, int], None]


def backtest(
    name: str, asked: Backtest, *, homes: Homes, logs: Logs, fits: Fits, progress: Progress = lambda done, of: None
) -> Errors:
    """Forecast again from past days with what was known then, fitting anew every four weeks."""
    standing = situation(name, asked.as_of, homes=homes, logs=logs, fits=fits)
    origins = origins_before(standing.household, standing.as_of_d, days=asked.days, every_d=asked.every_d)
    latest: list[FittedProduction] = []

    def fit_at(known: Record) -> FittedProduction:
        if not latest or known.as_of_d - latest[-1].made_as_of_d >= REFIT_D:
            latest.append(fit(known, start=latest[-1] if latest else None))
        return latest[-1]

    parts = []
    known = record(standing.household, standing.log, standing.posted, standing.as_of_d, standing.plan)
    found = forecast_errors(known, standing.posted, origins, fit_at)
    for done, errors in enumerate(found, start=1):
        parts.append(errors)
        progress(done, len(origins))
    return joined(parts)


def keep_skill(name: str, errors: Errors, *, kept: Measurements, now: datetime) -> None:
    """Keep the errors of a backtest for whoever asks."""
    body = {column.name: getattr(errors, column.name).tolist() for column in fields(errors)}
    kept.add(name, f"{KIND}{now.isoformat()}", now, json.dumps(body, allow_nan=False).encode(), {})


def skill_answer(name: str, days: int, *, homes: Homes, kept: Measurements) -> dict[str, Any]:
    """The last measurement, summed up by lead days over the forecasts of the last `days` of it."""
    zone = zone_of(homes.get(name).document["time_zone"])
    found = kept.latest(name, KIND)
    if found is None:
        return {"valid": False, "reason": "not_measured", "summary": NOT_MEASURED, "time_zone": zone.key, "leads": []}
    columns = json.loads(found.body)
    errors = Errors(**{column.name: np.array(columns[column.name]) for column in fields(Errors)})
    errors = errors.since(float(errors.origin_d.max(initial=0.0)) - days)
    ranges = [skill(errors, first, last) for first, last in RANGES]
    by_day = [skill(errors, day, day) for day in range(1, 15)]
    known = len(errors) > 0
    return {
        "valid": known,
        "reason": None if known else "no_exact_days",
        "summary": summary(ranges[1]),
        "time_zone": zone.key,
        "measured_at": found.issued_at.astimezone(zone),
        "first_origin": from_days(float(errors.origin_d[0])).astimezone(zone) if known else None,
        "last_origin": from_days(float(errors.origin_d[-1])).astimezone(zone) if known else None,
        "ranges": [asdict(one) for one in ranges],
        "leads": [asdict(one) for one in by_day],
    }


NOT_MEASURED = "Forecasts have not been measured on this log yet; run: kettlecast backtest, or wait for the daily fit."


def summary(week: Skill) -> str:
    """The coming week's skill in one sentence."""
    if week.mae_sm3 is None or week.to_week_mean is None or week.within_80 is None:
        return "No day of that time is known exactly, so there is nothing to compare forecasts with."
    better = 100.0 * (1.0 - week.to_week_mean)
    verdict = f"{better:.0f} % less" if week.to_week_mean < LEAST_TO_WEEK else f"{-better:.0f} % more"
    return (
        f"Over a week ahead a day's gas was missed by {1000.0 * week.mae_sm3:.0f} L, {verdict} than by the mean of "
        f"the last seven days; {100.0 * week.within_80:.0f} % of days fell within the 80 % interval."
    )
