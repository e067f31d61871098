"""Cautions are data with sources, and the words that go with them."""

from __future__ import annotations

import numpy as np
import pytest

from models.cautions import (
    HYDROGEN_SULFIDE_LIMITS,
    METHANE_LIMITS_US_PCT,
    VENTING,
    cautions,
    heavier_than_air_below,
    lower_flammable_pct,
)
from models.gas import biogas, en437_gas
from models.iso6976 import Mixture, mixture, properties


def test_limits_are_those_printed(published) -> None:
    table = published("safety_and_climate").set_index("name")["expected"]

    assert (table["methane lower limit"], table["methane upper limit"]) == METHANE_LIMITS_US_PCT
    assert len(HYDROGEN_SULFIDE_LIMITS) == 7
    for limit in HYDROGEN_SULFIDE_LIMITS:
        assert limit.ppm == table[limit.name]


def test_methane_burns_from_its_own_limit_and_filling_raises_it() -> None:
    assert lower_flammable_pct(biogas(1.0)) == pytest.approx(4.4)  # IEC 60079-20-1
    assert lower_flammable_pct(biogas(0.6)) == pytest.approx(4.4 / 0.6)
    assert lower_flammable_pct(biogas([0.5, 0.25])).tolist() == pytest.approx([8.8, 17.6])


def test_what_cannot_burn_never_does() -> None:
    assert np.isinf(lower_flammable_pct(mixture({"CO2": 1.0})))
    assert [told.split(":")[0] for told in cautions(mixture({"N2": 1.0}))] == ["Nearly as heavy as air"]


@pytest.mark.parametrize("offset", [-0.01, 0.01])
def test_gas_outweighs_air_below_the_stated_share(offset: float) -> None:
    methane = heavier_than_air_below() + offset
    ideal = properties(biogas(methane)).molar_mass_g_per_mol

    assert (ideal > 28.96546) == (offset < 0.0)


@pytest.mark.parametrize(
    ("gas", "words"),
    [
        (biogas(0.45), "Heavier than air"),
        (en437_gas("G31"), "Heavier than air"),
        (biogas(0.6), "Nearly as heavy as air"),
        (biogas(0.6), "Burns from 7.3 % in air"),
        (biogas(0.6), "carbon monoxide"),
        (biogas(0.6, hydrogen_sulfide_ppm=800.0), "800 ppm of hydrogen sulphide"),
    ],
)
def test_each_danger_is_told(gas: Mixture, words: str) -> None:
    assert any(words in told for told in cautions(gas))


def test_dangers_that_are_not_there_are_not_told() -> None:
    told = " ".join(cautions(en437_gas("G20")))

    assert "heavy" not in told.lower()
    assert "sulphide" not in told


def test_cautions_defer_to_licensed_fitters_and_never_advise_on_appliances() -> None:
    told = " ".join(cautions(biogas(0.6, hydrogen_sulfide_ppm=800.0)))

    assert "licensed fitter" in told
    assert not any(word in told for word in ("injector", "drill", "adjust"))


def test_nobody_is_told_to_keep_the_relief_shut() -> None:
    told = " ".join(VENTING)

    assert "never block" in told
    assert "local codes and a licensed gas fitter" in told
