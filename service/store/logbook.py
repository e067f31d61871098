"""The log: readings, their corrections, and the columns the models read."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, replace
from datetime import datetime
from typing import Any
from uuid import uuid4

from sqlalchemy import ColumnElement, Connection, Row, and_, func, insert, select, tuple_, update

from models.holder import GasHolder
from models.log import Log
from service.readings import Filter, Outcome, Reading
from service.store.columns import columns_of
from service.store.database import Database
from service.store.errors import Conflict, NotFound, PreconditionFailed
from service.store.imports import ImportStore
from service.store.rows import changed, household_id, matches, moment, second_of, seconds
from service.store.tables import reading, reading_before

CONTENT = tuple(column for column in reading.c if column.name in {one.name for one in reading_before.c} - {"id"})
NEXT = 1


class LogStore:
    """Readings of a household. Each method is one transaction; unknown households raise `NotFound`."""

    def __init__(self, database: Database) -> None:
        self._database = database
        self.imports = ImportStore(database)

    def log(self, name: str, holder: GasHolder | None, until_d: float | None = None) -> Log:
        """The log in columns, readings taken after `until_d` left out.

        Levels become the wet volume that `holder` holds at them; with no holder, levels in per cent are left out.
        """
        with self._database.read() as connection:
            kept = [reading.c.household_id == household_id(connection, name), reading.c.deleted_s.is_(None)]
            if until_d is not None:
                kept.append(reading.c.taken_s <= second_of(until_d))
            wanted = (
                reading.c.quantity,
                reading.c.taken_s,
                reading.c.value,
                reading.c.unit,
                reading.c.item,
                reading.c.meal,
                reading.c.flame_pct,
                reading.c.water_l,
                reading.c.from_c,
                reading.c.reading_id,
                reading.c.sure,
            )
            query = select(*wanted).where(*kept).order_by(reading.c.quantity, reading.c.taken_s, reading.c.item)
            rows = connection.execute(query).all()
        return columns_of(rows, holder)

    def last_reading_at(self, name: str, quantity: str | None = None, until_d: float | None = None) -> datetime | None:
        """When the newest reading was taken, of one quantity or of any; None where there is none."""
        with self._database.read() as connection:
            query = select(func.max(reading.c.taken_s)).where(
                reading.c.household_id == household_id(connection, name), reading.c.deleted_s.is_(None)
            )
            if quantity is not None:
                query = query.where(reading.c.quantity == quantity)
            if until_d is not None:
                query = query.where(reading.c.taken_s <= second_of(until_d))
            newest = connection.execute(query).scalar()
        return None if newest is None else moment(newest)

    def withdrawn_since(self, name: str, since: datetime) -> bool:
        """Whether a reading that stood at a moment was corrected or deleted since."""
        since_s = seconds(since)
        with self._database.read() as connection:
            mine = (reading.c.household_id == household_id(connection, name), reading.c.recorded_s <= since_s)
            deleted = select(reading.c.id).where(*mine, reading.c.deleted_s >= since_s)
            earlier = (reading_before.c.recorded_s <= since_s, reading_before.c.replaced_s >= since_s)
            corrected = (
                select(reading.c.id)
                .join(reading_before, reading_before.c.row_id == reading.c.id)
                .where(reading.c.household_id == household_id(connection, name), *earlier)
            )
            return any(connection.execute(query.limit(1)).first() for query in (deleted, corrected))

    def get(self, name: str, reading_id: str) -> Reading:
        """One reading."""
        with self._database.read() as connection:
            return _reading(_standing(connection, household_id(connection, name), reading_id))

    def earlier(self, name: str, reading_id: str) -> list[tuple[Reading, datetime]]:
        """What stood before each correction of a reading and until when, oldest first."""
        with self._database.read() as connection:
            row = _standing(connection, household_id(connection, name), reading_id)
            query = select(reading_before).where(reading_before.c.row_id == row.id).order_by(reading_before.c.id)
            return [(_reading(one), moment(one.replaced_s)) for one in connection.execute(query)]

    def page(
        self, name: str, which: Filter, *, limit: int, after: tuple[int, int] | None = None
    ) -> tuple[list[Reading], tuple[int, int] | None]:
        """Readings in the order they were taken, from behind `after`; and the place to go on from, if any."""
        with self._database.read() as connection:
            query = select(reading).where(*_matching(household_id(connection, name), which))
            if after is not None:
                query = query.where(tuple_(reading.c.taken_s, reading.c.id) > after)
            query = query.order_by(reading.c.taken_s, reading.c.id).limit(limit + NEXT)
            rows = connection.execute(query).all()
        more = (rows[limit - 1].taken_s, rows[limit - 1].id) if len(rows) > limit else None
        return [_reading(row) for row in rows[:limit]], more

    def count(self, name: str) -> int:
        """How many readings stand."""
        with self._database.read() as connection:
            owner = household_id(connection, name)
            return connection.execute(select(func.count()).where(*_matching(owner, Filter()))).scalar_one()

    def add(self, name: str, readings: Sequence[Reading]) -> list[tuple[Reading, Outcome]]:
        """Keep new readings, all or none; one that stands already, word for word, is left as it is.

        Raises
        ------
        Conflict
            An id, or the same quantity of the same item at the same second, stands with other content. `field` begins
            with the place of the reading in `readings`.
        """
        with self._database.write() as connection:
            owner = household_id(connection, name, hold=True)
            kept = [_add(connection, owner, one, f"{place}/") for place, one in enumerate(readings)]
            if any(outcome != "unchanged" for _, outcome in kept):
                changed(connection, name)
            return kept

    def add_one(self, name: str, given: Reading) -> tuple[Reading, Outcome]:
        """Keep one new reading, as `add` does."""
        with self._database.write() as connection:
            kept, outcome = _add(connection, household_id(connection, name, hold=True), given, "")
            if outcome != "unchanged":
                changed(connection, name)
            return kept, outcome

    def put(self, name: str, given: Reading, *, if_match: str | None = None, now: datetime) -> tuple[Reading, Outcome]:
        """Keep a reading under its own id, in place of what stood there, deleted or not.

        Raises
        ------
        Conflict
            Another reading says the same quantity of the same item at the same second.
        PreconditionFailed
            `if_match` is given and does not hold the ETag of what stands.
        """
        with self._database.write() as connection:
            owner = household_id(connection, name, hold=True)
            row = _row(connection, owner, given.id)
            standing = None if row is None or row.deleted_s is not None else _reading(row)
            if standing is not None and standing.content == given.content:
                return standing, "unchanged"  # also where the ETag is old: the answer to the first attempt was lost
            _check(standing, if_match)
            _refuse_double(connection, owner, given)
            if row is None:
                _insert(connection, owner, given)
            else:
                _replace(connection, row, given, seconds(now))
            changed(connection, name)
            return given, "added" if standing is None else "corrected"

    def delete(self, name: str, reading_id: str, *, if_match: str | None = None, now: datetime) -> Reading:
        """Take a reading out of the log; what it was. `undelete` brings it back."""
        with self._database.write() as connection:
            row = _standing(connection, changed(connection, name), reading_id)
            _check(_reading(row), if_match)
            connection.execute(update(reading).where(reading.c.id == row.id).values(deleted_s=seconds(now)))
            return _reading(row)

    def undelete(self, name: str, reading_id: str) -> Reading:
        """Bring a deleted reading back as it was."""
        with self._database.write() as connection:
            owner = changed(connection, name)
            row = _row(connection, owner, reading_id)
            if row is None:
                raise NotFound(f"there is no reading {reading_id!r}")
            if row.deleted_s is not None:
                _refuse_double(connection, owner, _reading(row))
                connection.execute(update(reading).where(reading.c.id == row.id).values(deleted_s=None))
            return _reading(row)


def _matching(owner: int, which: Filter) -> list[ColumnElement[bool]]:
    deleted = reading.c.deleted_s
    kept = [reading.c.household_id == owner, deleted.is_not(None) if which.deleted else deleted.is_(None)]
    if which.quantity is not None:
        kept.append(reading.c.quantity == which.quantity)
    if which.item is not None:
        kept.append(reading.c.item == which.item)
    if which.from_s is not None:
        kept.append(reading.c.taken_s >= which.from_s)
    if which.to_s is not None:
        kept.append(reading.c.taken_s < which.to_s)
    return kept


def _reading(row: Row[Any]) -> Reading:
    return Reading(
        id=row.reading_id,
        taken_s=row.taken_s,
        quantity=row.quantity,
        value=row.value,
        unit=row.unit,
        item=row.item,
        meal=row.meal,
        note=row.note,
        flame_pct=row.flame_pct,
        water_l=row.water_l,
        from_c=row.from_c,
        sure=row.sure,
        recorded_s=row.recorded_s,
    )


def _values(given: Reading) -> dict[str, Any]:
    values = asdict(given)
    values["reading_id"] = values.pop("id") or str(uuid4())
    return values


def _row(connection: Connection, owner: int, reading_id: str) -> Row[Any] | None:
    one = and_(reading.c.household_id == owner, reading.c.reading_id == reading_id)
    return connection.execute(select(reading).where(one)).first()


def _standing(connection: Connection, owner: int, reading_id: str) -> Row[Any]:
    row = _row(connection, owner, reading_id)
    if row is None:
        raise NotFound(f"there is no reading {reading_id!r}")
    if row.deleted_s is not None:
        when = moment(row.deleted_s).isoformat()
        raise NotFound(f"reading {reading_id!r} was deleted at {when}; PUT it again to bring it back")
    return row


def _at_same_moment(connection: Connection, owner: int, given: Reading) -> Row[Any] | None:
    same = Filter(quantity=given.quantity, item=given.item, from_s=given.taken_s, to_s=given.taken_s + 1)
    return connection.execute(select(reading).where(*_matching(owner, same))).first()


def _refuse_double(connection: Connection, owner: int, given: Reading) -> None:
    row = _at_same_moment(connection, owner, given)
    if row is not None and row.reading_id != given.id:
        raise Conflict(_double(row), field="taken_at")


def _double(row: Row[Any]) -> str:
    of = f"{row.quantity} of {row.item!r}" if row.item else row.quantity
    when = moment(row.taken_s).isoformat()
    return f"{of} at {when} stands already as {row.value:g} {row.unit}, id {row.reading_id}; correct that reading"


def _check(standing: Reading | None, if_match: str | None) -> None:
    if if_match is None:
        return
    if standing is None or not matches(if_match, standing.etag):
        raise PreconditionFailed("the reading is not the one you read before; read it again and repeat your change")


def _insert(connection: Connection, owner: int, given: Reading) -> Reading:
    values = _values(given)
    connection.execute(insert(reading).values(household_id=owner, **values))
    return replace(given, id=values["reading_id"])


def _replace(connection: Connection, row: Row[Any], given: Reading, now_s: int) -> None:
    before = {column.name: getattr(row, column.name) for column in CONTENT}
    values = {"row_id": row.id, "replaced_s": now_s, "deleted_s": row.deleted_s, **before}
    connection.execute(insert(reading_before).values(**values))
    changes = _values(given) | {"deleted_s": None, "import_id": None}
    connection.execute(update(reading).where(reading.c.id == row.id).values(**changes))


def _add(connection: Connection, owner: int, given: Reading, prefix: str) -> tuple[Reading, Outcome]:
    row = _row(connection, owner, given.id) if given.id else _at_same_moment(connection, owner, given)
    if row is None:
        double = _at_same_moment(connection, owner, given) if given.id else None
        if double is not None:
            raise Conflict(_double(double), field=f"{prefix}taken_at")
        return _insert(connection, owner, given), "added"
    if row.deleted_s is not None:
        raise Conflict(f"reading {given.id} was deleted; PUT it to bring it back", field=f"{prefix}id")
    standing = _reading(row)
    if given.repeats(standing):
        return standing, "unchanged"
    if given.id:
        raise Conflict(
            f"reading {given.id} stands already with other content; PUT it to correct it", field=f"{prefix}id"
        )
    raise Conflict(_double(row), field=f"{prefix}taken_at")
