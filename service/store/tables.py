"""The tables. Times are whole UTC seconds (`_s`); documents are JSON texts."""

from __future__ import annotations

from sqlalchemy import (
    BigInteger,
    Boolean,
    Column,
    Float,
    ForeignKey,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    Table,
    Text,
    UniqueConstraint,
    false,
    text,
)

metadata = MetaData(
    naming_convention={
        "pk": "pk_%(table_name)s",
        "fk": "fk_%(table_name)s_%(column_0_name)s",
        "uq": "uq_%(table_name)s_%(column_0_name)s",
    }
)

# SQLite numbers rows by itself only in a column that is exactly INTEGER.
Serial = BigInteger().with_variant(Integer, "sqlite")


def _serial() -> Column[int]:
    return Column("id", Serial, primary_key=True, autoincrement=True)


def _owner() -> Column[int]:
    return Column("household_id", Serial, ForeignKey("household.id", ondelete="CASCADE"), nullable=False)


household = Table(
    "household",
    metadata,
    _serial(),
    Column("name", Text, nullable=False, unique=True),
    Column("document", Text, nullable=False),
    Column("etag", Text, nullable=False),
    Column("version", BigInteger, nullable=False),
    sqlite_autoincrement=True,
)
"""`version` grows with every write to the household; ids are never used twice, so neither is a version."""

document = Table(
    "document",
    metadata,
    _serial(),
    _owner(),
    Column("kind", Text, nullable=False),
    Column("key", Text, nullable=False),
    Column("document", Text, nullable=False),
    Column("etag", Text, nullable=False),
    UniqueConstraint("household_id", "kind", "key"),
)
"""What a household keeps besides its description: meals, overrides and the posted weather (`kind`)."""

import_batch = Table(
    "import_batch",
    metadata,
    Column("id", Text, primary_key=True),
    _owner(),
    Column("imported_s", BigInteger, nullable=False),
    Column("undone_s", BigInteger),
    Column("summary", Text, nullable=False),
    Column("nth", BigInteger, nullable=False, server_default=text("0")),
    Index("uq_import_batch_nth", "household_id", "nth", unique=True),
)
"""Imports that were kept; `nth` is the place of each among its household's, in the order they were kept."""

import_row = Table(
    "import_row",
    metadata,
    Column("import_id", Text, ForeignKey("import_batch.id", ondelete="CASCADE"), primary_key=True),
    Column("n", BigInteger, primary_key=True, autoincrement=False),
    Column("line", BigInteger, nullable=False),
    Column("code", Text, nullable=False),
    Column("reading_id", Text),
    Column("pointer", Text),
    Column("message", Text),
)
"""What became of each row of an import."""


def reading_content() -> list[Column[object]]:
    """Columns that say what was read; an empty text or NULL where a quantity has no such field."""
    return [
        Column("reading_id", Text, nullable=False),
        Column("taken_s", BigInteger, nullable=False),
        Column("quantity", Text, nullable=False),
        Column("value", Float, nullable=False),
        Column("unit", Text, nullable=False),
        Column("item", Text, nullable=False),
        Column("meal", Text, nullable=False),
        Column("note", Text, nullable=False),
        Column("flame_pct", Float),
        Column("water_l", Float),
        Column("from_c", Float),
        Column("sure", Boolean, nullable=False, server_default=false()),
        Column("recorded_s", BigInteger, nullable=False),
    ]


reading = Table(
    "reading",
    metadata,
    _serial(),
    _owner(),
    *reading_content(),
    Column("import_id", Text, ForeignKey("import_batch.id", ondelete="SET NULL")),
    Column("deleted_s", BigInteger),
    UniqueConstraint("household_id", "reading_id"),
    Index(
        "uq_reading_moment",
        "household_id",
        "quantity",
        "taken_s",
        "item",
        unique=True,
        sqlite_where=text("deleted_s IS NULL"),
        postgresql_where=text("deleted_s IS NULL"),
    ),
    Index("ix_reading_taken", "household_id", "taken_s"),
    Index("ix_reading_import", "import_id"),
)
"""The log. One quantity of one item is read once a second; a deleted reading stays and no longer counts."""

reading_before = Table(
    "reading_before",
    metadata,
    _serial(),
    Column("row_id", Serial, ForeignKey("reading.id", ondelete="CASCADE"), nullable=False),
    *reading_content(),
    Column("replaced_s", BigInteger, nullable=False),
    Column("deleted_s", BigInteger),
    Index("ix_reading_before_row", "row_id"),
)
"""What stood before each correction; `deleted_s` where it was deleted when it was put back."""

fit = Table(
    "fit",
    metadata,
    _serial(),
    _owner(),
    Column("made_as_of_d", Float, nullable=False),
    Column("created_s", BigInteger, nullable=False),
    Column("document", Text, nullable=False),
    Index("ix_fit_household", "household_id", "made_as_of_d", "id"),
)

fit_request = Table(
    "fit_request",
    metadata,
    _serial(),
    _owner(),
    Column("as_of_d", Float),
    Column("requested_s", BigInteger, nullable=False),
    Column("finished_s", BigInteger),
    Column("outcome", Text),
    Column("message", Text),
    Index("ix_fit_request_finished", "finished_s"),
)

forecast = Table(
    "forecast",
    metadata,
    _serial(),
    _owner(),
    Column("key", Text, nullable=False),
    Column("kind", Text),
    Column("issued_s", BigInteger, nullable=False),
    Column("inputs", Text, nullable=False),
    Column("etag", Text, nullable=False),
    Column("body", LargeBinary, nullable=False),
    UniqueConstraint("household_id", "key"),
    Index("ix_forecast_kind", "household_id", "kind", "id"),
)
"""Forecasts as issued; a body is never changed. `kind` is NULL for what the service keeps for itself."""

forecast_input = Table(
    "forecast_input",
    metadata,
    _serial(),
    _owner(),
    Column("hash", Text, nullable=False),
    Column("document", Text, nullable=False),
    Column("used_s", BigInteger, nullable=False),
    UniqueConstraint("household_id", "hash"),
)
"""Documents that forecasts were made of, as they stood then, each once; `used_s` is when one last was."""

token = Table(
    "token",
    metadata,
    _serial(),
    Column("household", Text),
    Column("scope", Text, nullable=False),
    Column("hash", Text, nullable=False, unique=True),
    Column("created_s", BigInteger, nullable=False),
    Column("revoked_s", BigInteger),
)
"""Access tokens, hashed; `household` is NULL where a token opens every household."""

calendar_key = Table(
    "calendar_key",
    metadata,
    _serial(),
    _owner(),
    Column("hash", Text, nullable=False, unique=True),
    Column("created_s", BigInteger, nullable=False),
    Column("revoked_s", BigInteger),
)
"""Keys that open a household's calendar and nothing else, hashed; they go with the household."""
