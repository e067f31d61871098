"""What a household says about itself: description, meals, one-off changes and the posted weather."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from marshmallow import ValidationError, post_dump, validate, validates_schema

from models.fuels import FUELS
from models.gas import TEST_GASES
from service.api.fields import Schema, a_name, clock_time, day, flag, listed, many, moment, nested, number, text
from service.api.forms import Form, Forms, at_most_one, either

LONGEST_ABSENCE = timedelta(days=366)


class Given(Schema):
    """A document stored as given: a field left out stays out, so that defaults stay in one place."""

    @post_dump
    def _drop_unset(self, data: dict[str, Any], **_: Any) -> dict[str, Any]:
        return {name: value for name, value in data.items() if value is not None}


class Site(Given):
    """Where the digester stands."""

    altitude_m = number("m", "height above sea level", low=-430, high=6000, required=True)
    latitude_deg = number("deg", "latitude, north positive", low=-90, high=90, required=True)
    monthly_mean_c = listed(
        "Cel",
        "usual mean air temperature of each month, January first",
        number("Cel", "usual mean air temperature of a month", low=-50, high=50),
        required=True,
        validate=validate.Length(equal=12, error="length|must be twelve temperatures, January first"),
    )


class Gas(Given):
    """What is known of the gas."""

    methane_pct = number("%", "methane in the dry gas; left out: 60 with a wide spread", low=20, high=100)
    methane_sd_pct = number("%", "standard error of methane_pct; left out: 3", low=0.1, high=15)
    hydrogen_sulfide_ppm = number("[ppm]", "hydrogen sulphide by volume; left out: 0", low=0, high=20000)


class Holder(Given):
    """The gas holder; its pressures in kPa, in mm of water, or the usual one by the weights on it."""

    capacity_m3 = number("m3", "wet gas it holds when full", low=0.05, high=50, required=True)
    reserve_m3 = number("m3", "wet gas never planned with; left out: 0", low=0, high=50)
    gauge_kpa = number("kPa", "usual gauge pressure; left out: 0.6", low=0.05, high=10)
    gauge_mm_h2o = number("mm[H2O]", "the same as a column of water, instead of gauge_kpa", low=6, high=1000)
    weight_kg = number(
        "kg",
        "weights on the holder with what they lie on, instead of gauge_kpa; with weight_area_m2",
        low=0.1,
        high=5000,
    )
    weight_area_m2 = number("m2", "level area that carries weight_kg", low=0.05, high=500)
    relief_kpa = number(
        "kPa", "gauge pressure at which it vents; left out: 0.980665 (100 mm of water)", low=0.1, high=20
    )
    relief_mm_h2o = number("mm[H2O]", "the same as a column of water, instead of relief_kpa", low=11, high=2000)
    level_error_pct = number("%", "standard error of one look at the gauge, of capacity; left out: 4", low=0.1, high=25)
    gauge_points = listed(
        "%, m3",
        "what the gauge means: [level %, volume m3] pairs, rising; left out: proportional",
        listed(
            "%, m3",
            "one point",
            number("1", "level [%], then volume [m3]"),
            validate=validate.Length(equal=2, error="length|must be [level %, volume m3]"),
        ),
        validate=validate.Length(min=2, max=50, error="length|must be 2 to 50 points"),
    )

    forms = (
        Forms(Form("gauge_kpa"), Form("gauge_mm_h2o"), Form("weight_kg", "weight_area_m2"), needless=True),
        at_most_one("relief_kpa", "relief_mm_h2o"),
    )


class Digester(Given):
    """One digester."""

    name = a_name("its name", required=True)
    liquid_m3 = number("m3", "slurry in it", low=0.05, high=100, required=True)
    usual_feed_kg_per_d = number("kg/d", "fresh feed on a usual day", low=0, high=500, required=True)
    usual_water_l_per_d = number("L/d", "water added with the feed; left out: 0", low=0, high=5000)
    feedstock = text("what it is fed; left out: kitchen scraps")
    sensor = text("where the slurry thermometer sits; left out: inside", one_of=("inside", "outside_wall"))
    started_on = day(
        "the day it was first filled; left out: not known. Once every digester has one, readings taken before the "
        "first of these days are refused, but for the air's temperature"
    )


class Rating(Given):
    """How a burner is rated: by its heat on a known gas, its flow of a known gas, or its injector."""

    forms = (
        Forms(
            Form("heat_input_kw", "methane_pct"),
            Form("heat_input_kw", "gas"),
            Form("gas_flow_l_per_h", "methane_pct", may=("gas",)),
            Form("injector_mm", may=("methane_pct", "gas")),
            what="how the burner is rated",
        ),
    )
    heat_input_kw = number(
        "kW",
        "heat input (net) on the gas given, dry at 15 °C, behind gauge_kpa into air of 101.325 kPa",
        low=0.1,
        high=50,
    )
    gas_flow_l_per_h = number(
        "L/h",
        "gas of methane_pct burned behind gauge_kpa, stated as dry gas at 15 °C and 101.325 kPa (1000 L = 1 sm3)",
        low=10,
        high=20000,
    )
    injector_mm = number("mm", "bore of the injector", low=0.2, high=10)
    discharge_coefficient = number("1", "of the injector; left out: 0.9", low=0.3, high=1)
    methane_pct = number("%", "methane in the gas it was rated on", low=20, high=100)
    gas = text("test gas it was rated on, by its EN 437 name", one_of=tuple(TEST_GASES))
    gauge_kpa = number("kPa", "gauge pressure it was rated at", low=0.05, high=20, required=True)


class Burner(Given):
    """One burner."""

    name = a_name("its name", required=True)
    rating = nested(Rating, "how it is rated", required=True)
    efficiency_pct = number("%", "heat that reaches the pan in a boil test; left out: 55", low=5, high=95)
    lowest_flame_pct = number("%", "lowest stable flame, of full; left out: 25", low=1, high=100)


class Pan(Given):
    """One pan."""

    name = a_name("its name", required=True)
    mass_kg = number("kg", "its mass", low=0.05, high=50, required=True)
    material = text(
        "what it is made of; left out: steel",
        one_of=("steel", "aluminium", "enamel", "cast_iron", "copper", "glass", "clay"),
    )
    lid = flag("cooked with its lid on; left out: true")
    diameter_m = number("m", "across the top; left out: 0.22", low=0.05, high=1.5)


class Backup(Given):
    """What cooks when the gas does not."""

    fuel = text("what it burns; electric is a resistance plate; left out: lpg", one_of=tuple(FUELS))
    on_hand_kg = number("kg", "fuel in the house; left out: not known", low=0, high=2000)
    on_hand_at = moment("when that was so; logged backup_used since then is taken off; left out: it is so now")
    lead_d = number("d", "days from order to delivery; left out: 0", low=0, high=90)
    efficiency_pct = number("%", "heat that reaches the pan; left out: usual for the fuel", low=5, high=100)


class Description(Given):
    """A household's description."""

    label = text("what to call it")
    time_zone = text("IANA name of its time zone", required=True)
    care_level = number(
        "1", "quantile decisions are made on; left out: 0.1, right nine times in ten", low=0.01, high=0.5
    )
    site = nested(Site, "where the digester stands", required=True)
    gas = nested(Gas, "what is known of the gas")
    holder = nested(Holder, "the gas holder", required=True)
    digesters = many(Digester, "the digesters on this holder", filled=True, required=True)
    burners = many(Burner, "the burners", filled=True, required=True)
    pans = many(Pan, "the pans")
    backup = nested(Backup, "the backup fuel")
    changed_on = listed(
        "{date}",
        "days on which insulation, a restart or another digester changed how much gas is made",
        day("a day on which something was altered"),
    )


class Boil(Schema):
    """Bring water to the boil."""

    water_l = number("L", "water", low=0.05, high=100, required=True)
    from_c = number("Cel", "its temperature at the start; left out: 15", low=0, high=99)


class Step(Given):
    """One step of a dish: exactly one of boil, simmer_min, fry_min."""

    forms = (either("boil", "simmer_min", "fry_min", what="what this step does"),)
    boil = nested(Boil, "bring water to the boil")
    simmer_min = number("min", "hold the boil on the lowest flame that does", low=0.5, high=1440)
    fry_min = number("min", "at a given flame", low=0.5, high=1440)
    flame_pct = number("%", "flame while frying, of full; left out: 100", low=2, high=100)


class Dish(Given):
    """What one burner cooks for a meal."""

    burner = a_name("the burner it stands on", required=True)
    pan = a_name("the pan it cooks in")
    steps = many(Step, "what is done, in order", filled=True, required=True)


class Meal(Given):
    """A recurring meal; what it burns is given as flame minutes on a burner, or as dishes."""

    forms = (Forms(Form("burner", "flame_min", may=("flame_pct",)), Form("dishes"), what="what this meal burns"),)
    name = a_name("its name", required=True)
    starts_on = day("the first day it may be cooked", required=True)
    time = clock_time("local time it starts", required=True)
    rrule = text(
        "RFC 5545 recurrence (FREQ=DAILY or WEEKLY; BYDAY, INTERVAL, UNTIL, COUNT); left out: only starts_on and rdates"
    )
    exdates = listed("{date}", "days left out", day("a day left out"))
    rdates = listed("{date}", "extra days", day("an extra day"))
    burner = a_name("burner it is cooked on")
    flame_min = number("min", "minutes of flame", low=0.5, high=1440)
    flame_pct = number("%", "flame, of full; left out: 100", low=2, high=100)
    movable = flag("may the plan move it; left out: false")
    dishes = many(Dish, "the dishes, instead of burner, flame_min and flame_pct", filled=True)


class NamedMeal(Meal):
    """A meal whose name the path gives."""

    name = a_name("its name, as in the path")


class Override(Given):
    """A one-off change: one meal on one date, or an absence from a date to a date, without meals and feed."""

    forms = (
        Forms(
            Form("date", "meal", "factor"),
            Form("date", "meal", "skip"),
            Form("from", "to"),
            what="what is to change",
        ),
    )
    id = a_name("its id, given by the server where left out")
    date = day("the day")
    meal = a_name("the meal")
    factor = number("1", "how much of the usual is cooked, 1.6 for guests", low=0, high=20)
    skip = flag("the meal is not cooked")
    first = day(
        "first day away: until `to` no meal is cooked, and the digester fed only where a reading says so",
        data_key="from",
    )
    last = day("last day away, at most 366 days after `from`", data_key="to")

    @validates_schema(skip_on_field_errors=True)
    def _in_order(self, data: dict[str, Any], **_: Any) -> None:
        if not {"first", "last"} <= set(data):
            return
        first, last = data["first"], data["last"]
        if last < first:
            raise ValidationError("order|is before from; exchange the two", "to")
        if last - first > LONGEST_ABSENCE:
            message = f"is {last}, more than a year after from; look at the year, or send a longer absence in parts"
            raise ValidationError(f"range|{message}", "to")


class WeatherDay(Given):
    """The forecast of one day."""

    date = day("the day", required=True)
    mean_c = number("Cel", "mean air temperature", low=-60, high=60, required=True)
    min_c = number("Cel", "lowest air temperature, at most mean_c", low=-60, high=60)
    max_c = number("Cel", "highest air temperature, at least mean_c", low=-60, high=60)

    @validates_schema(skip_on_field_errors=True)
    def _in_order(self, data: dict[str, Any], **_: Any) -> None:
        mean_c = data["mean_c"]
        if data.get("min_c", mean_c) > mean_c:
            message = f"is {data['min_c']:g}, must be at most mean_c, {mean_c:g}; mend the one that is wrong, or leave "
            raise ValidationError(f"order|{message}min_c out", "min_c")
        if data.get("max_c", mean_c) < mean_c:
            message = (
                f"is {data['max_c']:g}, must be at least mean_c, {mean_c:g}; mend the one that is wrong, or leave "
            )
            raise ValidationError(f"order|{message}max_c out", "max_c")
