"""Heat input on another gas, pressure or height, by each way to rate a burner and each mode."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from models.burner import (
    MODES,
    Burner,
    GasFlowRating,
    GasSupply,
    HeatInputRating,
    InjectorRating,
    gas_flow_sm3_per_h,
    heat_input_kw,
    injector_flow_m3_per_h,
)
from models.cautions import heavier_than_air_below
from models.errors import Inconsistent, OutOfRange
from models.fuels import fuel
from models.gas import biogas, net_mj_per_sm3, stoichiometric_air_m3_per_m3
from models.iso6976 import mixture, properties
from models.moisture import atmosphere_pa

SEA_LEVEL_PA = 101_325.0
HOUSEHOLD = Burner(name="ring", rating=HeatInputRating(heat_input_kw=2.2, methane_fraction=0.6, gauge_pa=800.0))

fractions = st.floats(0.2, 0.99)
pressures = st.floats(100.0, 3000.0)


def on_methane(gauge_pa: float, heat_kw: float = 1.0) -> Burner:
    return Burner(name="ring", rating=HeatInputRating(heat_input_kw=heat_kw, gas="G20", gauge_pa=gauge_pa))


def rated(**changed: float) -> HeatInputRating:
    return HeatInputRating(**({"heat_input_kw": 1.0, "methane_fraction": 0.6, "gauge_pa": 800.0} | changed))


def flowing(**changed: float) -> GasFlowRating:
    return GasFlowRating(**({"gas_flow_l_per_h": 400.0, "methane_fraction": 0.6, "gauge_pa": 800.0} | changed))


def bored(**changed: float) -> InjectorRating:
    return InjectorRating(**({"injector_mm": 1.0, "gauge_pa": 800.0, "discharge_coefficient": 0.9} | changed))


def supply(methane: object = 0.6, gauge_pa: object = 800.0, **changed: object) -> GasSupply:
    plain = {"atmosphere_pa": SEA_LEVEL_PA, "temperature_c": 15.0, "humidity": 0.0}
    return GasSupply(methane_fraction=methane, gauge_pa=gauge_pa, **(plain | changed))


def test_heat_input_matches_the_published_figures(published, agree) -> None:
    table = published("burner_heat")
    found = [
        heat_input_kw(
            on_methane(row.rated_gauge_pa, row.rated_kw),
            supply(
                row.methane_fraction,
                row.gauge_pa,
                atmosphere_pa=atmosphere_pa(row.altitude_m),
                temperature_c=row.temperature_c,
                humidity=row.humidity,
            ),
            row.mode,
        )
        for row in table.itertuples()
    ]

    agree(table, found)


def test_flows_and_densities_match_the_published_figures(published, agree) -> None:
    table = published("gas_flow_and_density").set_index("quantity", drop=False)
    warm = {"temperature_c": 30.0}
    rating = GasFlowRating(gas_flow_l_per_h=400.0, methane_fraction=0.6, gauge_pa=800.0)
    found = {
        "wet_ratio": heat_input_kw(HOUSEHOLD, supply(**warm, humidity=1.0)) / heat_input_kw(HOUSEHOLD, supply(**warm)),
        "injector_m3_per_h": injector_flow_m3_per_h(2.0, supply=supply()),
        "stoichiometric_air": stoichiometric_air_m3_per_m3(biogas(1.0)),
        "flow_rating_kw": rating.heat_input_kw,
        "heavier_than_air_below": heavier_than_air_below(),
        "methane_density": properties(mixture({"CH4": 1.0})).density_kg_per_m3,
        "liquid_propane_kg_per_l": fuel("propane").liquid_kg_per_l,
    }

    agree(table, [found[quantity] for quantity in table.index])


def test_seventy_thirty_gas_on_one_injector_and_at_one_flow() -> None:
    """The ratios follow from ISO 6976:2016: Wobbe index for one injector, calorific value for one flow."""
    injector, flow = (heat_input_kw(on_methane(800.0), supply(0.7), mode) for mode in ("fixed_injector", "fixed_flow"))

    assert round(float(injector), 4) == 0.5675
    assert round(float(flow), 4) == 0.7006
    assert round(100.0 / float(injector) - 100.0) == 76
    assert round(100.0 / float(flow) - 100.0) == 43


def test_an_injector_made_for_the_gas_meets_the_rating() -> None:
    assert heat_input_kw(HOUSEHOLD, supply([0.5, 0.7], [500.0, 900.0]), "resized_injector").tolist() == [2.2, 2.2]


def test_the_rated_supply_gives_the_rated_heat_in_every_mode() -> None:
    for mode in MODES:
        assert heat_input_kw(HOUSEHOLD, supply(), mode) == pytest.approx(2.2)


def test_a_flow_rating_burns_the_flow_it_states() -> None:
    burner = Burner(name="ring", rating=GasFlowRating(gas_flow_l_per_h=400.0, methane_fraction=0.6, gauge_pa=800.0))

    assert gas_flow_sm3_per_h(burner, supply()) == pytest.approx(0.4)
    assert heat_input_kw(burner, supply()) == pytest.approx(0.4 * net_mj_per_sm3(0.6) / 3.6)


def test_an_injector_passes_what_the_orifice_law_says() -> None:
    burner = Burner(name="ring", rating=InjectorRating(injector_mm=2.0, gauge_pa=800.0))
    here = supply(0.6)
    by_hand = injector_flow_m3_per_h(2.0, supply=here) * (1.0 + 800.0 / SEA_LEVEL_PA) * net_mj_per_sm3(0.6) / 3.6

    # the volume before the injector is turned to standard as an ideal gas, the rating as a real one
    assert heat_input_kw(burner, here) == pytest.approx(by_hand, rel=2e-4)


@given(fractions, st.floats(1e-3, 0.01), pressures, st.sampled_from(["fixed_injector", "fixed_flow"]))
def test_more_methane_gives_more_heat(methane: float, more: float, gauge_pa: float, mode) -> None:
    poor, rich = heat_input_kw(HOUSEHOLD, supply([methane, methane + more], gauge_pa, humidity=1.0), mode)

    assert rich > poor


@given(fractions, pressures, st.floats(1.01, 4.0))
def test_heat_goes_with_the_root_of_pressure(methane: float, gauge_pa: float, times: float) -> None:
    one, more = heat_input_kw(HOUSEHOLD, supply(methane, [gauge_pa, gauge_pa * times]))

    # the air's share of the absolute pressure moves the root law by less than the gauge pressure's share of it
    assert more / one == pytest.approx(np.sqrt(times), rel=0.05)
    assert more > one


@given(fractions, st.floats(0.0, 5000.0), st.floats(10.0, 900.0), st.sampled_from(["fixed_injector", "fixed_flow"]))
def test_heat_falls_with_height(methane: float, altitude_m: float, more_m: float, mode) -> None:
    air = atmosphere_pa([altitude_m, altitude_m + more_m])
    low, high = heat_input_kw(HOUSEHOLD, supply(methane, atmosphere_pa=air, humidity=1.0), mode)

    assert high < low


@given(fractions, st.floats(-20.0, 50.0), pressures)
def test_moist_gas_gives_less_than_dry(methane: float, temperature_c: float, gauge_pa: float) -> None:
    moist, dry = heat_input_kw(HOUSEHOLD, supply(methane, gauge_pa, temperature_c=temperature_c, humidity=[1.0, 0.0]))

    assert moist < dry


@given(fractions, pressures, st.floats(0.5, 3.0))
def test_heat_goes_with_the_rating_and_with_the_square_of_the_bore(
    methane: float, gauge_pa: float, bore: float
) -> None:
    ratings = [InjectorRating(injector_mm=size, gauge_pa=800.0) for size in (bore, 2.0 * bore)]
    narrow, wide = (heat_input_kw(Burner(name="r", rating=one), supply(methane, gauge_pa)) for one in ratings)
    single, double = (heat_input_kw(on_methane(800.0, kw), supply(methane, gauge_pa)) for kw in (1.0, 2.0))

    assert wide == pytest.approx(4.0 * narrow)
    assert double == pytest.approx(2.0 * single)


def test_no_pressure_gives_no_heat() -> None:
    assert heat_input_kw(HOUSEHOLD, supply(gauge_pa=0.0)) == 0.0


@pytest.mark.parametrize("mode", MODES)
def test_shapes_go_through(mode) -> None:
    assert heat_input_kw(HOUSEHOLD, supply(), mode).shape == ()
    assert heat_input_kw(HOUSEHOLD, supply([0.5, 0.6]), mode).shape == (2,)
    assert gas_flow_sm3_per_h(HOUSEHOLD, supply([[0.5], [0.6]], temperature_c=[10.0, 20.0, 30.0]), mode).shape == (2, 3)


def test_the_published_flow_of_household_burners_holds(published) -> None:
    table = published("cooking_practice").set_index("quantity")
    sm3_per_h = float(gas_flow_sm3_per_h(HOUSEHOLD, supply()))

    for quantity in ("household_burner_l_per_h", "measured_burner_l_per_h"):
        row = table.loc[quantity]
        assert row.low <= 1e3 * sm3_per_h <= row.high


@pytest.mark.parametrize(
    ("build", "field", "low", "high"),
    [
        (lambda v: rated(heat_input_kw=v), "heat_input_kw", 0.04, 51.0),
        (lambda v: rated(gauge_pa=v), "gauge_pa", 49.0, 20_001.0),
        (lambda v: rated(methane_fraction=v), "methane_fraction", 0.04, 1.1),
        (lambda v: flowing(gas_flow_l_per_h=v), "gas_flow_l_per_h", 4.0, 20_001.0),
        (lambda v: flowing(methane_fraction=v), "methane_fraction", 0.04, 1.1),
        (lambda v: flowing(gauge_pa=v), "gauge_pa", 49.0, 20_001.0),
        (lambda v: bored(injector_mm=v), "injector_mm", 0.1, 10.1),
        (lambda v: bored(gauge_pa=v), "gauge_pa", 49.0, 20_001.0),
        (lambda v: bored(discharge_coefficient=v), "discharge_coefficient", 0.29, 1.1),
        (lambda v: replace(HOUSEHOLD, efficiency=v), "efficiency", 0.04, 1.01),
        (lambda v: replace(HOUSEHOLD, useful_sd=v), "useful_sd", -0.01, 1.01),
        (lambda v: replace(HOUSEHOLD, lowest_flame_fraction=v), "lowest_flame_fraction", 0.009, 1.1),
        (lambda v: supply(methane=v), "methane_fraction", -0.1, 1.1),
        (lambda v: supply(gauge_pa=v), "gauge_pa", -1.0, 20_001.0),
        (lambda v: supply(atmosphere_pa=v), "atmosphere_pa", 29_999.0, 110_001.0),
        (lambda v: supply(temperature_c=v), "temperature_c", -46.0, 61.0),
        (lambda v: supply(humidity=v), "humidity", -0.1, 1.1),
        (lambda v: injector_flow_m3_per_h(v, supply=supply()), "injector_mm", 0.1, 10.1),
        (
            lambda v: injector_flow_m3_per_h(1.0, supply=supply(), discharge_coefficient=v),
            "discharge_coefficient", 0.29, 1.1,
        ),
    ],
)  # fmt: skip
def test_both_ends_of_every_range_are_refused(build, field: str, low: float, high: float) -> None:
    for value in (low, high):
        with pytest.raises(OutOfRange, match=f"{field} is .*, must be .* to "):
            build(value)


@pytest.mark.parametrize("gas", [{}, {"gas": "G20", "methane_fraction": 0.6}])
def test_a_heat_input_names_its_gas_in_one_way(gas: dict[str, object]) -> None:
    with pytest.raises(Inconsistent, match="either by methane_fraction or by gas"):
        HeatInputRating(heat_input_kw=1.0, gauge_pa=800.0, **gas)


def test_unknown_gases_and_modes_are_refused_with_the_known_ones() -> None:
    with pytest.raises(OutOfRange, match=r"gas is G1, must be one of G20"):
        HeatInputRating(heat_input_kw=1.0, gauge_pa=800.0, gas="G1")
    with pytest.raises(OutOfRange, match="mode is wider, must be one of fixed_injector, fixed_flow, resized_injector"):
        heat_input_kw(HOUSEHOLD, supply(), "wider")
