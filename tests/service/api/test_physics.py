"""The physics over HTTP: with a household, and with none."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from flask.testing import FlaskClient

from service.api.examples import DESCRIPTION
from service.api.examples_physics import BOIL, BOIL_ASKED, GAS, GAS_ASKED
from service.api.schemas import physics
from tests.service.api.support import BASE, NOW, faults, reading, strict

RATED: dict[str, Any] = {"rating": {"heat_input_kw": 2.5, "gas": "G20", "gauge_kpa": 2.0}}
RATINGS = (
    "exactly one of these: heat_input_kw and methane_pct; or heat_input_kw and gas; "
    "or gas_flow_l_per_h and methane_pct; or injector_mm"
)


def post(client: FlaskClient, path: str, **asked: Any) -> dict[str, Any]:
    answer = client.post(f"/v1/{path}", json=asked)
    assert answer.status_code == 200, answer.get_data(as_text=True)
    body: dict[str, Any] = strict(answer.get_data(as_text=True))
    return body


def get(client: FlaskClient, query: str) -> dict[str, Any]:
    answer = client.get(f"{BASE}/boil-time?{query}")
    assert answer.status_code == 200, answer.get_data(as_text=True)
    body: dict[str, Any] = strict(answer.get_data(as_text=True))
    return body


def test_the_examples_are_what_the_service_says(vacant: FlaskClient) -> None:
    assert post(vacant, "gas-quality", **GAS_ASKED) == GAS
    assert post(vacant, "boil-time", **BOIL_ASKED) == BOIL


def test_a_composition_gives_the_standards_figures(vacant: FlaskClient) -> None:
    """ISO 6976:2016, annex D.2, to the printed digits."""
    shares = {"CH4": 0.933212, "C2H6": 0.025656, "C3H8": 0.015368, "N2": 0.010350, "CO2": 0.015414}

    assert post(vacant, "gas-quality", components=shares)["gross_mj_per_sm3"] == 38.410611


def test_another_reference_state_is_told_beside_the_standard_one(vacant: FlaskClient) -> None:
    """ISO 6976:2016: methane's net value at 25 °C and 0 °C is 35.8917 MJ/m3."""
    told = post(vacant, "gas-quality", components={"CH4": 1.0}, combustion_c=25, metering_c=0)

    assert told["at_reference"]["net_mj_per_m3"] == pytest.approx(35.8917, abs=5e-5)
    assert told["net_mj_per_sm3"] == pytest.approx(34.0134, abs=5e-5)


def test_vapour_is_counted_at_the_temperature_and_pressure_given(vacant: FlaskClient) -> None:
    dry = post(vacant, "gas-quality", methane_pct=60)
    wet = post(vacant, "gas-quality", methane_pct=60, saturated_at_c=30, pressure_kpa=101.925)

    assert wet["water_vapour_fraction"] == pytest.approx(0.0416648, abs=5e-7)  # IAPWS-IF97
    assert wet["net_mj_per_sm3"] == pytest.approx(dry["net_mj_per_sm3"] * (1 - 0.0416648), rel=1e-6)
    half = post(vacant, "gas-quality", methane_pct=60, saturated_at_c=30, pressure_kpa=101.925, humidity_pct=50)
    assert half["water_vapour_fraction"] == pytest.approx(wet["water_vapour_fraction"] / 2, abs=1e-7)


def test_saturated_gas_swells_in_the_afternoon_and_drops_water_at_night(vacant: FlaskClient) -> None:
    """Ideal gas with Dalton's law, vapour by IAPWS-IF97: 13.8 % from 10 to 35 °C at 5 mbar."""
    day, night = (
        post(vacant, "gas-quality", methane_pct=60, saturated_at_c=one, then_at_c=other, pressure_kpa=101.825)
        for one, other in ((10, 35), (35, 10))
    )

    assert day["volume_ratio"] == pytest.approx(1.13808, abs=5e-6)
    assert day["volume_ratio"] * night["volume_ratio"] == pytest.approx(1.0, abs=1e-5)
    # vapour of 5.629 and 1.228 kPa; 42.29 mol of dry gas to the cubic metre, 18.015 g to the mole of water
    dropped = 42.29e-3 * 18.015 * (5.629 / (101.825 - 5.629) - 1.228 / (101.825 - 1.228))
    assert night["condensate_l_per_sm3"] == pytest.approx(dropped, rel=1e-3)
    assert day["condensate_l_per_sm3"] == 0.0
    assert post(vacant, "gas-quality", saturated_at_c=35)["volume_ratio"] is None


def test_a_gas_may_be_known_in_several_ways(vacant: FlaskClient) -> None:
    by_test = post(vacant, "gas-quality", carbon_dioxide_pct=40)
    by_meter = post(vacant, "gas-quality", methane_pct=60, methane_sd_pct=2)
    unknown = post(vacant, "gas-quality")
    butane = post(vacant, "gas-quality", gas="G30")
    by_alias = post(vacant, "gas-quality", components={"nC4": 0.5, "iC4": 0.5})

    assert by_test["net_mj_per_sm3"] == by_meter["net_mj_per_sm3"] == unknown["net_mj_per_sm3"]
    assert by_meter["net_sd_mj_per_sm3"] < by_test["net_sd_mj_per_sm3"] < unknown["net_sd_mj_per_sm3"]
    assert [one["methane_source"] for one in (by_test, by_meter, unknown, butane)] == [
        "carbon_dioxide", "described", "default", "composition"
    ]  # fmt: skip
    assert butane["net_mj_per_sm3"] == by_alias["net_mj_per_sm3"]
    assert butane["heavier_than_air"] is True


def test_hydrogen_sulphide_is_cautioned_against(vacant: FlaskClient) -> None:
    told = post(vacant, "gas-quality", methane_pct=60, hydrogen_sulfide_ppm=800)

    assert any("800 ppm of hydrogen sulphide" in caution for caution in told["cautions"])


@pytest.mark.parametrize(
    ("asked", "status", "pointer", "message"),
    [
        ({"components": {"CH4": 60, "CO2": 40}}, 400, "/components/CH4", "CH4 is 60.0, must be 0 to 1"),
        ({"components": {"CH4": 0.6}}, 422, "/components", "components sum to 0.6, must sum to 1"),
        ({"components": {"Xe": 1.0}}, 400, "/components/Xe", "Xe is not a field here"),
        ({"components": {}}, 422, "/components", "components sum to 0, must sum to 1"),
        ({"components": {"nC4": 0.5, "nC4H10": 0.5}}, 422, "/components", "components names nC4H10 twice"),
        (
            {"methane_pct": 60, "gas": "G20"},
            400,
            "/methane_pct",
            "methane_pct cannot stand beside gas; give at most one of these",
        ),
        ({"gas": "G99"}, 400, "/gas", "gas is G99, must be one of G20"),
        ({"combustion_c": 18}, 400, "/combustion_c", "combustion_c is 18.0, must be one of 0.0, 15.0"),
        ({"saturated_at_c": 61}, 400, "/saturated_at_c", "saturated_at_c is 61.0, must be -45 to 60"),
        ({"saturated_at_c": 60, "pressure_kpa": 20}, 422, "/saturated_at_c", "more vapour than gas, must be lower"),
        ({"then_at_c": 10}, 400, "/saturated_at_c", "saturated_at_c is missing; then_at_c says nothing without it"),
        ({"then_at_c": 61, "saturated_at_c": 35}, 400, "/then_at_c", "then_at_c is 61.0, must be -45 to 60"),
        (
            {"then_at_c": 10, "saturated_at_c": 35, "humidity_pct": 50},
            400,
            "/humidity_pct",
            "humidity_pct must be 100 beside then_at_c",
        ),
        ({"components": [0.6, 0.4]}, 400, "/components", "components must be a JSON object"),
        ({"octane": 95}, 400, "/octane", "octane is not a field here"),
    ],
)
def test_what_is_no_gas_is_refused_with_the_way_out(
    vacant: FlaskClient, asked: dict[str, Any], status: int, pointer: str, message: str
) -> None:
    answer = vacant.post("/v1/gas-quality", json=asked)

    assert answer.status_code == status
    assert message in faults(answer)[pointer]


@pytest.mark.parametrize(("mode", "longer_pct"), [("fixed_injector", 76), ("fixed_flow", 43), ("resized_injector", 0)])
def test_dilution_costs_what_the_mode_leaves(vacant: FlaskClient, mode: str, longer_pct: int) -> None:
    told = post(vacant, "boil-time", water_l=2, methane_pct=70, burner=RATED, mode=mode)

    assert round(told["penalty_pct"]) == longer_pct
    assert told["rule_of_thumb_penalty_pct"] == 30.0
    assert "times the pressure" in told["rule_of_thumb_note"]


def test_a_burner_on_other_gas_and_pressure(vacant: FlaskClient) -> None:
    """2.5 kW on methane at 20 mbar is 0.7286 kW on 60 % methane at 8 mbar (Wobbe index and root of pressure)."""
    told = post(vacant, "boil-time", water_l=2, from_c=20, methane_pct=60, gauge_kpa=0.8, burner=RATED)

    assert told["heat_input_kw"] == pytest.approx(0.728634, rel=1e-5)
    assert "Only a licensed fitter" in told["cautions"][0]


@pytest.mark.parametrize(
    ("rating", "heat_kw"),
    [
        # 400 L/h, dry at 15 °C, of 60 % methane: flow times net calorific value (ISO 6976:2016)
        ({"gas_flow_l_per_h": 400, "methane_pct": 60}, 2.27039),
        # 2 mm pass 0.377338 m3/h at 8 mbar (orifice law, density by an equation of state), 0.8 kPa above the air
        ({"injector_mm": 2}, 0.377338 * (1 + 0.8 / 101.325) * 20.4335 / 3.6),
    ],
)
def test_a_burner_may_be_rated_by_its_flow_or_its_bore(
    vacant: FlaskClient, rating: dict[str, float], heat_kw: float
) -> None:
    told = post(vacant, "boil-time", water_l=2, methane_pct=60, burner={"rating": rating | {"gauge_kpa": 0.8}})

    assert told["heat_input_kw"] == pytest.approx(heat_kw, rel=5e-4)
    assert told["cautions"] == []


@pytest.mark.parametrize(
    ("rating", "pointer", "message"),
    [
        ({}, "/burner/rating/heat_input_kw", f"nothing says how the burner is rated: give {RATINGS}"),
        ({"heat_input_kw": 2, "injector_mm": 1}, "/burner/rating/injector_mm", "cannot stand beside heat_input_kw"),
        (
            {"heat_input_kw": 2},
            "/burner/rating/methane_pct",
            f"heat_input_kw alone does not say how the burner is rated: give {RATINGS}",
        ),
        ({"heat_input_kw": 2, "gas": "G20", "methane_pct": 60}, "/burner/rating/gas", f"methane_pct; give {RATINGS}"),
        ({"gas_flow_l_per_h": 400}, "/burner/rating/methane_pct", "gas_flow_l_per_h says nothing without it"),
    ],
)
def test_a_rating_that_says_too_much_or_too_little_is_refused(
    vacant: FlaskClient, rating: dict[str, Any], pointer: str, message: str
) -> None:
    answer = vacant.post("/v1/boil-time", json={"water_l": 2, "burner": {"rating": rating | {"gauge_kpa": 0.8}}})

    assert answer.status_code == 400
    assert message in faults(answer)[pointer]


def test_a_pot_with_losses_follows_the_closed_form(vacant: FlaskClient) -> None:
    """Closed form with boiling point by IAPWS-IF97: 526.321 s."""
    told = post(
        vacant, "boil-time",
        water_l=2, from_c=20, air_c=20, heat_input_kw=1.5, efficiency_pct=100, efficiency_from="zero_loss",
        loss_w_per_k=4.0, pan={"mass_kg": 0.45, "specific_heat_j_per_kg_k": 900},
    )  # fmt: skip

    assert told["boil_min"] * 60 == pytest.approx(526.321, abs=0.05)
    assert told["heat_input_kw"] == 1.5


def test_a_pot_that_never_boils_says_so_in_null(vacant: FlaskClient) -> None:
    told = post(
        vacant, "boil-time", water_l=2, heat_input_kw=0.4, efficiency_from="zero_loss", pan={"lid": False}
    )  # fmt: skip

    assert told["never_boils"] is True
    assert told["boil_min"] is told["gas_m3"] is told["penalty_pct"] is told["simmer_min_flame_pct"] is None
    assert "never boil" in told["summary"]


@pytest.mark.parametrize(
    ("heat", "words"),
    [({"heat_input_kw": 2.0}, "boil in"), ({"heat_input_kw": 0.1, "efficiency_from": "zero_loss"}, "never boil")],
)
def test_a_long_name_is_left_out_of_the_sentence_and_never_cut(
    vacant: FlaskClient, heat: dict[str, Any], words: str
) -> None:
    short, long = (post(vacant, "boil-time", water_l=2, pan={"name": name}, **heat) for name in ("pot", "p" * 180))

    assert words in short["summary"]
    assert " on 'burner' in 'pot'" in short["summary"]
    assert long["summary"] == short["summary"].replace(" on 'burner' in 'pot'", "")
    assert long["summary"].endswith(".")


def test_height_lowers_heat_and_boiling_point(vacant: FlaskClient) -> None:
    """At 3000 m the burner gives 0.8333 of its heat (U.S. Standard Atmosphere 1976, root of absolute pressures)."""
    asked: dict[str, Any] = {"water_l": 2, "from_c": 20, "methane_pct": 100, "burner": RATED, "gauge_kpa": 0.8}
    low, high = (post(vacant, "boil-time", altitude_m=height, **asked) for height in (0, 3000))
    by_pressure = post(vacant, "boil-time", atmosphere_kpa=70.1212, **asked)

    assert high["heat_input_kw"] / low["heat_input_kw"] == pytest.approx(0.833339, rel=1e-5)
    assert high["boil_min"] / low["boil_min"] == pytest.approx(1.04999, abs=2e-4)
    assert by_pressure["boil_min"] == pytest.approx(high["boil_min"], abs=2e-3)


def test_wet_gas_gives_less(vacant: FlaskClient) -> None:
    """A saturated gas at 30 °C and 8 mbar passes 0.9652 of the dry gas's heat (Dalton, molar masses)."""
    asked: dict[str, Any] = {"water_l": 2, "methane_pct": 60, "burner": RATED, "gauge_kpa": 0.8}
    dry, wet = (post(vacant, "boil-time", **asked, **gas) for gas in ({"gas_c": 30}, {"saturated_at_c": 30}))

    assert wet["heat_input_kw"] / dry["heat_input_kw"] == pytest.approx(0.965232, rel=1e-5)


def test_a_composition_will_do_for_the_gas(vacant: FlaskClient) -> None:
    by_shares = post(vacant, "boil-time", water_l=1, components={"CH4": 0.7, "CO2": 0.3}, burner=RATED)

    assert by_shares == post(vacant, "boil-time", water_l=1, methane_pct=70, burner=RATED)


def test_an_absorption_test_will_do_for_the_gas(vacant: FlaskClient) -> None:
    told = post(vacant, "boil-time", water_l=1, carbon_dioxide_pct=38, heat_input_kw=1.5)

    assert told["methane_pct"] == 62.0
    assert told["methane_source"] == "carbon_dioxide"
    assert told["boil_q10_min"] < told["boil_min"] < told["boil_q90_min"]


@pytest.mark.parametrize(
    ("asked", "status", "pointer"),
    [
        ({"water_l": 2}, 400, "/burner"),
        ({"burner": RATED}, 400, "/water_l"),
        ({"water_l": 0.01, "burner": RATED}, 400, "/water_l"),
        ({"water_l": 101, "burner": RATED}, 400, "/water_l"),
        ({"water_l": 2, "burner": RATED, "heat_input_kw": 1}, 400, "/heat_input_kw"),
        ({"water_l": 2, "burner": RATED, "methane_pct": 60, "carbon_dioxide_pct": 40}, 400, "/carbon_dioxide_pct"),
        ({"water_l": 2, "burner": RATED, "loss_w_per_k": 3}, 422, "/loss_w_per_k"),
        ({"water_l": 2, "burner": RATED, "components": {"CH4": 0.9, "N2": 0.1}}, 422, "/components"),
        ({"water_l": 2, "burner": RATED, "components": {"CO2": 1.0}}, 422, "/methane_pct"),
        ({"water_l": 2, "burner": RATED, "saturated_at_c": 60, "atmosphere_kpa": 30}, 422, "/saturated_at_c"),
        ({"water_l": 2, "burner": RATED, "mode": "bigger_hole"}, 400, "/mode"),
        ({"water_l": "2", "burner": RATED}, 400, "/water_l"),
    ],
)
def test_what_cannot_be_reckoned_is_refused_by_field(
    vacant: FlaskClient, asked: dict[str, Any], status: int, pointer: str
) -> None:
    answer = vacant.post("/v1/boil-time", json=asked)

    assert answer.status_code == status
    assert pointer in faults(answer)


def test_a_household_asks_with_little(settled: FlaskClient) -> None:
    told = get(settled, "water_l=2")

    assert set(told) == set(physics.HouseholdBoilTime().fields)
    assert (told["burner"], told["pan"], told["mode"]) == ("ring", "two litre", "fixed_injector")
    assert told["methane_source"] == "described"
    assert told["valid"] is True
    assert 8.0 < told["boil_min"] < 18.0
    assert 40.0 < 1e3 * told["gas_m3"] < 110.0
    assert len(told["summary"]) <= 200


def test_a_household_may_ask_what_other_gas_would_do(settled: FlaskClient) -> None:
    now, rich = get(settled, "water_l=2&from_c=15"), get(settled, "water_l=2&from_c=15&methane_pct=75")

    assert rich["boil_min"] < now["boil_min"]
    assert rich["methane_source"] == "asked"
    assert now["boil_q10_min"] < now["boil_min"] < now["boil_q90_min"]
    assert rich["boil_q90_min"] / rich["boil_min"] < now["boil_q90_min"] / now["boil_min"]  # only the burner is unsure


def test_a_household_with_no_pan_gets_a_usual_one(client: FlaskClient) -> None:
    assert (
        client.put(BASE, json={name: part for name, part in DESCRIPTION.items() if name != "pans"}).status_code == 201
    )

    assert get(client, "water_l=2")["pan"] == "usual pan"


def test_tests_of_the_gas_and_the_burner_change_the_answer(home: FlaskClient) -> None:
    before = get(home, "water_l=2&from_c=15")
    rows = [
        reading("carbon_dioxide", 33.0, "%", NOW - timedelta(hours=3)),
        reading("boil_test", 8.0, "min", NOW - timedelta(hours=2), item="ring", water_l=2.0, from_c=15.0),
    ]
    for row in rows:
        assert home.post(f"{BASE}/readings", json=row).status_code in (200, 201)

    after = get(home, "water_l=2&from_c=15")

    assert after["methane_pct"] > before["methane_pct"]
    assert after["methane_source"] == "carbon_dioxide"
    assert after["basis"] == "blended"
    assert after["efficiency_pct"] > before["efficiency_pct"]
    assert after["boil_q90_min"] / after["boil_q10_min"] < before["boil_q90_min"] / before["boil_q10_min"]
    assert get(home, f"water_l=2&from_c=15&as_of={(NOW - timedelta(hours=4)).strftime('%Y-%m-%dT%H:%M:%SZ')}")[
        "boil_min"
    ] == pytest.approx(before["boil_min"], rel=0.02)


@pytest.mark.parametrize(
    ("query", "status", "pointer"),
    [("from_c=15", 400, "/water_l"), ("water_l=2&pan=wok", 422, "/pan"), ("water_l=2&burner=hob", 422, "/burner")],
)
def test_a_household_is_told_what_it_has(settled: FlaskClient, query: str, status: int, pointer: str) -> None:
    answer = settled.get(f"{BASE}/boil-time?{query}")

    assert answer.status_code == status
    assert pointer in faults(answer)


def test_units_say_what_the_names_mean(vacant: FlaskClient) -> None:
    told = strict(vacant.get("/v1/units").get_data(as_text=True))

    assert (told["standard_temperature_c"], told["standard_pressure_kpa"]) == (15.0, 101.325)
    assert {"suffix": "_c", "ucum": "Cel", "meaning": "temperature"} in told["units"]
    assert told["readings"]["holder_level"] == ["%", "m3", "L"]


@pytest.mark.parametrize(("water_l", "deep_cm"), [(8, None), (9, 24), (60, 158)])
def test_more_water_than_a_pan_is_likely_to_hold_is_cautioned_about(
    client: FlaskClient, home: FlaskClient, water_l: float, deep_cm: int | None
) -> None:
    """A litre stands 2.63 cm deep on the 380.1 cm2 of a pan 22 cm across."""
    holding = f"{water_l} L would stand {deep_cm} cm deep in a pan 22 cm across: see that the pan holds them"
    wide = post(client, "boil-time", water_l=water_l, heat_input_kw=3, pan={"diameter_m": 0.5})
    usual = post(client, "boil-time", water_l=water_l, heat_input_kw=3)
    told = [
        [one.split(" with room")[0] for one in answer["cautions"] if "deep in a pan" in one]
        for answer in (wide, usual, get(home, f"water_l={water_l}"))
    ]

    assert told == ([[], [], []] if deep_cm is None else [[], [holding], [holding]])
