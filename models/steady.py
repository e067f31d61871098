"""All that was said of a household and is to hold: verdicts, and when things happen."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from models.backup import Backup, backup_times_d, may_lack
from models.budget import meal_outlooks, odds_covered
from models.lasting import storage_times_d
from models.reckoning import Reckoning, Said, event_name
from models.units import Floats
from models.venting import vents_d

EVENTS: Mapping[str, Sequence[float]] = {
    "lacks": (0.1, 0.5, 0.9),
    "lacks idle": (0.5,),
    "empty": (0.1, 0.5),
    "full": (0.1, 0.5),
    "vents": (0.1, 0.5),
}
"""Events and the quantiles of their times that answers tell."""
LONGEST_D = 92.0
"""Beyond so many days answers tell of months, and hold to when the backup is needed and the bottle empty alone."""


def said(told: Reckoning, backup: Backup) -> Said:
    """What answers from a balance say of verdicts and times, held to what was said before.

    A balance that then is told with this as what was said before says the same: every answer from it agrees.

    Parameters
    ----------
    told : Reckoning
    backup : Backup

    Returns
    -------
    Said
    """
    if told.edges_d[-1] - told.edges_d[0] > LONGEST_D:
        return Said(times_d=_times_d(told, backup_times_d(told, backup)))
    planned = np.flatnonzero(told.planned())
    servings, lacks = told.run.timeline.servings, may_lack(told)
    times_d = storage_times_d(told) | backup_times_d(told, backup) | {"vents": vents_d(told)}
    return Said(
        covered={day: odds_covered(told, day)[1] for day in told.days()},
        verdicts={(meal.meal, meal.start_d): meal.verdict for meal in meal_outlooks(told, planned)},
        lacks={servings[index].key: bool(lacks[index]) for index in planned.tolist()},
        times_d=_times_d(told, times_d),
    )


def _times_d(told: Reckoning, times_d: Mapping[str, Floats]) -> dict[str, float]:
    """When things happen, by event and quantile, from their times by path; infinite where they do not. [d]"""
    found = {
        event_name(event, q): told.when_d(event, of_paths, q)
        for event, of_paths in times_d.items()
        for q in EVENTS.get(event, (told.care_level,))
    }
    return {name: np.inf if when_d is None else when_d for name, when_d in found.items()}
