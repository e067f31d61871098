"""Transactions, migrations, and what several processes do to one another."""

from __future__ import annotations

import multiprocessing
import os
import sqlite3
import threading
from collections.abc import Callable
from functools import partial
from pathlib import Path

import pytest
from alembic import command
from alembic.autogenerate import compare_metadata
from alembic.config import Config
from alembic.migration import MigrationContext
from sqlalchemy import text

from service.readings import Reading
from service.store import database as module
from service.store.database import Database
from service.store.errors import Busy, PreconditionFailed, StoreError
from service.store.household import HouseholdStore
from service.store.logbook import LogStore
from service.store.tables import metadata


def test_the_migrations_build_exactly_the_tables_that_the_code_uses(database: Database) -> None:
    with database.read() as connection:
        differences = compare_metadata(MigrationContext.configure(connection), metadata)

    assert differences == []


def test_migrating_twice_changes_nothing(database: Database) -> None:
    HouseholdStore(database).put("home", {"label": "kept"})
    database.migrate()

    assert HouseholdStore(database).get("home").document == {"label": "kept"}


def test_a_log_kept_under_the_first_schema_is_there_under_the_present_one(tmp_path: Path) -> None:
    database = Database(str(tmp_path / "old.sqlite"))
    columns = "reading_id, taken_s, quantity, value, unit, item, meal, note, recorded_s"
    with database.write() as connection:
        config = Config()
        config.set_main_option("script_location", str(module.MIGRATIONS))
        config.attributes["connection"] = connection
        command.upgrade(config, "0001")
        connection.execute(text("INSERT INTO household VALUES (1, 'home', '{}', 'e', 7)"))
        for table, owner, value in (("reading", "household_id", 62), ("reading_before", "row_id, replaced_s", 26)):
            given = f"'4be2e06b', 1763622000, 'holder_level', {value}, '%', '', '', 'cold', 1763622060"
            owned = "1" if table == "reading" else "1, 1763630000"
            connection.execute(text(f"INSERT INTO {table} ({owner}, {columns}) VALUES ({owned}, {given})"))
    database.migrate()
    logs = LogStore(database)

    stands, ((before, _),) = logs.get("home", "4be2e06b"), logs.earlier("home", "4be2e06b")
    assert (stands.value, stands.note, stands.sure) == (62.0, "cold", False)
    assert (before.value, before.note, before.sure) == (26.0, "cold", False)
    assert HouseholdStore(database).version("home") == 7
    database.close()


def test_an_acknowledged_write_is_on_the_disk(sqlite: Database) -> None:
    # PRAGMA synchronous 2 is FULL: the write-ahead log is flushed before a commit returns.
    with sqlite.read() as connection:
        assert connection.execute(text("PRAGMA journal_mode")).scalar() == "wal"
        assert connection.execute(text("PRAGMA synchronous")).scalar() == 2
        assert connection.execute(text("PRAGMA foreign_keys")).scalar() == 1


def _migrate_and_write(path: str, name: str) -> None:
    database = Database(path)
    database.migrate()
    HouseholdStore(database).put(name, {"label": name})


def test_processes_that_start_together_migrate_once_and_all_write(tmp_path: Path) -> None:
    path = str(tmp_path / "together.sqlite")
    context = multiprocessing.get_context("spawn")
    started = [context.Process(target=_migrate_and_write, args=(path, f"home {k}")) for k in range(4)]
    for process in started:
        process.start()
    for process in started:
        process.join(60)

    assert [process.exitcode for process in started] == [0] * 4
    assert HouseholdStore(Database(path)).names() == [f"home {k}" for k in range(4)]


def test_an_error_inside_a_write_leaves_everything_as_it_was(database: Database, homes: HouseholdStore) -> None:
    with pytest.raises(ZeroDivisionError), database.write() as connection:
        connection.execute(text("DELETE FROM household"))
        raise ZeroDivisionError

    assert homes.names() == ["home"]


def test_writers_that_meet_wait_for_one_another(database: Database, homes: HouseholdStore) -> None:
    def write(worker: int) -> None:
        for k in range(10):
            homes.put_override("home", f"{worker}-{k}", {"skip": True})

    workers = [threading.Thread(target=write, args=(worker,)) for worker in range(4)]
    for worker in workers:
        worker.start()
    for worker in workers:
        worker.join()

    assert len(homes.overrides("home")) == 40


def at_once(works: list[Callable[[], object]]) -> list[object]:
    """What each piece of work came to, or was refused with, done side by side."""
    outcomes: list[object] = []
    ready = threading.Barrier(len(works))

    def run(work: Callable[[], object]) -> None:
        ready.wait()
        try:
            outcomes.append(work())
        except StoreError as refusal:
            outcomes.append(type(refusal))

    threads = [threading.Thread(target=run, args=(work,)) for work in works]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return outcomes


def test_of_those_who_replace_the_same_version_at_once_one_does(database: Database, homes: HouseholdStore) -> None:
    for round_ in range(10):
        etag = homes.get("home").etag

        def replace(label: str, etag: str = etag) -> object:
            return HouseholdStore(database).put("home", {"label": label}, if_match=etag)[1]

        outcomes = at_once([partial(replace, f"{round_}-{k}") for k in range(4)])

        assert outcomes.count(False) == 1
        assert outcomes.count(PreconditionFailed) == 3


def test_a_reading_that_several_send_at_once_is_kept_once(database: Database, logs: LogStore) -> None:
    for k in range(10):
        one = Reading(taken_s=1_763_622_000 + k, quantity="feed", value=2.0, unit="kg", item="scraps", recorded_s=0)
        outcomes = at_once([partial(LogStore(database).add_one, "home", one) for _ in range(4)])

        assert sorted(outcome for _, outcome in outcomes) == ["added", "unchanged", "unchanged", "unchanged"]
    assert logs.count("home") == 10


def test_a_writer_that_waits_too_long_is_told_to_come_back(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "held.sqlite"
    monkeypatch.setattr(module, "PRAGMAS", ("PRAGMA busy_timeout = 50", *module.PRAGMAS[1:]))
    database = Database(str(path))
    database.migrate()
    holder = sqlite3.connect(path, isolation_level=None)
    holder.execute("BEGIN IMMEDIATE")

    with pytest.raises(Busy, match="try again"):
        HouseholdStore(database).put("home", {})

    holder.rollback()
    holder.close()
    HouseholdStore(database).put("home", {})
    assert HouseholdStore(database).names() == ["home"]


def test_a_fork_opens_connections_of_its_own(database: Database, homes: HouseholdStore) -> None:
    homes.version("home")  # leaves a connection open in this thread
    child = os.fork()
    if child == 0:
        homes.put_meal("home", "dinner", {"name": "dinner"})
        os._exit(0 if homes.version("home") is not None else 1)
    _, status = os.waitpid(child, 0)

    assert os.waitstatus_to_exitcode(status) == 0
    assert homes.meals("home") == [{"name": "dinner"}]


def test_a_peek_sees_what_others_have_just_written(database: Database, homes: HouseholdStore) -> None:
    before = homes.version("home")
    other = Database(database.url)
    HouseholdStore(other).put_meal("home", "dinner", {"name": "dinner"})
    other.close()

    assert homes.version("home") == before + 1
