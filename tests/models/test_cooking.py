"""Cooking that cannot have been: set aside where no holder could have fed it, and left alone where one might."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, time

import numpy as np
import pytest

from models.cooking import TOO_MUCH_GAS, believed, most_sm3_per_d, slips
from models.days import day_ledger
from models.household import Household
from models.ledger import cooked_gas, standard_per_wet
from models.log import Log, Readings
from models.meals import Meal, MealPlan
from models.outlook import Outlook, look_ahead
from models.production.fit import state
from models.production.record import record
from models.temperature import AirTemperature, air_temperature
from service.demo.reading import household_of, log_of
from service.demo.world import draw_world
from tests.models.production.conftest import plain_household, readings

START_D = 20_500.0
NOW_D = START_D + 30.0


@pytest.fixture(scope="module")
def plain() -> Household:
    """A burner of 0.6 m3/h, a holder of 3 m3, 5 kg of scraps a day."""
    return plain_household()


@pytest.fixture(scope="module")
def small(plain: Household) -> Household:
    """The same with a holder of 0.9 m3."""
    return replace(plain, holder=replace(plain.holder, capacity_m3=0.9, gauge_points=((0.0, 0.0), (100.0, 0.9))))


@pytest.fixture(scope="module")
def air(plain: Household) -> AirTemperature:
    return air_temperature(plain.site, Readings(), None, NOW_D)


def dinners(minutes: float, days: int = 30, typo: float | None = None, day: int = 20) -> Readings:
    """A dinner every evening at seven; on one day so many minutes instead."""
    value = np.full(days, minutes)
    if typo is not None:
        value[day] = typo
    return readings(START_D + np.arange(days) + 19.0 / 24.0, value, "ring", "dinner")


def log(**quantities: Readings) -> Log:
    return Log(by_quantity=quantities)


def test_minutes_ten_times_too_many_are_set_aside_by_their_id(small: Household, air: AirTemperature) -> None:
    written = log(cooking=dinners(35.0, typo=350.0))
    kept, out = believed(small, written, air)

    assert out == (("r20", TOO_MUCH_GAS),)
    assert kept.of("cooking").id.tolist() == [one for one in written.of("cooking").id.tolist() if one != "r20"]


def test_a_log_without_slips_is_left_as_it_is(small: Household, air: AirTemperature) -> None:
    written = log(cooking=dinners(35.0), holder_level=readings(START_D + np.arange(3.0), np.full(3, 0.4)))

    assert believed(small, written, air) == (written, ())
    assert believed(small, Log(), air) == (Log(), ())


def test_the_most_a_flame_can_have_burned_is_worked_by_hand(plain: Household, air: AirTemperature) -> None:
    """A fifth more than 1.05 times 3 m3, and three times what 5 kg of scraps give in the minutes."""
    lit_d = np.array([START_D + 19.0 / 24.0])
    per_wet = float(standard_per_wet(plain, air, lit_d)[0])
    per_min = float(cooked_gas(plain, readings(lit_d, np.ones(1), "ring"), air).used_sm3[0])
    made_per_min = 1.2 * 3.0 * (5.0 * 0.19 * 0.62) / 1440.0
    most_min = 1.2 * 1.05 * 3.0 * per_wet / (per_min - made_per_min)

    assert 380.0 < most_min < 460.0  # 3.8 m3 at some ten litres a minute, and a little
    for factor, out in ((0.99, False), (1.01, True)):
        cooking = readings(lit_d, np.array([factor * most_min]), "ring")
        assert slips(plain, log(cooking=cooking), air).tolist() == [out]
        half = replace(cooking, value=2.0 * cooking.value, flame_fraction=np.array([0.5]))
        # the low flame burns twice as long, and as much again is made meanwhile
        assert slips(plain, log(cooking=half), air).tolist() == [False]


def test_a_large_holder_may_feed_a_flame_all_day(plain: Household, air: AirTemperature) -> None:
    assert not slips(plain, log(cooking=dinners(35.0, typo=350.0)), air).any()


def test_two_burners_at_once_are_two_flames(small: Household, air: AirTemperature) -> None:
    plate = replace(small.burners[0], name="plate")
    both = replace(small, burners=(*small.burners, plate))
    lit_d = np.full(2, START_D + 0.5)
    cooking = replace(readings(lit_d, np.full(2, 80.0)), item=np.array(["ring", "plate"]))

    assert not slips(both, log(cooking=cooking), air).any()


def test_one_who_is_sure_is_believed(small: Household, air: AirTemperature) -> None:
    cooking = dinners(35.0, typo=350.0)

    assert believed(small, log(cooking=replace(cooking, sure=cooking.value > 100.0)), air)[1] == ()


@pytest.mark.parametrize(("a_day", "out"), [(0.3, True), (9.0, False)])
def test_a_digester_that_gives_so_much_may_feed_a_flame_that_long(
    small: Household, air: AirTemperature, a_day: float, out: bool
) -> None:
    """350 minutes take 3.5 m3; nine cubic metres a day, on a meter or in 76 kg of scraps, feed a flame for good."""
    cooking, day_d = dinners(35.0, typo=350.0), START_D + np.arange(30.0)
    meter = readings(day_d, 10.0 + a_day * np.arange(30.0), "outlet")
    feed = readings(day_d, np.full(30, a_day / (0.19 * 0.62)))

    assert slips(small, log(cooking=cooking, gas_meter=meter), air).any() == out
    assert slips(small, log(cooking=cooking, feed=feed), air).any() == out


def test_a_household_that_does_not_say_what_it_feeds_is_judged_by_its_holder(
    small: Household, air: AirTemperature
) -> None:
    tank = replace(small.digesters[0], usual_feed_kg_per_d=0.0)
    unfed = replace(small, digesters=(tank,))

    assert most_sm3_per_d(unfed) == 0.0
    assert slips(unfed, log(cooking=dinners(90.0, typo=350.0)), air).sum() == 1


def test_a_stove_s_meter_says_how_much_a_flame_takes(small: Household, air: AirTemperature) -> None:
    """150 minutes would take 1.5 m3 by the rating, but the meter counts a third of that, day after day."""
    cooking, morning_d = dinners(150.0), START_D + np.arange(31.0) + 0.3
    meter = readings(morning_d, 10.0 + 0.5 * np.arange(31.0), "stove")

    assert slips(small, log(cooking=cooking), air).all()
    assert not slips(small, log(cooking=cooking, gas_meter=meter), air).any()
    few = meter.select(slice(0, 3))
    assert slips(small, log(cooking=cooking, gas_meter=few), air).all()
    # a slip among metered dinners is one all the same, and the meter's gas stays burned
    typo = log(cooking=dinners(35.0, typo=350.0), gas_meter=replace(meter, value=10.0 + 0.35 * np.arange(31.0)))
    assert slips(small, typo, air).sum() == 1


def seen(household: Household, cooking: Readings) -> Outlook:
    looks = readings(START_D + np.arange(30.0) + 0.9, np.tile([0.40, 0.50], 15))
    dinner = Meal(
        name="dinner", starts_on=date(2025, 1, 1), at=time(19), rrule="FREQ=DAILY", burner="ring", flame_min=35.0
    )
    known = record(household, log(cooking=cooking, holder_level=looks), None, NOW_D)
    return look_ahead(known, state(known, None), MealPlan(zone=household.zone, meals=(dinner,)), 3, seed=1)


def test_nothing_is_learnt_from_a_slip(small: Household) -> None:
    """Level, production and habits are those of the log without the entry; the warning is what it leaves."""
    cooking = dinners(35.0, typo=350.0)
    with_it, without = seen(small, cooking), seen(small, cooking.select(cooking.value < 100.0))

    assert with_it.told is not None
    assert without.told is not None
    assert np.array_equal(with_it.made.made_sm3, without.made.made_sm3)
    assert np.array_equal(with_it.told.run.level_sm3, without.told.run.level_sm3)
    assert np.array_equal(with_it.told.run.wanted.need_sm3, without.told.run.wanted.need_sm3)
    assert [one.code for one in without.warnings] == []
    (warned,) = with_it.warnings
    assert (warned.code, warned.since_d) == ("minutes_too_many", cooking.time_d[20])
    assert warned.message.startswith("An entry of cooking would take more gas than a holder of 0.9 m3")


def test_a_slip_is_set_aside_in_the_ledger_and_in_what_production_is_learnt_from(
    small: Household, air: AirTemperature
) -> None:
    cooking, edges_d = dinners(35.0, typo=350.0), START_D + np.arange(31.0)
    looks = readings(edges_d + 0.9, np.full(31, 0.45))
    days = day_ledger(small, log(cooking=cooking, holder_level=looks), air, edges_d)
    clean = day_ledger(small, log(cooking=cooking.select(cooking.value < 100.0), holder_level=looks), air, edges_d)
    known = record(small, log(cooking=cooking, holder_level=looks), None, NOW_D)

    assert days.set_aside == state(known, None).set_aside == (("r20", TOO_MUCH_GAS),)
    assert np.array_equal(days.made_sm3, clean.made_sm3, equal_nan=True)
    assert np.array_equal(days.burned_sm3, clean.burned_sm3, equal_nan=True)
    assert known.written.of("cooking").value.max() == 350.0
    assert known.log.of("cooking").value.max() == 35.0


def test_what_people_write_of_real_meals_is_never_set_aside() -> None:
    """Twelve invented households, four of them with meters, a year each: long simmers, guests, rounded minutes."""
    found = []
    for seed in range(12):
        world = draw_world(seed, days=365)
        household, written = household_of(world), log_of(world)
        until_d = float(written.of("cooking").time_d[-1])
        weather = air_temperature(household.site, written.of("ambient_temperature"), None, until_d, zone=household.zone)
        found += [(seed, value) for value in written.of("cooking").value[slips(household, written, weather)].tolist()]

    assert found == []
