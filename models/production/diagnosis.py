"""What a fit says about itself: how far it left the prior, how its errors look, whether there is a season."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.stats import f as f_distribution

from models.calendar import DAYS_PER_YEAR
from models.production.parameters import LEVEL_PRIOR, Parameters, season
from models.production.record import Record
from models.production.slurry import SlurryNow, base_c
from models.production.substrate import Feeding, activity
from models.temperature import extraterrestrial_mj_per_m2_d, normal_c
from models.units import Bools, Floats

BLENDED_BELOW = 0.85  # of the prior's standard deviation
FITTED_BELOW = 0.45  # passed after about two months of log
SEASON_NEEDS_D = 270.0
LEAST_SWING = 0.15  # of the yearly mean, from the middle to the top
RHYTHM_NEEDS_D = 28
RHYTHM_DAYS = 120
RHYTHM_P = 0.01
WITHIN = {"within_80": 1.2816, "within_95": 1.96}
FOUND, NONE, SHORT = "found", "none found", "log too short to tell"


@dataclass(frozen=True, slots=True, kw_only=True)
class Scores:
    """Standardised innovations of the rows (NaN where there is none), and which rows are bounds."""

    size: Floats
    is_bound: Bools


def basis_of(covariance: Floats) -> str:
    """How far the lasting level has moved from its prior: `prior`, `blended` or `fitted`."""
    left = float(np.sqrt(max(covariance[0, 0], 0.0))) / LEVEL_PRIOR[1]
    if left > BLENDED_BELOW:
        return "prior"
    return "blended" if left > FITTED_BELOW else "fitted"


def _number(value: float) -> float | None:
    return float(value) if np.isfinite(value) else None


def innovation_summary(scores: Scores) -> dict[str, Any]:
    """Mean, spread, autocorrelation and coverage of the standardised innovations; None while there are too few."""
    size = scores.size[np.isfinite(scores.size)]
    enough = len(size) >= 10
    centred = size - size.mean() if enough else size
    summary: dict[str, Any] = {
        "innovations": len(size),
        "mean": _number(float(size.mean())) if enough else None,
        "sd": _number(float(size.std())) if enough else None,
        "autocorrelation": _number(float(centred[1:] @ centred[:-1] / max(centred @ centred, 1e-12)))
        if enough
        else None,
    }
    for name, limit in WITHIN.items():
        summary[name] = _number(float(np.mean(np.abs(size) < limit))) if enough else None
    return summary


def _usual_year(known: Record, slurry: tuple[SlurryNow, ...], parameters: Parameters, mean: Floats) -> Floats:
    """Gas of a usual year by day on steady feed, relative to its mean, shape (365,)."""
    time = np.floor(known.as_of_d) + np.arange(-90.0, DAYS_PER_YEAR)
    air = normal_c(known.air, time)
    sun = extraterrestrial_mj_per_m2_d(known.household.site.latitude_deg, time)
    shape = np.zeros(len(time))
    for one in slurry:
        shape += activity(base_c(one.fit, air, sun), parameters.t0_c)
    gas = np.sqrt(shape) * np.maximum(mean[0] + mean[2:4] @ season(time), 0.0)  # the slow pool evens half of it out
    year = gas[90:]
    return np.asarray(year / max(float(year.mean()), 1e-12))


def season_of(known: Record, slurry: tuple[SlurryNow, ...], parameters: Parameters, mean: Floats, days: float) -> str:
    """Whether production is seen to go with the seasons."""
    if days < SEASON_NEEDS_D:
        return SHORT
    year = _usual_year(known, slurry, parameters, mean)
    swing = float(np.quantile(year, 0.95) - np.quantile(year, 0.05)) / 2.0
    return FOUND if swing > LEAST_SWING else NONE


def weekday_rhythm(known: Record, fed: Feeding) -> str:
    """Whether some weekdays are fed more than others, by a variance test on the last logged days."""
    logged = np.flatnonzero(fed.logged)[-RHYTHM_DAYS:]
    if len(logged) < RHYTHM_NEEDS_D:
        return SHORT
    value = fed.gas_sm3[logged]
    weekday = weekdays(known, logged)
    count = np.bincount(weekday, minlength=7)
    means = np.bincount(weekday, weights=value, minlength=7) / np.maximum(count, 1)
    between = float(count @ (means - value.mean()) ** 2)
    groups = int(np.sum(count > 0))
    inner = max(float(np.sum((value - means[weekday]) ** 2)), 1e-12)
    if groups < 2:
        return NONE
    ratio = between / (groups - 1) / (inner / (len(value) - groups))
    return FOUND if f_distribution.sf(ratio, groups - 1, len(value) - groups) < RHYTHM_P else NONE


def weekdays(known: Record, day: np.ndarray[tuple[int, ...], np.dtype[np.intp]]) -> np.ndarray[Any, np.dtype[np.intp]]:
    """Weekday of days counted from the record's first, Monday 0."""
    return (known.day0.weekday() + day) % 7
