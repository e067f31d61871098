"""A reading of the log as everything outside the database sees it, and the one table of what a reading may say."""

from __future__ import annotations

import hashlib
import math
import re
import unicodedata
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import astuple, dataclass, field, replace
from datetime import datetime
from types import MappingProxyType
from typing import Any, Literal
from uuid import UUID
from zoneinfo import ZoneInfo

EARLIEST_S = 631_152_000
"""1990-01-01: an earlier date is a slip of the pen or a clock that was never set."""
CLOCK_TOLERANCE_S = 600
"""How far a phone's or sensor's clock may run ahead before its readings count as from the future."""
STILL_ON_S = 3600
"""How far ahead the flame of a meal that is on may go out: a cook writes it down when she lights it, or stirs."""
LONGEST_NAME, LONGEST_NOTE = 100, 1000
Outcome = Literal["added", "unchanged", "corrected"]
_UUID = re.compile(r"[0-9a-f]{8}(?:-[0-9a-f]{4}){3}-[0-9a-f]{12}")
LINE_BREAKS = "\n\t"


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """One thing somebody, or something, read off.

    Times are whole UTC seconds since 1970. A field that the quantity does not use is None, or an empty text;
    an empty `id` means that none was chosen. A reading that is `sure` is believed against all appearances.
    """

    id: str = ""
    taken_s: int
    quantity: str
    value: float
    unit: str
    item: str = ""
    meal: str = ""
    note: str = ""
    flame_pct: float | None = None
    water_l: float | None = None
    from_c: float | None = None
    sure: bool = False
    recorded_s: int

    @property
    def content(self) -> tuple[object, ...]:
        """What was read, without the id and the time it was recorded."""
        return astuple(self)[1:-1]

    def repeats(self, standing: Reading) -> bool:
        """Whether it says nothing new; one that is not called sure leaves `standing` as sure as it was."""
        return replace(self, sure=self.sure or standing.sure).content == standing.content

    @property
    def etag(self) -> str:
        """Strong ETag, without the quotes."""
        return hashlib.sha256(repr(astuple(self)).encode()).hexdigest()[:32]


@dataclass(frozen=True, slots=True, kw_only=True)
class Filter:
    """Which readings to list: taken at or after `from_s` and before `to_s`; `deleted` lists those instead."""

    quantity: str | None = None
    item: str | None = None
    from_s: int | None = None
    to_s: int | None = None
    deleted: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Complaint:
    """What is wrong with one field; `field` is its JSON pointer without the first slash."""

    field: str
    code: str
    message: str


class ReadingRefused(ValueError):
    """Readings that cannot be so, with everything that is wrong with them."""

    def __init__(self, complaints: Sequence[Complaint], message: str = "") -> None:
        super().__init__(message or "; ".join(one.message for one in complaints))
        self.complaints = tuple(complaints)


@dataclass(frozen=True, slots=True, kw_only=True)
class Scope:
    """What a household's readings are checked against; `earliest_s` is when its first digester was started."""

    zone: ZoneInfo
    burners: tuple[str, ...]
    digesters: tuple[str, ...]
    now_s: int
    earliest_s: int = EARLIEST_S


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """What a reading of one quantity may say: its range in each unit, what its item names, its other fields."""

    ranges: Mapping[str, tuple[float, float]]
    item: str = "text"
    fields: Mapping[str, tuple[float, float]] = field(default_factory=dict)
    needs: tuple[str, ...] = ()


_FLAME = {"flame_pct": (2.0, 100.0)}  # lower ones go out
_BOIL = {"water_l": (0.05, 200.0), "from_c": (0.0, 99.0)}

# Wide on purpose: what no holder can hold is kept, and the ledger sets it aside with its reason. Refused is what no
# gauge, scale or clock could have shown.
RULES: Mapping[str, Rule] = MappingProxyType(
    {
        "holder_level": Rule(ranges={"%": (0, 1000), "m3": (0, 1000), "L": (0, 1_000_000)}),
        "gas_meter": Rule(ranges={"m3": (0, 10_000_000)}, item="meter", needs=("item",)),
        "cooking": Rule(ranges={"min": (0, 1440)}, item="burner", fields=_FLAME, needs=("item",)),
        "feed": Rule(ranges={"kg": (0, 10_000)}),
        "water_added": Rule(ranges={"L": (0, 100_000)}),
        "digester_temperature": Rule(ranges={"Cel": (-30, 100)}, item="digester"),
        "ambient_temperature": Rule(ranges={"Cel": (-60, 70)}),
        "methane": Rule(ranges={"%": (0, 100)}),
        "carbon_dioxide": Rule(ranges={"%": (0, 100)}),
        "venting": Rule(ranges={"1": (0, 1)}),
        "backup_used": Rule(ranges={"kg": (0, 1000), "kWh": (0, 10_000)}),
        "boil_test": Rule(
            ranges={"min": (0.1, 1440)}, item="burner", fields=_BOIL, needs=("item", "water_l", "from_c")
        ),
        "condensate": Rule(ranges={"L": (0, 1000)}),
    }
)
METERS = ("outlet", "stove")
SHARES = ("methane", "carbon_dioxide")
MEALS_OF = ("cooking", "backup_used")
OLDER_THAN_THE_DIGESTER = ("ambient_temperature",)
"""What may have been read off before there was a digester."""


def reading_from(given: Mapping[str, Any], scope: Scope) -> Reading:
    """A reading from its fields, with the defaults filled in.

    Parameters
    ----------
    given : mapping
        `taken_s` (whole UTC seconds), `quantity`, `value`, and any of the other fields of `Reading`. Figures are
        floats; texts are trimmed; None and an empty text mean left out.

    Raises
    ------
    ReadingRefused
        With a complaint for every field that cannot be so.
    """
    quantity = given["quantity"]
    rule = RULES.get(quantity)
    if rule is None:
        known = ", ".join(RULES)
        raise ReadingRefused(
            [Complaint(field="quantity", code="choice", message=f"quantity is {quantity!r}, must be one of {known}")]
        )
    values = {name: value for name, value in given.items() if value is not None and value != ""}
    complaints = [*_texts(values), *_figures(values, rule), *_fields(values, rule), *_time(values, scope)]
    complaints.extend(_item(values, rule, scope))
    complaints.extend(_id(values))
    if complaints:
        raise ReadingRefused(complaints)
    if quantity == "cooking":
        values.setdefault("flame_pct", 100.0)
    values.setdefault("recorded_s", scope.now_s)
    return Reading(**values)


def _texts(values: dict[str, Any]) -> Iterator[Complaint]:
    for name, longest in (("item", LONGEST_NAME), ("meal", LONGEST_NAME), ("note", LONGEST_NOTE)):
        text = values.get(name)
        if text is None:
            continue
        values[name] = text = text.replace("\r\n", "\n").strip()
        allowed = LINE_BREAKS if name == "note" else ""
        if len(text) > longest:
            yield Complaint(field=name, code="length", message=f"{name} has {len(text)} characters, at most {longest}")
        elif not text.isprintable() and any(unicodedata.category(c) in ("Cc", "Cs") and c not in allowed for c in text):
            yield Complaint(field=name, code="text", message=f"{name} holds a control character; leave it out")


def _figures(values: dict[str, Any], rule: Rule) -> Iterator[Complaint]:
    units = tuple(rule.ranges)
    if "unit" not in values and len(units) == 1:
        values["unit"] = units[0]
    unit = values.get("unit")
    if unit is None:
        yield Complaint(field="unit", code="required", message=f"unit is missing, must be one of {', '.join(units)}")
    elif unit not in rule.ranges:
        yield Complaint(field="unit", code="unit", message=f"unit is {unit!r}, must be {' or '.join(units)}")
    elif "value" not in values:
        yield Complaint(
            field="value", code="required", message="value is missing; leave the row out if nothing was read"
        )
    else:
        yield from _range("value", values["value"], rule.ranges[unit], unit)
        yield from _share(values)


def _share(values: Mapping[str, Any]) -> Iterator[Complaint]:
    """A share of the gas that was written as a fraction: nobody's gas holds half a per cent of methane."""
    if values["quantity"] in SHARES and 0.0 < values["value"] <= 1.0 and not values.get("sure"):
        name, value = values["quantity"], values["value"]
        message = (
            f"value is {value:g} %, which reads like a fraction; {name} is given in per cent, so {value:g} of the gas "
            f'is {100.0 * value:g}; send "sure": true if it is {value:g} % all the same'
        )
        yield Complaint(field="value", code="fraction", message=message)


def _range(name: str, value: float, allowed: tuple[float, float], unit: str = "") -> Iterator[Complaint]:
    low, high = allowed
    if not (math.isfinite(value) and low <= value <= high):
        message = f"{name} is {value:g}, must be {low:g} to {high:g} {unit}".rstrip()
        yield Complaint(field=name, code="range", message=message)


def _fields(values: dict[str, Any], rule: Rule) -> Iterator[Complaint]:
    for name in ("flame_pct", "water_l", "from_c"):
        if name not in values:
            continue
        if name in rule.fields:
            yield from _range(name, values[name], rule.fields[name])
        else:
            yield Complaint(
                field=name, code="unknown", message=f"{name} has no meaning for {values['quantity']}; leave it out"
            )
    if "meal" in values and values["quantity"] not in MEALS_OF:
        yield Complaint(
            field="meal", code="unknown", message=f"meal has no meaning for {values['quantity']}; leave it out"
        )
    for name in rule.needs:
        if name != "item" and name not in values:
            yield Complaint(field=name, code="required", message=f"{name} is missing, needed for {values['quantity']}")


def _time(values: Mapping[str, Any], scope: Scope) -> Iterator[Complaint]:
    taken_s = values["taken_s"]
    yield from _future(values, scope.now_s)
    if taken_s < EARLIEST_S:
        message = "taken_at is before the digester can have existed; check the year"
        yield Complaint(field="taken_at", code="too_early", message=message)
    elif taken_s < scope.earliest_s and values["quantity"] not in OLDER_THAN_THE_DIGESTER:
        started = datetime.fromtimestamp(scope.earliest_s, scope.zone).date()
        message = f"taken_at is before the digester was started, {started}; check it, or started_on in the description"
        yield Complaint(field="taken_at", code="too_early", message=message)


def _span(seconds: float) -> str:
    """A span of time as people say it."""
    for unit, unit_s, from_s in (("days", 86_400, 172_800), ("hours", 3_600, 10_800)):
        if seconds >= from_s:
            return f"{seconds / unit_s:.0f} {unit}"
    return f"{seconds // 60:.0f} minutes"


def _future(values: Mapping[str, Any], now_s: int) -> Iterator[Complaint]:
    """What has not happened yet: a reading still to be taken, or a flame that is to burn for long."""
    ahead_s, minutes = values["taken_s"] - now_s, values.get("value", 0.0)
    if ahead_s > CLOCK_TOLERANCE_S:
        message = f"taken_at is {_span(ahead_s)} in the future; check the clock, the date and the time zone"
        yield Complaint(field="taken_at", code="future", message=message)
    elif values["quantity"] == "cooking" and STILL_ON_S < ahead_s + 60.0 * minutes < math.inf:
        message = (
            f"value is {minutes:g} min, so the flame goes out {ahead_s / 60.0 + minutes:.0f} minutes in the future; "
            "check the minutes and that taken_at is when it was lit, or log it once it is out"
        )
        yield Complaint(field="value", code="future", message=message)


def _item(values: dict[str, Any], rule: Rule, scope: Scope) -> Iterator[Complaint]:
    known = {"burner": scope.burners, "digester": scope.digesters, "meter": METERS}.get(rule.item)
    item = values.get("item")
    if known is None:
        return
    if not item and "item" in rule.needs:
        if len(known) == 1:
            values["item"] = known[0]
        else:
            message = f"item is missing, must name the {rule.item}: {', '.join(known)}"
            yield Complaint(field="item", code="required", message=message)
    elif item and item not in known:
        message = f"item is {item!r}, must be a {rule.item} that is described: {', '.join(known)}"
        yield Complaint(field="item", code="choice", message=message)


def _id(values: dict[str, Any]) -> Iterator[Complaint]:
    if "id" not in values:
        return
    values["id"] = one_spelling(values["id"])
    if not _UUID.fullmatch(values["id"]):
        yield Complaint(field="id", code="id", message=f"id is {values['id']!r}, must be a UUID, or left out")


def one_spelling(reading_id: str) -> str:
    """A UUID in lower case with hyphens, however it was written; any other text as it is."""
    try:
        return str(UUID(reading_id))
    except ValueError:
        return reading_id
