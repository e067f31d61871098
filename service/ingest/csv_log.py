"""A household's CSV, streamed: each row becomes a reading or a complaint with its line number.

The file is read twice and never held whole: once to decide, for the file, the separator and the order of day and
month, and once to read it. `;` goes with a decimal comma, `,` and tab with a decimal point; thousands separators are
refused, because a point that separates thousands looks like a decimal one.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import IO, Any, Literal

from service.ingest.cells import Lines, cells_of
from service.ingest.errors import FileRefused
from service.ingest.mapping import Layout, ValueColumn, layout_of
from service.ingest.rows import FileRow
from service.ingest.times import DateOrder, TimeRefused, date_order, seconds_of
from service.readings import Complaint, ReadingRefused, Scope, reading_from

Decimal = Literal[".", ","]
DECIMAL_OF: Mapping[str, Decimal] = {";": ",", ",": ".", "\t": "."}
FIGURES = ("value", "flame_pct", "water_l", "from_c")
TEXTS = ("quantity", "unit", "item", "meal", "note", "id")
CLAIMS: Mapping[str, bool] = {"true": True, "yes": True, "1": True, "false": False, "no": False, "0": False}

_NUMBER = {
    ".": re.compile(r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]+)?", re.ASCII),
    ",": re.compile(r"[+-]?(?:[0-9]+,?[0-9]*|,[0-9]+)(?:[eE][+-]?[0-9]+)?", re.ASCII),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Options:
    """What the sender says about a file; what is left out is read off the file."""

    columns: Mapping[str, str] | None = None
    order: DateOrder | None = None
    decimal: Decimal | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Form:
    """How a whole file is written."""

    separator: str
    decimal: Decimal
    order: DateOrder | None
    layout: Layout


@dataclass(slots=True)
class Notes:
    """What was taken for granted while reading."""

    at_noon: int = field(default=0)


def recognise(stream: IO[bytes], options: Options) -> Form:
    """Decide how a file is written, from the whole of it.

    Raises
    ------
    FileRefused
        Not text, not CSV, headings that are not understood, or dates that can be read in two ways.
    """
    stream.seek(0)
    separator = _separator(next(Lines(stream), ""))
    stream.seek(0)
    cells = cells_of(stream, separator)
    _, headings = next(cells, (1, None))
    if not headings or not any(heading.strip() for heading in headings):
        raise FileRefused("the first line must name the columns, in UTF-8; there is none", pointer="/lines/1")
    layout = layout_of(headings, options.columns)
    place = layout.fields["taken_at"] if "taken_at" in layout.fields else layout.fields["date"]
    dates = (row[place].strip() for _, row in cells if row is not None and len(row) > place)
    order = date_order(dates, asked=options.order, pointer="/lines/1")
    return Form(separator=separator, decimal=options.decimal or DECIMAL_OF[separator], order=order, layout=layout)


def rows(stream: IO[bytes], form: Form, scope: Scope, notes: Notes) -> Iterator[FileRow]:
    """Every row of a file that says anything, in order; `notes` is filled on the way."""
    stream.seek(0)
    cells = cells_of(stream, form.separator)
    _, headings = next(cells)
    width = len(headings or [])
    reader = _Reader(form, scope, notes)
    for line, row in cells:
        if row is None:
            yield FileRow(line, f"/lines/{line}", None, "the line is not CSV in UTF-8; save the file as CSV UTF-8")
        elif any(row[width:]):
            message = f"the line has {len(row)} cells, the heading {width}; quote texts that hold a {form.separator!r}"
            yield FileRow(line, f"/lines/{line}", None, message)
        elif any(row):
            yield from reader.read(line, [cell.strip() for cell in row])


@dataclass(frozen=True, slots=True)
class _Reader:
    """Reads rows of one form for one household."""

    form: Form
    scope: Scope
    notes: Notes

    def read(self, line: int, row: list[str]) -> Iterator[FileRow]:
        """A row's reading, or one for each filled cell of a diary."""
        layout = self.form.layout
        told = {name: row[place] for name, place in layout.fields.items() if place < len(row) and row[place]}
        if not layout.values:
            yield self._row(line, told)
        for column in layout.values:
            if column.place < len(row) and row[column.place]:
                yield self._row(line, told | column.said | {"value": row[column.place]}, column)

    def _row(self, line: int, told: Mapping[str, str], column: ValueColumn | None = None) -> FileRow:
        given: dict[str, Any] = {"quantity": "", **{name: told[name] for name in TEXTS if name in told}}
        time_of_day = column.time_of_day if column else None
        complaints = [*self._times(given, told, time_of_day), *self._figures(given, told), *_sure(given, told)]
        if not complaints:
            try:
                return FileRow(line, _pointer(line, column, "value"), reading_from(given, self.scope))
            except ReadingRefused as error:
                complaints.extend(error.complaints)
        message = "; ".join(complaint.message for complaint in complaints)
        return FileRow(line, _pointer(line, column, complaints[0].field), None, message)

    def _times(self, given: dict[str, Any], told: Mapping[str, str], time_of_day: str | None) -> Iterator[Complaint]:
        zone, order = self.scope.zone, self.form.order
        text = told["taken_at"] if "taken_at" in told else f"{told.get('date', '')} {told.get('time', '')}".strip()
        try:
            moment = seconds_of(text, zone=zone, order=order, time_of_day=time_of_day)
            self.notes.at_noon += moment.dated and time_of_day is None
            given["taken_s"] = moment.time_s
            if told.get("recorded_at"):
                given["recorded_s"] = seconds_of(told["recorded_at"], zone=zone, order=order).time_s
        except TimeRefused as error:
            yield Complaint(field="taken_at", code=error.code, message=str(error))

    def _figures(self, given: dict[str, Any], told: Mapping[str, str]) -> Iterator[Complaint]:
        decimal = self.form.decimal
        for name in FIGURES:
            text = told.get(name)
            if not text:
                continue
            if _NUMBER[decimal].fullmatch(text):
                given[name] = float(text.replace(",", "."))
            else:
                example = "1234,5" if decimal == "," else "1234.5"
                message = f"{name} is {text[:40]!r}, must be a number such as {example}, with no thousands separator"
                yield Complaint(field=name, code="number", message=message)


def _sure(given: dict[str, Any], told: Mapping[str, str]) -> Iterator[Complaint]:
    text = told.get("sure")
    if not text:
        return
    if text.lower() in CLAIMS:
        given["sure"] = CLAIMS[text.lower()]
    else:
        yield Complaint(field="sure", code="choice", message=f"sure is {text[:40]!r}, must be true or false")


def _pointer(line: int, column: ValueColumn | None, field_name: str) -> str:
    return f"/lines/{line}/{column.heading if column else field_name}"


def _separator(heading: str) -> str:
    found = max(DECIMAL_OF, key=heading.count)
    return found if heading.count(found) else ","
