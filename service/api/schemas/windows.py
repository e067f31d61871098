"""When extra cooking fits."""

from __future__ import annotations

from datetime import time

from service.api.fields import (
    Schema,
    a_name,
    answer,
    day_or_moment,
    flag,
    hours_of_day,
    many,
    moment,
    nested,
    number,
    text,
)
from service.api.schemas.answers import AsOf, Stamp


class WindowsQuery(AsOf):
    """The extra cooking, and when it may be."""

    flame_min = number("min", "how long, at full flame", low=1.0, high=1440.0, required=True, metadata={"query": True})
    burner = a_name("the burner; left out: the first", load_default=None)
    first = day_or_moment("not before this date or time stamp; left out: from now", data_key="from", load_default=None)
    last = day_or_moment(
        "to begin no later than this: a date, itself included, or a time stamp; left out: a week",
        data_key="to",
        load_default=None,
    )
    hours = hours_of_day(
        "within these hours of a day, local time, begun and ended; 24:00 is midnight",
        load_default=(time(6), time(22)),
        metadata={"default": "06:00-22:00"},
    )


class Window(Schema):
    """One time for the extra cooking."""

    start = moment("when to begin, at whole five minutes")
    end = moment("when it is done")
    probability = answer("1", "odds that gas carries it and no planned meal of the day after goes short for it")
    sure = flag("whether those are as sure as care_level asks")
    saved_m3 = answer("m3", "of its gas, what the full holder would have let out within a day otherwise")


class Windows(Stamp):
    """The best times for so many minutes of extra flame."""

    flame_min = answer("min", "how long, at full flame", digits=1)
    burner = text("on which burner", longest=64)
    hours = text("within these hours of a day, local time")
    first = moment("from when it may begin", data_key="from")
    last = moment("until when it may begin", data_key="to")
    gas_m3 = answer("m3", "gas it takes, wet, at the holder's conditions now")
    gas_mj = answer("MJ", "the same as net heat", digits=3)
    soonest = nested(Window, "the first time as sure as care_level asks; null: none is", allow_none=True)
    surest = nested(
        Window, "the first time whose odds come within 2 % of the best; null: none is left", allow_none=True
    )
    windows = many(
        Window,
        "the best five that do not overlap, on days at home, the burner free of planned meals: sure ones first, the "
        "soonest before the later; then the others, the likeliest first, of equal odds the soonest",
    )
    horizon_d = answer("d", "how far gas and meals were looked at", digits=2)
