"""One database: a SQLite file, or another by URL. Transactions, migrations, and nothing about what is stored."""

from __future__ import annotations

import logging
import os
import sqlite3
import threading
import weakref
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from itertools import count
from pathlib import Path
from typing import Any

from alembic import command
from alembic.config import Config
from sqlalchemy import Connection, create_engine, event, inspect, make_url, text
from sqlalchemy.exc import OperationalError, SQLAlchemyError
from sqlalchemy.pool import ConnectionPoolEntry, StaticPool

from service.store.errors import Busy, Unreachable

BUSY_TIMEOUT_MS = 20_000
IN_MEMORY = (None, "", ":memory:")
MIGRATIONS = Path(__file__).parent / "migrations"
LOGGER = logging.getLogger(__name__)
MIGRATION_LOCK = 7_203_114  # any number, as long as every process of this project takes the same one
Mark = tuple[int, int]
"""Number of a thread's connection, and how often it saw others commit."""
PRAGMAS = (
    f"PRAGMA busy_timeout = {BUSY_TIMEOUT_MS}",
    "PRAGMA journal_mode = WAL",
    "PRAGMA synchronous = FULL",  # an acknowledged reading survives a power cut
    "PRAGMA foreign_keys = ON",
    "PRAGMA journal_size_limit = 67108864",  # a long import does not leave a long write-ahead log behind
)


class Database:
    """A place to store things, shared by threads and safe to fork with.

    Parameters
    ----------
    url : str
        A database URL, or the path of a SQLite file. `:memory:` holds nothing for long, for one thread.
    """

    def __init__(self, url: str) -> None:
        self.url = url if "://" in url else f"sqlite:///{url}"
        in_memory = make_url(self.url).get_backend_name() == "sqlite" and make_url(self.url).database in IN_MEMORY
        pool: dict[str, Any] = {"poolclass": StaticPool} if in_memory else {"pool_size": 16, "max_overflow": 32}
        # An error names its statement without the values: logs hold nothing of a household, nor hashes of its tokens.
        self.engine = create_engine(self.url, hide_parameters=True, **pool)
        self._is_sqlite = self.engine.dialect.name == "sqlite"
        self._is_file = self._is_sqlite and not in_memory
        if self._is_sqlite:
            event.listen(self.engine, "connect", _prepare)
            event.listen(self.engine, "begin", _begin)
        self._peeking = threading.local()
        self._numbers = count()
        _forget_in_children(self)

    @contextmanager
    def read(self) -> Iterator[Connection]:
        """One transaction that sees one state of the database and changes nothing."""
        with self._waiting(), self.engine.connect() as connection, connection.begin():
            yield connection

    @contextmanager
    def write(self) -> Iterator[Connection]:
        """One transaction that may change things; an error inside leaves everything as it was."""
        with self._waiting(), self.engine.connect() as connection, writing(connection):
            yield connection

    @contextmanager
    def _waiting(self) -> Iterator[None]:
        try:
            yield
        except OperationalError as error:
            if "locked" not in str(error.orig):
                raise
            raise Busy("another writer holds the database; try again in a minute") from error

    @contextmanager
    def reached(self) -> Iterator[None]:
        """Tell of whatever the database has against what is done inside as one thing: it cannot be reached.

        Raises
        ------
        Unreachable
            The database is not there, is none, or is damaged; why is logged, and may name what nobody is to know.
        """
        try:
            yield
        # A file that is none is refused by the driver itself while a connection is made ready.
        except (SQLAlchemyError, sqlite3.DatabaseError) as error:
            LOGGER.error("the database cannot be reached", exc_info=error)
            raise Unreachable("the database cannot be reached; the log of the server says why") from error

    def peek(self, sql: str, parameters: Mapping[str, Any]) -> tuple[Any, ...] | None:
        """The first row of a small query, or none: a few microseconds, for what every request asks.

        Each thread keeps one SQLite connection for it; anything else goes the usual way.
        """
        if not self._is_sqlite:
            with self.read() as connection:
                row = connection.execute(text(sql), parameters).first()
                return None if row is None else tuple(row)
        rows = self._peeked(sql, parameters)
        return rows[0] if rows else None

    def mark(self) -> Mark | None:
        """What is another one for this thread as soon as anybody has written anything; None: nobody can tell.

        SQLite counts for each connection what others have committed, and this thread's own never writes.
        """
        if not self._is_file:
            return None
        try:
            version = int(self._peeked("PRAGMA data_version", {})[0][0])
        except sqlite3.DatabaseError:  # whoever asks the database itself is told
            return None
        return self._peeking.number, version

    def _peeked(self, sql: str, parameters: Mapping[str, Any]) -> list[tuple[Any, ...]]:
        """Rows of a small query on the connection that this thread keeps, which never writes."""
        held = getattr(self._peeking, "connection", None)
        if held is None:
            held = self._peeking.connection = self.engine.raw_connection()
            self._peeking.number = next(self._numbers)
        assert held.driver_connection is not None
        # Fetched to the end, so that no snapshot stays open.
        rows: list[tuple[Any, ...]] = held.driver_connection.execute(sql, parameters).fetchall()
        return rows

    def forget_connections(self) -> None:
        """Drop connections inherited through a fork, without closing what the parent still uses."""
        self._peeking = threading.local()
        self.engine.dispose(close=False)

    def migrate(self) -> None:
        """Bring the schema up to date; of several processes one does it and the others wait."""
        config = Config()
        config.set_main_option("script_location", str(MIGRATIONS).replace("%", "%%"))
        with self.write() as connection:
            if not self._is_sqlite:
                connection.execute(text("SELECT pg_advisory_xact_lock(:lock)"), {"lock": MIGRATION_LOCK})
            config.attributes["connection"] = connection
            command.upgrade(config, "head")

    def revision(self) -> str | None:
        """Revision of the schema; None where there is none of this project."""
        with self.read() as connection:
            if not inspect(connection).has_table("alembic_version"):
                return None
            found: str | None = connection.execute(text("SELECT version_num FROM alembic_version")).scalar()
            return found

    def close(self) -> None:
        """Close every connection that is not in use."""
        self._peeking = threading.local()
        self.engine.dispose()


@contextmanager
def writing(connection: Connection) -> Iterator[None]:
    """A write transaction on a connection that has none open; SQLite takes the write lock at its start."""
    connection.info["begin"] = "BEGIN IMMEDIATE"
    try:
        with connection.begin():
            yield
    finally:
        connection.info["begin"] = "BEGIN"


def _prepare(dbapi_connection: object, entry: ConnectionPoolEntry) -> None:
    driver = entry.driver_connection
    assert driver is not None
    driver.isolation_level = None  # transactions begin where `_begin` says, and nowhere else
    for pragma in PRAGMAS:
        driver.execute(pragma)


def _begin(connection: Connection) -> None:
    # A reader that turns writer in mid-transaction fails at once when another has written: take the lock first.
    connection.exec_driver_sql(connection.info.get("begin", "BEGIN"))


def _forget_in_children(database: Database) -> None:
    # A SQLite connection must not cross a fork: a child starts with none.
    kept = weakref.ref(database)

    def forget() -> None:
        if (inherited := kept()) is not None:
            inherited.forget_connections()

    os.register_at_fork(after_in_child=forget)
