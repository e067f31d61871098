"""Which looks at a gauge or meter count, and what the spans between them know of the reading that ends them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest

from models.household import Household
from models.ledger import NOTHING, cooked_gas, gas_use, intervals
from models.log import Log, Readings
from models.looks import sound_levels
from models.temperature import AirTemperature, air_temperature
from service.api.examples import DESCRIPTION
from service.documents import household_from

START_D = 20_500.0
TOO_HIGH, TOO_LOW = "above what the holder can hold", "below empty"
STRAIGHT_BACK, TWICE = "left the readings around it and came straight back", "read again at the same moment"


@pytest.fixture(scope="module")
def home() -> Household:
    return household_from(DESCRIPTION)


@pytest.fixture(scope="module")
def air(home: Household) -> AirTemperature:
    return air_temperature(home.site, Readings(), None, START_D + 10.0)


def looks(value: Sequence[float], *, sure: Sequence[int] = (), day: Sequence[float] = (), item: str = "") -> Readings:
    """One look a day unless said otherwise; `sure` are the places of those that are."""
    count, nan = len(value), np.full(len(value), np.nan)
    return Readings(
        time_d=START_D + np.array(day or range(count), dtype=float),
        value=np.array(value, dtype=float),
        item=np.full(count, item),
        meal=np.full(count, ""),
        flame_fraction=nan,
        water_l=nan,
        from_c=nan,
        id=np.array([f"r{k}" for k in range(count)], dtype=str),
        sure=np.isin(np.arange(count), sure),
    )


def set_aside(home: Household, air: AirTemperature, levels: Readings) -> dict[str, str]:
    kept, left_out = sound_levels(home, Log(by_quantity={"holder_level": levels}), air, NOTHING)
    assert sorted([*kept.id.tolist(), *dict(left_out)]) == sorted(levels.id.tolist())
    return dict(left_out)


def test_readings_that_say_nothing_of_it_are_not_sure() -> None:
    time_d = np.arange(3.0)

    assert Readings(time_d=time_d, value=time_d).sure.tolist() == [False] * 3
    assert len(Readings().sure) == 0


@pytest.mark.parametrize(
    ("value", "why"),
    [([0.2, 0.3, 9.0, 0.4], TOO_HIGH), ([0.2, 0.3, -0.2, 0.4], TOO_LOW), ([0.2, 0.2, 0.8, 0.2, 0.2], STRAIGHT_BACK)],
)
def test_a_reading_is_set_aside_unless_it_is_sure(
    home: Household, air: AirTemperature, value: Sequence[float], why: str
) -> None:
    assert set_aside(home, air, looks(value)) == {"r2": why}
    assert set_aside(home, air, looks(value, sure=[2])) == {}
    assert set_aside(home, air, looks(value, sure=[1])) == {"r2": why}


def test_of_two_odd_readings_in_a_row_the_sure_one_stays(home: Household, air: AirTemperature) -> None:
    value = [0.2, 0.2, 0.8, 0.2, 0.8, 0.8]

    assert set_aside(home, air, looks(value)) == {"r2": STRAIGHT_BACK}
    assert set_aside(home, air, looks(value, sure=[2])) == {"r3": STRAIGHT_BACK}


@pytest.mark.parametrize(
    ("sure", "out"), [([], "r1"), ([1], "r2"), ([2], "r1"), ([1, 2], "r1")], ids=["neither", "first", "last", "both"]
)
def test_of_two_readings_of_one_moment_one_stays(
    home: Household, air: AirTemperature, sure: Sequence[int], out: str
) -> None:
    levels = looks([0.2, 0.3, 0.35, 0.4], sure=sure, day=[0, 1, 1, 2])

    assert set_aside(home, air, levels) == {out: TWICE}


def test_a_span_knows_the_reading_that_ends_it_and_whether_it_is_sure(home: Household, air: AirTemperature) -> None:
    levels = looks([0.2, 0.3, 0.4], sure=[0, 2])
    meter = looks([5.0, 5.2, 0.1, 0.3], sure=[2, 3], day=[0.5, 1.5, 2.5, 3.5], item="outlet")
    meter = replace(meter, id=np.array(["m0", "m1", "m2", "m3"]))
    log = Log(by_quantity={"holder_level": levels, "gas_meter": meter})
    use = gas_use(home, log, air, NOTHING)
    found = intervals(home, log, air, use, levels)

    # the meter was exchanged before m2, so that no span ends with it
    assert found.end_id.tolist() == ["r1", "m1", "r2", "m3"]
    assert found.end_sure.tolist() == [False, False, True, True]
    assert found.outlet.tolist() == [False, True, False, True]


def test_each_burner_takes_its_own_gas(home: Household, air: AirTemperature) -> None:
    ring = home.burners[0]
    large = replace(ring, name="large", rating=replace(ring.rating, heat_input_kw=2.0 * ring.rating.heat_input_kw))
    both = replace(home, burners=(ring, large))
    cooking = replace(looks([30.0, 30.0]), item=np.array(["ring", "large"]))
    cooking = replace(cooking, time_d=np.array([START_D + 0.5, START_D + 0.5 + 1e-3]))

    used = cooked_gas(both, replace(cooking, flame_fraction=np.ones(2)), air).used_sm3

    assert used[1] == pytest.approx(2.0 * used[0], rel=1e-4)


def test_a_counter_that_ran_over_counts_on_and_one_set_back_tells_nothing(home: Household, air: AirTemperature) -> None:
    counter = looks([9_998.0, 9_999.0, 1.0, 0.4], item="outlet")
    spans = intervals(home, Log(by_quantity={"gas_meter": counter}), air, NOTHING, Readings())

    assert len(spans) == 2  # the last was set back
    np.testing.assert_allclose(spans.change_sm3 / spans.change_sm3[0], [1.0, 2.0], rtol=0.02)
