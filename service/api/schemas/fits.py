"""What the production model has learnt, and wishes for a new fit."""

from __future__ import annotations

from marshmallow import fields

from service.api.fields import Schema, answer, many, moment, nested, text, whole
from service.api.schemas.answers import BASES, AsOf
from service.readings import RULES

MANY = 10**9


class Parameter(Schema):
    """One parameter: its value, what it means, and how far the log has moved it."""

    name = text("its name")
    value = answer("1", "its most probable value, in `unit`", digits=5)
    low = answer("1", "nine times in ten above", digits=5)
    high = answer("1", "nine times in ten below", digits=5)
    sd = answer("1", "its standard error", digits=5)
    prior = answer("1", "what it is without a log", digits=5)
    unit = text("its unit (UCUM)")
    meaning = text("what it is, in plain words")


class Slurry(Schema):
    """How the slurry of one digester follows the air."""

    lag_d = answer("d", "days it takes to follow", digits=2)
    warmth_k = answer("K", "how much warmer than the air it stays at night", digits=2)
    sun_k_per_mj = answer("K.m2.d/MJ", "how much the sun warms it", digits=3)
    wall_share = answer("1", "how much of the air the sensor reads", digits=2)
    held_c = answer("Cel", "temperature a heated digester is held at; null where it follows the air", digits=2)
    residual_sd_k = answer("K", "spread of what that leaves unexplained", digits=2)
    readings = whole("1", "slurry temperatures it was learnt from", 0, MANY)


class Fit(Schema):
    """A fit: on what, and what came out."""

    id = whole("1", "its number", 1, MANY, allow_none=True)
    made_as_of = moment("no reading later than this is in it")
    window_start = moment("first moment learnt from", allow_none=True)
    window_end = moment("last moment learnt from", allow_none=True)
    intervals = whole("1", "spans between two looks at the gauge", 0, MANY)
    bounds = whole("1", "of these, spans that only say at least", 0, MANY)
    parameters = many(Parameter, "the parameters")
    slurry = many(Slurry, "one a digester, in their order")


class SetAside(Schema):
    """A reading that is kept but not believed."""

    reading = text("its id, as in /readings/{reading}")
    taken_at = moment("when it was taken")
    quantity = text("of what", one_of=tuple(RULES))
    why = text("the reason")


class Model(Schema):
    """The production model of a household."""

    basis = text("prior: general knowledge; blended: partly learnt; fitted: learnt from the log", one_of=BASES)
    summary = text("that in one plain sentence")
    as_of = moment("the moment it stands at")
    time_zone = text("the household's time zone")
    fit = nested(Fit, "the fit in use; null before the first", allow_none=True)
    diagnostics = fields.Dict(
        keys=fields.String(),
        metadata={"description": "how well one-step forecasts held, whether a season was found, what was a bound"},
    )
    set_aside = many(
        SetAside, "readings not believed, with the reason; GET one and PUT it back with sure true, and it counts"
    )
    last_outcome = text("what came of the last fit that was tried", allow_none=True)
    last_message = text("the same in words", allow_none=True)


class FitWish(AsOf):
    """A wish for a fit."""

    as_of = moment(
        "fit on the readings up to then; not in the future; left out: up to when it is made", load_default=None
    )


class FitRequest(Schema):
    """A wish for a fit, and what came of it."""

    id = whole("1", "its number", 1, MANY)
    as_of = moment("moment to fit up to; null: when it is made", allow_none=True)
    requested_at = moment("when it was asked for")
    finished_at = moment("when it was tried; null while it waits", allow_none=True)
    outcome = text("what came of it", one_of=("waiting", "replaced", "kept", "failed"))
    message = text("the same in words", allow_none=True)
