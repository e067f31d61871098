"""A database in a file of its own, and the stores on it."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest

from service.store.database import Database
from service.store.household import HouseholdStore
from service.store.logbook import LogStore

NOW = datetime(2025, 11, 25, 8, 0, tzinfo=UTC)


@pytest.fixture
def database(tmp_path: Path) -> Iterator[Database]:
    database = Database(str(tmp_path / "kettlecast.sqlite"))
    database.migrate()
    yield database
    database.close()


@pytest.fixture
def homes(database: Database) -> HouseholdStore:
    """Households, one of them called `home`."""
    homes = HouseholdStore(database)
    homes.put("home", {"label": "An invented cottage"})
    return homes


@pytest.fixture
def logs(database: Database, homes: HouseholdStore) -> LogStore:
    return LogStore(database)


@pytest.fixture
def now() -> datetime:
    return NOW
