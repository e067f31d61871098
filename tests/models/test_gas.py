"""The household's gas: what is known of it and the heat in it."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from models.errors import OutOfRange
from models.gas import (
    TEST_GASES,
    GasQuality,
    biogas,
    en437_gas,
    from_carbon_dioxide,
    net_mj_per_sm3,
    net_sd_mj_per_sm3,
    stoichiometric_air_m3_per_m3,
)
from models.iso6976 import mixture, properties


def test_heat_of_biogas_is_that_of_the_mixture() -> None:
    by_mixture = properties(mixture({"CH4": 0.6, "CO2": 0.3992, "H2S": 0.0008})).net_mj_per_m3

    assert net_mj_per_sm3(0.6, 800.0) == pytest.approx(by_mixture)


def test_published_heat_of_biogas_lies_within_what_its_methane_gives(published) -> None:
    row = published("cooking_practice").set_index("quantity").loc["heat_mj_per_m3"]
    gas = properties(biogas([0.5, 0.7]))

    for poor, rich in (gas.net_mj_per_m3, gas.gross_mj_per_m3):
        assert poor <= row.low * (1.0 + row.tolerance)
        assert rich >= row.high * (1.0 - row.tolerance)


def test_carbon_dioxide_alone_gives_no_heat() -> None:
    assert net_mj_per_sm3(0.0) == 0.0


@given(st.floats(0.0, 0.99), st.floats(1e-4, 0.01), st.floats(0.0, 5000.0))
def test_more_methane_gives_more_heat(methane: float, more: float, sulphide_ppm: float) -> None:
    assert net_mj_per_sm3(methane + more, sulphide_ppm) > net_mj_per_sm3(methane, sulphide_ppm)


@given(st.floats(0.0, 1.0), st.floats(0.0, 50_000.0))
def test_shares_of_biogas_sum_to_one(methane: float, sulphide_ppm: float) -> None:
    gas = biogas(methane, hydrogen_sulfide_ppm=sulphide_ppm)

    assert float(sum(gas.fractions.values())) == pytest.approx(1.0, abs=1e-12)
    assert min(float(share) for share in gas.fractions.values()) >= 0.0


def test_shapes_go_through() -> None:
    assert net_mj_per_sm3(0.6).shape == ()
    assert net_mj_per_sm3([[0.5, 0.6]], 100.0).shape == (1, 2)
    assert net_mj_per_sm3(0.6, [0.0, 100.0, 200.0]).shape == (3,)


def test_with_nothing_known_the_gas_is_a_wide_guess() -> None:
    quality = GasQuality()

    assert (quality.methane_fraction, quality.methane_sd, quality.source) == (0.60, 0.05, "default")


def test_an_absorption_test_leaves_methane_with_its_error() -> None:
    quality = from_carbon_dioxide(0.38)

    assert quality.methane_fraction == pytest.approx(0.62)
    assert quality.source == "carbon_dioxide"
    assert 0.0 < quality.methane_sd < GasQuality().methane_sd


def test_the_spread_of_methane_becomes_a_spread_of_heat() -> None:
    step = float(np.diff(net_mj_per_sm3([0.55, 0.65]))[0]) / 2.0

    # one standard error either way, on a curve that is nearly straight
    assert net_sd_mj_per_sm3(GasQuality()) == pytest.approx(step, rel=3e-3)
    assert net_sd_mj_per_sm3(GasQuality(methane_sd=0.0)) == 0.0
    assert net_sd_mj_per_sm3(GasQuality(methane_fraction=1.0, methane_sd=0.01)) == pytest.approx(0.34, rel=0.01)


@pytest.mark.parametrize("name", TEST_GASES)
def test_every_test_gas_is_whole(name: str) -> None:
    assert float(sum(en437_gas(name).fractions.values())) == pytest.approx(1.0)


def test_an_unknown_test_gas_is_refused_with_the_known_ones() -> None:
    with pytest.raises(OutOfRange, match=r"gas is G99, must be one of G20, G21"):
        en437_gas("G99")


def test_air_to_burn_a_gas_follows_its_balance(published, agree) -> None:
    assert stoichiometric_air_m3_per_m3(biogas(0.6)) == pytest.approx(0.6 * 2.0 / 0.2095)
    assert stoichiometric_air_m3_per_m3(mixture({"CH4": 0.5, "O2": 0.5})) == pytest.approx(0.5 / 0.2095)
    assert stoichiometric_air_m3_per_m3(mixture({"CO2": 0.5, "O2": 0.5})) == 0.0


@pytest.mark.parametrize(
    ("build", "message"),
    [
        (lambda: GasQuality(methane_fraction=0.04), "methane_fraction is 0.04, must be 0.05 to 1"),
        (lambda: GasQuality(methane_fraction=1.01), "methane_fraction is 1.01, must be 0.05 to 1"),
        (lambda: GasQuality(methane_sd=-0.01), "methane_sd is -0.01, must be 0 to 0.3"),
        (lambda: GasQuality(methane_sd=0.31), "methane_sd is 0.31, must be 0 to 0.3"),
        (lambda: GasQuality(hydrogen_sulfide_ppm=-1.0), "hydrogen_sulfide_ppm is -1, must be 0 to 50000"),
        (lambda: GasQuality(hydrogen_sulfide_ppm=50_001.0), "hydrogen_sulfide_ppm is 50001, must be 0 to 50000"),
        (lambda: GasQuality(source="guessed"), "source is guessed, must be one of default, described"),
        (lambda: net_mj_per_sm3(-0.01), "methane_fraction is -0.01, must be 0 to 1"),
        (lambda: net_mj_per_sm3(1.01), "methane_fraction is 1.01, must be 0 to 1"),
        (lambda: net_mj_per_sm3(0.6, -1.0), "hydrogen_sulfide_ppm is -1, must be 0 to 50000"),
        (lambda: net_mj_per_sm3(0.6, 50_001.0), "hydrogen_sulfide_ppm is 50001, must be 0 to 50000"),
        (lambda: from_carbon_dioxide(-0.01), "carbon_dioxide_fraction is -0.01, must be 0 to 0.95"),
        (lambda: from_carbon_dioxide(0.96), "carbon_dioxide_fraction is 0.96, must be 0 to 0.95"),
    ],
)
def test_both_ends_of_every_range_are_refused(build, message: str) -> None:
    with pytest.raises(OutOfRange, match=message):
        build()
