"""The whole log as files that other tools read: long-form CSV, and a Frictionless data package around it."""

from __future__ import annotations

import json
import zipfile
from collections.abc import Iterable, Iterator
from datetime import UTC, datetime
from typing import IO
from zoneinfo import ZoneInfo

from service.ingest.csv_out import HEADING, datapackage, line_of
from service.readings import Filter
from service.usecases.logbook import Homes, Logs, scope_of

PAGE_ROWS = 5_000
CSV_NAME, PACKAGE_NAME = "readings.csv", "datapackage.json"


def csv_lines(name: str, *, homes: Homes, logs: Logs, now: datetime) -> Iterator[str]:
    """The lines of the CSV, heading first, in the order the readings were taken; an import takes them back."""
    zone = scope_of(name, homes=homes, now=now).zone  # an unknown household is refused before the first line
    return _lines(name, zone, logs)


def _lines(name: str, zone: ZoneInfo, logs: Logs) -> Iterator[str]:
    yield HEADING
    after = None
    while True:
        readings, after = logs.page(name, Filter(), limit=PAGE_ROWS, after=after)
        yield "".join(line_of(reading, zone) for reading in readings)
        if after is None:
            return


def write_package(name: str, lines: Iterable[str], target: IO[bytes], now: datetime) -> None:
    """Write a zip of the CSV's lines and the `datapackage.json` that describes them."""
    with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as package:
        described = datapackage(name, CSV_NAME, now.astimezone(UTC))
        package.writestr(PACKAGE_NAME, json.dumps(described, indent=2))
        with package.open(CSV_NAME, "w", force_zip64=True) as out:
            for some in lines:
                out.write(some.encode())
