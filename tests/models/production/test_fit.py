"""From a record to a fit and a state: what the log may and may not teach."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from models.log import Log
from models.production.fit import fit, record, state
from service.demo.reading import household_of, log_of
from service.demo.world import World, draw_world


@pytest.fixture(scope="module")
def world() -> World:
    return draw_world(31, days=200)


def believed(log: Log, place: int, level_m3: float, *, sure: bool) -> Log:
    """The log with one level altered, and said to be so for sure or not."""
    levels = log.of("holder_level")
    value, certain = levels.value.copy(), np.zeros(len(levels), dtype=bool)
    value[place], certain[place] = level_m3, sure
    return Log(by_quantity={**log.by_quantity, "holder_level": replace(levels, value=value, sure=certain)})


def test_without_a_fit_nothing_is_called_fitted(world: World) -> None:
    known = record(household_of(world), log_of(world), None, float(log_of(world).of("holder_level").time_d[-1]))

    assert state(known, None).basis == "blended"


def test_a_reading_the_cook_is_sure_of_is_never_set_aside(world: World) -> None:
    household, log = household_of(world), log_of(world)
    levels = log.of("holder_level")
    place = len(levels) // 2
    absurd_m3 = 3.0 * household.holder.capacity_m3
    doubted, sure = (
        state(record(household, believed(log, place, absurd_m3, sure=one), None, float(levels.time_d[-1])), None)
        for one in (False, True)
    )

    assert str(levels.id[place]) in dict(doubted.set_aside)
    assert str(levels.id[place]) not in dict(sure.set_aside)


def test_a_stored_fit_comes_back_as_it_was(world: World) -> None:
    household, log = household_of(world), log_of(world)
    known = record(household, log, None, float(log.of("holder_level").time_d[-1]))
    made = fit(known)

    again = type(made).from_dict(made.to_dict())

    assert again.to_dict() == made.to_dict()
    np.testing.assert_allclose(state(known, again).mean, state(known, made).mean)
