"""How far a household's log had come at one moment, and what became of it between two."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """How far a log had come: its last row of readings, its last of corrections, and when that was."""

    reading: int
    correction: int
    at_s: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Differences:
    """How many readings came, were corrected or were deleted between two marks."""

    added: int
    corrected: int
    deleted: int
