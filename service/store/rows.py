"""What all stores share: documents as JSON texts, their ETags, and the household a row belongs to."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any, Literal

from sqlalchemy import Connection, select, update

from models.calendar import SECONDS_PER_DAY
from service.store.errors import NotFound, PreconditionFailed, PreconditionMissing
from service.store.tables import household

ANY = "*"
"""The ETag that matches whatever is stored."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredDocument:
    """A document with the strong ETag of this version of it (without quotes)."""

    document: dict[str, Any]
    etag: str


def dumped(document: Mapping[str, Any] | Sequence[Any]) -> str:
    """One JSON text; NaN has no place in it."""
    return json.dumps(document, allow_nan=False, ensure_ascii=False, separators=(",", ":"))


def etag_of(content: str | bytes) -> str:
    """Strong ETag of what is stored."""
    return hashlib.sha256(content.encode() if isinstance(content, str) else content).hexdigest()[:32]


def seconds(moment: datetime) -> int:
    """Whole UTC seconds of an aware time stamp."""
    return int(moment.timestamp() // 1)


def second_of(time_d: float) -> int:
    """The whole second that a day count stands for: as a float it may fall a hair short of it."""
    return round(time_d * SECONDS_PER_DAY)


def moment(time_s: int) -> datetime:
    """Aware UTC time stamp of whole seconds."""
    return datetime.fromtimestamp(time_s, UTC)


def household_id(connection: Connection, name: str, *, hold: bool = False) -> int:
    """Row id of a household; with `hold` nobody else changes it until the present transaction ends.

    A write that looks first at what stands must hold it: SQLite has one writer at a time anyway, PostgreSQL has many.

    Raises
    ------
    NotFound
        No household of that name.
    """
    query = select(household.c.id).where(household.c.name == name)
    found = connection.execute(query.with_for_update() if hold else query).scalar()
    if found is None:
        raise NotFound(f"there is no household {name!r}; describe it first: PUT /v1/households/{name}")
    return int(found)


def changed(connection: Connection, name: str) -> int:
    """Row id of a household that the present transaction changes; its version grows by one."""
    found = household_id(connection, name)
    connection.execute(update(household).where(household.c.id == found).values(version=household.c.version + 1))
    return found


def matches(if_match: str, etag: str) -> bool:
    """Whether what has this ETag may be replaced: `if_match` names any, or some with spaces between."""
    return if_match == ANY or etag in if_match.split()


def check_etag(stored: str | None, if_match: str | None, *, to: Literal["replace", "delete"] = "replace") -> None:
    """Refuse to replace or delete a version that the client has not seen.

    Raises
    ------
    PreconditionMissing
        Something is stored and `if_match` is None.
    PreconditionFailed
        `if_match` is neither `*` nor holds the ETag stored; or nothing is stored.
    """
    if if_match is None:
        if stored is not None:
            begin = "it exists already; " if to == "replace" else ""
            raise PreconditionMissing(
                f"{begin}send If-Match with the ETag of the version to {to}, which GET gives; "
                f"If-Match: * {to}s whichever stands"
            )
    elif stored is None:
        raise PreconditionFailed("If-Match was sent, but nothing is stored here")
    elif not matches(if_match, stored):
        raise PreconditionFailed("it has changed since you read it; read it again and repeat your change")
