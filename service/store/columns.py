"""From rows of the log to the columns the models read."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from models.calendar import SECONDS_PER_DAY
from models.holder import GasHolder, volume_m3
from models.log import Log, Readings, Strings
from models.units import Floats

LITRES_PER_M3 = 1000.0


def columns_of(rows: Sequence[Sequence[Any]], holder: GasHolder | None) -> Log:
    """A log in columns.

    Parameters
    ----------
    rows : sequence of (quantity, taken_s, value, unit, item, meal, flame_pct, water_l, from_c, id, sure)
        Sorted by quantity, then time.
    holder : GasHolder or None
        Turns levels in per cent into wet volume; without it they are left out.
    """
    if not rows:
        return Log()
    quantity, taken_s, value, unit, item, meal, flame_pct, water_l, from_c, ids, sure = zip(*rows, strict=True)
    quantities = np.array(quantity)
    units = np.array(unit)
    whole = Readings(
        time_d=np.array(taken_s, dtype=float) / SECONDS_PER_DAY,
        value=np.array(value, dtype=float),
        item=np.array(item),
        meal=np.array(meal),
        flame_fraction=np.array(flame_pct, dtype=float) / 100.0,
        water_l=np.array(water_l, dtype=float),
        from_c=np.array(from_c, dtype=float),
        id=np.array(ids),
        sure=np.array(sure, dtype=bool),
    )
    names, starts = np.unique(quantities, return_index=True)
    ends = np.append(starts[1:], len(rows))
    found = {
        str(name): (whole.select(slice(int(start), int(end))), units[start:end])
        for name, start, end in zip(names, starts, ends, strict=True)
    }
    return Log(
        by_quantity={
            name: _volumes(readings, unit, holder) if name == "holder_level" else readings
            for name, (readings, unit) in found.items()
        }
    )


def _volumes(readings: Readings, unit: Strings, holder: GasHolder | None) -> Readings:
    """Levels as wet volume. [m3]"""
    volumes: Floats = np.where(unit == "L", readings.value / LITRES_PER_M3, readings.value)
    in_pct = unit == "%"
    if holder is not None:
        volumes[in_pct] = volume_m3(holder, readings.value[in_pct])
    columns = {name: getattr(readings, name) for name in Readings.__slots__} | {"value": volumes}
    converted = Readings(**columns)
    return converted if holder is not None else converted.select(~in_pct)
