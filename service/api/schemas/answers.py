"""What the forecasts answer: the stamp they all carry, and one document a question."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

from marshmallow import INCLUDE, ValidationError, fields, post_dump, validate, validates
from webargs.fields import DelimitedList

from service.api.fields import Schema, answer, day, flag, many, moment, number, text, which_day, whole
from service.wiring import wiring

BASES = ("prior", "blended", "fitted")
REASONS = ("no_readings", "stale", "cold_start", "description_missing", "beyond_horizon")
VERDICTS = ("gas", "tight", "backup")


CLOCK_TOLERANCE = timedelta(minutes=1)
"""How far a client's clock may run ahead."""


class AsOf(Schema):
    """Which moment an answer is for."""

    as_of = moment(
        "the answer by the readings taken until then, with today's plan and description; not in the future; "
        "left out: now",
        load_default=None,
    )

    @validates("as_of")
    def _not_ahead(self, value: datetime | None, **_: Any) -> None:
        if value is None:
            return
        now = wiring().clock()
        if value > now + CLOCK_TOLERANCE:
            reads = now.astimezone(value.tzinfo).isoformat(timespec="seconds")
            raise ValidationError(
                f"future|is {value.isoformat()}, later than now, {reads}; check the date and the offset, or leave it "
                "out for now"
            )


class DateQuery(AsOf):
    """Which day a budget is for."""

    date = which_day("today, tomorrow or a date such as 2026-11-27", load_default="tomorrow")


class DaysQuery(AsOf):
    """How far an answer looks."""

    days = whole("d", "days ahead", 1, 90, load_default=14)


class ForecastQuery(DaysQuery):
    """The series wanted."""

    step = text("one point a day or an hour", one_of=("day", "hour"), load_default="day")
    levels = DelimitedList(
        number("1", "a quantile level", low=0.001, high=0.999, metadata={"query": True}),
        load_default=list,
        validate=validate.Length(max=20, error="length|must be at most twenty levels"),
        metadata={"description": "quantiles besides q10, q50 and q90, comma separated: 0.05,0.25", "x-ucum": "1"},
    )
    layout = text("a list of points, or one list a field", one_of=("rows", "columns"), load_default="rows")


class Stamp(Schema):
    """What every forecast carries: when it was made, of what, and whether it holds."""

    issued_at = moment("when it was computed; with as_of that moment, as it would have been then")
    as_of = moment("the moment it looks ahead from")
    valid_until = moment("when to ask again at the latest")
    last_reading_at = moment("the last reading of the gauge it knows", allow_none=True)
    time_zone = text("the household's time zone")
    basis = text("prior: general knowledge; blended: partly learnt; fitted: learnt from the log", one_of=BASES)
    valid = flag("whether the figures may be acted on")
    reason = text("why not, or what to mind", one_of=REASONS, allow_none=True)
    summary = text("one plain sentence")


class MealVerdict(Schema):
    """One meal of the day."""

    meal = text("its name")
    start = moment("when it starts")
    need_m3 = answer("m3", "wet gas it takes if it is cooked, at the holder's conditions then")
    on_gas_probability = answer("1", "odds that the holder carries it whole, if it is cooked")
    verdict = text("gas: as sure as care_level asks; backup: more likely not; tight: between", one_of=VERDICTS)


class GasBudget(Stamp):
    """How much may be burned on a day, what the meals take, and whether it is enough."""

    date = day("the household's day")
    start = moment("when the day begins", allow_none=True)
    end = moment("when it ends", allow_none=True)
    holder_at_start_m3 = answer("m3", "wet gas in the holder when the day begins, or now for today")
    reserve_m3 = answer("m3", "wet gas never planned with")
    budget_m3 = answer("m3", "gas that may be burned before the last planned meal ends, above the reserve")
    budget_q10_m3 = answer("m3", "nine times in ten at least this much")
    budget_q90_m3 = answer("m3", "one time in ten at least this much")
    budget_mj = answer("MJ", "the budget as net heat", digits=3)
    budget_q10_mj = answer("MJ", "nine times in ten at least this much", digits=3)
    flame_min = answer("min", "the budget as minutes of the first burner at full flame", digits=1)
    flame_q10_min = answer("min", "nine times in ten at least this long", digits=1)
    need_m3 = answer("m3", "what the day's meals take if all are cooked, and cooking outside the plan as is usual")
    need_q90_m3 = answer("m3", "nine times in ten at most this much")
    margin_q10_m3 = answer("m3", "budget less need; nine times in ten at least this much")
    covered = flag("whether the day's meals are covered, as sure as care_level asks", allow_none=True)
    cover_probability = answer("1", "odds that every meal of the day can be cooked on gas")
    vented_m3 = answer("m3", "gas the full holder lets out that day")
    vented_q90_m3 = answer("m3", "nine times in ten at most this much")
    meals = many(MealVerdict, "the day's meals")
    backup_kg = answer("kg", "backup fuel that day (lpg or wood); null for an electric backup")
    backup_q90_kg = answer("kg", "nine times in ten at most this much")
    backup_kwh = answer("kW.h", "electricity that day; null for a backup burned from a bottle")
    backup_q90_kwh = answer("kW.h", "nine times in ten at most this much")


class AssumedMeal(Schema):
    """A meal since the last look at the gauge that counts as it usually is, for want of an entry that can be right."""

    meal = text("its name; unplanned: cooking outside the plan, logged under no name")
    start = moment("when it was to start")


class StorageOutlook(Stamp):
    """How full the holder is and how long it lasts."""

    level_pct = answer("%", "level the gauge would show", digits=1)
    holder_m3 = answer("m3", "wet gas in the holder")
    usable_m3 = answer("m3", "of that, above the reserve")
    capacity_m3 = answer("m3", "wet gas it holds when full")
    usable_mj = answer("MJ", "usable gas as net heat", digits=3)
    flame_min = answer("min", "usable gas as minutes of the first burner at full flame", digits=1)
    days_left = answer(
        "d", "days to the first planned meal it cannot carry whole; null: not within horizon_d", digits=2
    )
    days_left_q10 = answer("d", "nine times in ten at least this long", digits=2)
    days_left_q90 = answer("d", "one time in ten at least this long", digits=2)
    days_left_without_production = answer("d", "the same, if no more gas were made", digits=2)
    empty_at = moment("when that is; null: not within horizon_d", allow_none=True)
    empty_at_q10 = moment("nine times in ten not before", allow_none=True)
    empty_probability = answer("1", "odds of it within horizon_d")
    full_at = moment("when the holder is full; null: not within horizon_d", allow_none=True)
    full_at_q10 = moment("nine times in ten not before", allow_none=True)
    assumed_meals = many(
        AssumedMeal,
        "planned meals since the last look that are not in the log: the level counts them as cooked, as likely as they "
        "usually are, and at even odds where a later meal is in it; read the gauge, log them (one that was not cooked "
        "with 0 min) or skip them by an override. Also meals whose logged minutes cannot be right, which count as "
        "usual: mend what /days lists under set_aside",
    )
    horizon_d = answer("d", "how far this looks: the rest of today and the whole days asked for", digits=2)


class BackupMeal(Schema):
    """One meal that may need the backup."""

    meal = text("its name")
    start = moment("when it starts")
    probability = answer("1", "odds that it is cooked and lacks gas")
    heat_mj = answer("MJ", "useful heat the backup must give, where it is needed", digits=3)


class BackupNeed(Stamp):
    """When the backup is needed, for what, and how much of it."""

    first_backup_date = day("day by which, more likely than not, a meal has needed it; null: none", allow_none=True)
    first_backup_meal = text("the first meal by which that is so: it may be this one or one before", allow_none=True)
    days_until_backup = answer("d", "days until that meal starts", digits=2)
    first_backup_date_q10 = day("the early one: nine times in ten not before", allow_none=True)
    backup_probability = answer("1", "odds that any meal within horizon_d needs it")
    fuel = text("the backup fuel")
    backup_kg = answer("kg", "fuel over horizon_d; null for an electric backup", digits=3)
    backup_q90_kg = answer("kg", "nine times in ten at most this much", digits=3)
    backup_kwh = answer("kW.h", "electricity over horizon_d; null for a backup burned from a bottle", digits=3)
    backup_q90_kwh = answer("kW.h", "nine times in ten at most this much", digits=3)
    on_hand_kg = answer("kg", "fuel in the house, as described", digits=3)
    bottle_empty_date = day(
        "day on which it runs out, one time in ten sooner; null: not within horizon_d", allow_none=True
    )
    order_by_date = day("last day to order", allow_none=True)
    meals = many(BackupMeal, "the meals that may need it")
    horizon_d = answer("d", "how far this looks: the rest of today and the whole days asked for", digits=2)


class Now(Stamp):
    """Everything a wall display or a home-automation poll asks, flat."""

    level_pct = answer("%", "level the gauge would show", digits=1)
    holder_m3 = answer("m3", "wet gas in the holder")
    usable_m3 = answer("m3", "of that, above the reserve")
    usable_mj = answer("MJ", "usable gas as net heat", digits=3)
    flame_min = answer("min", "usable gas as minutes of the first burner at full flame", digits=1)
    tomorrow_budget_m3 = answer("m3", "what may be burned tomorrow")
    tomorrow_budget_q10_m3 = answer("m3", "nine times in ten at least this much")
    tomorrow_flame_min = answer("min", "the budget as minutes of the first burner at full flame", digits=1)
    tomorrow_need_m3 = answer("m3", "what tomorrow's meals take if all are cooked, with cooking outside the plan")
    tomorrow_cover_probability = answer("1", "odds that gas carries all of tomorrow's meals")
    tomorrow_covered = flag("whether tomorrow's meals are covered", allow_none=True)
    days_left = answer("d", "days to the first planned meal the holder cannot carry whole", digits=2)
    next_backup_date = day("day by which, more likely than not, a meal has needed the backup", allow_none=True)
    next_backup_meal = text("the first meal by which that is so: it may be this one or one before", allow_none=True)
    days_until_backup = answer("d", "days until that meal starts", digits=2)
    order_by_date = day("last day to order backup fuel; null: the bottle lasts, or is not known", allow_none=True)
    next_venting_date = day("first day on which the full holder more likely than not vents", allow_none=True)
    assumed_meals_count = whole("1", "meals since the last look that the level counts as they usually are", 0, 10_000)
    signs_count = whole("1", "warnings the log gives; /days lists them", 0, 1000, allow_none=True)


class Point(Schema):
    """One step of the forecast; levels asked for beside these have fields of their own, such as production_q05_m3."""

    class Meta:
        unknown = INCLUDE

    start = moment("when it begins")
    end = moment("when it ends")
    production_q10_m3 = answer("m3", "gas made, nine times in ten at least this much")
    production_q50_m3 = answer("m3", "gas made, the median")
    production_q90_m3 = answer("m3", "gas made, one time in ten at least this much")
    production_q10_mj = answer("MJ", "the same as net heat")
    production_q50_mj = answer("MJ", "the same as net heat")
    production_q90_mj = answer("MJ", "the same as net heat")
    need_q50_mj = answer("MJ", "what is cooked takes, the median; a meal counts as often as it is not skipped")
    holder_end_q10_m3 = answer("m3", "in the holder at the end")
    holder_end_q50_m3 = answer("m3", "in the holder at the end, the median")
    holder_end_q90_m3 = answer("m3", "in the holder at the end")
    vented_q50_m3 = answer("m3", "let out by the full holder, the median")
    vented_q90_m3 = answer("m3", "nine times in ten at most this much")
    backup_probability = answer("1", "odds that a meal in this step needs the backup")
    slurry_q50_c = answer("Cel", "slurry temperature, the median", digits=2)

    @post_dump(pass_original=True)
    def _add_levels(self, data: dict[str, Any], original: dict[str, Any], **_: Any) -> dict[str, Any]:
        """Quantiles asked for by `levels` go by the same names as the usual ones."""
        extra = {name: value for name, value in original.items() if name not in data}
        return data | {name: None if value is None else round(float(value), 4) for name, value in extra.items()}


class Forecast(Stamp):
    """The series with its quantiles: the rest of today, then whole days, or their hours."""

    step = text("day or hour", one_of=("day", "hour"))
    layout = text("rows or columns", one_of=("rows", "columns"))
    points = many(Point, "one a step; null with layout=columns", allow_none=True)
    columns = fields.Dict(
        keys=fields.String(),
        values=fields.List(fields.Raw()),
        allow_none=True,
        metadata={"description": "with layout=columns one list a field of a point; else null"},
    )
    horizon_d = answer("d", "how far this looks: the rest of today and the whole days asked for", digits=2)

    @post_dump
    def _lay_out(self, data: dict[str, Any], **_: Any) -> dict[str, Any]:
        if data["layout"] == "columns":
            points = data["points"]
            data["columns"] = {name: [point[name] for point in points] for name in points[0]}
            data["points"] = None
        return data
