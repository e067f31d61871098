"""Rows of an import: as read, and as judged against the log."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, NamedTuple

from service.readings import Reading

Verdict = Literal["added", "unchanged", "conflict", "refused"]


class FileRow(NamedTuple):
    """A row of a file, or one filled cell of a diary: a reading, or what is wrong with it.

    `pointer` is `/lines/N/heading`, with the heading in line 1.
    """

    line: int
    pointer: str
    reading: Reading | None
    message: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class JudgedRow:
    """What becomes of the `n`th row; `reading_id` is the reading that stands for it."""

    n: int
    line: int
    code: Verdict
    reading_id: str | None
    pointer: str | None
    message: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Counts:
    """How many rows of each verdict."""

    added: int = 0
    unchanged: int = 0
    conflict: int = 0
    refused: int = 0

    @property
    def clean(self) -> bool:
        """Whether every row can be kept, or stands already."""
        return not (self.conflict or self.refused)
