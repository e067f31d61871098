"""How the columns of a file become readings: the canonical long form, or a diary mapped with `columns=`.

`columns` is a JSON object from the file's headings to what they hold:

- one of the long form's own names (`taken_at`, `quantity`, `value`, ...): the heading is only called something else;
- `date` and `time`: the date and the time of day, where they stand in two columns;
- `quantity:unit:item:meal@time`: a diary's column of values. What follows the quantity may be left out from the right;
  the unit is needed only where a quantity has several. `@time` is the local time of day at which the column is read
  off, for a diary that keeps dates only.

    {"date": "date", "gauge": "holder_level:%@07:30", "dinner": "cooking:min:ring:dinner@19:00", "scraps": "feed@08:00"}

A heading that is not mapped is not read, and the report says so.
"""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from dataclasses import dataclass

from service.ingest.errors import FileRefused
from service.readings import RULES

LONG_FORM = ("taken_at", "quantity", "value", "unit", "item", "flame_pct", "meal", "note")
FURTHER = ("water_l", "from_c", "sure", "id", "recorded_at")
"""Columns that an export adds to the long form; an import takes them back."""
WHEN = ("date", "time")
NEEDED = ("taken_at", "quantity", "value")

_SPEC = re.compile(r"(?P<parts>[^@]+)(?:@(?P<time>(?:[01]?[0-9]|2[0-3]):[0-5][0-9]))?")
_MOST_PARTS = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class ValueColumn:
    """A diary's column: one reading for every cell that is not empty."""

    place: int
    heading: str
    quantity: str
    unit: str
    item: str
    meal: str
    time_of_day: str | None

    @property
    def said(self) -> dict[str, str]:
        """The fields that the mapping states."""
        named = {"quantity": self.quantity, "unit": self.unit, "item": self.item, "meal": self.meal}
        return {name: text for name, text in named.items() if text}


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """Where each field stands in a row; `values` is empty for the long form."""

    fields: Mapping[str, int]
    values: tuple[ValueColumn, ...] = ()
    unread: tuple[str, ...] = ()


def columns_from(text: str | None) -> dict[str, str] | None:
    """The mapping that a JSON text holds; None where there is none.

    Raises
    ------
    FileRefused
        Not a JSON object from texts to texts.
    """
    if text is None:
        return None
    try:
        columns = json.loads(text)
    except (ValueError, RecursionError):
        columns = None
    if not isinstance(columns, dict) or not all(isinstance(target, str) for target in columns.values()):
        message = 'columns must be a JSON object such as {"date": "date", "gauge": "holder_level:%@07:30"}'
        raise FileRefused(message, pointer="/columns")
    return columns


def layout_of(headings: list[str], columns: Mapping[str, str] | None) -> Layout:
    """Match a file's headings with what they hold.

    Raises
    ------
    FileRefused
        A heading that is not known, a mapping that does not fit, or a form without times or values.
    """
    names = [heading.strip() for heading in headings]
    doubles = sorted({name for name in names if name and names.count(name) > 1})
    if doubles:
        raise FileRefused(f"the heading {doubles[0]!r} stands twice; give each column its own", pointer="/lines/1")
    return _mapped(names, columns) if columns else _long_form(names)


def _long_form(names: list[str]) -> Layout:
    fields = {name.lower(): place for place, name in enumerate(names) if name}
    unknown = [name for name in fields if name not in LONG_FORM + FURTHER]
    missing = [name for name in NEEDED if name not in fields]
    if unknown or missing:
        what = f"no column {', '.join(missing)}" if missing else f"an unknown column {unknown[0]!r}"
        message = (
            f"the file has {what}; the first line must hold {','.join(LONG_FORM)} (from unit on they may be left out), "
            "or say with columns= what its columns hold"
        )
        raise FileRefused(message, pointer="/lines/1")
    return Layout(fields=fields)


def _mapped(names: list[str], columns: Mapping[str, str]) -> Layout:
    fields: dict[str, int] = {}
    values: list[ValueColumn] = []
    for heading, target in columns.items():
        pointer = f"/columns/{heading.replace('~', '~0').replace('/', '~1')}"
        if heading not in names:
            message = f"the file has no column {heading!r}; it has {', '.join(filter(None, names))}"
            raise FileRefused(message, pointer=pointer)
        place = names.index(heading)
        if target in LONG_FORM + FURTHER + WHEN:
            if target in fields:
                raise FileRefused(f"two columns are mapped to {target}; map one", pointer=pointer)
            fields[target] = place
        else:
            values.append(_value_column(place, heading, target, pointer))
    layout = Layout(
        fields=fields, values=tuple(values), unread=tuple(name for name in names if name and name not in columns)
    )
    _check(layout)
    return layout


def _value_column(place: int, heading: str, target: str, pointer: str) -> ValueColumn:
    match = _SPEC.fullmatch(target)
    parts = match["parts"].split(":") if match else []
    if match is None or len(parts) > _MOST_PARTS or parts[0] not in RULES:
        known = ", ".join((*LONG_FORM, *WHEN, *RULES))
        message = f"{target!r} is not understood; write quantity:unit:item:meal@19:00, beginning with one of {known}"
        raise FileRefused(message, pointer=pointer)
    quantity, unit, item, meal = (*parts, "", "", "")[:_MOST_PARTS]
    return ValueColumn(
        place=place, heading=heading, quantity=quantity, unit=unit, item=item, meal=meal, time_of_day=match["time"]
    )


def _check(layout: Layout) -> None:
    fields = set(layout.fields)
    if "taken_at" in fields and fields & set(WHEN):
        raise FileRefused("map either taken_at, or date and time", pointer="/columns")
    if not fields & {"taken_at", "date"}:
        raise FileRefused("no column is mapped to taken_at or date", pointer="/columns")
    if layout.values and fields & {"quantity", "value", "unit", "id"}:
        raise FileRefused("map either quantity and value, or columns of values such as feed:kg", pointer="/columns")
    if not layout.values and not {"quantity", "value"} <= fields:
        raise FileRefused("no column holds values; map one, such as holder_level:%@07:30", pointer="/columns")
