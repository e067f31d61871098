"""Backup fuels and vented methane, against published figures and independent libraries."""

from __future__ import annotations

import pytest
from CoolProp.CoolProp import PropsSI
from hypothesis import given
from hypothesis import strategies as st

from models.errors import OutOfRange
from models.fuels import (
    FUELS,
    GWP100_FOSSIL,
    GWP100_NON_FOSSIL,
    fuel,
    fuel_needed,
    lpg_net_mj_per_kg,
    methane_kg,
    vented_co2e_kg,
)
from models.gas import net_mj_per_sm3
from models.holder import sm3_per_m3


def test_fuel_for_a_job_matches_the_published_figures(published, agree) -> None:
    table = published("fuel_equivalents")

    agree(table, [fuel_needed(r.fuel, r.useful_mj, efficiency=r.efficiency) for r in table.itertuples()])


def test_warming_potentials_are_those_printed(published) -> None:
    table = published("safety_and_climate").set_index("name")["expected"]

    assert table["GWP100 non-fossil"] == GWP100_NON_FOSSIL
    assert table["GWP100 fossil"] == GWP100_FOSSIL


def test_bottled_gas_for_a_cubic_metre_is_what_practice_prints(published) -> None:
    row = published("cooking_practice").set_index("quantity").loc["lpg_kg_per_m3"]
    stored = sm3_per_m3(28.0, gauge_pa=800.0, atmosphere_pa=101_325.0)
    heat_mj = float(stored * net_mj_per_sm3(0.6))

    replaced_kg = fuel_needed("lpg", 0.55 * heat_mj)

    assert row.low * (1.0 - row.tolerance) <= replaced_kg <= row.high * (1.0 + row.tolerance)


@pytest.mark.parametrize(("name", "fluid"), [("propane", "Propane"), ("butane", "n-Butane")])
def test_liquid_densities_agree_with_an_equation_of_state(name: str, fluid: str) -> None:
    there = PropsSI("D", "T", 288.15, "Q", 0, fluid) / 1e3

    assert fuel(name).liquid_kg_per_l == pytest.approx(there, abs=5e-5)  # kept to four digits


def test_a_mix_of_bottled_gas_lies_between_its_parts() -> None:
    butane, lpg, propane = (fuel(name) for name in ("butane", "lpg", "propane"))

    assert butane.net_mj_per_unit < lpg.net_mj_per_unit < propane.net_mj_per_unit
    assert lpg_net_mj_per_kg([0.0, 0.5, 1.0]).tolist() == [
        butane.net_mj_per_unit, lpg.net_mj_per_unit, propane.net_mj_per_unit
    ]  # fmt: skip
    assert propane.liquid_kg_per_l < lpg.liquid_kg_per_l < butane.liquid_kg_per_l


def test_a_kilowatt_hour_holds_its_heat() -> None:
    assert fuel_needed("electric", 3.6, efficiency=1.0) == pytest.approx(1.0)
    assert fuel("induction").unit == "kWh"


@pytest.mark.parametrize("name", FUELS)
def test_every_fuel_says_its_range_and_its_source(name: str) -> None:
    chosen = fuel(name)

    assert chosen.efficiency_low < chosen.efficiency < chosen.efficiency_high
    assert chosen.source
    assert fuel_needed(name, 1.0) == pytest.approx(1.0 / (chosen.efficiency * chosen.net_mj_per_unit))


def test_heat_printed_on_the_bottle_goes_before_the_table() -> None:
    assert fuel_needed("lpg", 5.0, efficiency=0.55, net_mj_per_unit=46.35) == pytest.approx(0.196136, rel=5e-6)


def test_warming_may_be_counted_as_fossil() -> None:
    living, fossil = (vented_co2e_kg(1.0, methane_fraction=0.6, warming_kg_per_kg=w) for w in (27.0, 29.8))

    assert fossil / living == pytest.approx(29.8 / 27.0)


@given(st.floats(0.0, 1000.0), st.floats(0.02, 0.99))
def test_fuel_goes_with_heat_and_against_efficiency(useful_mj: float, efficiency: float) -> None:
    once, twice = fuel_needed("wood", [useful_mj, 2.0 * useful_mj], efficiency=efficiency)

    assert twice == pytest.approx(2.0 * once)
    assert fuel_needed("wood", useful_mj, efficiency=efficiency + 0.01) <= once


def test_methane_and_its_warming_go_with_the_gas() -> None:
    # 16.04246 g/mol and 42.29252 mol/m3 at 15 °C and 101.325 kPa, ideal
    assert methane_kg(1.0, methane_fraction=1.0) == pytest.approx(16.04246e-3 * 42.29252, rel=1e-6)
    assert vented_co2e_kg([1.0, 2.0], methane_fraction=0.6).shape == (2,)
    assert vented_co2e_kg(0.0, methane_fraction=0.6) == 0.0


@pytest.mark.parametrize(
    ("build", "message"),
    [
        (lambda: fuel("coal"), "fuel is coal, must be one of lpg, propane, butane, electric, induction, wood"),
        (lambda: fuel_needed("lpg", -1.0), "useful_mj is -1, must be 0 to inf"),
        (lambda: fuel_needed("lpg", 1.0, efficiency=0.01), "efficiency is 0.01, must be 0.02 to 1"),
        (lambda: fuel_needed("lpg", 1.0, efficiency=1.01), "efficiency is 1.01, must be 0.02 to 1"),
        (lambda: fuel_needed("lpg", 1.0, net_mj_per_unit=0.9), "net_mj_per_unit is 0.9, must be 1 to 60"),
        (lambda: fuel_needed("lpg", 1.0, net_mj_per_unit=61.0), "net_mj_per_unit is 61, must be 1 to 60"),
        (lambda: lpg_net_mj_per_kg(-0.1), "propane_mass_fraction is -0.1, must be 0 to 1"),
        (lambda: lpg_net_mj_per_kg(1.1), "propane_mass_fraction is 1.1, must be 0 to 1"),
        (lambda: methane_kg(-1.0, methane_fraction=0.6), "gas_sm3 is -1, must be 0 to inf"),
        (lambda: methane_kg(1.0, methane_fraction=-0.1), "methane_fraction is -0.1, must be 0 to 1"),
        (lambda: methane_kg(1.0, methane_fraction=1.1), "methane_fraction is 1.1, must be 0 to 1"),
    ],
)
def test_what_lies_outside_a_range_is_refused(build, message: str) -> None:
    with pytest.raises(OutOfRange, match=message):
        build()
