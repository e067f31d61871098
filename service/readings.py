"""A reading of the log, as everything outside the database sees it."""

from __future__ import annotations

import hashlib
from dataclasses import astuple, dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """One thing somebody, or something, read off.

    Times are whole UTC seconds since 1970. A field that the quantity does not use is None, or an empty text;
    an empty `id` means that none was chosen.
    """

    id: str = ""
    taken_s: int
    quantity: str
    value: float
    unit: str
    item: str = ""
    meal: str = ""
    note: str = ""
    flame_pct: float | None = None
    water_l: float | None = None
    from_c: float | None = None
    recorded_s: int

    @property
    def content(self) -> tuple[object, ...]:
        """What was read, without the id and the time it was recorded."""
        return astuple(self)[1:-1]

    @property
    def etag(self) -> str:
        """Strong ETag, without the quotes."""
        return hashlib.sha256(repr(astuple(self)).encode()).hexdigest()[:32]
