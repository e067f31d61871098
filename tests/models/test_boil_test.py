"""Boil tests teach a burner's useful heat, with an error that shrinks."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from models.boil_test import BoilTests, calibrate, calibrated
from models.boiling import Flame, boil
from models.burner import Burner, HeatInputRating
from models.errors import Inconsistent, NotEnoughReadings, OutOfRange
from models.pan import Kitchen, Pan

POT = Pan(name="pot", mass_kg=0.9)
KITCHEN = Kitchen()
DESCRIBED = Flame(heat_input_kw=2.0, efficiency=0.55)
BURNER = Burner(name="ring", rating=HeatInputRating(heat_input_kw=2.0, methane_fraction=0.6, gauge_pa=800.0))


def minutes(useful: float, water_l: float, from_c: float, pan: Pan = POT) -> float:
    true = Flame(heat_input_kw=2.0 * useful, efficiency=0.55)
    return float(boil(pan, water_l=water_l, from_c=from_c, flame=true, kitchen=KITCHEN).boil_min)


@settings(deadline=None, max_examples=25)
@given(st.floats(0.5, 2.0), st.floats(0.5, 6.0), st.floats(0.0, 60.0), st.booleans())
def test_a_test_is_read_back_exactly(useful: float, water_l: float, from_c: float, lid: bool) -> None:
    pan = Pan(name="pot", mass_kg=0.9, lid=lid)
    took = minutes(useful, water_l, from_c, pan)
    if not np.isfinite(took) or not 0.5 <= took <= 600.0:
        return

    tests = BoilTests(water_l=water_l, from_c=from_c, minutes=took)

    assert calibrate(tests, pan=pan, flame=DESCRIBED, kitchen=KITCHEN).measured == pytest.approx(useful, rel=1e-6)


def test_many_tests_outweigh_the_description() -> None:
    took = minutes(0.8, 2.0, 15.0)
    one = calibrate(BoilTests(water_l=2.0, from_c=15.0, minutes=took), pan=POT, flame=DESCRIBED, kitchen=KITCHEN)
    many = calibrate(
        BoilTests(water_l=2.0, from_c=15.0, minutes=np.full(20, took)), pan=POT, flame=DESCRIBED, kitchen=KITCHEN
    )

    assert 0.8 < many.factor < one.factor < 1.0
    assert many.factor == pytest.approx(0.8, rel=0.01)
    assert many.factor_sd < one.factor_sd < 0.08
    assert many.measured.shape == (20,)


def test_the_true_heat_is_found_within_the_stated_error() -> None:
    rng = np.random.default_rng(7)
    inside = 0
    for _ in range(60):
        true = float(np.exp(rng.normal(0.0, 0.20)))
        took = minutes(true, 2.0, 15.0) * np.exp(rng.normal(0.0, 0.08, size=3))
        found = calibrate(BoilTests(water_l=2.0, from_c=15.0, minutes=took), pan=POT, flame=DESCRIBED, kitchen=KITCHEN)
        inside += abs(found.factor - true) < 1.2816 * found.factor_sd

    # eight in ten: 48 expected of 60, and 39 to 56 holds in 99 of 100 such rounds
    assert 39 <= inside <= 56


def test_heat_may_differ_from_test_to_test() -> None:
    heat = np.array([2.0, 1.0])
    took = [minutes(1.0, 2.0, 15.0), minutes(0.5, 2.0, 15.0)]
    found = calibrate(
        BoilTests(water_l=2.0, from_c=15.0, minutes=took), pan=POT, flame=Flame(heat_input_kw=heat), kitchen=KITCHEN
    )

    np.testing.assert_allclose(found.measured, [1.0, 1.0], rtol=1e-6)
    assert found.factor == pytest.approx(1.0)


def test_a_calibrated_burner_takes_the_tests_efficiency() -> None:
    took = minutes(0.8, 2.0, 15.0)
    found = calibrate(BoilTests(water_l=2.0, from_c=15.0, minutes=took), pan=POT, flame=DESCRIBED, kitchen=KITCHEN)

    assert calibrated(BURNER, found).efficiency == pytest.approx(0.55 * found.factor)
    assert calibrated(BURNER, found).rating is BURNER.rating


def test_an_efficiency_past_all_physics_blames_the_rating() -> None:
    took = np.full(30, minutes(2.0, 2.0, 15.0))
    found = calibrate(BoilTests(water_l=2.0, from_c=15.0, minutes=took), pan=POT, flame=DESCRIBED, kitchen=KITCHEN)

    with pytest.raises(Inconsistent, match=r"efficiency of 1\.\d\d by its boil tests, must be at most 0\.95"):
        calibrated(BURNER, found)


def test_no_test_is_not_enough() -> None:
    with pytest.raises(NotEnoughReadings, match="no boil test, must have at least one"):
        calibrate(BoilTests(water_l=[], from_c=[], minutes=[]), pan=POT, flame=DESCRIBED, kitchen=KITCHEN)


@pytest.mark.parametrize("took", [0.5, 600.0])
def test_a_test_that_no_such_burner_could_give_is_refused(took: float) -> None:
    with pytest.raises(Inconsistent, match=r"boil test of 2 L in .* min is beyond ten times the described heat"):
        calibrate(BoilTests(water_l=2.0, from_c=15.0, minutes=took), pan=POT, flame=DESCRIBED, kitchen=KITCHEN)


@pytest.mark.parametrize(
    ("column", "low", "high"), [("water_l", 0.04, 101.0), ("from_c", -1.0, 81.0), ("minutes", 0.4, 601.0)]
)
def test_both_ends_of_every_range_are_refused(column: str, low: float, high: float) -> None:
    for value in (low, high):
        with pytest.raises(OutOfRange, match=f"{column} is .*, must be .* to "):
            BoilTests(**({"water_l": 2.0, "from_c": 15.0, "minutes": 12.0} | {column: value}))
