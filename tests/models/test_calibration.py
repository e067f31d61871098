"""Boil tests teach a burner's useful heat, with an error that shrinks."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from models.boiling import Flame, boil
from models.burner import Burner, HeatInputRating
from models.calibration import BoilTests, burners_as_tested, calibrate, calibrated
from models.errors import Inconsistent, NotEnoughReadings, OutOfRange
from models.household import Household
from models.log import Log, Readings
from models.pan import Kitchen, Pan
from models.temperature import air_temperature
from service.api.examples import DESCRIPTION
from service.documents import household_from

POT = Pan(name="pot", mass_kg=0.9)
KITCHEN = Kitchen()
DESCRIBED = Flame(heat_input_kw=2.0, efficiency=0.55)
BURNER = Burner(name="ring", rating=HeatInputRating(heat_input_kw=2.0, methane_fraction=0.6, gauge_pa=800.0))


def minutes(useful: float, water_l: float, from_c: float) -> float:
    true = Flame(heat_input_kw=2.0 * useful, efficiency=0.55)
    return float(boil(POT, water_l=water_l, from_c=from_c, flame=true, kitchen=KITCHEN).boil_min)


@given(st.floats(0.5, 2.0), st.floats(0.5, 6.0), st.floats(0.0, 60.0), st.booleans())
def test_a_test_is_read_back_exactly(useful: float, water_l: float, from_c: float, lid: bool) -> None:
    tests = BoilTests(water_l=water_l, from_c=from_c, minutes=minutes(useful, water_l, from_c))
    pan = replace(POT, lid=lid)  # the lid of a test is on, whatever the pan usually has

    assert calibrate(tests, pan=pan, flame=DESCRIBED, kitchen=KITCHEN).measured == pytest.approx(useful, rel=1e-9)


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
    assert calibrated(BURNER, found).useful_sd == pytest.approx(found.factor_sd / found.factor)
    assert calibrated(BURNER, found).useful_sd < BURNER.useful_sd


def test_no_efficiency_passes_all_physics() -> None:
    took = np.full(30, minutes(2.0, 2.0, 15.0))
    found = calibrate(BoilTests(water_l=2.0, from_c=15.0, minutes=took), pan=POT, flame=DESCRIBED, kitchen=KITCHEN)

    assert calibrated(BURNER, found).efficiency == 0.95


def test_no_test_is_not_enough() -> None:
    with pytest.raises(NotEnoughReadings, match="no boil test, must have at least one"):
        calibrate(BoilTests(water_l=[], from_c=[], minutes=[]), pan=POT, flame=DESCRIBED, kitchen=KITCHEN)


@pytest.mark.parametrize("useful", [0.09, 11.0])
def test_a_test_that_no_such_burner_could_give_is_refused(useful: float) -> None:
    tests = BoilTests(water_l=2.0, from_c=15.0, minutes=minutes(useful, 2.0, 15.0))

    with pytest.raises(Inconsistent, match=r"times as strong as described, must be 0\.1 to 10"):
        calibrate(tests, pan=POT, flame=DESCRIBED, kitchen=KITCHEN)


def logged_tests(*rows: tuple[str, float, float, float]) -> Log:
    item, water_l, from_c, took = (list(column) for column in zip(*rows, strict=True))
    readings = Readings(
        time_d=20_000.0 + np.arange(float(len(rows))),
        value=np.array(took),
        item=np.array(item),
        water_l=np.array(water_l),
        from_c=np.array(from_c),
        meal=np.full(len(rows), ""),
        flame_fraction=np.full(len(rows), np.nan),
        id=np.full(len(rows), ""),
    )
    return Log(by_quantity={"boil_test": readings})


def burners_after(*rows: tuple[str, float, float, float], household: Household | None = None) -> tuple[Burner, ...]:
    home = household or household_from(DESCRIPTION)
    air = air_temperature(home.site, Readings(), None, 20_100.0)
    return burners_as_tested(home, logged_tests(*rows), air=air)


def test_a_households_burners_learn_from_its_own_tests() -> None:
    described = household_from(DESCRIPTION).burners[0]
    strong, weak = (burners_after(("ring", 2.0, 15.0, took))[0] for took in (9.0, 18.0))

    assert weak.efficiency < described.efficiency < strong.efficiency
    assert burners_after(("ring", 2.0, 15.0, 18.0), ("ring", 2.0, 15.0, 18.0))[0].efficiency < weak.efficiency


@pytest.mark.parametrize(
    "row",
    [
        ("other", 2.0, 15.0, 9.0),
        ("ring", 2.0, 90.0, 9.0),
        ("ring", 2.0, 15.0, 0.1),
        ("ring", np.nan, 15.0, 9.0),
        ("ring", 0.1, 15.0, 500.0),
    ],
)
def test_tests_of_another_burner_and_slips_of_the_pen_change_nothing(row: tuple[str, float, float, float]) -> None:
    described = household_from(DESCRIPTION).burners[0]
    good = ("ring", 2.0, 15.0, 9.0)

    assert burners_after(row)[0] == described
    assert burners_after(row, good)[0].efficiency == pytest.approx(burners_after(good)[0].efficiency, rel=0.05)


def test_a_household_without_pans_is_tested_with_a_usual_one() -> None:
    bare = replace(household_from(DESCRIPTION), pans=())

    assert burners_after(("ring", 2.0, 15.0, 9.0), household=bare)[0].efficiency > 0.55


@pytest.mark.parametrize(
    ("column", "low", "high"), [("water_l", 0.04, 101.0), ("from_c", -1.0, 81.0), ("minutes", 0.4, 601.0)]
)
def test_both_ends_of_every_range_are_refused(column: str, low: float, high: float) -> None:
    for value in (low, high):
        with pytest.raises(OutOfRange, match=f"{column} is .*, must be .* to "):
            BoilTests(**({"water_l": 2.0, "from_c": 15.0, "minutes": 12.0} | {column: value}))
