"""Forecasts as they were issued, and what changed between them."""

from __future__ import annotations

from marshmallow import fields

from service.api.fields import Schema, answer, day, flag, many, moment, nested, text, whole

LARGEST_ID = 2**53 - 1
WHYS = ("time", "readings", "weather", "meals", "fit", "description", "chance")
REASONS = ("no_forecast_before", "no_readings", "beyond_horizon")


class ForecastsQuery(Schema):
    """Which forecasts to list."""

    kind = text("only answers of this kind: now, gas-budget, storage, ...", longest=40, load_default=None)
    limit = whole("1", "at most so many", 1, 200, load_default=50)
    before = whole("1", "next_cursor of the page before", 1, LARGEST_ID, data_key="cursor", load_default=None)


class ChangesQuery(Schema):
    """What to compare a forecast with."""

    since = whole(
        "1",
        "id of an earlier forecast; left out: the one before of the same question",
        1,
        LARGEST_ID,
        load_default=None,
    )


class ForecastFigures(Schema):
    """The main figures of a forecast; null where its kind does not tell one."""

    date = day("the day it is about", allow_none=True)
    budget_m3 = answer("m3", "gas that may be burned that day, or tomorrow")
    budget_q10_m3 = answer("m3", "nine times in ten at least this much")
    need_m3 = answer("m3", "what that day's meals take")
    covered = flag("whether they are covered", allow_none=True)
    holder_m3 = answer("m3", "wet gas in the holder")
    days_left = answer("d", "days to the first planned meal it cannot carry whole", digits=2)
    first_backup_date = day("day by which, more likely than not, a meal has needed the backup", allow_none=True)
    summary = text("its sentence", allow_none=True)


class ForecastEntry(Schema):
    """One forecast as it was issued."""

    id = whole("1", "its number; later ones are larger", 1, LARGEST_ID)
    kind = text("which question it answers: the last part of its path")
    issued_at = moment("when it was computed")
    as_of = moment("the moment it looks ahead from")
    asked = fields.Dict(
        keys=fields.String(),
        values=fields.Raw(),
        metadata={"description": "what was asked, by parameter", "x-ucum": "{text}"},
    )
    etag = text("the ETag of its bytes, without the quotes")
    figures = nested(ForecastFigures, "its main figures", metadata={"x-ucum": "{document}"})


class ForecastsPage(Schema):
    """Forecasts as they were issued, newest first."""

    forecasts = many(ForecastEntry, "a page of them")
    next_cursor = whole("1", "send it as `cursor` for the next page; null on the last", 1, LARGEST_ID, allow_none=True)


class Change(Schema):
    """What one thing moved the budget by."""

    why = text("what changed; chance: which sample paths were drawn", one_of=WHYS)
    litres = answer(
        "L", "wet gas it moved the budget by; null: it makes sense only with the next, which counts for both", digits=1
    )
    what = text("what it was, in a few words")


class ForecastChanges(Schema):
    """What changed from one forecast to a later one, in litres of a day's budget.

    The earlier forecast is worked out again with its inputs exchanged for the later one's, one after another in the
    order of `changes`: time, readings, weather, meals, fit, description. What each exchange moves is told, each on the
    same eight sets of sample paths; the litres add up to `change_l`.
    """

    id = whole("1", "the later forecast", 1, LARGEST_ID)
    issued_at = moment("when it was issued")
    before_id = whole("1", "the earlier forecast", 1, LARGEST_ID, allow_none=True)
    before_issued_at = moment("when that was issued", allow_none=True)
    date = day("the day whose budget is compared: the one asked for, else tomorrow as of the later forecast")
    budget_m3 = answer("m3", "its budget by the later forecast")
    budget_before_m3 = answer("m3", "its budget by the earlier one")
    change_l = answer("L", "the difference", digits=1)
    changes = many(Change, "what moved it")
    valid = flag("whether the two can be compared")
    reason = text("why not", one_of=REASONS, allow_none=True)
    summary = text("one plain sentence")
