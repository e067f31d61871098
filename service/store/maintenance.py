"""A SQLite database kept safe: copied while it is in use, put back, and looked through for damage.

A database on a server of its own is that server's to back up; it is refused here with the tool to use.
"""

from __future__ import annotations

import os
import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from urllib.parse import quote

from alembic.script import ScriptDirectory
from sqlalchemy import make_url

from service.store.database import IN_MEMORY, MIGRATIONS, Database

MOST_FINDINGS = 20
ELSEWHERE = (
    "{what} of a SQLite file only; a PostgreSQL database is copied with pg_dump --format=custom and put back with "
    "pg_restore --clean, which come with it"
)
BESIDE = ("-wal", "-shm", "-journal")
"""What SQLite may leave beside a database."""


class NotPossible(RuntimeError):
    """A copy or its return that would lose or break something; nothing was changed."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """What a look through a database found: its schema's revision, and everything that is wrong."""

    revision: str | None
    wrong: tuple[str, ...]


def database_file(url: str) -> Path | None:
    """The file of a SQLite database; None of one in memory, or of another kind."""
    parsed = make_url(url if "://" in url else f"sqlite:///{url}")
    if parsed.get_backend_name() != "sqlite" or parsed.database in IN_MEMORY:
        return None
    return Path(str(parsed.database))


def file_of(url: str, what: str) -> Path:
    """The file of a SQLite database.

    Raises
    ------
    NotPossible
        Another kind of database; `what` then says what was wanted of it.
    """
    file = database_file(url)
    if file is None:
        raise NotPossible(ELSEWHERE.format(what=what))
    return file


def revisions() -> tuple[str, ...]:
    """Every revision of the schema that this version knows, the first first."""
    return tuple(one.revision for one in ScriptDirectory(str(MIGRATIONS)).walk_revisions())[::-1]


def back_up(source: Path, target: Path, *, force: bool = False) -> Found:
    """Copy a database as it stands at one moment, while others read and write it; all of the copy appears, or none.

    Raises
    ------
    NotPossible
        There is no such database, the copy exists already and `force` is not said, or the copy is not sound.
    """
    if not source.is_file():
        raise NotPossible(f"there is no database {str(source)!r}")
    if target.exists() and (not force or target.samefile(source)):
        raise NotPossible(f"{str(target)!r} exists already; name another file, or say --force to replace it")
    with _beside(target) as partial:
        _copy(source, partial)
        found = look_through(partial)
        if found.wrong:
            raise NotPossible(f"the database is damaged and no copy was kept: {found.wrong[0]}")
        _settle(partial, target, force=force)
    return found


def restore(file: Path, target: Path, *, now: datetime) -> Path | None:
    """Put a copy in the place of a database, brought to the present schema; where the database before it is now kept.

    Raises
    ------
    NotPossible
        The copy is damaged, not one of a Kettlecast database or of a newer version; or the database is in use.
    """
    check_copy(file)
    with _beside(target) as partial:
        _copy(file, partial)
        migrated = Database(str(partial))
        migrated.migrate()
        migrated.close()
        _as_one_file(partial)
        aside = _set_aside(target, now)
        _settle(partial, target, force=True)
    return aside


def check_copy(file: Path) -> None:
    """Refuse a file that is no sound copy of a Kettlecast database this version can read.

    Raises
    ------
    NotPossible
        Says what is wrong with it.
    """
    if not file.is_file():
        raise NotPossible(f"there is no file {str(file)!r}")
    found = look_through(file)
    if found.wrong:
        raise NotPossible(f"{str(file)!r} is damaged: {found.wrong[0]}")
    if found.revision is None:
        raise NotPossible(f"{str(file)!r} is no Kettlecast database")
    if found.revision not in revisions():
        raise NotPossible(f"{str(file)!r} has schema {found.revision}, which is newer; update Kettlecast first")


def look_through(path: Path) -> Found:
    """Look for damage in a database: its pages and indexes, references that lead nowhere, its schema's revision."""
    try:
        with closing(_connect(path)) as connection:
            pages = [row[0] for row in connection.execute(f"PRAGMA integrity_check({MOST_FINDINGS})")]
            lost = connection.execute("PRAGMA foreign_key_check").fetchmany(MOST_FINDINGS)
            kept = connection.execute("SELECT 1 FROM sqlite_master WHERE name = 'alembic_version'").fetchone()
            row = connection.execute("SELECT version_num FROM alembic_version").fetchone() if kept else None
    except sqlite3.DatabaseError as error:
        return Found(revision=None, wrong=(str(error),))
    wrong = [one for one in pages if one != "ok"]
    wrong += [f"row {rowid} of {table} belongs to a {parent} that is not there" for table, rowid, parent, _ in lost]
    return Found(revision=row[0] if row else None, wrong=tuple(wrong))


def _connect(path: Path) -> sqlite3.Connection:
    return sqlite3.connect(f"file:{quote(str(path.absolute()))}?mode=rw", uri=True, isolation_level=None, timeout=20.0)


@contextmanager
def _beside(target: Path) -> Iterator[Path]:
    """A place for a file that is not whole yet, in the folder where it is to go; gone afterwards."""
    if not target.absolute().parent.is_dir():
        raise NotPossible(f"there is no folder {str(target.absolute().parent)!r}")
    partial = target.with_name(f".{target.name}.partial-{os.getpid()}")
    try:
        # It holds a household's life and the hashes of its tokens: nobody else reads it.
        os.close(os.open(partial, os.O_CREAT | os.O_EXCL | os.O_RDWR, 0o600))
        yield partial
    finally:
        for end in ("", *BESIDE):
            partial.with_name(partial.name + end).unlink(missing_ok=True)


def _copy(source: Path, partial: Path) -> None:
    """Copy in one step: a writer meanwhile neither waits nor changes what is copied."""
    try:
        with closing(_connect(source)) as connection, closing(_connect(partial)) as copy:
            connection.backup(copy, pages=-1)
    except sqlite3.DatabaseError as error:
        raise NotPossible(f"{str(source)!r} cannot be copied: {error}") from error
    _as_one_file(partial)


def _as_one_file(path: Path) -> None:
    """Leave no write-ahead log beside a copy, so that it is one file to carry."""
    with closing(_connect(path)) as connection:
        connection.execute("PRAGMA journal_mode = DELETE")


def _set_aside(target: Path, now: datetime) -> Path | None:
    """Keep a database that nobody uses under another name too, and move away what SQLite left beside it."""
    if target.exists():
        _refuse_in_use(target)
    aside = target.with_name(f"{target.name}.replaced-{now:%Y%m%dT%H%M%S}")
    if aside.exists():
        raise NotPossible(f"{str(aside)!r} exists already; try again in a second")
    for end in BESIDE:
        left = target.with_name(target.name + end)
        if left.exists():  # a write-ahead log of another database must not be played into the one that comes
            left.rename(aside.with_name(aside.name + end))
    if not target.exists():
        return None
    _keep_too(target, aside)
    return aside


def _keep_too(target: Path, aside: Path) -> None:
    try:
        os.link(target, aside)
    except OSError:
        shutil.copy2(target, aside)  # a file system without links


def _refuse_in_use(target: Path) -> None:
    try:
        # Leaving the write-ahead log is granted only to who has the database alone.
        _as_one_file(target)
    except sqlite3.OperationalError as error:
        raise NotPossible(
            f"{str(target)!r} is in use ({error}); stop the server and whatever else has it open, then try again"
        ) from error
    except sqlite3.DatabaseError:
        return  # so damaged that nobody can use it


def _settle(partial: Path, target: Path, *, force: bool) -> None:
    """Put a whole file in its place, on the disk for good."""
    with partial.open("rb") as file:
        os.fsync(file.fileno())
    if force:
        partial.replace(target)
    else:
        try:
            os.link(partial, target)  # never replaces a file that has come up meanwhile
        except FileExistsError:
            raise NotPossible(f"{str(target)!r} exists already; name another file") from None
        except OSError:
            partial.replace(target)  # a file system without links, such as that of a memory stick
    folder = os.open(target.absolute().parent, os.O_RDONLY)
    try:
        os.fsync(folder)
    finally:
        os.close(folder)
