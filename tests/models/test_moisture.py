"""Vapour pressure, boiling point and the air's pressure, against IAPWS and independent libraries."""

from __future__ import annotations

import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI
from fluids import ATMOSPHERE_1976
from hypothesis import given
from hypothesis import strategies as st
from iapws import IAPWS97
from iapws.iapws97 import _PSat_T, _TSat_P

from models.errors import OutOfRange
from models.moisture import (
    atmosphere_pa,
    boiling_point_c,
    latent_heat_j_per_kg,
    saturation_pressure_pa,
    vapour_fraction,
)


def test_saturation_matches_iapws(published, agree) -> None:
    table = published("iapws_saturation")
    found = [
        saturation_pressure_pa(row.temperature_c)
        if row.quantity == "saturation_pressure_pa"
        else vapour_fraction(row.temperature_c, pressure_pa=101_925.0)
        for row in table.itertuples()
    ]

    agree(table, found)


def test_altitude_matches_the_standard_atmosphere(published, agree) -> None:
    table = published("altitude")
    air = atmosphere_pa(table["altitude_m"])

    agree(table, np.where(table["quantity"] == "atmosphere_pa", air, boiling_point_c(air)))


def test_saturation_agrees_with_the_librarys_own_formulation() -> None:
    warm = np.linspace(0.0, 120.0, 25)
    there = np.array([_PSat_T(t + 273.15) for t in warm]) * 1e6

    # the same equation: rounding only
    np.testing.assert_allclose(saturation_pressure_pa(warm), there, rtol=1e-9)


def test_saturation_agrees_with_the_scientific_formulation() -> None:
    warm = np.linspace(0.5, 60.0, 30)
    there = [PropsSI("P", "T", t + 273.15, "Q", 1, "Water") for t in warm]

    # IAPWS-IF97 follows IAPWS-95 within 0.02 %
    np.testing.assert_allclose(saturation_pressure_pa(warm), there, rtol=2e-4)


def test_boiling_point_agrees_with_the_librarys_own_formulation() -> None:
    pressures = np.linspace(20_000.0, 200_000.0, 40)
    there = np.array([_TSat_P(p * 1e-6) for p in pressures]) - 273.15

    np.testing.assert_allclose(boiling_point_c(pressures), there, atol=1e-6)


def test_latent_heat_agrees_with_the_library() -> None:
    warm = np.linspace(0.5, 119.5, 25)
    there = [1e3 * (IAPWS97(T=t + 273.15, x=1).h - IAPWS97(T=t + 273.15, x=0).h) for t in warm]

    # the docstring promises 0.2 %
    np.testing.assert_allclose(latent_heat_j_per_kg(warm), there, rtol=2e-3)


def test_air_pressure_agrees_with_the_library() -> None:
    heights = np.linspace(-430.0, 6000.0, 12)

    np.testing.assert_allclose(atmosphere_pa(heights), [ATMOSPHERE_1976(float(z)).P for z in heights], rtol=1e-6)


@given(st.floats(60.1, 119.9))
def test_boiling_undoes_saturation(temperature_c: float) -> None:
    # IF97 says its two directions agree to better than a microkelvin
    assert boiling_point_c(saturation_pressure_pa(temperature_c)) == pytest.approx(temperature_c, abs=1e-6)


def test_the_two_formulas_meet_at_the_freezing_point() -> None:
    below, at = saturation_pressure_pa([-1e-12, 0.0])

    assert at == pytest.approx(below, rel=3e-5)
    assert at > below


@given(st.floats(-45.0, 119.0), st.floats(1e-3, 1.0))
def test_warmer_water_gives_more_vapour(temperature_c: float, more: float) -> None:
    assert saturation_pressure_pa(temperature_c + more) > saturation_pressure_pa(temperature_c)


@given(st.floats(-500.0, 8900.0), st.floats(1.0, 100.0))
def test_air_and_boiling_point_fall_with_height(altitude_m: float, more_m: float) -> None:
    low, high = atmosphere_pa([altitude_m, altitude_m + more_m])

    assert high < low
    assert boiling_point_c(high) < boiling_point_c(low)


def test_dry_gas_holds_no_vapour_and_half_the_humidity_half() -> None:
    dry, half, full = vapour_fraction(30.0, pressure_pa=101_925.0, humidity=[0.0, 0.5, 1.0])

    assert dry == 0.0
    assert half == pytest.approx(full / 2.0)


def test_shapes_go_through_and_unknown_stays_unknown() -> None:
    assert saturation_pressure_pa(20).shape == ()
    assert saturation_pressure_pa([[-5.0, 20.0]]).shape == (1, 2)
    assert np.isnan(saturation_pressure_pa([np.nan, 20.0])[0])
    assert boiling_point_c([[90_000.0]]).shape == (1, 1)
    assert atmosphere_pa([0, 100]).shape == (2,)
    assert vapour_fraction([10.0, 20.0], pressure_pa=1e5).shape == (2,)


@pytest.mark.parametrize(
    ("function", "low", "high", "field"),
    [
        (saturation_pressure_pa, -45.1, 120.1, "temperature_c"),
        (boiling_point_c, 19_999.0, 200_001.0, "pressure_pa"),
        (latent_heat_j_per_kg, -0.1, 120.1, "temperature_c"),
        (atmosphere_pa, -501.0, 9001.0, "altitude_m"),
        (lambda t: vapour_fraction(t, pressure_pa=1e5), -45.1, 60.1, "temperature_c"),
        (lambda p: vapour_fraction(20.0, pressure_pa=p), 19_999.0, 200_001.0, "pressure_pa"),
        (lambda h: vapour_fraction(20.0, pressure_pa=1e5, humidity=h), -0.01, 1.01, "humidity"),
    ],
)
def test_both_ends_of_every_range_are_refused(function, low: float, high: float, field: str) -> None:
    for value in (low, high):
        with pytest.raises(OutOfRange, match=f"{field} is .*, must be .* to "):
            function(value)
