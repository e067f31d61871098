"""What the logged tests say of the gas: means weighted by precision, as any textbook of measurement has them."""

from __future__ import annotations

import numpy as np
import pytest

from models.gas import TEST_SD, GasQuality, from_carbon_dioxide
from models.log import Log, Readings
from models.quality import METER_SD, gas_quality

NOW_D = 20_000.0
DESCRIBED = GasQuality(methane_fraction=0.60, methane_sd=0.05, source="described")


def logged_tests(quantity: str, *pairs: tuple[float, float]) -> Log:
    days, values = np.array([pair[0] for pair in pairs]), np.array([pair[1] for pair in pairs])
    empty = np.full(len(pairs), "")
    readings = Readings(time_d=NOW_D + days, value=values, item=empty, meal=empty, id=empty)
    unused = {name: np.full(len(pairs), np.nan) for name in ("flame_fraction", "water_l", "from_c")}
    columns = {name: getattr(readings, name) for name in ("time_d", "value", "item", "meal", "id")}
    return Log(by_quantity={quantity: Readings(**columns, **unused)})


def test_without_a_test_the_description_stands() -> None:
    assert gas_quality(DESCRIBED, Log(), NOW_D) is DESCRIBED


def test_a_test_today_draws_the_mean_by_its_precision() -> None:
    found = gas_quality(DESCRIBED, logged_tests("methane", (0.0, 68.0)), NOW_D)

    weights = np.array([1.0 / 0.05**2, 1.0 / METER_SD**2])
    assert found.methane_fraction == pytest.approx(np.average([0.60, 0.68], weights=weights))
    assert found.methane_sd == pytest.approx(weights.sum() ** -0.5)
    assert found.source == "measured"


def test_an_old_test_counts_for_less() -> None:
    fresh = gas_quality(DESCRIBED, logged_tests("methane", (0.0, 70.0)), NOW_D)
    old = gas_quality(DESCRIBED, logged_tests("methane", (-360.0, 70.0)), NOW_D)

    assert 0.60 < old.methane_fraction < fresh.methane_fraction
    assert fresh.methane_sd < old.methane_sd < DESCRIBED.methane_sd


def test_a_test_of_long_ago_says_nothing_of_today() -> None:
    found = gas_quality(DESCRIBED, logged_tests("methane", *((-2000.0 + k, 70.0) for k in range(300))), NOW_D)

    assert found.methane_fraction == pytest.approx(0.60, abs=1e-4)
    assert found.methane_sd == pytest.approx(DESCRIBED.methane_sd, abs=1e-4)


def test_many_tests_of_last_year_do_not_make_today_certain() -> None:
    many = gas_quality(DESCRIBED, logged_tests("methane", *((-365.0 - k, 66.0) for k in range(100, 0, -1))), NOW_D)

    assert many.methane_sd > 0.8 * DESCRIBED.methane_sd


def test_carbon_dioxide_tells_of_methane() -> None:
    found = gas_quality(DESCRIBED, logged_tests("carbon_dioxide", (0.0, 30.0)), NOW_D)

    alone = from_carbon_dioxide(0.30).methane_fraction
    assert found.methane_fraction == pytest.approx(
        np.average([0.60, alone], weights=[DESCRIBED.methane_sd**-2, TEST_SD**-2])
    )
    assert found.source == "carbon_dioxide"


def test_a_test_from_the_future_or_beyond_physics_is_left_out() -> None:
    assert gas_quality(DESCRIBED, logged_tests("methane", (3.0, 70.0)), NOW_D) is DESCRIBED
    assert gas_quality(DESCRIBED, logged_tests("methane", (-1.0, 99.0)), NOW_D) is DESCRIBED
