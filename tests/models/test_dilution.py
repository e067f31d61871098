"""The rule of thumb beside the physics, and the caution where a burner meets another gas."""

from __future__ import annotations

import numpy as np
import pytest

from models.burner import Burner, GasFlowRating, GasSupply, HeatInputRating, heat_input_kw
from models.dilution import other_gas_caution, rule_of_thumb, undiluted
from models.errors import OutOfRange

BIOGAS = GasSupply(methane_fraction=0.7, gauge_pa=800.0, atmosphere_pa=101_325.0, humidity=0.0)


def rated(**gas: object) -> Burner:
    return Burner(name="ring", rating=HeatInputRating(heat_input_kw=2.0, gauge_pa=800.0, **gas))


def test_the_rule_says_thirty_per_cent_longer_at_thirty_per_cent_carbon_dioxide() -> None:
    """Common practice, no source; the physics says 76 % on one injector and 43 % at one flow."""
    assert rule_of_thumb(0.7).penalty_fraction == pytest.approx(0.30)
    assert rule_of_thumb(1.0).penalty_fraction == 0.0


@pytest.mark.parametrize("methane", [0.5, 0.6, 0.7, 0.9])
def test_the_assumed_pressure_makes_the_rule_come_true(methane: float) -> None:
    rule = rule_of_thumb(methane)
    diluted = GasSupply(
        methane_fraction=methane, gauge_pa=800.0 * rule.pressure_factor, atmosphere_pa=101_325.0, humidity=0.0
    )
    longer = heat_input_kw(rated(gas="G20"), undiluted(BIOGAS)) / heat_input_kw(rated(gas="G20"), diluted)

    assert longer == pytest.approx(1.0 + rule.penalty_fraction, rel=1e-9)


def test_the_assumed_flow_makes_the_rule_come_true() -> None:
    rule = rule_of_thumb(0.7)
    ratio = heat_input_kw(rated(gas="G20"), BIOGAS, "fixed_flow") / heat_input_kw(rated(gas="G20"), undiluted(BIOGAS))

    assert 1.0 / (ratio * rule.flow_factor) == pytest.approx(1.3)


def test_methane_alone_needs_no_assumption() -> None:
    rule = rule_of_thumb([1.0, 0.6])

    assert rule.pressure_factor[0] == pytest.approx(1.0)
    assert rule.flow_factor[0] == pytest.approx(1.0)
    assert rule.pressure_factor.shape == (2,)


@pytest.mark.parametrize("methane", [0.04, 1.1])
def test_a_gas_that_is_none_is_refused(methane: float) -> None:
    with pytest.raises(OutOfRange, match=r"methane_fraction is .*, must be 0\.05 to 1"):
        rule_of_thumb(methane)


@pytest.mark.parametrize("gas", ["G20", "G30", "G31"])
def test_a_burner_made_for_another_gas_gets_a_caution_and_no_advice(gas: str) -> None:
    caution = other_gas_caution(rated(gas=gas), BIOGAS)

    assert caution is not None
    assert f"ring is rated on {gas}" in caution
    assert "Only a licensed fitter may adapt an appliance, under local codes." in caution
    assert not any(word in caution for word in ("drill", "enlarge", "replace", "millimetre", "mm"))


def test_a_burner_on_its_own_gas_gets_no_caution() -> None:
    assert other_gas_caution(rated(methane_fraction=0.65), BIOGAS) is None
    assert other_gas_caution(rated(methane_fraction=0.99), BIOGAS) is not None


def test_a_flow_measured_on_site_names_no_other_gas() -> None:
    measured = Burner(name="ring", rating=GasFlowRating(gas_flow_l_per_h=400.0, methane_fraction=1.0, gauge_pa=800.0))

    assert other_gas_caution(measured, BIOGAS) is None


def test_undiluted_changes_the_gas_and_nothing_else() -> None:
    assert undiluted(BIOGAS).methane_fraction == 1.0
    assert undiluted(BIOGAS).gauge_pa == BIOGAS.gauge_pa
    assert np.all(heat_input_kw(rated(gas="G20"), undiluted(BIOGAS)) == pytest.approx(2.0))
