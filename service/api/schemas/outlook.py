"""The coming seasons by month."""

from __future__ import annotations

from service.api.fields import Schema, answer, day, flag, many, moment, nested, text, whole
from service.api.schemas.answers import AsOf, Stamp

RESTS_ON = ("log", "season", "prior")


class OutlookQuery(AsOf):
    """How many months."""

    months = whole("mo", "whole calendar months after this one", 1, 12, load_default=12)


class OutlookSpan(Schema):
    """What a span of days brings: no mark is the median, one time in ten less than q10, one time in ten more than q90.

    Each figure is read off the sums of whole sample paths: the months' q90 do not add up to that of the total.
    """

    start = moment("when it begins")
    end = moment("when it ends")
    production_q10_m3 = answer("m3", "gas made, wet, at the holder's conditions")
    production_m3 = answer("m3", "gas made, the median")
    production_q90_m3 = answer("m3", "gas made")
    production_q10_mj = answer("MJ", "the same as net heat", digits=1)
    production_mj = answer("MJ", "the same as net heat", digits=1)
    production_q90_mj = answer("MJ", "the same as net heat", digits=1)
    need_q10_m3 = answer("m3", "gas that the meals and usual teas take")
    need_m3 = answer("m3", "gas that the meals and usual teas take, the median")
    need_q90_m3 = answer("m3", "gas that the meals and usual teas take")
    need_q10_mj = answer("MJ", "the same as net heat", digits=1)
    need_mj = answer("MJ", "the same as net heat", digits=1)
    need_q90_mj = answer("MJ", "the same as net heat", digits=1)
    on_gas_q10_pct = answer("%", "share of that need that gas carries; null: nothing is cooked", digits=1)
    on_gas_pct = answer("%", "share of that need that gas carries, the median", digits=1)
    on_gas_q90_pct = answer("%", "share of that need that gas carries", digits=1)
    backup_q10_kg = answer("kg", "backup fuel; null for an electric backup", digits=3)
    backup_kg = answer("kg", "backup fuel, the median", digits=3)
    backup_q90_kg = answer("kg", "backup fuel", digits=3)
    backup_q10_kwh = answer("kW.h", "electricity; null for a backup burned from a bottle", digits=3)
    backup_kwh = answer("kW.h", "electricity, the median", digits=3)
    backup_q90_kwh = answer("kW.h", "electricity", digits=3)
    backup_q10_meals = answer("1", "planned meals that gas does not carry whole", digits=1)
    backup_meals = answer("1", "planned meals that gas does not carry whole, the median", digits=1)
    backup_q90_meals = answer("1", "planned meals that gas does not carry whole", digits=1)
    backup_probability = answer("1", "odds that any planned meal lacks gas")
    vented_q10_m3 = answer("m3", "gas let out by the full holder")
    vented_m3 = answer("m3", "gas let out by the full holder, the median")
    vented_q90_m3 = answer("m3", "gas let out by the full holder")
    vented_q10_mj = answer("MJ", "the same as net heat", digits=1)
    vented_mj = answer("MJ", "the same as net heat", digits=1)
    vented_q90_mj = answer("MJ", "the same as net heat", digits=1)
    venting_probability = answer("1", "odds of any venting")
    slurry_c = answer("Cel", "slurry temperature on the mean of the days, the median", digits=1)


class MonthName(Schema):
    """Which month, and what is known of it."""

    month = text("the month, such as 2026-12")
    complete = flag("whether it is the whole month")
    rests_on = text(
        "log: what the digester does now, its last feed, weather; season: the usual year; prior: nothing learnt yet",
        one_of=RESTS_ON,
    )


class OutlookMonth(OutlookSpan, MonthName):
    """One calendar month of the household; the first is the rest of this month."""


class Outlook(Stamp):
    """The coming seasons: gas made and wanted, backup and venting by calendar month."""

    months = many(OutlookMonth, "the rest of this month, then the whole months asked for")
    total = nested(OutlookSpan, "all of them together")
    trust = text("how far that may be trusted", longest=400)
    fuel = text("the backup fuel")
    on_hand_kg = answer("kg", "fuel in the house, as described", digits=3)
    bottle_empty_date = day(
        "day on which it runs out, one time in ten sooner; null: not within horizon_d", allow_none=True
    )
    order_by_date = day("last day to order", allow_none=True)
    horizon_d = answer("d", "how far this looks: to the end of the last month", digits=2)
