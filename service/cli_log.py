"""The log on the command line: CSV in with progress, CSV out."""

from __future__ import annotations

import re
from collections.abc import Iterable
from pathlib import Path
from typing import IO

import click
from rich.console import Console
from rich.progress import BarColumn, DownloadColumn, Progress, TextColumn, TimeRemainingColumn

from service.cli_database import opened
from service.documents import DocumentError
from service.ingest.csv_log import Decimal, Options
from service.ingest.mapping import columns_from
from service.ingest.times import ORDERS, DateOrder
from service.readings import ReadingRefused
from service.settings import Settings
from service.usecases.export import csv_lines, write_package
from service.usecases.imports import Listing, Order, Report, import_csv, place, take_out, understood
from service.wiring import Wiring, wire

CONSOLE = Console(stderr=True)
SHOWN_ROWS, PLANNED_ROWS = 20, 100_000
HINTS = ((r"\b(dry_run|partial)=true\b", r"--\1"), (r"\b(date_order|columns)=(\w*)", r"--\1 \2"))
"""How the ways out that a message names are written on the command line."""


def import_with_progress(
    name: str, body: IO[bytes], order: Order | None = None, *, wired: Wiring, console: Console
) -> Report:
    """Import a file that can be read twice, with a bar for the impatient."""
    body.seek(0, 2)
    columns = (TextColumn("reading"), BarColumn(), DownloadColumn(), TimeRemainingColumn())
    with Progress(*columns, console=console, transient=True, disable=not console.is_terminal) as progress:
        task = progress.add_task("", total=body.tell())
        return import_csv(
            name,
            body,
            order or Order(),
            homes=wired.homes,
            imports=wired.logs.imports,
            now=wired.clock(),
            progress=lambda done: progress.update(task, completed=done),
        )


@click.command("import")
@click.argument("household")
@click.argument("file", type=click.Path(exists=True, dir_okay=False, path_type=Path))
@click.option("--columns", help='What a diary\'s columns hold: \'{"date": "date", "gauge": "holder_level:%@07:30"}\'.')
@click.option("--date-order", type=click.Choice(ORDERS), help="Order of day and month in 03/04/2026.")
@click.option("--decimal", type=click.Choice([",", "."]), help="Decimal sign; left out: comma in a file separated by ;")
@click.option("--dry-run", is_flag=True, help="Only say what would be imported.")
@click.option("--partial", is_flag=True, help="Keep the good rows of a file that has bad ones.")
@click.pass_obj
def import_command(
    settings: Settings,
    household: str,
    file: Path,
    columns: str | None,
    date_order: DateOrder | None,
    decimal: Decimal | None,
    dry_run: bool,
    partial: bool,
) -> None:
    """Import the CSV FILE into the log of HOUSEHOLD, whole or not at all."""
    listing = Listing(limit=PLANNED_ROWS) if dry_run else Listing(limit=SHOWN_ROWS, codes=("conflict", "refused"))
    wired = wire(settings)
    try:
        options = Options(columns=columns_from(columns), order=date_order, decimal=decimal)
        order = Order(options=options, dry_run=dry_run, partial=partial, listing=listing)
        with file.open("rb") as body:
            report = import_with_progress(household, body, order, wired=wired, console=CONSOLE)
            read = understood(household, body, options, homes=wired.homes, now=wired.clock()) if dry_run else ()
            _tell_rows(report, read)
    except (DocumentError, ReadingRefused) as error:
        raise click.ClickException(_as_options(str(error))) from error
    click.echo(report.summary)
    for note in report.read_as["notes"]:
        click.echo(f"note: {note}")
    if dry_run and not (partial or report.counts.clean):
        click.echo("as it is, nothing would be kept: mend those rows, or keep the rest with --partial")
    if report.id:
        click.echo(f"undo it with: kettlecast undo-import {household} {report.id}")


@click.command("undo-import")
@click.argument("household")
@click.argument("import_id")
@click.pass_obj
def undo_import_command(settings: Settings, household: str, import_id: str) -> None:
    """Take out of the log of HOUSEHOLD what the import IMPORT_ID added."""
    wired = opened(settings)
    taken, stayed = take_out(household, import_id, imports=wired.logs.imports, now=wired.clock())
    kept = "1 stays because it was" if stayed == 1 else f"{stayed} stay because they were"
    click.echo(f"undone: {taken} readings taken out{f'; {kept} corrected since' if stayed else ''}")


@click.command("export")
@click.argument("household")
@click.argument("file", type=click.Path(dir_okay=False, path_type=Path))
@click.pass_obj
def export_command(settings: Settings, household: str, file: Path) -> None:
    """Write the whole log of HOUSEHOLD to FILE: CSV, or a Frictionless data package if FILE ends in .zip."""
    wired = opened(settings)
    lines = csv_lines(household, homes=wired.homes, logs=wired.logs, now=wired.clock())
    with CONSOLE.status(f"writing {file}"), file.open("wb") as out:
        if file.suffix == ".zip":
            write_package(household, lines, out, wired.clock())
        else:
            out.writelines(some.encode() for some in lines)


def _tell_rows(report: Report, read: Iterable[str]) -> None:
    """Say of each row that a report lists what becomes of it, and of one that is sound what it is read as."""
    said = iter(read)
    for row in report.rows:
        words = next(said, "")
        verdict = "would be added" if report.dry_run and row.code == "added" else row.code
        click.echo(f"{place(row)}: {verdict}: {row.message or words}", err=not report.dry_run)
    if report.next_cursor is not None:
        click.echo(f"(and more; the first {len(report.rows)} are listed)", err=not report.dry_run)


def _as_options(message: str) -> str:
    """A message with its ways out as the command line has them."""
    for parameter, option in HINTS:
        message = re.sub(parameter, option, message)
    return message.replace("--dry_run", "--dry-run").replace("--date_order", "--date-order")
