"""Forecasts as issued: stored bytes that never change."""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import ColumnElement, Connection, Row, and_, delete, func, insert, select
from sqlalchemy.exc import IntegrityError

from service.store.database import Database
from service.store.errors import NotFound
from service.store.rows import dumped, etag_of, household_id, moment, seconds
from service.store.tables import forecast


@dataclass(frozen=True, slots=True, kw_only=True)
class Issued:
    """A forecast as issued; `key` says which question on which state of the household it answers.

    `kind` is the kind of question, None for what the service keeps for itself.
    """

    id: int
    key: str
    kind: str | None
    issued_at: datetime
    body: bytes
    etag: str
    inputs: dict[str, Any]


class ForecastStore:
    """Issued forecasts by household and key."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def find(self, name: str, key: str) -> Issued | None:
        """The forecast issued under a key, or none."""
        with self._database.read() as connection:
            return _find(connection, household_id(connection, name), forecast.c.key == key)

    def get(self, name: str, forecast_id: int) -> Issued:
        """One forecast by its id; what the service keeps for itself is none."""
        with self._database.read() as connection:
            answer = and_(forecast.c.id == forecast_id, forecast.c.kind.is_not(None))
            found = _find(connection, household_id(connection, name), answer)
        if found is None:
            raise NotFound(f"there is no forecast {forecast_id}")
        return found

    def latest(self, name: str, beginning: str, *, before: int | None = None) -> Issued | None:
        """The forecast issued last among those whose key begins so, or none; `before` that of an id."""
        with self._database.read() as connection:
            owner = household_id(connection, name)
            earlier = () if before is None else (forecast.c.id < before,)
            newest = select(func.max(forecast.c.id)).where(
                forecast.c.household_id == owner, *_begins(connection, beginning), *earlier
            )
            return _find(connection, owner, forecast.c.id == newest.scalar_subquery())

    def add(self, name: str, key: str, issued_at: datetime, body: bytes, inputs: dict[str, Any]) -> Issued:
        """Keep a forecast; where one stands under the key already, that one is returned and nothing is changed."""
        try:
            with self._database.write() as connection:
                owner = household_id(connection, name)
                if found := _find(connection, owner, forecast.c.key == key):
                    return found
                values = {
                    "household_id": owner,
                    "key": key,
                    "kind": inputs.get("kind"),
                    "issued_s": seconds(issued_at),
                    "inputs": dumped(inputs),
                    "etag": etag_of(body),
                    "body": body,
                }
                row = connection.execute(insert(forecast).values(**values).returning(*forecast.c)).one()
                return _issued(row)
        except IntegrityError:
            # Another process was first; only on a database whose writers run side by side.
            found = self.find(name, key)
            if found is None:
                raise
            return found

    def page(self, name: str, *, limit: int = 100, before: int | None = None, kind: str | None = None) -> list[Issued]:
        """Forecasts of one kind or any, newest first, those with a smaller id than `before`."""
        with self._database.read() as connection:
            mine = forecast.c.household_id == household_id(connection, name)
            wanted = [mine, forecast.c.kind.is_not(None) if kind is None else forecast.c.kind == kind]
            if before is not None:
                wanted.append(forecast.c.id < before)
            rows = connection.execute(select(forecast).where(*wanted).order_by(forecast.c.id.desc()).limit(limit))
            return [_issued(row) for row in rows]

    def prune(self, name: str, before: datetime, *, but: int | None = None) -> int:
        """Drop the forecasts issued before a time, `but` the one of that id; how many."""
        with self._database.write() as connection:
            owner = household_id(connection, name)
            old = (forecast.c.household_id == owner, forecast.c.issued_s < seconds(before))
            return connection.execute(delete(forecast).where(*old, forecast.c.id != (but or 0))).rowcount


def _begins(connection: Connection, beginning: str) -> tuple[ColumnElement[bool], ColumnElement[bool]]:
    """Keys that begin so, as a range that the index on the key can be searched for."""
    # SQLite compares byte by byte; another database would by its language, where a beginning is no range.
    key = forecast.c.key if connection.dialect.name == "sqlite" else forecast.c.key.collate("C")
    return key >= beginning, key < beginning[:-1] + chr(ord(beginning[-1]) + 1)


def _find(connection: Connection, owner: int, which: ColumnElement[bool]) -> Issued | None:
    row = connection.execute(select(forecast).where(forecast.c.household_id == owner, which)).first()
    return None if row is None else _issued(row)


def _issued(row: Row[Any]) -> Issued:
    return Issued(
        id=row.id,
        key=row.key,
        kind=row.kind,
        issued_at=moment(row.issued_s),
        body=row.body,
        etag=row.etag,
        inputs=json.loads(row.inputs),
    )
