"""The bag and the stove, step by step."""

from dataclasses import replace

import numpy as np
import pytest

from service.demo.holder import (
    METHANE_MJ_PER_SM3,
    Kitchen,
    Serving,
    Supply,
    dry_per_wet,
    injector,
    walk,
)
from service.demo.traits import Bag, demo_traits

COOK = demo_traits(2026).cook
BAG = Bag(capacity_m3=0.9, gauge_pa=600.0, leak_per_d=0.0, sun_k=0.0, gauge_points=((0.0, 0.0), (100.0, 0.9)))
AIR_PA = 101_325.0


def serving(step, minutes, **more):
    told = {"meal": "dinner", "flame_fraction": 1.0, "glance_error": 0.0, "daring": 1.0} | more
    return Serving(step=step, minutes=minutes, **told)


def kitchen(servings, *, steps=300, made=0.0, room=0.85):
    supply = Supply(
        made_sm3=np.full(steps, made),
        made_methane_sm3=np.full(steps, 0.6 * made),
        room_sm3=np.full(steps, room),
        gas_c=np.full(steps, 15.0),
    )
    return Kitchen(cook=COOK, bag=BAG, air_pa=AIR_PA, supply=supply, servings=servings)


def test_a_warm_afternoon_swells_the_bag_by_an_eighth_and_more():
    # 10 to 35 °C, saturated, at one pressure: +13.8 %, from the vapour pressures of IAPWS-IF97 (1.2282, 5.6290 kPa)
    swell = dry_per_wet(10.0, 101_325.0) / dry_per_wet(35.0, 101_325.0)

    assert swell == pytest.approx(1.138, abs=0.001)


def test_the_injector_gives_its_heat_on_the_stated_gas():
    exact = replace(COOK, rating_error=1.0)
    flow = injector(exact).bore_m2
    # Bernoulli by hand: dry 60/40 gas at 15 °C and 102 125 Pa weighs 1.1593 kg/m3, and 800 Pa drive it at 37.15 m/s
    by_hand = 2.2e-3 / (37.15 * 102_125.0 / 101_325.0 * 0.6 * METHANE_MJ_PER_SM3)

    assert flow == pytest.approx(by_hand, rel=1e-3)


def test_a_full_bag_vents_what_is_made():
    happened = walk(kitchen([], made=0.01), 0.0, start_sm3=0.85, start_methane=0.6)

    np.testing.assert_allclose(happened.vented_sm3, 0.01)


def test_gas_is_cooked_with_before_it_is_vented():
    happened = walk(kitchen([serving(0, 10.0)], made=0.01), 0.0, start_sm3=0.85, start_methane=0.6)

    assert happened.burned_sm3[0] > 0.01
    assert happened.vented_sm3[0] == 0.0


def test_what_the_bag_lacks_is_short_and_nothing_goes_below_empty():
    wanted = serving(0, 60.0, daring=0.0)
    happened = walk(kitchen([wanted]), 0.0, start_sm3=0.1, start_methane=0.6)

    assert happened.level_sm3.min() >= 0.0
    assert wanted.burned_sm3 == pytest.approx(0.1)
    assert wanted.short_mj == pytest.approx(wanted.wanted_mj - 0.1 * 0.6 * METHANE_MJ_PER_SM3)


def test_a_wary_cook_leaves_a_low_bag_alone():
    wanted = serving(0, 60.0)
    walk(kitchen([wanted]), 0.0, start_sm3=0.1, start_methane=0.6)

    assert wanted.burned_sm3 == 0.0
    assert wanted.short_mj == wanted.wanted_mj


def test_poorer_gas_takes_longer_for_the_same_meal():
    rich, poor = serving(0, 30.0), serving(0, 30.0)
    walk(kitchen([rich]), 0.0, start_sm3=0.8, start_methane=0.68)
    walk(kitchen([poor]), 0.0, start_sm3=0.8, start_methane=0.52)

    assert poor.wanted_mj == rich.wanted_mj
    assert poor.short_mj == rich.short_mj == 0.0
    assert poor.burned_min > 1.2 * rich.burned_min


def test_two_flames_draw_at_once():
    one = walk(kitchen([serving(0, 20.0)]), 0.0, start_sm3=0.8, start_methane=0.6)
    two = walk(kitchen([serving(0, 20.0), serving(1, 20.0)]), 0.0, start_sm3=0.8, start_methane=0.6)

    assert two.burned_sm3.sum() == pytest.approx(2.0 * one.burned_sm3.sum())
    assert two.burned_sm3[1] == pytest.approx(2.0 * one.burned_sm3[1])
