"""What was last said of a household, as a document that is kept from one answer to the next."""

from __future__ import annotations

import json
from datetime import date
from typing import Any

import numpy as np

from models.reckoning import Said


def said_document(said: Said) -> dict[str, Any]:
    """As plain JSON: days by ISO date, pairs of a meal's start [d] and what was said, null where nothing is to come."""
    return {
        "covered": {day.isoformat(): covered for day, covered in said.covered.items()},
        "verdicts": sorted(said.verdicts.items()),
        "lacks": sorted(said.lacks.items()),
        "times_d": {name: time_d if np.isfinite(time_d) else None for name, time_d in said.times_d.items()},
    }


def said_from(body: bytes) -> Said:
    """What `said_document` wrote."""
    document = json.loads(body)
    return Said(
        covered={date.fromisoformat(day): covered for day, covered in document["covered"].items()},
        verdicts={start_d: said for start_d, said in document["verdicts"]},
        lacks={start_d: said for start_d, said in document["lacks"]},
        times_d={name: np.inf if time_d is None else time_d for name, time_d in document["times_d"].items()},
    )
