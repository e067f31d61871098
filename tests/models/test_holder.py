"""The holder: gauge, wet volume, dry standard gas, and what weather does to them."""

from __future__ import annotations

import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI
from hypothesis import given
from hypothesis import strategies as st

from models.errors import Inconsistent, OutOfRange
from models.fuels import fuel_needed, methane_kg, vented_co2e_kg
from models.gas import net_mj_per_sm3
from models.holder import (
    GasHolder,
    condensate_l_per_sm3,
    level_pct,
    sm3_per_m3,
    swing_ratio,
    volume_m3,
    water_column_pa,
    weight_pa,
)

SEA_LEVEL_PA = 101_325.0
BAG = GasHolder(capacity_m3=0.9, gauge_points=((0.0, 0.0), (50.0, 0.42), (100.0, 0.9)))

temperatures = st.floats(-40.0, 60.0)
pressures = st.floats(0.0, 5000.0)


def standard(row) -> dict[str, float]:
    here = {"gauge_pa": row.gauge_pa, "atmosphere_pa": SEA_LEVEL_PA}
    pressure_pa = SEA_LEVEL_PA + row.gauge_pa
    sm3 = float(row.volume_m3 * sm3_per_m3(row.temperature_c, **here))
    methane = row.methane_fraction
    heat = sm3 * float(net_mj_per_sm3(0.6))
    return {
        "sm3": lambda: sm3,
        "net_mj": lambda: sm3 * net_mj_per_sm3(methane),
        "ratio_sm3": lambda: 1.0 / swing_ratio(5.0, 35.0, pressure_pa=pressure_pa),
        "swing": lambda: swing_ratio(row.temperature_c, row.second_temperature_c, pressure_pa=pressure_pa),
        "leak_fraction": lambda: 1.0 - 0.95 * float(sm3_per_m3(row.second_temperature_c, **here)) / sm3,
        "methane_kg": lambda: methane_kg(sm3, methane_fraction=methane),
        "co2e_kg": lambda: vented_co2e_kg(sm3, methane_fraction=methane),
        "lpg_kg": lambda: fuel_needed("propane", 0.55 * heat, efficiency=0.55),
    }[row.quantity]()


def test_gas_in_the_holder_matches_the_published_figures(published, agree) -> None:
    table = published("holder_gas")

    agree(table, [standard(row) for row in table.itertuples()])


def test_pressures_of_weights_and_water_match_hydrostatics(published, agree) -> None:
    table = published("pressures")

    agree(
        table,
        [
            weight_pa(row.first, area_m2=row.second) if row.quantity == "weight_pa" else water_column_pa(row.first)
            for row in table.itertuples()
        ],
    )


def test_a_gauge_showing_one_cubic_metre_at_five_millibar() -> None:
    hot, cold = sm3_per_m3([35.0, 5.0], gauge_pa=500.0, atmosphere_pa=SEA_LEVEL_PA)

    # ISO 13443 with IAPWS vapour pressure, to three decimals
    assert round(float(hot), 3) == 0.888
    assert round(float(cold), 3) == 1.032


def test_a_warm_afternoon_lifts_the_bag_without_making_gas() -> None:
    lift = swing_ratio(10.0, 35.0, pressure_pa=SEA_LEVEL_PA + 500.0)
    before, after = sm3_per_m3([10.0, 35.0], gauge_pa=500.0, atmosphere_pa=SEA_LEVEL_PA)

    assert float(lift) == pytest.approx(1.138, abs=5e-4)
    assert 1.0 * before == pytest.approx(lift * after)  # the same sm3 before and after


def test_moles_of_dry_gas_agree_with_an_equation_of_state() -> None:
    for temperature_c in (5.0, 20.0, 35.0):
        vapour_pa = PropsSI("P", "T", temperature_c + 273.15, "Q", 1, "Water")
        dry = PropsSI(
            "Dmolar",
            "T",
            temperature_c + 273.15,
            "P",
            SEA_LEVEL_PA + 600.0 - vapour_pa,
            "Methane[0.6]&CarbonDioxide[0.4]",
        )
        standard_mol = PropsSI("Dmolar", "T", 288.15, "P", SEA_LEVEL_PA, "Methane[0.6]&CarbonDioxide[0.4]")

        # real gas on both sides there, ideal on both here: the compression factors nearly cancel
        here = sm3_per_m3(temperature_c, gauge_pa=600.0, atmosphere_pa=SEA_LEVEL_PA)
        assert here == pytest.approx(dry / standard_mol, rel=1e-3)


def test_the_gauge_points_are_met_and_joined_by_straight_lines() -> None:
    np.testing.assert_allclose(volume_m3(BAG, [0.0, 25.0, 50.0, 75.0, 100.0]), [0.0, 0.21, 0.42, 0.66, 0.9])


def test_an_absurd_level_stays_absurd() -> None:
    assert volume_m3(BAG, 200.0) == pytest.approx(0.9 + 0.48 * 2.0)
    assert volume_m3(BAG, 1000.0) == pytest.approx(0.9 + 0.48 * 18.0)
    assert volume_m3(BAG, -10.0) == pytest.approx(-0.42 / 5.0)


def test_a_level_that_was_not_read_is_a_volume_that_is_not_known() -> None:
    assert np.isnan(volume_m3(BAG, [np.nan, 50.0])).tolist() == [True, False]


def test_without_gauge_points_the_gauge_is_straight() -> None:
    assert volume_m3(GasHolder(capacity_m3=2.0), 30.0) == pytest.approx(0.6)


@given(st.floats(-50.0, 200.0))
def test_level_undoes_volume(level: float) -> None:
    assert level_pct(BAG, volume_m3(BAG, level)) == pytest.approx(level, abs=1e-9)


@given(st.floats(0.0, 100.0), st.floats(1e-3, 50.0))
def test_a_higher_level_is_more_gas(level: float, more: float) -> None:
    assert volume_m3(BAG, level + more) > volume_m3(BAG, level)


@given(temperatures, pressures, st.floats(30_000.0, 109_000.0), st.floats(1.0, 1000.0))
def test_more_pressure_stores_more_and_height_stores_less(
    temperature_c: float, gauge_pa: float, air_pa: float, more_pa: float
) -> None:
    here = sm3_per_m3(temperature_c, gauge_pa=gauge_pa, atmosphere_pa=air_pa)

    assert sm3_per_m3(temperature_c, gauge_pa=gauge_pa + more_pa, atmosphere_pa=air_pa) > here
    assert sm3_per_m3(temperature_c, gauge_pa=gauge_pa, atmosphere_pa=air_pa + more_pa) > here


@given(temperatures, pressures)
def test_warm_or_moist_gas_holds_less(temperature_c: float, gauge_pa: float) -> None:
    here = {"gauge_pa": gauge_pa, "atmosphere_pa": SEA_LEVEL_PA}
    wet, dry = sm3_per_m3(temperature_c, **here, humidity=[1.0, 0.0])

    assert wet < dry
    assert sm3_per_m3(temperature_c - 1.0, **here) > wet


def test_dry_gas_at_the_standard_state_is_itself() -> None:
    assert sm3_per_m3(15.0, gauge_pa=0.0, atmosphere_pa=SEA_LEVEL_PA, humidity=0.0) == pytest.approx(1.0, abs=1e-15)


@given(temperatures, temperatures, pressures)
def test_a_swing_there_and_back_leaves_nothing(one_c: float, other_c: float, gauge_pa: float) -> None:
    here = {"gauge_pa": gauge_pa, "atmosphere_pa": SEA_LEVEL_PA}
    there, back = (
        swing_ratio(*way, pressure_pa=SEA_LEVEL_PA + gauge_pa) for way in ((one_c, other_c), (other_c, one_c))
    )
    before, after = sm3_per_m3([one_c, other_c], **here)

    assert there * back == pytest.approx(1.0)
    assert there * after == pytest.approx(before)  # the same dry gas in the bag that swelled or shrank


def test_cooling_gas_drops_its_water() -> None:
    drained = condensate_l_per_sm3([30.0, 20.0, 15.0], [15.0, 15.0, 20.0], pressure_pa=SEA_LEVEL_PA + 600.0)

    # vapour pressures of IAPWS at 30 and 15 °C: 4.247 and 1.706 kPa; 42.29 mol/m3 of dry gas, 18.015 g/mol
    by_hand = 42.29e-3 * 18.015 * (4.247 / (101.925 - 4.247) - 1.706 / (101.925 - 1.706)) / 1.0
    assert drained[0] == pytest.approx(by_hand, rel=1e-3)
    assert drained[0] > drained[1] > 0.0
    assert drained[2] == 0.0


def test_shapes_go_through() -> None:
    here = {"gauge_pa": 600.0, "atmosphere_pa": SEA_LEVEL_PA}
    assert volume_m3(BAG, 10).shape == ()
    assert volume_m3(BAG, [[10, 20]]).shape == (1, 2)
    assert level_pct(BAG, [0.1, 0.2]).shape == (2,)
    assert sm3_per_m3(20.0, **here).shape == ()
    assert sm3_per_m3([[10.0], [20.0]], gauge_pa=[500.0, 600.0], atmosphere_pa=1e5).shape == (2, 2)
    assert swing_ratio([10.0, 20.0], 30.0, pressure_pa=1e5).shape == (2,)
    assert condensate_l_per_sm3([[30.0], [20.0]], 10.0, pressure_pa=[1e5, 1.1e5]).shape == (2, 2)
    assert weight_pa([1.0, 2.0], area_m2=1.0).shape == (2,)


def converted(**changed: float) -> object:
    temperature_c = changed.pop("temperature_c", 20.0)
    return sm3_per_m3(temperature_c, **{"gauge_pa": 600.0, "atmosphere_pa": 1e5, "humidity": 1.0} | changed)


@pytest.mark.parametrize(
    ("build", "field", "low", "high", "shown"),
    [
        (lambda v: GasHolder(capacity_m3=v), "capacity_m3", 0.04, 501.0, "0.05 to 500"),
        (lambda v: GasHolder(capacity_m3=1.0, reserve_m3=v), "reserve_m3", -0.1, 1.1, "0 to 1"),
        (lambda v: GasHolder(capacity_m3=1.0, gauge_pa=v, relief_pa=2e4), "gauge_pa", -1.0, 20_001.0, "0 to 20000"),
        (lambda v: GasHolder(capacity_m3=1.0, gauge_pa=0.0, relief_pa=v), "relief_pa", 49.0, 20_001.0, "50 to 20000"),
        (
            lambda v: GasHolder(capacity_m3=1.0, level_error_fraction=v),
            "level_error_fraction",
            0.0,
            0.6,
            "0.001 to 0.5",
        ),
        (lambda v: converted(temperature_c=v), "temperature_c", -45.1, 60.1, "-45 to 60"),
        (lambda v: converted(gauge_pa=v), "gauge_pa", -1.0, 20_001.0, "0 to 20000"),
        (lambda v: converted(atmosphere_pa=v), "atmosphere_pa", 29_999.0, 110_001.0, "30000 to 110000"),
        (lambda v: converted(humidity=v), "humidity", -0.1, 1.1, "0 to 1"),
        (lambda v: volume_m3(BAG, [50.0, v]), "level_pct", -50.1, 1000.1, "-50 to 1000"),
        (lambda v: level_pct(BAG, [0.4, v]), "volume_m3", -0.46, 9.01, "-0.45 to 9"),
        (lambda v: swing_ratio(20.0, v, pressure_pa=1e5), "temperature_c", -45.1, 60.1, "-45 to 60"),
        (lambda v: swing_ratio(20.0, 30.0, pressure_pa=v), "pressure_pa", 19_999.0, 200_001.0, "20000 to 200000"),
        (lambda v: condensate_l_per_sm3(v, 10.0, pressure_pa=1e5), "temperature_c", -45.1, 60.1, "-45 to 60"),
        (
            lambda v: condensate_l_per_sm3(30.0, 10.0, pressure_pa=v),
            "pressure_pa",
            19_999.0,
            200_001.0,
            "20000 to 200000",
        ),
        (lambda v: weight_pa(v, area_m2=1.0), "mass_kg", -1.0, 100_001.0, "0 to 100000"),
        (lambda v: weight_pa(1.0, area_m2=v), "area_m2", 0.009, 1001.0, "0.01 to 1000"),
        (water_column_pa, "column_mm", -1.0, 2001.0, "0 to 2000"),
        (lambda v: water_column_pa(1.0, density_kg_per_m3=v), "density_kg_per_m3", 499.0, 2001.0, "500 to 2000"),
    ],
)
def test_both_ends_of_every_range_are_refused(build, field: str, low: float, high: float, shown: str) -> None:
    for value in (low, high):
        with pytest.raises(OutOfRange, match=f"{field} is .*, must be {shown}"):
            build(value)


@pytest.mark.parametrize(
    "points",
    [
        ((0.0, 0.0),),
        ((0.0, 0.0), (50.0, 0.5), (40.0, 0.6)),
        ((0.0, 0.0), (50.0, 0.5), (100.0, 0.5)),
        ((0.0, 0.0), (50.0, 1e-320), (100.0, 0.5)),  # no gauge tells these apart, nor does arithmetic
        ((0.0, 0.0), (1e-320, 0.3), (100.0, 0.5)),
    ],
)
def test_a_gauge_that_does_not_rise_is_refused(points) -> None:
    with pytest.raises(Inconsistent, match="gauge_points must be two or more, each above the one before"):
        GasHolder(capacity_m3=1.0, gauge_points=points)


def test_gauge_points_past_the_gauge_or_the_holder_are_refused() -> None:
    with pytest.raises(OutOfRange, match="gauge_points level_pct is 120, must be 0 to 100"):
        GasHolder(capacity_m3=1.0, gauge_points=((0.0, 0.0), (120.0, 1.0)))
    with pytest.raises(OutOfRange, match=r"gauge_points volume_m3 is 2, must be 0 to 1\.05"):
        GasHolder(capacity_m3=1.0, gauge_points=((0.0, 0.0), (100.0, 2.0)))


def test_a_holder_that_always_blows_off_is_refused() -> None:
    with pytest.raises(Inconsistent, match="gauge_pa is 1200, must not exceed relief_pa, 1000"):
        GasHolder(capacity_m3=1.0, gauge_pa=1200.0, relief_pa=1000.0)
