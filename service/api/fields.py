"""Fields of the contract, with unit (UCUM) and description: strict on the way in, never NaN on the way out."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Mapping
from datetime import date, datetime, time
from typing import Any, ClassVar

from marshmallow import RAISE, fields, validate, validates_schema
from marshmallow import Schema as MarshmallowSchema
from marshmallow.exceptions import ValidationError

from service.api.forms import Forms
from service.api.naming import NAME, NAME_RULE, is_name

PASTED_OFFSET = re.compile(r"T\S+ \d\d:?\d\d$")
MESSAGES = {
    "required": "required|is missing and has no default",
    "null": "null|may not be null; leave it out or give a value",
    "invalid": "type|has the wrong type",
}
NEEDED = {"null": "null|may not be null; give a value"}
"""Of a field that cannot be left out either."""
NO_LIST = {"error_messages": {"invalid": "type|must be a JSON array (a list), in square brackets"}}
NO_NUMBER = {
    "error_messages": {
        "invalid": "type|must be a number such as 3.5",
        "special": "type|must be a number; leave it out where it is not known",
    }
}
NO_WHOLE = {"error_messages": {"invalid": "type|must be a whole number such as 14"}}
NO_TEXT = {"error_messages": {"invalid": "type|must be a text"}}
NO_FLAG = {"error_messages": {"invalid": "type|must be true or false"}}
FIRST_YEAR, LAST_YEAR = 1990, 2200
"""Years in which a digester may be cooked with; outside of them calendars and time zones run out."""
READABLE = r"^[^\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f]*$"
"""A text without control characters, but for tabs and the ends of lines."""
UNREADABLE = "text|holds a control character or half a character; leave it out"
CLOCK = r"([01]?\d|2[0-4]):([0-5]\d)"
HOURS = re.compile(f"{CLOCK}-{CLOCK}", re.ASCII)
MINUTES_OF_DAY = 1440
WRONG_WHEN = {
    "invalid": "type|must be a date such as 2026-11-26 or a time stamp such as 2026-11-26T19:00:00+00:00",
    "invalid_awareness": "offset|has no offset; write 2026-11-26T19:00:00+00:00 or ...Z",
}


class Schema(MarshmallowSchema):
    """A document of the contract; a field it does not know is refused, by name."""

    class Meta:
        unknown = RAISE

    forms: ClassVar[tuple[Forms, ...]] = ()
    """Which of its fields stand together; the contract tells them as well."""
    told: ClassVar[tuple[Mapping[str, Any], ...]] = ()
    """What else the contract tells of it, as JSON Schema, made from the table that the use case checks it by."""

    error_messages = {  # noqa: RUF012 - marshmallow's own class attribute
        "unknown": "unknown|is not a field here; /docs lists the fields this document has",
        "type": "type|must be a JSON object",
    }

    @validates_schema(skip_on_field_errors=True)
    def _formed(self, data: dict[str, Any], **_: Any) -> None:
        given = {self.fields[name].data_key or name for name, value in data.items() if value is not None}
        for forms in self.forms:
            forms.check(given)


class Number(fields.Float):
    """A JSON number: text and booleans are refused on the way in, NaN becomes null on the way out."""

    def _deserialize(self, value: Any, attr: str | None, data: Any, **kwargs: Any) -> float:
        if isinstance(value, str | bool) and not self.metadata.get("query"):
            raise ValidationError(f"type|is {value!r}, must be a JSON number")
        return super()._deserialize(value, attr, data, **kwargs)

    def _serialize(self, value: Any, attr: str | None, obj: Any, **kwargs: Any) -> float | None:
        if value is None or not math.isfinite(float(value)):
            return None
        digits = self.metadata.get("digits")
        return float(value) if digits is None else round(float(value), digits)


class Moment(fields.AwareDateTime):
    """An RFC 3339 time stamp with its offset."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(format="iso", default_timezone=None, **kwargs)

    def _deserialize(self, value: Any, attr: str | None, data: Any, **kwargs: Any) -> Any:
        # A plus sign pasted into a query arrives as a space.
        if isinstance(value, str) and PASTED_OFFSET.search(value):
            value = "+".join(value.rsplit(" ", 1))
        return super()._deserialize(value, attr, data, **kwargs)


def _halved(text: str) -> bool:
    return any("\ud800" <= c <= "\udfff" for c in text)


def _named(value: str) -> None:
    if not is_name(value):
        raise ValidationError(f"name|must be {NAME_RULE}")


def _whole(value: str) -> None:
    if _halved(value):
        raise ValidationError(UNREADABLE)


def _in_our_time(value: date) -> None:
    if not FIRST_YEAR <= value.year <= LAST_YEAR:
        raise ValidationError(f"range|is {value.isoformat()}, must be in the years {FIRST_YEAR} to {LAST_YEAR}")


def _described(unit: str, description: str, options: dict[str, Any]) -> dict[str, Any]:
    metadata = {"description": description, "x-ucum": unit} | options.pop("metadata", {})
    if "load_default" in options and options["load_default"] is None:
        options.setdefault("allow_none", True)
    messages = MESSAGES | (NEEDED if options.get("required") else {}) | options.pop("error_messages", {})
    return {"metadata": metadata, "error_messages": messages, **options}


def number(
    unit: str, description: str, *, low: float | None = None, high: float | None = None, **options: Any
) -> Number:
    """A number with its UCUM unit, and its range where one is given."""
    if low is not None or high is not None:
        options["validate"] = validate.Range(min=low, max=high, error="range|is {input}, must be {min} to {max}")
    return Number(**_described(unit, description, NO_NUMBER | options))


def answer(unit: str, description: str, digits: int = 4) -> Number:
    """A figure of an answer; null where it is not known."""
    return Number(
        **_described(unit, description, {"allow_none": True, "dump_only": True, "metadata": {"digits": digits}})
    )


def whole(unit: str, description: str, low: int, high: int, **options: Any) -> fields.Integer:
    """A whole number within a range."""
    check = validate.Range(min=low, max=high, error="range|is {input}, must be {min} to {max}")
    return fields.Integer(validate=check, **_described(unit, description, NO_WHOLE | options))


def text(
    description: str,
    *,
    longest: int = 200,
    one_of: tuple[str, ...] | None = None,
    quotes: bool = False,
    **options: Any,
) -> fields.String:
    """A text, or one of a few words; one that `quotes` what was sent may hold whatever that did."""
    check: list[Any] = [validate.Length(min=1, max=longest, error="length|must be {min} to {max} characters")]
    if not quotes:
        check += [validate.Regexp(READABLE, error=UNREADABLE), _whole]
    if one_of:
        check = [validate.OneOf(one_of, error="choice|is {input}, must be one of {choices}")]
    return fields.String(validate=check, **_described("{text}", description, NO_TEXT | options))


def a_name(description: str, **options: Any) -> fields.String:
    """A name that a path may hold."""
    options["metadata"] = NAME
    return fields.String(validate=_named, **_described("{text}", f"{description}: {NAME_RULE}", options))


class Flag(fields.Boolean):
    """True or false: 1 and 0 are numbers."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(truthy={True, "true"}, falsy={False, "false"}, **kwargs)

    def _deserialize(self, value: Any, attr: str | None, data: Any, **kwargs: Any) -> bool:
        if not isinstance(value, bool | str):
            raise self.make_error("invalid", input=value)
        return super()._deserialize(value, attr, data, **kwargs)


def flag(description: str, **options: Any) -> Flag:
    """True or false."""
    return Flag(**_described("1", description, NO_FLAG | options))


def day(description: str, **options: Any) -> fields.Date:
    """A date of the household."""
    wrong = {"invalid": "type|must be a date such as 2026-11-26"}
    return fields.Date(validate=_in_our_time, **_described("{date}", description, {**options, "error_messages": wrong}))


def moment(description: str, **options: Any) -> Moment:
    """A time stamp with its offset (RFC 3339)."""
    wrong = {
        "invalid": "type|must be a time stamp such as 2026-11-26T19:00:00+00:00",
        "invalid_awareness": "offset|has no offset; write 2026-11-26T19:00:00+00:00 or ...Z",
    }
    return Moment(
        validate=_in_our_time, **_described("{time stamp}", description, {**options, "error_messages": wrong})
    )


class WhichDay(fields.Field[Any]):
    """`today`, `tomorrow` or a date."""

    def _deserialize(self, value: Any, attr: str | None, data: Any, **kwargs: Any) -> str | date:
        if value in ("today", "tomorrow"):
            return str(value)
        try:
            found = date.fromisoformat(str(value))
        except ValueError:
            raise ValidationError(f"type|is {value!r}, must be today, tomorrow or a date such as 2026-11-27") from None
        _in_our_time(found)
        return found


def which_day(description: str, **options: Any) -> WhichDay:
    """A day by word or date."""
    words = {"type": "string", "enum": ["today", "tomorrow"]}
    options["metadata"] = {"anyOf": [words, {"type": "string", "format": "date"}]}
    return WhichDay(**_described("{date}", description, options))


class DayOrMoment(fields.Field[Any]):
    """A date, or a time stamp with its offset."""

    def _deserialize(self, value: Any, attr: str | None, data: Any, **kwargs: Any) -> Any:
        try:
            found = date.fromisoformat(str(value))
        except ValueError:
            return Moment(validate=_in_our_time, error_messages=WRONG_WHEN).deserialize(value)
        _in_our_time(found)
        return found


def day_or_moment(description: str, **options: Any) -> DayOrMoment:
    """A date of the household, or a moment."""
    whens: list[dict[str, str]] = [{"type": "string", "format": form} for form in ("date", "date-time")]
    if options.get("load_default", "") is None:
        whens.append({"type": "null"})
    return DayOrMoment(
        **_described("{date}", description, {**options, "metadata": {"anyOf": whens} | options.get("metadata", {})})
    )


class Hours(fields.Field[Any]):
    """A span of hours on one day, such as 06:00-22:00; 24:00 is its end."""

    def _deserialize(self, value: Any, attr: str | None, data: Any, **kwargs: Any) -> tuple[time, time]:
        found = HOURS.fullmatch(str(value))
        first, last = (60 * int(found[k]) + int(found[k + 1]) for k in (1, 3)) if found else (0, 0)
        if not found or last > MINUTES_OF_DAY:
            raise ValidationError(f"type|is {value!r}, must be two times of one day such as 06:00-22:00")
        if first >= last:
            raise ValidationError(f"order|is {value!r}, must end later on the same day than it begins")
        return time(*divmod(first, 60)), time.max if last == MINUTES_OF_DAY else time(*divmod(last, 60))


def hours_of_day(description: str, **options: Any) -> Hours:
    """A span of hours on one day."""
    clock = "([01][0-9]|2[0-3]):[0-5][0-9]"
    span = {"type": "string", "pattern": f"^{clock}-({clock}|24:00)$"}
    return Hours(**_described("{local time}", description, {**options, "metadata": span | options.get("metadata", {})}))


def clock_time(description: str, **options: Any) -> fields.Time:
    """A local time of day."""
    wrong = {"invalid": "type|must be a local time such as 19:00"}
    options["metadata"] = {"pattern": "^([01][0-9]|2[0-3]):[0-5][0-9]$"}
    return fields.Time(format="%H:%M", **_described("{local time}", description, {**options, "error_messages": wrong}))


def nested(schema: type[MarshmallowSchema], description: str, **options: Any) -> fields.Nested:
    """A document within a document."""
    return fields.Nested(schema, **_described("{document}", description, options))


def many(
    schema: type[MarshmallowSchema], description: str, *, filled: bool = False, **options: Any
) -> fields.List[Any]:
    """A list of documents; one that is `filled` may not be empty."""
    if filled:
        options["validate"] = validate.Length(min=1, error="length|is empty, must hold at least one")
    return fields.List(fields.Nested(schema), **_described("{list}", description, NO_LIST | options))


def listed(unit: str, description: str, one: fields.Field[Any], **options: Any) -> fields.List[Any]:
    """A list of figures, texts or lists with its UCUM unit."""
    return fields.List(one, **_described(unit, description, NO_LIST | options))


def dumped(document: object) -> bytes:
    """A document as the bytes of strict JSON."""
    return json.dumps(document, allow_nan=False, ensure_ascii=False, separators=(",", ":")).encode()


__all__ = [
    "Schema",
    "a_name",
    "answer",
    "clock_time",
    "date",
    "datetime",
    "day",
    "day_or_moment",
    "dumped",
    "fields",
    "flag",
    "hours_of_day",
    "listed",
    "many",
    "moment",
    "nested",
    "number",
    "text",
    "time",
    "which_day",
    "whole",
]
