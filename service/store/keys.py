"""Keys of calendars, kept as hashes only: each opens the calendar of one household, and nothing else."""

from __future__ import annotations

from datetime import datetime

from sqlalchemy import insert, update

from service.store.database import Database
from service.store.rows import household_id, seconds
from service.store.tables import calendar_key

IN_FORCE = (
    "SELECT household.name FROM calendar_key JOIN household ON household.id = calendar_key.household_id"
    " WHERE calendar_key.revoked_s IS NULL AND "
)


class KeyStore:
    """Calendar keys by the hash of their secret."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def add(self, name: str, hash: str, *, now: datetime) -> None:
        """Keep a key of a household; those made before stay in force."""
        with self._database.write() as connection:
            values = {"household_id": household_id(connection, name), "hash": hash, "created_s": seconds(now)}
            connection.execute(insert(calendar_key).values(**values))

    def revoke(self, name: str, *, now: datetime) -> int:
        """Make every key of a household useless, for good; how many."""
        with self._database.write() as connection:
            theirs = calendar_key.c.household_id == household_id(connection, name)
            in_force = update(calendar_key).where(theirs, calendar_key.c.revoked_s.is_(None))
            return connection.execute(in_force.values(revoked_s=seconds(now))).rowcount

    def household(self, hash: str) -> str | None:
        """The household whose calendar a key opens; None where it is not known or was revoked."""
        row = self._database.peek(f"{IN_FORCE} calendar_key.hash = :hash", {"hash": hash})
        return None if row is None else str(row[0])

    def any(self, name: str) -> bool:
        """Whether any key of a household is in force."""
        return self._database.peek(f"{IN_FORCE} household.name = :name LIMIT 1", {"name": name}) is not None
