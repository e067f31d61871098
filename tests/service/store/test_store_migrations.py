"""Every earlier schema, with something in each of its tables, becomes the present one and loses nothing."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from alembic import command
from alembic.autogenerate import compare_metadata
from alembic.config import Config
from alembic.migration import MigrationContext
from sqlalchemy import BigInteger, Boolean, Connection, Float, Integer, LargeBinary, MetaData, Table, Text, select

from service.store.database import Database
from service.store.maintenance import MIGRATIONS, back_up, restore, revisions
from service.store.tables import metadata

ROWS = 3
INPUTS_KEPT = "0004"
SAMPLES: dict[type, Any] = {
    Boolean: lambda row: row % 2 == 0,
    LargeBinary: lambda row: bytes([row, 0, 255]),
    Float: lambda row: row + 0.25,
    Integer: lambda row: row,
    BigInteger: lambda row: row + 10**12,
    Text: lambda row: f'{{"é {row}": null}}',
}


def upgrade(connection: Connection, revision: str) -> None:
    config = Config()
    config.set_main_option("script_location", str(MIGRATIONS))
    config.attributes["connection"] = connection
    command.upgrade(config, revision)


def tables_of(connection: Connection) -> list[Table]:
    found = MetaData()
    found.reflect(connection)
    return [table for table in found.sorted_tables if table.name != "alembic_version"]


def sample(table: Table, row: int) -> dict[str, Any]:
    """A row that holds something in every column, and belongs to the row of the same number elsewhere."""
    values: dict[str, Any] = {}
    for column in table.columns:
        owner = next((key.column for key in column.foreign_keys), None)
        kind = (owner if owner is not None else column).type
        if (owner is not None or column.primary_key) and isinstance(kind, Integer):
            values[column.name] = row
        else:
            values[column.name] = next(make(row) for base, make in SAMPLES.items() if isinstance(kind, base))
    if table.name == "forecast":
        values["key"] = f"skill?{row}" if row % 2 else f"now?{row}"
    return values


def expected(before: dict[str, list[dict[str, Any]]], revision: str) -> dict[str, list[dict[str, Any]]]:
    """What is to be there still: all of it, but for forecasts of which nobody had kept what they were made of."""
    kept = [row for row in before["forecast"] if row["key"].startswith("skill?") or revision >= INPUTS_KEPT]
    return {**before, "forecast": kept}


def contents(connection: Connection, tables: list[Table]) -> dict[str, list[dict[str, Any]]]:
    return {
        table.name: [dict(row._mapping) for row in connection.execute(select(table).order_by(*table.primary_key))]
        for table in tables
    }


def filled(path: Path, revision: str) -> tuple[Database, list[Table], dict[str, list[dict[str, Any]]]]:
    """A database as it was at a revision, with rows in every table."""
    database = Database(str(path))
    with database.write() as connection:
        upgrade(connection, revision)
        tables = tables_of(connection)
        for table in tables:
            connection.execute(table.insert(), [sample(table, row) for row in range(1, ROWS + 1)])
        return database, tables, contents(connection, tables)


@pytest.mark.parametrize("revision", revisions())
def test_what_an_earlier_schema_held_is_there_under_the_present_one(tmp_path: Path, revision: str) -> None:
    database, tables, before = filled(tmp_path / "old.sqlite", revision)
    database.migrate()
    with database.read() as connection:
        after = contents(connection, tables)
        differences = compare_metadata(MigrationContext.configure(connection), metadata)
        lost = connection.exec_driver_sql("PRAGMA foreign_key_check").fetchall()
    database.close()

    assert len(before) >= 10
    assert all(len(rows) == ROWS for rows in before.values())
    assert after == expected(before, revision)
    assert differences == []
    assert lost == []


@pytest.mark.parametrize("revision", revisions())
def test_a_copy_of_an_earlier_schema_is_put_back_under_the_present_one(tmp_path: Path, revision: str) -> None:
    database, tables, before = filled(tmp_path / "old.sqlite", revision)
    back_up(tmp_path / "old.sqlite", tmp_path / "copy.sqlite")
    database.close()
    restore(tmp_path / "copy.sqlite", tmp_path / "new.sqlite", now=datetime(2026, 11, 25, tzinfo=UTC))
    restored = Database(str(tmp_path / "new.sqlite"))
    with restored.read() as connection:
        after = contents(connection, tables)

    assert restored.revision() == revisions()[-1]
    assert after == expected(before, revision)
    restored.close()


def test_imports_kept_before_are_numbered_in_their_order_and_by_household(tmp_path: Path) -> None:
    database = Database(str(tmp_path / "old.sqlite"))
    kept = [("z", 1, 7), ("m", 2, 7), ("a", 1, 7), ("k", 1, 7), ("b", 1, 3)]
    with database.write() as connection:
        upgrade(connection, "0004")
        tables = {table.name: table for table in tables_of(connection)}
        connection.execute(tables["household"].insert(), [sample(tables["household"], row) for row in (1, 2)])
        for name, owner, second in kept:
            values = {"id": name, "household_id": owner, "imported_s": second, "summary": "{}"}
            connection.execute(tables["import_batch"].insert().values(**values))
    database.migrate()
    with database.read() as connection:
        batch = metadata.tables["import_batch"]
        numbered = connection.execute(select(batch.c.id, batch.c.nth).where(batch.c.household_id == 1)).all()
    database.close()

    assert sorted(map(tuple, numbered)) == [("a", 3), ("b", 1), ("k", 4), ("z", 2)]
