"""Imports beside other writers: in nobody's way until they are kept, and kept once."""

from __future__ import annotations

import threading
from dataclasses import replace
from datetime import datetime, timedelta

import pytest
from sqlalchemy import text

from service.ingest.rows import Counts, FileRow
from service.readings import Filter, Reading
from service.store.database import Database
from service.store.errors import NotFound
from service.store.household import HouseholdStore
from service.store.imports import StoredImport
from service.store.logbook import LogStore

START_S = 1_764_000_000


def rows(count: int, value: float = 1.0) -> list[FileRow]:
    return [
        FileRow(
            k + 2,
            f"/lines/{k + 2}/value",
            Reading(taken_s=START_S + k, quantity="feed", value=value, unit="kg", recorded_s=START_S),
        )
        for k in range(count)
    ]


def test_staged_rows_block_no_writer_and_a_plan_changes_nothing(
    logs: LogStore, homes: HouseholdStore, now: datetime
) -> None:
    with logs.imports.staging("home") as stage:
        stage.add(rows(3))
        homes.put_meal("home", "dinner", {"name": "dinner"})
        version = homes.version("home")
        assert stage.judged() == Counts(added=3)

    assert logs.count("home") == 0
    assert homes.version("home") == version


def test_rows_are_judged_against_the_log_as_it_is_when_they_are_kept(logs: LogStore, now: datetime) -> None:
    with logs.imports.staging("home") as stage:
        stage.add(rows(3))
        logs.add("home", [rows(1)[0].reading])
        import_id, counts = stage.keep(partial=False, summary={}, now=now)

    assert counts == Counts(added=2, unchanged=1)
    assert logs.imports.get("home", import_id).summary == {"added": 2, "unchanged": 1, "conflict": 0, "refused": 0}
    assert logs.count("home") == 3


def test_a_file_that_does_not_call_a_reading_sure_takes_nothing_back_but_one_that_does_is_heard(
    logs: LogStore, now: datetime
) -> None:
    plain = [row.reading for row in rows(3)]
    logs.add("home", [replace(plain[0], sure=True), plain[1]])
    sent = [plain[0], replace(plain[1], sure=True), replace(plain[2], sure=True), plain[2]]
    with logs.imports.staging("home") as stage:
        stage.add([FileRow(k + 2, f"/lines/{k + 2}/value", reading) for k, reading in enumerate(sent)])
        stage.judged()
        judged, _ = stage.rows(limit=10)
        stage.keep(partial=True, summary={}, now=now)

    assert [row.code for row in judged] == ["unchanged", "conflict", "added", "unchanged"]
    assert judged[1].message is not None and "with other details" in judged[1].message
    assert [reading.sure for reading in logs.page("home", Filter(), limit=10)[0]] == [True, False, True]


def test_a_file_sent_twice_at_the_same_time_is_kept_once(logs: LogStore, homes: HouseholdStore, now: datetime) -> None:
    version = homes.version("home")
    kept: list[tuple[str | None, Counts]] = []

    def send() -> None:
        with logs.imports.staging("home") as stage:
            stage.add(rows(500))
            kept.append(stage.keep(partial=False, summary={}, now=now))

    senders = [threading.Thread(target=send) for _ in range(3)]
    for sender in senders:
        sender.start()
    for sender in senders:
        sender.join()

    assert sorted(counts.added for _, counts in kept) == [0, 0, 500]
    assert logs.count("home") == 500
    assert homes.version("home") == version + 1


def test_an_error_on_the_way_leaves_neither_rows_nor_stage(database: Database, logs: LogStore, now: datetime) -> None:
    with pytest.raises(ZeroDivisionError), logs.imports.staging("home") as stage:
        stage.add(rows(3))
        raise ZeroDivisionError
    with logs.imports.staging("home") as stage:
        stage.add(rows(2))
        assert stage.judged() == Counts(added=2)

    assert logs.count("home") == 0
    with database.read() as connection:
        assert connection.execute(text("SELECT count(*) FROM import_batch")).scalar() == 0


def test_a_stage_of_a_household_that_is_not_described_is_refused(logs: LogStore) -> None:
    with pytest.raises(NotFound, match="nowhere"), logs.imports.staging("nowhere"):
        pass


def test_an_undone_import_can_be_sent_again(logs: LogStore, homes: HouseholdStore, now: datetime) -> None:
    def send() -> tuple[str | None, Counts]:
        with logs.imports.staging("home") as stage:
            stage.add(rows(4))
            return stage.keep(partial=False, summary={}, now=now)

    first, _ = send()
    undone = logs.imports.undo("home", first, now=now)
    version = homes.version("home")
    assert logs.imports.undo("home", first, now=now) == undone
    assert homes.version("home") == version
    second, counts = send()

    assert counts == Counts(added=4)
    assert logs.count("home") == 4
    assert second != first
    with pytest.raises(NotFound):
        logs.imports.get("home", "nothing")


def test_an_id_that_stands_for_two_readings_is_a_conflict_but_a_row_repeated_is_not(
    logs: LogStore, now: datetime
) -> None:
    first, second, _ = (row.reading for row in rows(3))
    identity = "4be2e06b-6d52-4e0b-9c8c-3a86ad3a4a52"
    chosen = [replace(first, id=identity), replace(first, id=identity), replace(second, id=identity)]
    with logs.imports.staging("home") as stage:
        stage.add([FileRow(k + 2, f"/lines/{k + 2}/id", reading) for k, reading in enumerate(chosen)])
        counts = stage.judged()
        judged, _ = stage.rows(limit=10)

    assert counts == Counts(added=1, unchanged=1, conflict=1)
    assert [row.code for row in judged] == ["added", "unchanged", "conflict"]
    assert judged[2].message is not None and "has the same id" in judged[2].message


def test_imports_of_the_same_second_are_paged_in_the_order_they_were_kept(
    logs: LogStore, homes: HouseholdStore, now: datetime
) -> None:
    homes.put("cabin", {"label": "Another"})
    kept = []
    for k in range(8):
        for name in ("home", "cabin"):
            with logs.imports.staging(name) as stage:
                stage.add([rows(k + 1)[k]])
                kept.append((name, stage.keep(partial=False, summary={}, now=now)[0]))
    logs.imports.undo("home", kept[4][1] or "", now=now)
    found: list[StoredImport] = []
    while page := logs.imports.page("home", limit=3, before=found[-1].nth if found else None):
        found += page

    assert [("home", one.id) for one in found] == [one for one in reversed(kept) if one[0] == "home"]
    assert len(found) == 8


def test_imports_are_listed_as_they_were_kept_though_the_clock_was_put_back(logs: LogStore, now: datetime) -> None:
    kept = []
    for k in range(3):
        with logs.imports.staging("home") as stage:
            stage.add([rows(k + 1)[k]])
            kept.append(stage.keep(partial=False, summary={}, now=now - timedelta(hours=k))[0])

    assert [one.id for one in logs.imports.page("home", limit=3)] == kept[::-1]
