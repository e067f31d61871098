"""When the full holder vents."""

from __future__ import annotations

from marshmallow import fields

from service.api.fields import Schema, answer, day, many, moment, text
from service.api.schemas.answers import Stamp


class VentingDay(Schema):
    """One household day; the first is the rest of today."""

    date = day("the household's day")
    probability = answer("1", "odds that the holder vents on it")
    vented_m3 = answer("m3", "gas let out")
    vented_q90_m3 = answer("m3", "nine times in ten at most this much")


class Venting(Stamp):
    """When the full holder vents, how much is lost, and what it could have cooked."""

    first_venting_at = moment("when the full holder first vents; null: not within horizon_d", allow_none=True)
    first_venting_at_q10 = moment("the early one: nine times in ten not before", allow_none=True)
    days_until_venting = answer("d", "days until then", digits=2)
    venting_probability = answer("1", "odds that it vents at all within horizon_d")
    vented_m3 = answer("m3", "gas let out over horizon_d, wet, at the holder's conditions")
    vented_q90_m3 = answer("m3", "nine times in ten at most this much")
    vented_mj = answer("MJ", "the same as net heat", digits=3)
    vented_q90_mj = answer("MJ", "nine times in ten at most this much", digits=3)
    burner = text("the burner it is told in: the first", longest=64)
    flame_min = answer("min", "how long that burner would burn on it at full flame", digits=1)
    flame_q90_min = answer("min", "nine times in ten at most this long", digits=1)
    useful_mj = answer("MJ", "the heat that would reach the pan, by the burner's efficiency", digits=3)
    boiled_l = answer("L", "water that it would bring from 15 °C to the boil, pan and losses beside", digits=1)
    boiled_q90_l = answer("L", "nine times in ten at most this much", digits=1)
    methane_kg = answer("kg", "methane let go with it", digits=3)
    co2e_kg = answer("kg", "carbon dioxide that would warm as much over a hundred years", digits=2)
    co2e_q90_kg = answer("kg", "nine times in ten at most this much", digits=2)
    co2e_source = text("where that comes from")
    days = many(VentingDay, "day by day, today first")
    cautions = fields.List(
        fields.String(), metadata={"description": "what to beware of; local codes come first", "x-ucum": "{list}"}
    )
    horizon_d = answer("d", "how far this looks: the rest of today and the whole days asked for", digits=2)
