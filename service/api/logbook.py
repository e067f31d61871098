"""The log: readings one by one or in lists, CSV files in and out."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from dataclasses import asdict
from datetime import datetime
from typing import IO, Any, TypedDict

from flask import Response, current_app, request, url_for
from werkzeug.exceptions import UnsupportedMediaType

from service.api.conditional import answered, if_match
from service.api.contract import Blueprint
from service.api.examples_log import CSV, IMPORT_REPORT, IMPORTS, READING
from service.api.fields import dumped
from service.api.schemas.logbook import (
    MOST_AT_ONCE,
    Before,
    ImportQuery,
    ImportReport,
    ImportsPage,
    ImportsQuery,
    OneOrMany,
    Reading,
    ReadingsPage,
    ReadingsQuery,
    Recorded,
    RowsQuery,
    counted,
)
from service.ingest.csv_log import Options
from service.ingest.mapping import columns_from
from service.readings import Filter, one_spelling
from service.usecases import export, imports
from service.usecases import logbook as usecase
from service.wiring import wiring

CHUNK_BYTES = 65_536
CSV_TYPES = ("text/csv", "application/octet-stream")
ONE_OR_MANY = {"oneOf": [Reading, {"type": "array", "items": Reading, "maxItems": MOST_AT_ONCE}]}
KEPT = {"anyOf": [Reading, Recorded]}

blueprint = Blueprint(
    "readings", __name__, url_prefix="/v1/households/<string:household>", description="the log, and CSV in and out"
)


class Given(TypedDict):
    """What every use case of the log is given."""

    homes: Any
    logs: Any
    now: datetime


def _given() -> Given:
    wired = wiring()
    return {"homes": wired.homes, "logs": wired.logs, "now": wired.clock()}


@blueprint.get("/readings")
@blueprint.arguments(ReadingsQuery, location="query")
@blueprint.response(200, ReadingsPage, example={"readings": [READING], "next_cursor": None})
def list_readings(query: dict[str, Any], household: str) -> Response:
    """Readings in the order they were taken, filtered, a page at a time."""
    which = Filter(
        quantity=query["quantity"],
        item=query["item"],
        from_s=_seconds(query["start"]),
        to_s=_seconds(query["end"]),
        deleted=query["deleted"],
    )
    found = usecase.page(household, which, limit=query["limit"], cursor=query["cursor"], **_given())
    return answered(dumped(ReadingsPage().dump(found)))


@blueprint.post("/readings")
@blueprint.doc(
    requestBody={"required": True, "content": {"application/json": {"schema": ONE_OR_MANY, "example": READING}}}
)
@Blueprint.ARGUMENTS_PARSER.use_args(OneOrMany)
@blueprint.response(201, KEPT, example=READING)
@blueprint.alt_response(200, schema=KEPT, description="It stood already")
@blueprint.alt_response(400, "BAD_REQUEST")
def add_readings(given: dict[str, Any] | list[dict[str, Any]], household: str) -> tuple[Response, int]:
    """Put one reading into the log, or a list of them whole or not at all; sending it twice changes nothing.

    One reading is answered as it stands, a list with how many were new.
    """
    if isinstance(given, dict):
        return _kept(household, *usecase.record_one(household, given, **_given()))
    kept = usecase.record(household, given, **_given())
    counts = counted([outcome for _, outcome in kept])
    documents = usecase.documents_of(household, [reading for reading, _ in kept], homes=wiring().homes)
    body = dumped(Recorded().dump({**counts, "readings": documents}))
    return _fresh(body), 201 if counts["added"] else 200


@blueprint.get("/readings/<reading:reading_id>")
@blueprint.response(200, Reading, example=READING)
def get_reading(household: str, reading_id: str) -> Response:
    """One reading."""
    reading = wiring().logs.get(household, one_spelling(reading_id))
    return answered(_body(household, reading), etag=reading.etag)


@blueprint.get("/readings/<reading:reading_id>/history")
@blueprint.response(200, Before(many=True), example=[READING | {"replaced_at": "2026-11-26T09:00:00+00:00"}])
def get_history(household: str, reading_id: str) -> Response:
    """What stood before each correction of a reading, oldest first.

    Of a reading that was deleted it is 404, and yet kept: `/readings?deleted=true` shows the reading as it last stood,
    and a PUT of the same id brings it back with its history, in which it then stands as well.
    """
    return answered(dumped(Before(many=True).dump(usecase.history(household, one_spelling(reading_id), **_given()))))


@blueprint.put("/readings/<reading:reading_id>")
@blueprint.if_match(required=False)
@blueprint.arguments(Reading, example=READING)
@blueprint.response(200, Reading, example=READING)
@blueprint.alt_response(201, schema=Reading, description="Created, or brought back")
def put_reading(given: dict[str, Any], household: str, reading_id: str) -> tuple[Response, int]:
    """Put a reading under an id of the client's choice, or correct what stands there; safe to repeat.

    What stood before is kept (`/history`). A deleted reading is brought back.
    """
    document = usecase.named(given, one_spelling(reading_id))
    return _kept(household, *usecase.correct(household, document, if_match=if_match(), **_given()))


@blueprint.delete("/readings/<reading:reading_id>")
@blueprint.if_match(required=False)
@blueprint.response(204)
def delete_reading(household: str, reading_id: str) -> tuple[str, int]:
    """Take a reading out of the log; PUT it again to bring it back, with its history.

    Until then it is 404 at its own address, and `/readings?deleted=true` still shows it.
    """
    wired = wiring()
    wired.logs.delete(household, one_spelling(reading_id), if_match=if_match(), now=wired.clock())
    return "", 204


@blueprint.get("/readings/imports")
@blueprint.arguments(ImportsQuery, location="query")
@blueprint.response(200, ImportsPage, example=IMPORTS)
def list_imports(query: dict[str, Any], household: str) -> Response:
    """The files that were imported, newest first; DELETE one to undo it.

    Those that were undone stay in the list: with how many rows came to what, when they were kept and `undone_at`.
    """
    found = imports.list_kept(household, **query, imports=wiring().logs.imports)
    listed = [_counted(report) for report in found["imports"]]
    return answered(dumped(ImportsPage().dump({**found, "imports": listed})))


@blueprint.post("/readings/imports")
@blueprint.arguments(ImportQuery, location="query")
@blueprint.response(201, ImportReport, example=IMPORT_REPORT)
@blueprint.alt_response(200, schema=ImportReport, description="A plan (`dry_run`), or a file with nothing new in it")
@blueprint.doc(requestBody={"required": True, "content": {"text/csv": {"schema": {"type": "string"}, "example": CSV}}})
def import_file(query: dict[str, Any], household: str) -> tuple[Response, int]:
    """Import a CSV file, whole or not at all unless `partial`; importing it again changes nothing."""
    if request.content_length and request.mimetype not in CSV_TYPES:
        raise UnsupportedMediaType("send the file as Content-Type: text/csv")
    options = Options(columns=columns_from(query["columns"]), order=query["date_order"], decimal=query["decimal"])
    order = imports.Order(options=options, dry_run=query["dry_run"], partial=query["in_part"], listing=_listing(query))
    wired = wiring()
    report = imports.import_csv(
        household, request.stream, order, homes=wired.homes, imports=wired.logs.imports, now=wired.clock()
    )
    response = _fresh(_told(report))
    if report.id:
        response.headers["Location"] = url_for(".get_import", household=household, import_id=report.id)
    return response, 201 if report.id else 200


@blueprint.get("/readings/imports/<string:import_id>")
@blueprint.arguments(RowsQuery, location="query")
@blueprint.response(200, ImportReport, example=IMPORT_REPORT)
def get_import(query: dict[str, Any], household: str, import_id: str) -> Response:
    """The report of an import that stands, a page of its rows at a time.

    One that was undone is 404 here. The list of imports still shows it, with its counts and `undone_at`; to DELETE it
    again gives its report once more and changes nothing; `/readings?deleted=true` shows the readings it had added.
    """
    return answered(_told(imports.look_up(household, import_id, _listing(query), imports=wiring().logs.imports)))


@blueprint.delete("/readings/imports/<string:import_id>")
@blueprint.response(200, ImportReport, example=IMPORT_REPORT)
def undo_import(household: str, import_id: str) -> Response:
    """Undo an import: what it added is taken out again, but for readings corrected since. Safe to repeat.

    The list of imports goes on showing it, with `undone_at`; send the file again to redo it.
    """
    wired = wiring()
    return _fresh(_told(imports.undo(household, import_id, imports=wired.logs.imports, now=wired.clock())))


@blueprint.get("/readings.csv")
@blueprint.response(200, {"type": "string"}, content_type="text/csv", example=CSV)
def export_csv(household: str) -> Response:
    """The whole log as long-form CSV, which an import takes back."""
    lines = export.csv_lines(household, **_given())
    return current_app.response_class(lines, mimetype="text/csv", headers=_attached(f"{household}.csv"))


@blueprint.get("/readings.zip")
@blueprint.response(200, {"type": "string", "format": "binary"}, content_type="application/zip")
def export_package(household: str) -> Response:
    """The whole log as a Frictionless data package: `readings.csv` with the `datapackage.json` that describes it."""
    lines = export.csv_lines(household, **_given())
    file = tempfile.TemporaryFile()  # noqa: SIM115 - closed when it has been sent
    export.write_package(household, lines, file, wiring().clock())
    return current_app.response_class(_sent(file), mimetype="application/zip", headers=_attached(f"{household}.zip"))


def _sent(file: IO[bytes]) -> Iterator[bytes]:
    file.seek(0)
    with file:
        while chunk := file.read(CHUNK_BYTES):
            yield chunk


def _attached(name: str) -> dict[str, str]:
    safe = "".join(c if c.isascii() and (c.isalnum() or c in "-_.") else "_" for c in name)
    return {"Content-Disposition": f'attachment; filename="{safe}"', "Cache-Control": "no-store"}


def _seconds(moment: datetime | None) -> int | None:
    return None if moment is None else -int(-moment.timestamp() // 1)


def _body(household: str, reading: Any) -> bytes:
    document = usecase.documents_of(household, [reading], homes=wiring().homes)[0]
    return dumped(Reading().dump(document))


def _kept(household: str, reading: Any, outcome: str) -> tuple[Response, int]:
    response = _fresh(_body(household, reading))
    response.set_etag(reading.etag)
    response.headers["Location"] = url_for(".get_reading", household=household, reading_id=reading.id)
    return response, 201 if outcome == "added" else 200


def _fresh(body: bytes) -> Response:
    return current_app.response_class(body, mimetype="application/json", headers={"Cache-Control": "no-store"})


def _listing(query: dict[str, Any]) -> imports.Listing:
    return imports.Listing(limit=query["limit"], after=query["cursor"], codes=(query["code"],) if query["code"] else ())


def _counted(report: imports.Report) -> dict[str, Any]:
    """An import without its rows."""
    return {
        "id": report.id,
        "summary": report.summary,
        "imported_at": report.imported_at,
        "undone_at": report.undone_at,
        **asdict(report.counts),
    }


def _told(report: imports.Report) -> bytes:
    document = {
        **_counted(report),
        "dry_run": report.dry_run,
        **report.read_as,
        "rows": report.rows,
        "next_cursor": report.next_cursor,
    }
    return dumped(ImportReport().dump(document))
