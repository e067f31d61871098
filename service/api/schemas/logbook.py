"""Readings, imports and their reports."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from marshmallow import ValidationError, fields

from models.log import QUANTITIES
from service.api.fields import Schema, flag, many, moment, number, text, whole
from service.readings import LONGEST_NAME, LONGEST_NOTE, MEALS_OF, METERS, RULES
from service.usecases.logbook import CURSOR

MANY = 10**9
LONGEST_LINE = 65_536  # as the import has it
MOST_AT_ONCE = 1_000
FIGURES = ("flame_pct", "water_l", "from_c")
"""Figures that only some quantities have beside their value."""
VERDICTS = ("added", "unchanged", "conflict", "refused")


def _of(quantity: str, unit: str) -> dict[str, Any]:
    """What a reading of a quantity in one unit may say, as JSON Schema."""
    rule = RULES[quantity]
    sole = len(rule.ranges) == 1
    said: dict[str, Any] = {
        "quantity": {"const": quantity},
        "unit": {"enum": [unit, None]} if sole else {"const": unit},
        "value": _within(rule.ranges[unit]),
    }
    for name in FIGURES:
        said[name] = _within(rule.fields[name]) if name in rule.fields else {"type": "null"}
    said |= {} if quantity in MEALS_OF else {"meal": {"type": "null"}}
    said |= {"item": {"enum": [*METERS]}} if rule.item == "meter" else {}
    said |= {name: {"type": "number"} | said[name] for name in rule.needs if name in FIGURES}
    needed = [name for name in rule.needs if name in FIGURES or rule.item == "meter"]
    return {"properties": said, "required": ["quantity", "value", *needed, *([] if sole else ["unit"])]}


def _within(allowed: tuple[float, float]) -> dict[str, float]:
    return {"minimum": allowed[0], "maximum": allowed[1]}


class Reading(Schema):
    """One thing that was read off. What a quantity does not use is null, or left out."""

    told = ({"oneOf": [_of(quantity, unit) for quantity, rule in RULES.items() for unit in rule.ranges]},)
    id = text(
        "its id, a UUID; chosen by the client, or by the server where left out",
        load_default=None,
        metadata={"format": "uuid"},
    )
    taken_at = moment(
        "when it was read off, not in the future; for cooking when the flame was lit, which may burn for an hour yet",
        required=True,
    )
    quantity = text("what was read", one_of=tuple(QUANTITIES), required=True)
    value = number("1", "the figure, in `unit`", required=True)
    unit = text("UCUM unit of the value; may be left out where the quantity has only one", load_default=None)
    item = text(
        "burner, digester, feedstock or meter (outlet, stove) it belongs to", longest=LONGEST_NAME, load_default=None
    )
    flame_pct = number("%", "flame while cooking, of full; left out: 100", load_default=None)
    meal = text(
        "meal that was cooked; with cooking of 0 min, one of the schedule that was not",
        longest=LONGEST_NAME,
        load_default=None,
    )
    note = text("anything else", longest=LONGEST_NOTE, load_default=None)
    water_l = number("L", "water of a boil test", load_default=None)
    from_c = number("Cel", "temperature of the water at the start of a boil test", load_default=None)
    sure = flag("whoever took it stands by it: it is never set aside; left out: false", load_default=False)
    recorded_at = moment("when it was put into the log; the server's own, whatever is sent", load_default=None)


class OneOrMany(Reading):
    """One reading, or a list of them that is kept whole or not at all."""

    def load(self, data: Any, *, many: bool | None = None, **kwargs: Any) -> Any:
        """One reading as a mapping, several as a list."""
        if isinstance(data, list) and len(data) > MOST_AT_ONCE:
            raise ValidationError(f"length|has {len(data)} readings, at most {MOST_AT_ONCE}; import a CSV for more")
        return super().load(data, many=isinstance(data, list), **kwargs)


class Before(Reading):
    """What stood before a correction."""

    replaced_at = moment("when it was corrected", dump_only=True)


class Recorded(Schema):
    """What came of a list of readings, in their order."""

    added = whole("1", "readings that are new", 0, MANY)
    unchanged = whole("1", "readings that stood already", 0, MANY)
    readings = many(Reading, "the readings as they stand")


class ReadingsPage(Schema):
    """A page of the log."""

    readings = many(Reading, "readings in the order they were taken")
    next_cursor = text("send it as `cursor` for the next page; null on the last", allow_none=True)


class ReadingsQuery(Schema):
    """Which readings to list."""

    quantity = text("only this quantity", one_of=tuple(QUANTITIES), load_default=None)
    item = text("only this item", longest=LONGEST_NAME, load_default=None)
    start = moment("taken at or after", data_key="from", load_default=None)
    end = moment("taken before", data_key="to", load_default=None)
    deleted = flag(
        "list instead what was deleted, or added by an import that was undone; PUT a reading again to bring it back",
        load_default=False,
    )
    limit = whole("1", "readings at most", 1, 10_000, load_default=100)
    cursor = text("next_cursor of the page before", load_default=None, metadata={"pattern": f"^{CURSOR.pattern}$"})


class ReportRow(Schema):
    """What became of a row, or of a filled cell of a diary."""

    line = whole("1", "its line in the file; the heading is line 1", 1, MANY)
    code = text("what became of it", one_of=VERDICTS)
    reading_id = text("the reading that stands for it", allow_none=True)
    pointer = text("where it is to be mended: /lines/N/heading", longest=LONGEST_LINE, quotes=True, allow_none=True)
    message = text("what is wrong and the way out", longest=LONGEST_LINE, quotes=True, allow_none=True)


class ImportsQuery(Schema):
    """Which imports to list."""

    limit = whole("1", "imports at most", 1, 100, load_default=20)
    cursor = whole("1", "next_cursor of the page before", 1, MANY, load_default=None)


class Imported(Schema):
    """What became of a file."""

    id = text("id of the import; null where nothing was kept", allow_none=True)
    summary = text("what became of its rows, in one sentence")
    imported_at = moment("when it was kept", allow_none=True)
    undone_at = moment("when it was undone; null: it stands", allow_none=True)
    added = whole("1", "rows that are new", 0, MANY)
    unchanged = whole("1", "rows that stood already", 0, MANY)
    conflict = whole("1", "rows that say otherwise than the log, or than an earlier row", 0, MANY)
    refused = whole("1", "rows that cannot be so", 0, MANY)


class ImportsPage(Schema):
    """Files that were imported, newest first, also those undone since."""

    imports = many(Imported, "a page of them, without their rows")
    next_cursor = whole("1", "send it as `cursor` for the next page; null on the last", 1, MANY, allow_none=True)


class ImportReport(Imported):
    """The same, row by row."""

    dry_run = flag("true: nothing was kept, this is the plan")
    separator = text("what separates the columns")
    decimal = text("the decimal sign")
    date_order = text("order of day and month; null where every date begins with its year", allow_none=True)
    notes = fields.List(fields.String(), metadata={"description": "what was taken for granted", "x-ucum": "{text}"})
    rows = many(ReportRow, "every row with its code, in order; a page of them")
    next_cursor = whole("1", "send it as `cursor` for the next page; null on the last", 1, MANY, allow_none=True)


class RowsQuery(Schema):
    """Which rows of a report to list."""

    limit = whole("1", "rows at most", 1, 10_000, load_default=1000)
    cursor = whole("1", "next_cursor of the page before", 0, MANY, load_default=0)
    code = text("only rows of this code", one_of=VERDICTS, load_default=None)


class ImportQuery(RowsQuery):
    """How to read a CSV file, and what to do with it."""

    dry_run = flag("only plan: the same report, and nothing is kept", load_default=False)
    in_part = flag("keep the good rows of a file that has bad ones", data_key="partial", load_default=False)
    date_order = text("order of day and month in 03/04/2026", one_of=("dmy", "mdy"), load_default=None)
    decimal = text("the decimal sign; left out: comma in a file separated by ;", one_of=(",", "."), load_default=None)
    columns = text(
        'what the columns of a diary hold, as a JSON object: {"date": "date", "gauge": "holder_level:%@07:30", '
        '"dinner": "cooking:min:ring:dinner@19:00", "scraps": "feed:kg@08:00", "remarks": "note"}; '
        "after the quantity come unit, item and meal, then the local time the column is read off",
        longest=2_500,
        load_default=None,
    )


def counted(outcomes: Sequence[str]) -> dict[str, int]:
    """How many readings are new and how many stood already."""
    return {"added": outcomes.count("added"), "unchanged": outcomes.count("unchanged")}
