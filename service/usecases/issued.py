"""What use cases know of answers as they were issued, and of where they are kept."""

from __future__ import annotations

from datetime import datetime
from typing import Any, Protocol


class Issued(Protocol):
    """An answer as it was issued."""

    @property
    def id(self) -> int:
        """Its number."""

    @property
    def key(self) -> str:
        """Which question on which state of the household it answers."""

    @property
    def issued_at(self) -> datetime:
        """When it was issued."""

    @property
    def body(self) -> bytes:
        """Its bytes."""

    @property
    def etag(self) -> str:
        """Its strong ETag."""

    @property
    def inputs(self) -> dict[str, Any]:
        """What it was made of."""


class Forecasts(Protocol):
    """Where answers are kept as issued."""

    def find(self, name: str, key: str) -> Issued | None:
        """The answer issued under a key, or none."""

    def latest(self, name: str, beginning: str) -> Issued | None:
        """The answer issued last among those whose key begins so, or none."""

    def add(self, name: str, key: str, issued_at: datetime, body: bytes, inputs: dict[str, Any]) -> Issued:
        """Keep an answer; where one stands under the key already, that one is returned."""
