"""What the cooking log calls its meals and when it says they were, against the schedule."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from difflib import get_close_matches

import numpy as np

from models.log import Readings
from models.meals import MealPlan, Serving
from models.units import HOURS_PER_DAY, Floats

ALIKE = 0.75  # of two names, by the letters that they share in order


@dataclass(frozen=True, slots=True, kw_only=True)
class Misspelt:
    """A meal's name as it was `written` at `time_d` [d], and the one of the schedule that was `meant`."""

    time_d: float
    written: str
    meant: str


def misspelt(cooking: Readings, plan: MealPlan | None) -> Misspelt | None:
    """The first cooking whose meal the schedule has under a name nearly the same; None where there is none."""
    names = {} if plan is None else {meal.name.casefold(): meal.name for meal in plan.meals}
    for time_d, written in zip(cooking.time_d.tolist(), cooking.meal.tolist(), strict=True):
        if written and written not in names.values():
            for meant in get_close_matches(written.casefold(), names, n=1, cutoff=ALIKE):
                return Misspelt(time_d=time_d, written=written, meant=names[meant])
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
