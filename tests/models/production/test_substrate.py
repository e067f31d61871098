"""The physics feature: what goes in comes out as gas, leaves with the slurry or stays."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from models.calendar import from_days
from models.digester import Digester
from models.log import Log
from models.meals import Absence, MealPlan
from models.production.record import record
from models.production.substrate import (
    POOL_SHARES,
    UNLOGGED_FEED,
    Feeding,
    Kinetics,
    activity,
    decay_shares,
    feature,
    feeding,
)
from tests.models.production.conftest import PRIOR, physics, readings

USUAL_GAS = 5.0 * 0.19 * 0.62


def fed_at(household, kg, days=40, **more):
    start = 20_000.0
    time = start + np.arange(len(kg)) + 0.4
    log = Log(by_quantity={"feed": readings(time, np.array(kg, dtype=float))} | more)
    known = record(household, log, None, start + days)
    return known, feeding(known, 0)


def test_a_pool_in_balance_gives_what_is_fed_but_for_the_share_that_leaves(plain):
    known, _ = physics(plain, 5, PRIOR)
    days = len(known.air_c)
    steady = Feeding(
        gas_sm3=np.full(days, 1.0),
        dilution_per_d=np.full(days, 0.02),
        logged=np.ones(days, dtype=bool),
        usual_gas_sm3=1.0,
        usual_dilution_per_d=0.02,
    )
    warm = np.full(days, 35.0)

    made = np.diff(feature(known, (steady,), (warm,), PRIOR).cumulated_sm3)[-1]

    # Fed steadily, each pool gives k/(k + D) of its share; a day's steps leave the two a thousandth apart.
    shares = [share * k / (k + 0.02) for share, k in zip(POOL_SHARES, (0.30, 0.018), strict=True)]
    assert made == pytest.approx(sum(shares), rel=2e-3)


def test_a_day_in_a_pool_is_that_of_the_differential_equation():
    rate, active, dilution = 0.3, 0.4, 0.05
    left, gassed = decay_shares(rate, np.array(active), dilution)

    exact = solve_ivp(
        lambda _, s: [-(rate * active + dilution) * s[0], rate * active * s[0]], (0.0, 1.0), [1.0, 0.0], rtol=1e-10
    ).y[:, -1]

    np.testing.assert_allclose([left, gassed], exact, rtol=1e-6)  # the solver's own tolerance, with room


def test_nothing_is_lost_between_gas_slurry_and_pools(plain):
    rng = np.random.default_rng(5)
    known, fed = fed_at(plain, rng.uniform(0.0, 9.0, 40))
    warm = rng.uniform(8.0, 30.0, len(known.air_c))
    dry = replace(fed, dilution_per_d=np.zeros(len(known.air_c)))
    seen = feature(known, (dry,), (warm,), PRIOR)
    half = len(warm) // 2
    before = feature(
        replace(known, air_c=known.air_c[:half], edges_d=known.edges_d[: half + 1]),
        (replace(dry, gas_sm3=dry.gas_sm3[:half], dilution_per_d=dry.dilution_per_d[:half]),),
        (warm[:half],),
        PRIOR,
    )

    made = seen.cumulated_sm3[-1] - seen.cumulated_sm3[half]

    assert sum(before.pools_sm3[0]) + dry.gas_sm3[half:].sum() == pytest.approx(made + sum(seen.pools_sm3[0]))


def test_decay_is_one_at_35_degrees_and_hardly_any_below_where_it_stops():
    np.testing.assert_allclose(activity(np.array([35.0, 60.0]), 3.0), [1.0, (33.0 / 32.0) ** 2])
    np.testing.assert_allclose(activity(np.array([-5.0, 3.0]), 3.0), (0.3 / 32.0) ** 2)


def test_without_a_feed_log_a_little_less_than_usual_is_fed(plain):
    _, fed = fed_at(plain, [])

    np.testing.assert_allclose(fed.gas_sm3, UNLOGGED_FEED * USUAL_GAS)
    assert not fed.logged.any()


def test_a_day_without_an_entry_was_fed_like_those_around_it(plain):
    _, fed = fed_at(plain, [4.0] * 10 + [np.nan] + [4.0] * 10)
    gap = int(np.flatnonzero(fed.logged)[0]) + 10

    assert not fed.logged[gap]
    assert fed.gas_sm3[gap] == pytest.approx(4.0 * 0.19 * 0.62, rel=0.02)  # the usual five kilograms still weigh in


def test_a_slip_of_the_pen_is_no_feed(plain):
    _, fed = fed_at(plain, [4.0] * 20 + [400.0])

    assert fed.gas_sm3.max() < 5.0 * 0.19 * 0.62


def test_dung_brings_less_gas_than_scraps_and_is_known_by_its_name(plain):
    time = np.array([20_000.4])
    known = record(plain, Log(by_quantity={"feed": readings(time, np.array([5.0]), "cow dung")}), None, 20_005.0)

    assert feeding(known, 0).gas_sm3[feeding(known, 0).logged] == pytest.approx(5.0 * 0.13 * 0.45)


def test_two_digesters_share_what_names_neither_and_keep_what_names_one(plain):
    pair = tuple(
        Digester(name=name, liquid_m3=0.9, usual_feed_kg_per_d=usual) for name, usual in (("tank", 3.0), ("drum", 1.0))
    )
    household = replace(plain, digesters=pair)
    times = np.array([20_000.4, 20_001.4])
    both = readings(times, np.array([4.0, 2.0]))
    named = replace(both, item=np.array(["kitchen scraps", "drum"]))
    known = record(household, Log(by_quantity={"feed": named}), None, 20_002.0)

    first, second = (feeding(known, index) for index in (0, 1))
    days = np.flatnonzero(first.logged)

    np.testing.assert_allclose(first.gas_sm3[days], [3.0 * 0.19 * 0.62, 0.0])
    np.testing.assert_allclose(second.gas_sm3[days], [1.0 * 0.19 * 0.62, 2.0 * 0.19 * 0.62])


def test_a_home_that_says_it_feeds_nothing_shares_evenly(plain):
    pair = tuple(Digester(name=name, liquid_m3=0.9, usual_feed_kg_per_d=0.0) for name in ("tank", "drum"))
    _, fed = fed_at(replace(plain, digesters=pair), [4.0])

    assert fed.gas_sm3[fed.logged] == pytest.approx(2.0 * 0.19 * 0.62)


def test_on_days_away_only_what_is_written_down_was_fed(plain):
    at_home, _ = fed_at(plain, [5.0] * 20)  # days 20 to 39 have no entry
    first, fed = (from_days(20_000.0 + day).date() for day in (10, 25))
    plan = MealPlan(zone=plain.zone, changes=(Absence(first=first, last=fed),))
    away = feeding(record(plain, at_home.log, None, at_home.as_of_d, plan), 0)
    days = slice(-41, -1)  # the last is the day that has just begun

    assert away.gas_sm3[days][:20] == pytest.approx(USUAL_GAS)  # written down, whoever fed it
    np.testing.assert_array_equal(away.gas_sm3[days][20:26], 0.0)
    np.testing.assert_array_equal(away.dilution_per_d[days][20:26], 0.0)
    np.testing.assert_array_equal(away.gas_sm3[days][26:], feeding(at_home, 0).gas_sm3[days][26:])


def test_a_day_away_long_ago_leaves_the_pools_as_they_were(plain):
    at_home, _ = fed_at(plain, [5.0] * 20)
    plan = MealPlan(zone=plain.zone, changes=(Absence(first=at_home.day0, last=at_home.day0),))
    away = record(plain, at_home.log, None, at_home.as_of_d, plan)

    assert feeding(away, 0).gas_sm3[0] == feeding(at_home, 0).gas_sm3[0] > 0.0


def test_water_thins_the_slurry(plain):
    poured = readings(20_000.0 + np.arange(40) + 0.5, np.full(40, 45.0))
    _, wet = fed_at(plain, [5.0] * 40, water_added=poured)
    _, dry = fed_at(plain, [5.0] * 40)

    assert wet.dilution_per_d[-2] == pytest.approx(50.0 / 900.0)
    assert dry.dilution_per_d[-2] == pytest.approx(12.0 / 900.0)


def test_two_like_digesters_give_twice_the_gas_of_one(plain):
    pair = replace(plain, digesters=tuple(replace(plain.digesters[0], name=name) for name in ("a", "b")))
    _, one = physics(plain, 30, PRIOR, Log())
    _, two = physics(pair, 30, PRIOR, Log())

    np.testing.assert_allclose(two.cumulated_sm3, 2.0 * one.cumulated_sm3)


def test_warmer_slurry_gives_more_gas_at_once(plain):
    known, fed = fed_at(plain, [5.0] * 40)
    cold, warm = (
        np.diff(feature(known, (fed,), (np.full(len(known.air_c), t),), PRIOR).cumulated_sm3)[-1] for t in (12.0, 28.0)
    )

    assert warm > 1.5 * cold


def test_kinetics_may_differ_by_path():
    many = Kinetics(t0_c=np.array([1.0, 5.0]), fast_per_d=0.3, slow_per_d=0.02)

    assert activity(np.array([20.0, 20.0]), many.t0_c)[0] > activity(np.array([20.0, 20.0]), many.t0_c)[1]
