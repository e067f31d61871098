"""The log as the models read it: readings of each quantity in time order, in columns."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, fields

import numpy as np
import numpy.typing as npt

from models.units import Bools, Floats

Strings = npt.NDArray[np.str_]

QUANTITIES: Mapping[str, tuple[str, ...]] = {
    "holder_level": ("%", "m3", "L"),
    "gas_meter": ("m3",),
    "cooking": ("min",),
    "feed": ("kg",),
    "water_added": ("L",),
    "digester_temperature": ("Cel",),
    "ambient_temperature": ("Cel",),
    "methane": ("%",),
    "carbon_dioxide": ("%",),
    "venting": ("1",),
    "backup_used": ("kg", "kWh"),
    "boil_test": ("min",),
    "condensate": ("L",),
}
"""Every quantity that can be logged, with the UCUM units it may come in."""


def _floats() -> Floats:
    return np.empty(0)


def _strings() -> Strings:
    return np.empty(0, dtype=np.str_)


def _bools() -> Bools:
    return np.empty(0, dtype=bool)


@dataclass(frozen=True, slots=True, kw_only=True)
class Readings:
    """Readings of one quantity, sorted by time; every column has the same length.

    `value` is in the quantity's own unit, except `holder_level`, which is always the wet volume the
    gauge shows [m3]. A column that a quantity does not use holds NaN or an empty string. `sure` marks readings that
    whoever took them stands by, against all appearances; left out, it is none. `written` is what stands in the log
    where `value` is another figure, because that one cannot be, and NaN elsewhere.
    """

    time_d: Floats = field(default_factory=_floats)
    value: Floats = field(default_factory=_floats)
    item: Strings = field(default_factory=_strings)
    meal: Strings = field(default_factory=_strings)
    flame_fraction: Floats = field(default_factory=_floats)
    water_l: Floats = field(default_factory=_floats)
    from_c: Floats = field(default_factory=_floats)
    id: Strings = field(default_factory=_strings)
    sure: Bools = field(default_factory=_bools)
    written: Floats = field(default_factory=_floats)

    def __post_init__(self) -> None:
        if not len(self.sure):
            object.__setattr__(self, "sure", np.zeros(len(self.time_d), dtype=bool))
        if not len(self.written):
            object.__setattr__(self, "written", np.full(len(self.time_d), np.nan))

    def __len__(self) -> int:
        return len(self.time_d)

    @property
    def doubted(self) -> Bools:
        """Which of them are known to have been taken, but not what they should have said."""
        return np.isfinite(self.written)

    def select(self, rows: Bools | npt.NDArray[np.intp] | slice) -> Readings:
        """The rows that a mask, an order or a slice keeps."""
        return Readings(**{column.name: getattr(self, column.name)[rows] for column in fields(self)})

    def between(self, start_d: float, end_d: float) -> Readings:
        """Readings taken at or after `start_d` and before `end_d`. [d]"""
        low, high = np.searchsorted(self.time_d, [start_d, end_d], side="left")
        return self.select(slice(int(low), int(high)))


@dataclass(frozen=True, slots=True, kw_only=True)
class Log:
    """A household's whole log, by quantity."""

    by_quantity: Mapping[str, Readings] = field(default_factory=dict)

    def of(self, quantity: str) -> Readings:
        """Readings of one quantity; empty where none was logged."""
        return self.by_quantity.get(quantity, Readings())

    def without(self, quantity: str, ids: Sequence[str]) -> Log:
        """The log without some readings of one quantity, by their ids."""
        kept = self.of(quantity)
        kept = kept.select(~np.isin(kept.id, list(ids)))
        return Log(by_quantity={**self.by_quantity, quantity: kept})

    def until(self, time_d: float) -> Log:
        """The log as it stood at a time: readings taken up to and including it. [d]"""
        return Log(
            by_quantity={
                name: readings.between(-np.inf, np.nextafter(time_d, np.inf))
                for name, readings in self.by_quantity.items()
            }
        )
