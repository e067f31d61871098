"""What the cooking log calls its meals and when it says they were, against the schedule."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from difflib import get_close_matches

import numpy as np

from models.log import Readings
from models.meals import Serving
from models.units import HOURS_PER_DAY, Floats

ALIKE = 0.75  # of two names, by the letters that they share in order
NEAR_D = 0.25


@dataclass(frozen=True, slots=True, kw_only=True)
class Misspelt:
    """A meal's name as it was `written` at `time_d` [d], and the one of the schedule that was `meant`."""

    time_d: float
    written: str
    meant: str


def misspelt(cooking: Readings, planned: Sequence[Serving]) -> Misspelt | None:
    """The first cooking under a name that the schedule does not have, where a meal named nearly so was due and missing.

    Parameters
    ----------
    cooking : Readings
        With the meals' names, or without.
    planned : sequence of Serving
        What was planned in that time.
    """
    exact = {serving.meal for serving in planned}
    missing = [
        one for one in planned if not np.any(np.abs(cooking.time_d[cooking.meal == one.meal] - one.start_d) < NEAR_D)
    ]
    for time_d, written in zip(cooking.time_d.tolist(), cooking.meal.tolist(), strict=True):
        if written and written not in exact:
            due = {one.meal.casefold(): one.meal for one in missing if abs(one.start_d - time_d) < NEAR_D}
            for meant in get_close_matches(written.casefold(), due, n=1, cutoff=ALIKE):
                return Misspelt(time_d=time_d, written=written, meant=due[meant])
    return None


def late_by_h(cooking: Readings, planned: Sequence[Serving]) -> tuple[Floats, Floats]:
    """Hours by which each cooking that names a planned meal is logged after its nearest serving, with the moment."""
    gaps, times = [], []
    starts = {meal: np.array([s.start_d for s in planned if s.meal == meal]) for meal in {s.meal for s in planned}}
    for time_d, meal in zip(cooking.time_d.tolist(), cooking.meal.tolist(), strict=True):
        if meal in starts:
            gap = time_d - starts[meal]
            gaps.append(float(gap[np.argmin(np.abs(gap))]) * HOURS_PER_DAY)
            times.append(time_d)
    return np.array(gaps), np.array(times)
