"""Everything a store can refuse.

StoreError
├── NotFound             no such household, meal, reading, import, forecast, fit
├── Conflict             something else stands there already
├── PreconditionFailed   the document has changed since the client read it
├── PreconditionMissing  a document is to be replaced without saying which
├── Busy                 another writer held the database for longer than a request may wait
└── Unreachable          the database is not there, or is none
"""

from __future__ import annotations


class StoreError(Exception):
    """A request the store refuses; nothing was changed. `field` names the input to change, where one is to blame."""

    def __init__(self, message: str, *, field: str | None = None) -> None:
        super().__init__(message)
        self.field = field


class NotFound(StoreError):
    """There is no such thing."""


class Conflict(StoreError):
    """Something else stands there already."""


class PreconditionFailed(StoreError):
    """The ETag given is not that of what is stored."""


class PreconditionMissing(StoreError):
    """A document exists, and no ETag says which version is meant to be replaced."""


class Busy(StoreError):
    """Another writer held the database for longer than a request may wait."""


class Unreachable(StoreError):
    """The database is not there, cannot be read, or is none of this project's."""
