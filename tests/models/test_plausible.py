"""Grams typed for kilograms and boiling slurry are set aside and named; feasts and hot digesters are not."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from models.household import Household
from models.log import Log
from models.plausible import NO_SLURRY, TOO_MUCH_FEED, plausible
from tests.models.production.conftest import plain_household, readings

START_D = 20_500.0


@pytest.fixture(scope="module")
def plain() -> Household:
    """Usually fed 5 kg a day."""
    return plain_household()


def fed(*kg: float, sure: bool = False) -> Log:
    feed = readings(START_D + np.arange(len(kg)), np.array(kg))
    return Log(by_quantity={"feed": replace(feed, sure=np.full(len(kg), sure))})


def test_grams_for_kilograms_are_set_aside_by_their_id(plain: Household) -> None:
    log, slips = plausible(plain, fed(4.2, 4200.0, 5.0))

    assert log.of("feed").value.tolist() == [4.2, 5.0]
    assert slips == (("r1", TOO_MUCH_FEED),)


def test_one_who_is_sure_has_fed_so_much(plain: Household) -> None:
    assert plausible(plain, fed(4200.0, sure=True))[1] == ()


def test_a_feast_is_no_slip(plain: Household) -> None:
    assert plausible(plain, fed(39.0))[1] == ()


def test_a_log_that_always_tells_of_more_is_believed(plain: Household) -> None:
    assert plausible(plain, fed(*[60.0] * 5))[1] == ()
    assert len(plausible(plain, fed(*[60.0] * 4))[1]) == 4  # too few to say what is usual


def test_where_nothing_is_usually_fed_nothing_is_too_much(plain: Household) -> None:
    idle = replace(plain, digesters=(replace(plain.digesters[0], usual_feed_kg_per_d=0.0),))

    assert plausible(idle, fed(50.0))[1] == ()


def test_no_slurry_boils_or_is_frozen_through(plain: Household) -> None:
    measured = readings(START_D + np.arange(5), np.array([-6.0, 4.0, 55.0, 95.0, np.nan]), "tank")

    log, slips = plausible(plain, Log(by_quantity={"digester_temperature": measured}))

    assert log.of("digester_temperature").value.tolist() == [4.0, 55.0]
    assert slips == (("r0", NO_SLURRY), ("r3", NO_SLURRY), ("r4", NO_SLURRY))
