"""Readings that are kept but not believed, as a cook finds them again."""

from __future__ import annotations

from typing import Any
from zoneinfo import ZoneInfo

import numpy as np

from models.calendar import from_days
from models.ledger import SetAside
from models.log import Log


def set_aside_rows(written: Log, set_aside: SetAside, zone: ZoneInfo) -> list[dict[str, Any]]:
    """Each reading's id, when it was taken and of what, and why it is not believed; the latest first."""
    why = dict(set_aside)
    found = [
        (float(readings.time_d[row]), str(readings.id[row]), quantity)
        for quantity, readings in written.by_quantity.items()
        for row in np.flatnonzero(np.isin(readings.id, list(why))).tolist()
    ]
    return [
        {
            "reading": reading,
            "taken_at": from_days(time_d).astimezone(zone),
            "quantity": quantity,
            "why": why[reading],
        }
        for time_d, reading, quantity in sorted(found, reverse=True)
    ]
