"""What a household's forecasts were made of: its documents and its log as they stood when one was issued."""

from __future__ import annotations

import json
from collections.abc import Mapping
from datetime import datetime, timedelta
from typing import Any

from sqlalchemy import Connection, Row, delete, func, insert, select, update

from models.holder import GasHolder
from models.log import Log
from service.marks import Differences, Mark
from service.store.columns import columns_of
from service.store.database import Database
from service.store.errors import NotFound
from service.store.fits import StoredFit
from service.store.rows import dumped, etag_of, household_id, moment, second_of, seconds
from service.store.tables import fit, forecast_input, reading, reading_before

LOG = ("quantity", "taken_s", "value", "unit", "item", "meal", "flame_pct", "water_l", "from_c", "reading_id", "sure")
"""What the models read of a reading, in the order of `columns_of`."""
IN_USE = timedelta(days=1)  # a state of a household stands for an hour, and answers may be issued from it all that time


class HistoryStore:
    """The past of households. Unknown names raise `NotFound`."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def keep(self, name: str, documents: Mapping[str, Any], *, now: datetime) -> dict[str, str]:
        """Keep documents, each once however often it comes; the hash of each by the name given to it."""
        texts = {given: dumped(document) for given, document in documents.items()}
        hashes = {given: etag_of(text) for given, text in texts.items()}
        with self._database.write() as connection:
            owner = household_id(connection, name)
            for given, hashed in hashes.items():
                _keep(connection, owner, hashed, texts[given], seconds(now))
        return hashes

    def document(self, name: str, hashed: str) -> Any:
        """A document by its hash."""
        with self._database.read() as connection:
            one = (forecast_input.c.household_id == household_id(connection, name), forecast_input.c.hash == hashed)
            text = connection.execute(select(forecast_input.c.document).where(*one)).scalar()
        if text is None:
            raise NotFound(f"there is no document {hashed} any more")
        return json.loads(text)

    def prune(self, name: str, before: datetime) -> int:
        """Drop documents that no forecast issued since a time was made of; how many."""
        with self._database.write() as connection:
            old = forecast_input.c.used_s < seconds(before - IN_USE)
            mine = forecast_input.c.household_id == household_id(connection, name)
            return connection.execute(delete(forecast_input).where(mine, old)).rowcount

    def mark(self, name: str, *, now: datetime) -> Mark:
        """How far the log has come."""
        with self._database.read() as connection:
            mine = reading.c.household_id == household_id(connection, name)
            last = connection.execute(select(func.max(reading.c.id)).where(mine)).scalar()
            corrected = connection.execute(select(func.max(reading_before.c.id))).scalar()
        return Mark(reading=last or 0, correction=corrected or 0, at_s=seconds(now))

    def log(self, name: str, holder: GasHolder | None, until_d: float, *, stood: Mark) -> Log:
        """The log in columns as it stood at a mark, readings taken after `until_d` left out.

        A reading that was deleted in the very second of the mark counts as deleted already.
        """
        with self._database.read() as connection:
            mine = (reading.c.household_id == household_id(connection, name), reading.c.id <= stood.reading)
            rows = {row.id: row for row in connection.execute(select(reading).where(*mine))}
            for before in _corrected(connection, name, stood):
                rows[before.row_id] = before
        until_s = second_of(until_d)
        standing = [row for row in rows.values() if row.deleted_s is None or row.deleted_s > stood.at_s]
        found = [tuple(getattr(row, column) for column in LOG) for row in standing if row.taken_s <= until_s]
        return columns_of(sorted(found, key=lambda one: (one[0], one[1], one[4])), holder)

    def differences(self, name: str, first: Mark, last: Mark) -> Differences:
        """What became of the log between two marks."""
        with self._database.read() as connection:
            owner = household_id(connection, name)
            mine = reading.c.household_id == owner
            added = select(func.count()).where(mine, reading.c.id > first.reading, reading.c.id <= last.reading)
            gone = select(func.count()).where(
                mine, reading.c.deleted_s > first.at_s, reading.c.deleted_s <= last.at_s, reading.c.id <= first.reading
            )
            corrected = {row.row_id for row in _corrected(connection, name, first) if row.id <= last.correction}
            return Differences(
                added=connection.execute(added).scalar_one(),
                corrected=len(corrected),
                deleted=connection.execute(gone).scalar_one(),
            )

    def fit(self, name: str, fit_id: int) -> StoredFit:
        """A fit by its number."""
        with self._database.read() as connection:
            one = (fit.c.household_id == household_id(connection, name), fit.c.id == fit_id)
            row = connection.execute(select(fit).where(*one)).first()
        if row is None:
            raise NotFound(f"there is no fit {fit_id}")
        return StoredFit(
            id=row.id,
            fit=json.loads(row.document),
            made_as_of_d=row.made_as_of_d,
            created_at=moment(row.created_s),
        )


def _keep(connection: Connection, owner: int, hashed: str, text: str, now_s: int) -> None:
    same = (forecast_input.c.household_id == owner, forecast_input.c.hash == hashed)
    if connection.execute(update(forecast_input).where(*same).values(used_s=now_s)).rowcount == 0:
        values = {"household_id": owner, "hash": hashed, "document": text, "used_s": now_s}
        connection.execute(insert(forecast_input).values(**values))


def _corrected(connection: Connection, name: str, stood: Mark) -> list[Row[Any]]:
    """What stood at a mark of the readings known then that were corrected since, one row each."""
    later = (reading_before.c.id > stood.correction, reading.c.id <= stood.reading)
    query = (
        select(reading_before)
        .join(reading, reading.c.id == reading_before.c.row_id)
        .where(reading.c.household_id == household_id(connection, name), *later)
        .order_by(reading_before.c.id.desc())
    )
    return list({row.row_id: row for row in connection.execute(query)}.values())  # the earliest stood at the mark
