"""The price of dilution at the stove, mode by mode."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from models.boil_time import BoilTime, Hob, boil_time
from models.burner import Burner, GasSupply, HeatInputRating
from models.errors import OutOfRange
from models.gas import net_mj_per_sm3
from models.pan import Kitchen, Pan

SUPPLY = GasSupply(methane_fraction=0.7, gauge_pa=2000.0, atmosphere_pa=101_325.0, humidity=0.0)
HOB = Hob(
    burner=Burner(name="ring", rating=HeatInputRating(heat_input_kw=2.5, gas="G20", gauge_pa=2000.0)),
    pan=Pan(name="pot", mass_kg=0.4, material="aluminium"),
    supply=SUPPLY,
    kitchen=Kitchen(),
)


def told(hob: Hob = HOB, water_l: float = 2.0, from_c: float = 20.0) -> BoilTime:
    return boil_time(hob, water_l=water_l, from_c=from_c)


@pytest.mark.parametrize(("mode", "longer_pct"), [("fixed_injector", 76), ("fixed_flow", 43), ("resized_injector", 0)])
def test_seventy_thirty_gas_takes_longer_by_what_the_mode_leaves(mode, longer_pct: int) -> None:
    """ISO 6976:2016: 1/0.5675 by the Wobbe index on one injector, 1/0.7006 by the calorific value at one flow."""
    found = told(replace(HOB, mode=mode))

    assert round(found.penalty_pct) == longer_pct
    assert found.rule_of_thumb_penalty_pct == pytest.approx(30.0)
    assert found.penalty_min == pytest.approx(found.boil_min - found.undiluted_boil_min)


def test_losses_make_dilution_dearer() -> None:
    lossy = replace(HOB, efficiency_from="zero_loss", loss_w_per_k=4.0)

    assert told(lossy).penalty_pct > told().penalty_pct


def test_gas_is_told_as_heat_as_standard_and_as_it_flows() -> None:
    found = told()

    assert found.gas_mj == pytest.approx(found.heat_input_kw * found.boil_min * 60e-3)
    assert found.gas_sm3 == pytest.approx(found.gas_mj / net_mj_per_sm3(0.7))
    # dry at 15 °C, so only the gauge pressure tells the two apart
    assert found.gas_m3 == pytest.approx(found.gas_sm3 / (1.0 + 2000.0 / 101_325.0))


def test_the_spread_of_the_methane_share_widens_the_time() -> None:
    sure, unsure = told(), told(replace(HOB, methane_sd=0.05))

    assert sure.boil_q10_min == sure.boil_min == sure.boil_q90_min
    assert unsure.boil_q10_min < unsure.boil_min < unsure.boil_q90_min


def test_what_is_not_known_of_the_burner_widens_it_too() -> None:
    gas, burner, both = (
        told(replace(HOB, **spread))
        for spread in ({"methane_sd": 0.05}, {"useful_sd": 0.2}, {"methane_sd": 0.05, "useful_sd": 0.2})
    )

    # a lossless pan's time goes against the heat, so the logarithms of the two spreads add in squares
    widths = [np.log(one.boil_q90_min / one.boil_min) for one in (gas, burner, both)]
    assert widths[1] == pytest.approx(1.2816 * 0.2)
    assert widths[2] == pytest.approx(np.hypot(widths[0], widths[1]))


def test_no_pressure_boils_nothing() -> None:
    found = told(replace(HOB, supply=replace(SUPPLY, gauge_pa=0.0), useful_sd=0.2))

    assert found.never_boils
    assert np.isinf(found.undiluted_boil_min)
    assert np.isnan(found.penalty_pct)


def test_a_pan_that_never_boils_has_no_penalty() -> None:
    starved = replace(HOB, efficiency_from="zero_loss", loss_w_per_k=15.0)
    found = told(starved)

    assert found.never_boils
    assert np.isinf(found.boil_min)
    assert np.isnan(found.penalty_pct)
    assert np.isfinite(found.undiluted_boil_min)


def test_water_that_boils_already_has_no_penalty_to_tell() -> None:
    high = told(replace(HOB, kitchen=Kitchen(atmosphere_pa=70_000.0)), from_c=95.0)

    assert high.boil_min == 0.0
    assert np.isnan(high.penalty_pct)


@pytest.mark.parametrize("methane", [0.04, 1.01])
def test_a_gas_that_is_none_is_refused(methane: float) -> None:
    with pytest.raises(OutOfRange, match=r"methane_fraction is .*, must be 0"):
        Hob(
            **{name: getattr(HOB, name) for name in ("burner", "pan", "kitchen")},
            supply=replace(SUPPLY, methane_fraction=methane),
        )


@pytest.mark.parametrize(
    ("field", "value"), [("methane_sd", -0.01), ("methane_sd", 0.31), ("useful_sd", -0.01), ("useful_sd", 1.01)]
)
def test_a_spread_that_is_none_is_refused(field: str, value: float) -> None:
    with pytest.raises(OutOfRange, match=f"{field} is .*, must be 0 to "):
        replace(HOB, **{field: value})
