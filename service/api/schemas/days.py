"""The ledger by day, and warnings about the log."""

from __future__ import annotations

from models.days import AT_LEAST, EXACT, MISSING
from service.api.fields import Schema, answer, day, flag, many, moment, text
from service.api.schemas.answers import AsOf
from service.api.schemas.fits import SetAside

CODES = (
    "stale_readings",
    "level_unit",
    "gauge_stuck",
    "no_cooking_logged",
    "minutes_too_many",
    "clock_off",
    "meal_misspelt",
    "look_doubtful",
)


class LedgerQuery(AsOf):
    """Which days to tell."""

    first = day("first day; left out: thirty days up to the last", data_key="from", load_default=None)
    last = day("last day, itself included; left out: today", data_key="to", load_default=None)


class LedgerDay(Schema):
    """One household day. Errors are standard errors: the truth lies within 1.96 times them, 19 times in 20."""

    date = day("the household's day")
    start = moment("when it begins")
    end = moment("when it ends")
    bound = text(
        "exact: known within its error; at_least: the holder may have vented, at least so much was made; missing",
        one_of=(EXACT, AT_LEAST, MISSING),
    )
    valid = flag("whether anything is known of what was made")
    reason = text("why it is not known, or only a lower bound", allow_none=True)
    made_m3 = answer("m3", "gas made, wet at that day's air; the lower bound, sure 19 times in 20, where at_least")
    made_error_m3 = answer("m3", "its standard error; null unless exact")
    burned_m3 = answer("m3", "gas burned: what was logged or metered, and the usual share of forgotten cooking")
    burned_error_m3 = answer("m3", "its standard error")
    vented_m3 = answer("m3", "gas vented; null where nothing tells it")
    vented_error_m3 = answer("m3", "its standard error")
    sm3_per_m3 = answer("1", "dry gas at 15 °C and 101.325 kPa in one m3 of that day", 5)


class Warned(Schema):
    """Something in the log that cannot be right."""

    code = text("what, for scripts", one_of=CODES)
    since = moment("since when")
    message = text("what is seen")
    look_first = text("what to look at first")


class Ledger(Schema):
    """What really happened, by household day."""

    as_of = moment("readings up to this moment were known")
    time_zone = text("the household's time zone")
    summary = text("one plain sentence or two")
    days = many(LedgerDay, "one a day, oldest first")
    set_aside = many(
        SetAside,
        "readings not believed, the latest first: a level no holder shows, feed no digester is given and slurry no "
        "digester has are left out, cooking that no holder can feed counts as its meal usually takes; correct one, or "
        "the description, and it counts again. One that is right as it stands: GET /readings/{reading} and PUT it back "
        "with sure true",
    )
    warnings = many(Warned, "what in the log of the last fortnight cannot be right")
