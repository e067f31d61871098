"""The database on the command line: copied while in use, put back, and looked through."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import click
from rich.console import Console

from models.errors import ModelError
from service.cli_database import refuse_missing
from service.documents import DocumentError
from service.settings import Settings
from service.store.database import Database
from service.store.errors import StoreError
from service.store.maintenance import NotPossible, back_up, file_of, look_through, restore, revisions
from service.usecases.situation import situation
from service.wiring import Wiring, system_clock, wire

CONSOLE = Console(stderr=True)
BROKEN = (DocumentError, ModelError, StoreError, ValueError, KeyError, TypeError)
"""What reading a damaged document raises."""


@contextmanager
def _refusing() -> Iterator[None]:
    try:
        yield
    except NotPossible as error:
        raise click.ClickException(str(error)) from error


@click.command("backup")
@click.argument("file", type=click.Path(dir_okay=False, path_type=Path))
@click.option("--force", is_flag=True, help="Replace FILE where it exists.")
@click.pass_obj
def backup_command(settings: Settings, file: Path, force: bool) -> None:
    """Copy the database to FILE; a server may go on serving meanwhile."""
    refuse_missing(settings)
    with _refusing(), CONSOLE.status(f"copying to {file}"):
        source = file_of(settings.database, "backup makes a copy")
        back_up(source, file, force=force)
    click.echo(f"{file}: a sound copy, {file.stat().st_size / 1e6:.1f} MB; put it back with: kettlecast restore {file}")


@click.command("restore")
@click.argument("file", type=click.Path(dir_okay=False, path_type=Path))
@click.pass_obj
def restore_command(settings: Settings, file: Path) -> None:
    """Put the copy FILE in the place of the database, which is kept aside; stop the server first."""
    with _refusing(), CONSOLE.status(f"restoring {file}"):
        target = file_of(settings.database, "restore puts back a copy")
        aside = restore(file, target, now=system_clock())
    click.echo(f"{target} is now what {file} holds")
    if aside is not None:
        click.echo(f"what stood there before is kept as {aside}")


@click.command("check")
@click.pass_obj
def check_command(settings: Settings) -> None:
    """Look through the database for damage; ends with 0 where all is well, with 1 where something is not."""
    with _refusing():
        wrong = list(_look_through(settings))
    for one in wrong:
        click.echo(f"wrong: {one}", err=True)
    if wrong:
        sys.exit(1)
    click.echo("the database is sound")


def _look_through(settings: Settings) -> Iterator[str]:
    """Everything that is wrong, as it is found; nothing is changed."""
    if "://" not in settings.database or settings.database.startswith("sqlite"):
        path = file_of(settings.database, "check looks through pages")
        refuse_missing(settings)
        found = look_through(path)
        yield from found.wrong
        if found.wrong:
            return
    else:
        click.echo("pages and indexes are the database server's own to check (pg_amcheck)")
    yield from _schema(settings)


def _schema(settings: Settings) -> Iterator[str]:
    database = Database(settings.database)
    revision, known = database.revision(), revisions()
    database.close()
    if revision is None:
        yield "it holds no schema of Kettlecast"
    elif revision not in known:
        yield f"its schema {revision} is newer than this version, which knows {known[-1]}"
    elif revision != known[-1]:
        click.echo(
            f"its schema {revision} is brought to {known[-1]} when it is next served; what it holds was not read"
        )
    else:
        yield from _households(wire(settings))


def _households(wired: Wiring) -> Iterator[str]:
    """Read every household as an answer would: description, schedule, log, weather and fit."""
    names = wired.homes.names()
    for name in names:
        try:
            situation(name, wired.clock(), homes=wired.homes, logs=wired.logs, fits=wired.fits)
        except BROKEN as error:
            yield f"household {name!r} cannot be read: {error!r}"
    wired.database.close()
    click.echo(f"households read: {len(names)}")
