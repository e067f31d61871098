"""A flame that the gauge knows nothing of was not so long; one that the gauge felt was."""

from __future__ import annotations

import numpy as np
import pytest

from models.cooking import slips
from models.gauged import usual_of_name
from models.household import Household
from models.log import Log, Readings
from models.temperature import AirTemperature, air_temperature
from tests.models.production.conftest import plain_household, readings

START_D, DAYS, ODD = 20_500.0, 30, 20
"""Every evening half an hour at 0.6 m3/h and then a look at a holder of 3 m3 that shows 1.5 m3: 0.3 m3 come a day."""


@pytest.fixture(scope="module")
def plain() -> Household:
    return plain_household()


@pytest.fixture(scope="module")
def air(plain: Household) -> AirTemperature:
    return air_temperature(plain.site, Readings(), None, START_D + DAYS)


def evenings(minutes: float, *, fell_m3: float = 0.0, days: int = DAYS, looks: int = DAYS) -> Log:
    """On one evening so many minutes instead, after which the gauge stands so much lower for good."""
    day = START_D + np.arange(days)
    flames, shown = np.full(days, 30.0), np.full(days, 2.5)
    flames[min(ODD, days - 1)] = minutes
    shown[ODD:] -= fell_m3
    return Log(
        by_quantity={
            "cooking": readings(day + 19.0 / 24.0, flames, "ring", "dinner"),
            "holder_level": readings(day + 21.0 / 24.0, shown).select(slice(0, looks)),
        }
    )


def test_ten_times_the_minutes_with_a_gauge_that_did_not_stir_are_a_slip(plain: Household, air: AirTemperature) -> None:
    assert np.flatnonzero(slips(plain, evenings(300.0), air)).tolist() == [ODD]


def test_a_roast_that_the_gauge_felt_stands(plain: Household, air: AirTemperature) -> None:
    # 200 minutes burn 2.0 m3, 0.3 of them made since the look before.
    assert not slips(plain, evenings(200.0, fell_m3=1.7), air).any()


def test_guests_are_no_slip(plain: Household, air: AirTemperature) -> None:
    assert not slips(plain, evenings(90.0), air).any()


def test_what_no_later_look_bears_out_yet_is_let_be(plain: Household, air: AirTemperature) -> None:
    assert not slips(plain, evenings(300.0, looks=ODD), air).any()


def test_a_gauge_that_moved_by_half_of_it_decides_nothing(plain: Household, air: AirTemperature) -> None:
    assert not slips(plain, evenings(200.0, fell_m3=1.2), air).any()


def test_a_young_log_has_no_usual_day(plain: Household, air: AirTemperature) -> None:
    assert not slips(plain, evenings(300.0, days=6, looks=6), air).any()


def test_a_meal_s_usual_needs_a_few_entries_of_its_name() -> None:
    four = readings(START_D + np.arange(4.0), np.full(4, 30.0), "ring", "soup")
    five = readings(START_D + np.arange(5.0), np.full(5, 30.0), "ring", "dinner")

    assert np.isnan(usual_of_name(four, np.full(4, 0.3))).all()
    assert usual_of_name(five, np.array([0.3, 0.2, 0.9, 0.3, 0.4])) == pytest.approx(0.3)
    assert len(usual_of_name(Readings(), np.empty(0))) == 0
