"""Staged rows against the log: one statement for each question, so that a million rows never meet Python."""

from __future__ import annotations

from sqlalchemy import (
    BigInteger,
    Boolean,
    Column,
    ColumnElement,
    Connection,
    Float,
    Index,
    Integer,
    MetaData,
    Table,
    Text,
    Update,
    and_,
    case,
    cast,
    exists,
    func,
    insert,
    literal,
    not_,
    or_,
    select,
    text,
    update,
)
from sqlalchemy.sql import FromClause

from service.store.tables import import_row, reading, reading_before

staging_metadata = MetaData()
staged = Table(
    "staged",
    staging_metadata,
    Column("n", BigInteger, primary_key=True, autoincrement=False),
    Column("line", BigInteger, nullable=False),
    Column("pointer", Text, nullable=False),
    Column("code", Text, nullable=False),
    Column("message", Text),
    Column("chosen", Integer, nullable=False),
    Column("reading_id", Text),
    Column("taken_s", BigInteger),
    Column("quantity", Text),
    Column("value", Float),
    Column("unit", Text),
    Column("item", Text),
    Column("meal", Text),
    Column("note", Text),
    Column("flame_pct", Float),
    Column("water_l", Float),
    Column("from_c", Float),
    Column("sure", Boolean),
    Column("recorded_s", BigInteger),
    Index("ix_staged_moment", "quantity", "taken_s", "item"),
    Index("ix_staged_id", "reading_id", sqlite_where=text("chosen = 1"), postgresql_where=text("chosen = 1")),
    prefixes=["TEMPORARY"],
)
"""Rows of one import, seen by its own connection only. `chosen` is 1 where the sender chose the id."""

CONTENT = ("value", "unit", "meal", "note", "flame_pct", "water_l", "from_c")
FIELDS = ("reading_id", "taken_s", "quantity", "item", "recorded_s", *CONTENT, "sure")
ADDED = staged.c.code == "added"
ONE = text("1")  # spelt out as in the index, which only then serves
CHOSEN = staged.c.chosen == ONE
WAY_OUT = "; leave this row out, or correct the reading that stands"


def judge(connection: Connection, owner: int) -> None:
    """Turn `added` into `unchanged` or `conflict` where the log, or an earlier row of the file, says otherwise."""
    here = (reading.c.household_id == owner, reading.c.deleted_s.is_(None))
    connection.execute(_compared(reading, "the log says ").where(*here, _same_moment(reading)))
    _judge_among_themselves(connection)
    taken = exists().where(*here, reading.c.reading_id == staged.c.reading_id)
    _refuse_id(connection, taken, "this id stands for another reading")
    earlier = staged.alias("earlier")
    same_id = (earlier.c.chosen == ONE, earlier.c.reading_id == staged.c.reading_id, earlier.c.n < staged.c.n)
    _refuse_id(connection, exists().where(*same_id), "an earlier row of this file has the same id")


def _refuse_id(connection: Connection, taken: ColumnElement[bool], message: str) -> None:
    connection.execute(update(staged).where(ADDED, CHOSEN, taken).values(code="conflict", message=message + WAY_OUT))


def _judge_among_themselves(connection: Connection) -> None:
    # The first row of a moment stands; what follows is measured against it.
    first = staged.alias("first")
    firsts = (
        select(func.min(staged.c.n).label("n"), staged.c.quantity, staged.c.taken_s, staged.c.item)
        .where(ADDED)
        .group_by(staged.c.quantity, staged.c.taken_s, staged.c.item)
        .having(func.count() > 1)
        .subquery()
    )
    statement = _compared(first, "an earlier row of this file says ")
    connection.execute(statement.where(first.c.n.in_(select(firsts.c.n)), first.c.n < staged.c.n, _same_moment(first)))


def _compared(other: FromClause, says: str) -> Update:
    same = and_(
        or_(not_(staged.c.sure), other.c.sure),  # a row that is not called sure takes no certainty back
        *(staged.c[name].is_not_distinct_from(other.c[name]) for name in CONTENT),
    )
    told = literal(says) + cast(other.c.value, Text) + " " + other.c.unit
    told = told + case((staged.c.value == other.c.value, " with other details"), else_="") + WAY_OUT
    return (
        update(staged)
        .where(ADDED)
        .values(
            code=case((same, "unchanged"), else_="conflict"),
            message=case((same, None), else_=told),
            reading_id=other.c.reading_id,
        )
    )


def _same_moment(other: FromClause) -> ColumnElement[bool]:
    return and_(*(other.c[name] == staged.c[name] for name in ("quantity", "taken_s", "item")))


def keep_added(connection: Connection, owner: int, import_id: str, now_s: int) -> None:
    """Put the rows judged `added` into the log, and every row into the import's report.

    A row whose chosen id stands for a deleted reading brings that one back, with the row's content.
    """
    known = and_(CHOSEN, reading.c.household_id == owner, reading.c.reading_id == staged.c.reading_id)
    kept = [reading_before.c[name] for name in FIELDS]
    before = (
        select(reading.c.id, literal(now_s), *(reading.c[name] for name in FIELDS)).join(staged, known).where(ADDED)
    )
    connection.execute(
        insert(reading_before).from_select([reading_before.c.row_id, reading_before.c.replaced_s, *kept], before)
    )
    content = {name: staged.c[name] for name in FIELDS}
    connection.execute(update(reading).where(known, ADDED).values(**content, import_id=import_id, deleted_s=None))
    added = select(literal(owner), literal(import_id), *content.values()).where(ADDED, ~exists().where(known))
    columns = [reading.c.household_id, reading.c.import_id, *(reading.c[name] for name in FIELDS)]
    connection.execute(insert(reading).from_select(columns, added.order_by(staged.c.n)))
    told = ("n", "line", "code", "reading_id", "pointer", "message")
    report = select(literal(import_id), *(staged.c[name] for name in told)).order_by(staged.c.n)
    connection.execute(
        insert(import_row).from_select([import_row.c.import_id, *(import_row.c[name] for name in told)], report)
    )
