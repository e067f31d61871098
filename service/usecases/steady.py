"""What was last said of a household, as a document that is kept from one answer to the next."""

from __future__ import annotations

import json
from datetime import date
from typing import Any

import numpy as np

from models.reckoning import Said


def said_document(said: Said) -> dict[str, Any]:
    """As plain JSON: days by ISO date; a meal's name, start [d] and what was said; null where nothing is to come."""
    return {
        "covered": {day.isoformat(): covered for day, covered in said.covered.items()},
        "verdicts": [[*meal, verdict] for meal, verdict in sorted(said.verdicts.items())],
        "lacks": [[*meal, lacks] for meal, lacks in sorted(said.lacks.items())],
        "times_d": {name: time_d if np.isfinite(time_d) else None for name, time_d in said.times_d.items()},
    }


def said_from(body: bytes) -> Said:
    """What `said_document` wrote."""
    document = json.loads(body)
    return Said(
        covered={date.fromisoformat(day): covered for day, covered in document["covered"].items()},
        verdicts={(meal, start_d): said for meal, start_d, said in document["verdicts"]},
        lacks={(meal, start_d): said for meal, start_d, said in document["lacks"]},
        times_d={name: np.inf if time_d is None else time_d for name, time_d in document["times_d"].items()},
    )
