"""The database of a command that works on what is there already: one that is not there is not made."""

from __future__ import annotations

import click

from service.settings import Settings
from service.store.maintenance import database_file
from service.wiring import Wiring, wire


def opened(settings: Settings) -> Wiring:
    """Stores on the database, which must be there."""
    refuse_missing(settings)
    return wire(settings)


def refuse_missing(settings: Settings) -> None:
    """Refuse a SQLite file that is not there: opened, it would be made, and be an empty one."""
    file = database_file(settings.database)
    if file is not None and not file.exists():
        raise click.ClickException(
            f"there is no database {str(file)!r}; name another with --database or KETTLECAST_DATABASE, or make it: "
            "kettlecast serve makes an empty one, kettlecast restore FILE puts back a copy"
        )
