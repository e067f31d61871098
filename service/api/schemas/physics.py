"""The physics with no household: gases, boiling pans, units."""

from __future__ import annotations

from typing import Any

from marshmallow import ValidationError, validate, validates_schema

from models.burner import MODES
from models.gas import SOURCES, TEST_GASES
from models.iso6976 import COMBUSTION_C, COMPONENTS, METERING_C
from models.pan import SPECIFIC_HEAT_J_PER_KG_K
from service.api.fields import Number, Schema, a_name, answer, fields, flag, many, nested, number, text
from service.api.forms import Form, Forms, at_most_one, either
from service.api.schemas.answers import AsOf, Stamp
from service.api.schemas.description import Rating
from service.usecases.gas_quality import ALIASES


def _one_of(unit: str, description: str, allowed: tuple[float, ...], usual: float) -> Number:
    check = validate.OneOf(allowed, error="choice|is {input}, must be one of {choices}")
    return number(unit, description, validate=check, load_default=usual)


def _texts(description: str) -> fields.List[Any]:
    return fields.List(fields.String(), metadata={"description": description})


Components = Schema.from_dict(
    {
        name: number("mol/mol", f"mole fraction of {ALIASES.get(name, name)}", low=0, high=1)
        for name in (*COMPONENTS, *ALIASES)
    },
    name="Components",
)
"""A composition by formula, summing to 1."""


class Methane(Schema):
    """How a gas of methane and carbon dioxide is known; with nothing said, 60 % with a wide spread."""

    methane_pct = number("%", "methane in the dry gas, the rest carbon dioxide", low=5, high=100, load_default=None)
    methane_sd_pct = number("%", "standard error of methane_pct", low=0, high=30, load_default=0.0)
    carbon_dioxide_pct = number(
        "%", "carbon dioxide by an absorption test, instead of methane_pct", low=0, high=95, load_default=None
    )
    saturated_at_c = number(
        "Cel", "temperature at which the gas is saturated with vapour; null: dry", low=-45, high=60, load_default=None
    )


class GasAsked(Methane):
    """A gas by its composition, its test gas name, its methane share or its carbon dioxide."""

    forms = (
        at_most_one("components", "gas", "methane_pct", "carbon_dioxide_pct"),
        Forms(Form("saturated_at_c", may=("then_at_c",)), needless=True),
    )
    components = nested(Components, "mole fractions by formula, summing to 1", load_default=None)
    gas = text("a test gas by its EN 437 name", one_of=tuple(TEST_GASES), load_default=None)
    hydrogen_sulfide_ppm = number(
        "[ppm]", "hydrogen sulphide beside a methane share", low=0, high=50_000, load_default=0.0
    )
    pressure_kpa = number("kPa", "absolute pressure at which it is saturated", low=20, high=200, load_default=101.325)
    humidity_pct = number("%", "relative humidity at saturated_at_c", low=0, high=100, load_default=100.0)
    then_at_c = number(
        "Cel",
        "temperature that gas saturated at saturated_at_c warms or cools to, for volume_ratio and condensate_l_per_sm3",
        low=-45,
        high=60,
        load_default=None,
    )
    combustion_c = _one_of("Cel", "temperature of combustion of at_reference", COMBUSTION_C, 15.0)
    metering_c = _one_of("Cel", "temperature of metering of at_reference", METERING_C, 15.0)
    state = text("real or ideal gas in at_reference", one_of=("real", "ideal"), load_default="real")

    @validates_schema(skip_on_field_errors=True)
    def _with_water(self, data: dict[str, Any], **_: Any) -> None:
        if data["then_at_c"] is not None and data["humidity_pct"] != 100.0:
            raise ValidationError(
                "humidity|must be 100 beside then_at_c, which takes water to be at hand", "humidity_pct"
            )


class AtReference(Schema):
    """The same gas with its heat and its cubic metre stated at other temperatures, at 101.325 kPa (ISO 6976:2016)."""

    combustion_c = answer("Cel", "temperature of combustion", digits=2)
    metering_c = answer("Cel", "temperature of the cubic metre", digits=2)
    state = text("real or ideal gas", one_of=("real", "ideal"))
    gross_mj_per_m3 = answer("MJ/m3", "gross calorific value by volume", digits=6)
    net_mj_per_m3 = answer("MJ/m3", "net calorific value by volume", digits=6)
    wobbe_gross_mj_per_m3 = answer("MJ/m3", "gross Wobbe index", digits=6)
    wobbe_net_mj_per_m3 = answer("MJ/m3", "net Wobbe index", digits=6)
    relative_density = answer("1", "density relative to dry air", digits=6)
    compression_factor = answer("1", "compression factor", digits=6)
    density_kg_per_m3 = answer("kg/m3", "density", digits=6)
    gross_mj_per_kg = answer("MJ/kg", "gross calorific value by mass", digits=6)
    net_mj_per_kg = answer("MJ/kg", "net calorific value by mass", digits=6)
    gross_kj_per_mol = answer("kJ/mol", "gross calorific value by mole", digits=4)
    net_kj_per_mol = answer("kJ/mol", "net calorific value by mole", digits=4)


class GasQuality(Schema):
    """Heat, density and Wobbe index (ISO 6976:2016), combustion and metering at 15 °C, 101.325 kPa, real gas."""

    gross_mj_per_sm3 = answer("MJ/m3", "gross calorific value", digits=6)
    net_mj_per_sm3 = answer("MJ/m3", "net calorific value", digits=6)
    net_sd_mj_per_sm3 = answer("MJ/m3", "its standard error; null where the composition was stated", digits=6)
    relative_density = answer("1", "density relative to dry air", digits=6)
    wobbe_gross_mj_per_sm3 = answer("MJ/m3", "gross Wobbe index", digits=6)
    wobbe_net_mj_per_sm3 = answer("MJ/m3", "net Wobbe index", digits=6)
    compression_factor = answer("1", "compression factor", digits=6)
    molar_mass_g_per_mol = answer("g/mol", "molar mass, vapour included", digits=5)
    density_kg_per_sm3 = answer("kg/m3", "density, vapour included", digits=6)
    water_vapour_fraction = answer("mol/mol", "water vapour in the gas", digits=7)
    volume_ratio = answer("1", "its volume at then_at_c, of that at saturated_at_c; null: not asked for", digits=5)
    condensate_l_per_sm3 = answer("L/m3", "water that drops out of it on the way; null: not asked for", digits=6)
    methane_pct = answer("%", "methane in the dry gas")
    methane_source = text("how the methane share is known", one_of=(*SOURCES, "composition"))
    stoichiometric_air_m3_per_m3 = answer("m3/m3", "dry air that just burns a cubic metre", digits=5)
    lower_flammable_pct = answer("%", "share of it in air from which on it burns; null: never", digits=2)
    heavier_than_air = flag("whether it sinks in air")
    at_reference = nested(AtReference, "the same at the temperatures asked for")
    cautions = _texts("what to beware of")


class PanAsked(Schema):
    """A pan."""

    name = text("its name")
    mass_kg = number("kg", "its mass; left out: 0.9", low=0, high=50)
    material = text("what it is made of; left out: steel", one_of=tuple(SPECIFIC_HEAT_J_PER_KG_K))
    specific_heat_j_per_kg_k = number("J/(kg.K)", "instead of the material's", low=100, high=5000)
    lid = flag("with its lid on; left out: true")
    diameter_m = number("m", "across the top; left out: 0.22", low=0.05, high=1.5)


class BurnerAsked(Schema):
    """A burner."""

    name = text("its name")
    rating = nested(Rating, "how it is rated", required=True)
    efficiency_pct = number("%", "heat that reaches the pan; left out: 55", low=5, high=100)
    lowest_flame_pct = number("%", "lowest stable flame, of full; left out: 25", low=1, high=100)


class BoilAsked(Methane):
    """A pan on a burner: the burner by its rating, or the heat input as it burns."""

    forms = (
        either("burner", "heat_input_kw", what="what heats the pan"),
        at_most_one("components", "methane_pct", "carbon_dioxide_pct"),
    )
    components = nested(Components, "CH4 and CO2 by mole, summing to 1, instead of methane_pct", load_default=None)
    water_l = number("L", "water", low=0.05, high=100, required=True)
    from_c = number("Cel", "its temperature at the start", low=0, high=100, load_default=15.0)
    burner = nested(BurnerAsked, "the burner, or give heat_input_kw", load_default=None)
    heat_input_kw = number("kW", "net heat input on this gas as it burns", low=0.05, high=50, load_default=None)
    efficiency_pct = number("%", "heat that reaches the pan, before the burner's", low=5, high=100, load_default=None)
    efficiency_from = text(
        "test: from a boil test, which holds the losses of a lidded pan; zero_loss: losses are counted beside it",
        one_of=("test", "zero_loss"),
        load_default="test",
    )
    loss_w_per_k = number(
        "W/K", "loss beside a zero_loss efficiency; null: the pan's own, estimated", low=0, high=100, load_default=None
    )
    pan = nested(PanAsked, "the pan; left out: steel, 0.9 kg, lidded", load_default=dict)
    mode = text("what becomes of the burner on this gas", one_of=MODES, load_default="fixed_injector")
    gauge_kpa = number("kPa", "gas pressure at the burner; null: as it was rated", low=0, high=20, load_default=None)
    gas_c = number("Cel", "temperature of dry gas", low=-45, high=60, load_default=15.0)
    altitude_m = number("m", "height above sea level", low=-430, high=6000, load_default=0.0)
    atmosphere_kpa = number("kPa", "pressure of the air, before altitude_m", low=30, high=110, load_default=None)
    air_c = number("Cel", "temperature of the kitchen", low=-20, high=50, load_default=20.0)


class BoilQuery(AsOf):
    """A pan of water on one of the household's burners."""

    burner = a_name("a burner of the description; left out: its first", load_default=None)
    pan = a_name("a pan of the description; left out: its first", load_default=None)
    water_l = number("L", "water", low=0.05, high=100, required=True, metadata={"query": True})
    from_c = number("Cel", "its temperature at the start", low=0, high=100, load_default=15.0, metadata={"query": True})
    mode = text("what becomes of the burner on this gas", one_of=MODES, load_default="fixed_injector")
    methane_pct = number(
        "%", "methane to reckon with instead of what is known", low=5, high=100, load_default=None,
        metadata={"query": True},
    )  # fmt: skip


class BoilTime(Schema):
    """Minutes to the boil at full flame, and how many more than on undiluted gas."""

    boil_min = answer("min", "to the boil; null where it never boils", digits=3)
    boil_q10_min = answer(
        "min", "nine times in ten at least this long, as gas and burner are not known better", digits=3
    )
    boil_q90_min = answer("min", "nine times in ten at most this long; null where that never boils", digits=3)
    undiluted_boil_min = answer("min", "the same on methane alone", digits=3)
    penalty_min = answer("min", "what the carbon dioxide costs", digits=3)
    penalty_pct = answer("%", "the same, of the time on undiluted gas", digits=2)
    rule_of_thumb_penalty_pct = answer("%", "what the trade's rule says: as much longer as there is carbon dioxide", 2)
    rule_of_thumb_note = text("what would have to be so for the rule to hold")
    heat_input_kw = answer("kW", "net heat input at full flame", digits=6)
    undiluted_heat_input_kw = answer("kW", "the same on methane alone", digits=6)
    mode = text(
        "fixed_injector: nothing is changed; fixed_flow: the tap keeps the volume; resized_injector: made for the gas",
        one_of=MODES,
    )
    efficiency_pct = answer("%", "heat that reaches the pan", digits=2)
    efficiency_from = text("test or zero_loss", one_of=("test", "zero_loss"))
    boiling_point_c = answer("Cel", "at this height", digits=4)
    gas_m3 = answer("m3", "gas burned, as it reaches the burner", digits=6)
    gas_sm3 = answer("m3", "the same, dry at 15 °C and 101.325 kPa", digits=6)
    gas_mj = answer("MJ", "the same as net heat", digits=5)
    simmer_min_flame_pct = answer("%", "lowest flame that holds the boil; null: none does", digits=2)
    never_boils = flag("whether the pan loses all the heat it gets before it boils, or takes more than a day to")
    methane_pct = answer("%", "methane reckoned with", digits=2)
    methane_source = text("how that is known", one_of=(*SOURCES, "asked"))
    burner = text("the burner")
    pan = text("the pan")
    cautions = _texts("what to beware of")


class BoilAnywhere(BoilTime):
    """The same with no household."""

    summary = text("one plain sentence")


class HouseholdBoilTime(Stamp, BoilTime):
    """The same on a household's gas as it is now."""


class Unit(Schema):
    """What the end of a name means."""

    suffix = text("end of the name")
    ucum = text("UCUM code")
    meaning = text("what it stands for")


class Units(Schema):
    """Units and reference states of this contract."""

    standard_temperature_c = answer("Cel", "of a standard cubic metre, sm3", digits=2)
    standard_pressure_kpa = answer("kPa", "of a standard cubic metre, sm3")
    standard_source = text("where that state comes from")
    units = many(Unit, "by the end of a name")
    readings = fields.Dict(
        keys=fields.String(),
        values=fields.List(fields.String()),
        metadata={"description": "units that each quantity of the log may come in, UCUM"},
    )
    quantiles = text("how quantiles are named", longest=400)
    unknown_figures = text("how an unknown figure is told", longest=400)
    times = text("how times are written", longest=400)
