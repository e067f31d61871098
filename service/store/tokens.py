"""Access tokens, kept as hashes only."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any, Literal

from sqlalchemy import Row, insert, select, update
from sqlalchemy.exc import IntegrityError

from service.store.database import Database
from service.store.errors import Conflict, NotFound
from service.store.rows import moment, seconds
from service.store.tables import token

Scope = Literal["read", "write"]


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredToken:
    """A token without its secret; `household` is None where it opens every household."""

    id: int
    household: str | None
    scope: str
    created_at: datetime
    revoked_at: datetime | None = None


class TokenStore:
    """Tokens by the hash of their secret."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def add(self, household: str | None, scope: Scope, hash: str, *, now: datetime) -> int:
        """Keep a token; its id."""
        values = {"household": household, "scope": scope, "hash": hash, "created_s": seconds(now)}
        try:
            with self._database.write() as connection:
                return int(connection.execute(insert(token).values(**values).returning(token.c.id)).scalar_one())
        except IntegrityError as error:
            raise Conflict("this token is stored already") from error

    def find(self, hash: str) -> StoredToken | None:
        """The token of a hash, unless it was revoked."""
        row = self._database.peek(
            "SELECT id, household, scope, created_s FROM token WHERE hash = :hash AND revoked_s IS NULL",
            {"hash": hash},
        )
        if row is None:
            return None
        return StoredToken(id=row[0], household=row[1], scope=row[2], created_at=moment(row[3]))

    def list(self) -> list[StoredToken]:
        """Every token, revoked ones too, in the order they were made."""
        with self._database.read() as connection:
            return [_stored(row) for row in connection.execute(select(token).order_by(token.c.id))]

    def revoke(self, token_id: int, *, now: datetime) -> None:
        """Make a token useless, for good."""
        with self._database.write() as connection:
            open_one = (token.c.id == token_id, token.c.revoked_s.is_(None))
            if not connection.execute(update(token).where(*open_one).values(revoked_s=seconds(now))).rowcount:
                raise NotFound(f"there is no token {token_id} in force")

    def any(self) -> bool:
        """Whether any token is in force."""
        return self._database.peek("SELECT 1 FROM token WHERE revoked_s IS NULL LIMIT 1", {}) is not None


def _stored(row: Row[Any]) -> StoredToken:
    return StoredToken(
        id=row.id,
        household=row.household,
        scope=row.scope,
        created_at=moment(row.created_s),
        revoked_at=None if row.revoked_s is None else moment(row.revoked_s),
    )
