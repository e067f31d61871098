"""Imports: rows are staged beside the log, judged against it in one go, kept together, and undone together."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import asdict, dataclass
from datetime import datetime
from operator import attrgetter
from typing import Any
from uuid import uuid4

from sqlalchemy import Connection, Row, func, insert, select, update

from service.ingest.rows import Counts, FileRow, JudgedRow, Verdict
from service.store.database import Database, writing
from service.store.errors import NotFound
from service.store.judging import FIELDS, judge, keep_added, staged, staging_metadata
from service.store.rows import changed, dumped, household_id, moment, seconds
from service.store.tables import import_batch, import_row, reading

NEXT = 1
STAGED = ("n", "line", "pointer", "code", "message", "chosen", *FIELDS)
NOTHING = (None,) * len(FIELDS)
content_of = attrgetter(*FIELDS[1:])  # all but the id, which a reading may not have yet


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredImport:
    """An import that was kept."""

    id: str
    nth: int
    imported_at: datetime
    undone_at: datetime | None
    summary: dict[str, Any]


class Stage:
    """Rows of one import on their way into the log. They are in no one's way until `keep` does."""

    def __init__(self, connection: Connection, name: str) -> None:
        self._connection = connection
        self._name = name
        self._rows = 0

    def add(self, rows: Sequence[FileRow]) -> None:
        """Stage some more rows."""
        first = self._rows + 1
        self._rows += len(rows)
        with self._connection.begin():
            # Straight to the driver: the toolkit's own way doubles the time of a long import.
            mark = "?" if self._connection.dialect.paramstyle == "qmark" else "%s"
            sql = f"INSERT INTO staged ({', '.join(STAGED)}) VALUES ({', '.join([mark] * len(STAGED))})"
            self._connection.exec_driver_sql(sql, [_values(n, row) for n, row in enumerate(rows, first)])

    def judged(self) -> Counts:
        """How many rows would be added, are unchanged, in conflict and refused; the log is only read."""
        with self._connection.begin():
            return self._judge()

    def keep(self, *, partial: bool, summary: Mapping[str, Any], now: datetime) -> tuple[str | None, Counts]:
        """Keep the rows judged `added`: the id of the import, None where nothing was kept, and the counts.

        Unless `partial`, a single row in conflict or refused means that nothing is kept.
        """
        with writing(self._connection):
            household_id(self._connection, self._name, hold=True)
            counts = self._judge()
            if not counts.added or not (counts.clean or partial):
                return None, counts
            owner = changed(self._connection, self._name)
            import_id = str(uuid4())
            values = {"id": import_id, "household_id": owner, "imported_s": seconds(now), "nth": self._next(owner)}
            told = dumped({**summary, **asdict(counts)})
            self._connection.execute(insert(import_batch).values(**values, summary=told))
            keep_added(self._connection, owner, import_id, seconds(now))
            return import_id, counts

    def rows(self, *, limit: int, after: int = 0, codes: Sequence[Verdict] = ()) -> tuple[list[JudgedRow], int | None]:
        """The rows with their verdicts, in order, from behind `after`; and the place to go on from, if any."""
        query = select(staged).where(staged.c.n > after)
        if codes:
            query = query.where(staged.c.code.in_(codes))
        with self._connection.begin():
            return _page(self._connection.execute(query.order_by(staged.c.n).limit(limit + NEXT)).all(), limit)

    def _next(self, owner: int) -> int:
        newest = select(func.max(import_batch.c.nth)).where(import_batch.c.household_id == owner)
        return int(self._connection.execute(newest).scalar() or 0) + 1

    def _judge(self) -> Counts:
        owner = household_id(self._connection, self._name)
        judge(self._connection, owner)
        found = self._connection.execute(select(staged.c.code, func.count()).group_by(staged.c.code)).all()
        return Counts(**{code: n for code, n in found})


class ImportStore:
    """Imports of a household; unknown ones raise `NotFound`."""

    def __init__(self, database: Database) -> None:
        self._database = database

    @contextmanager
    def staging(self, name: str) -> Iterator[Stage]:
        """An empty stage, gone afterwards."""
        with self._database.engine.connect() as connection:
            with connection.begin():
                household_id(connection, name)
                staging_metadata.create_all(connection, checkfirst=False)
            try:
                yield Stage(connection, name)
            finally:
                connection.rollback()
                with connection.begin():
                    staging_metadata.drop_all(connection, checkfirst=False)

    def get(self, name: str, import_id: str) -> StoredImport:
        """One import that stands."""
        with self._database.read() as connection:
            found = _stored(_import(connection, household_id(connection, name), import_id))
        if found.undone_at is not None:
            raise NotFound(
                f"import {import_id!r} was undone on {found.undone_at:%Y-%m-%d}; the list of imports shows what it "
                "was; send the file again to redo it"
            )
        return found

    def page(self, name: str, *, limit: int, before: int | None = None) -> list[StoredImport]:
        """Imports, undone ones too, newest first; those kept before the `nth` one, where that is named."""
        with self._database.read() as connection:
            query = select(import_batch).where(import_batch.c.household_id == household_id(connection, name))
            if before is not None:
                query = query.where(import_batch.c.nth < before)
            return [_stored(row) for row in connection.execute(query.order_by(import_batch.c.nth.desc()).limit(limit))]

    def rows(
        self, name: str, import_id: str, *, limit: int, after: int = 0, codes: Sequence[Verdict] = ()
    ) -> tuple[list[JudgedRow], int | None]:
        """The rows of an import with what became of them; and the place to go on from, if any."""
        with self._database.read() as connection:
            _import(connection, household_id(connection, name), import_id)
            query = select(import_row).where(import_row.c.import_id == import_id, import_row.c.n > after)
            if codes:
                query = query.where(import_row.c.code.in_(codes))
            return _page(connection.execute(query.order_by(import_row.c.n).limit(limit + NEXT)).all(), limit)

    def standing(self, name: str, import_id: str) -> int:
        """How many of the readings an import added stand, as it added them or corrected since."""
        with self._database.read() as connection:
            owner = household_id(connection, name)
            _import(connection, owner, import_id)
            added = select(import_row.c.reading_id).where(
                import_row.c.import_id == import_id, import_row.c.code == "added"
            )
            standing = (reading.c.household_id == owner, reading.c.deleted_s.is_(None))
            query = select(func.count()).where(*standing, reading.c.reading_id.in_(added))
            return int(connection.execute(query).scalar_one())

    def undo(self, name: str, import_id: str, *, now: datetime) -> StoredImport:
        """Take out of the log what an import added; readings corrected since then stay. Safe to repeat."""
        with self._database.write() as connection:
            row = _import(connection, household_id(connection, name, hold=True), import_id)
            if row.undone_s is None:
                changed(connection, name)
                standing = (reading.c.import_id == import_id, reading.c.deleted_s.is_(None))
                connection.execute(update(reading).where(*standing).values(deleted_s=seconds(now)))
                one = import_batch.c.id == import_id
                connection.execute(update(import_batch).where(one).values(undone_s=seconds(now)))
            return _stored(_import(connection, row.household_id, import_id))


def _values(n: int, row: FileRow) -> tuple[Any, ...]:
    if row.reading is None:
        return (n, row.line, row.pointer, "refused", row.message, 0, *NOTHING)
    chosen = row.reading.id
    content = content_of(row.reading)
    return (n, row.line, row.pointer, "added", None, int(bool(chosen)), chosen or str(uuid4()), *content)


def _import(connection: Connection, owner: int, import_id: str) -> Row[Any]:
    one = (import_batch.c.household_id == owner, import_batch.c.id == import_id)
    row = connection.execute(select(import_batch).where(*one)).first()
    if row is None:
        raise NotFound(f"there is no import {import_id!r}")
    return row


def _stored(row: Row[Any]) -> StoredImport:
    return StoredImport(
        id=row.id,
        nth=row.nth,
        imported_at=moment(row.imported_s),
        undone_at=None if row.undone_s is None else moment(row.undone_s),
        summary=json.loads(row.summary),
    )


def _page(rows: Sequence[Row[Any]], limit: int) -> tuple[list[JudgedRow], int | None]:
    judged = [
        JudgedRow(
            n=row.n,
            line=row.line,
            code=row.code,
            reading_id=row.reading_id if row.code != "refused" else None,
            pointer=row.pointer if row.code in ("conflict", "refused") else None,
            message=row.message,
        )
        for row in rows[:limit]
    ]
    return judged, judged[-1].n if len(rows) > limit else None
