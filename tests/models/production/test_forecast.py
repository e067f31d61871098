"""Sample paths: chance only from the generator, no gas from nowhere, steps that add up, intervals that hold."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest
from scipy.signal import lfilter

from models.calendar import from_days
from models.log import Log
from models.meals import Absence, MealPlan
from models.production.fit import fit, record, state
from models.production.forecast import BOOK_SPREAD, sample_paths
from models.production.slurry import SlurryFit, base_c
from models.production.substrate import POOL_SHARES, activity
from models.temperature import PostedWeather, daily_mean
from tests.models.production.conftest import PRIOR, readings, tomorrow


def drawn(found, edges, paths=400, seed=0):
    return sample_paths(found, edges_d=edges, paths=paths, rng=np.random.default_rng(seed))


@pytest.fixture(scope="module")
def fitted(plain, live):
    life = live(plain, 250, level=0.9)
    known = record(plain, life.log, None, life.end_d)
    return life, state(known, fit(known))


def test_the_same_seed_draws_the_same_paths_and_another_does_not(fitted):
    life, found = fitted
    edges = tomorrow(life, 3)

    np.testing.assert_array_equal(drawn(found, edges).made_sm3, drawn(found, edges).made_sm3)
    assert not np.array_equal(drawn(found, edges).made_sm3, drawn(found, edges, seed=1).made_sm3)


def test_shapes_are_those_asked_for(fitted):
    life, found = fitted

    paths = drawn(found, tomorrow(life, 5), paths=70)

    assert paths.made_sm3.shape == paths.slurry_c.shape == (70, 5)
    assert paths.air_c.shape == (5,)
    assert paths.level_sm3.shape == paths.made_before_sm3.shape == (70,)


def test_hours_add_up_to_their_days(fitted):
    life, found = fitted
    days = tomorrow(life, 2)
    hours = np.linspace(days[0], days[-1], 49)

    by_day, by_hour = drawn(found, days).made_sm3, drawn(found, hours).made_sm3

    np.testing.assert_allclose(by_hour.reshape(-1, 2, 24).sum(axis=2), by_day, rtol=1e-9)


def test_the_middle_of_the_day_leaves_the_rest_of_it(fitted):
    life, _ = fitted
    plain = fitted[1].known.household
    known = record(plain, life.log, None, life.end_d + 0.5)
    found = state(known, None)
    edges = np.array([life.end_d + 0.5, life.end_d + 1.0, life.end_d + 2.0])

    paths = drawn(found, edges)

    first, second = np.median(paths.made_sm3, axis=0)
    assert first == pytest.approx(second / 2.0, rel=0.1)
    assert np.median(paths.made_before_sm3) == pytest.approx(second * 15.0 / 24.0, rel=0.15)  # from nine in the evening


def test_the_gas_in_the_holder_is_as_the_gauge_showed_give_or_take_its_error(fitted):
    life, found = fitted

    paths = drawn(found, tomorrow(life, 1), paths=2000)

    sd = found.parameters.gauge_error * found.capacity_sm3
    assert paths.level_time_d == found.level_d == life.log.of("holder_level").time_d[-1]
    # What went before and after corrects a look by part of its error.
    assert np.mean(paths.level_sm3) == pytest.approx(found.level_sm3, abs=2.0 * sd)
    assert 0.4 * sd < paths.level_sm3.std() < 1.1 * sd
    assert (paths.level_sm3 >= 0.0).all() and (paths.level_sm3 <= found.capacity_sm3).all()


def test_one_look_at_the_gauge_is_a_level_with_its_error(plain):
    log = Log(by_quantity={"holder_level": readings([20_000.0], [1.5])})

    paths = drawn(state(record(plain, log, None, 20_000.2), None), 20_000.2 + np.arange(3.0), paths=4000)

    assert paths.level_sm3.std() == pytest.approx(0.04 * 3.0 * 0.98, rel=0.1)


def test_without_a_look_the_level_is_unknown(plain):
    paths = drawn(state(record(plain, Log(), None, 20_000.0), None), 20_000.0 + np.arange(3.0))

    assert np.isnan(paths.level_sm3).all() and np.isnan(paths.level_time_d)
    assert (paths.made_before_sm3 == 0.0).all()


def test_intervals_hold_what_the_model_itself_would_do(plain, live):
    """A hundred lives with level, spells, days and flame drawn from the prior: eight in ten days lie in 80 %."""
    held = []
    for seed in range(100):
        rng = np.random.default_rng(seed)
        spells = lfilter([0.15 * np.sqrt(1.0 - np.exp(-2.0 / 12.0))], [1.0, -np.exp(-1.0 / 12.0)], rng.normal(size=177))
        level = np.maximum(rng.normal(1.0, 0.35) + spells[100:], 0.1)
        flame = np.exp(BOOK_SPREAD * rng.standard_normal())
        life = live(plain, 77, seed=seed, level=level, day_spread=0.13 / level, gauge_sd=0.04, burned_ratio=flame)
        noon = life.edges_d[:70] + 0.5
        known = record(plain, life.log, None, float(life.edges_d[70]))
        warm = base_c(SlurryFit(), known.air_c, known.sun_mj_per_m2_d)[known.day_of(noon)]
        told = {"feed": readings(noon, np.full(70, 5.0)), "digester_temperature": readings(noon, warm, "tank")}
        coming = life.edges_d[70:]
        usual = PostedWeather(start_d=coming[:-1], end_d=coming[1:], mean_c=daily_mean(known.air, coming))
        known = record(plain, Log(by_quantity={**life.log.by_quantity, **told}), usual, float(coming[0]))
        made = drawn(state(known, None), coming, paths=300, seed=seed).made_sm3
        low, high = np.quantile(made, [0.1, 0.9], axis=0)
        held.append(np.mean((life.made_sm3[70:] >= low) & (life.made_sm3[70:] <= high)))

    # Three standard errors of a hundred lives; the intervals also allow for seasons, which these lives do not vary.
    assert 0.74 <= np.mean(held) <= 0.90


def test_a_digester_that_nobody_is_there_to_feed_dies_down_and_is_fed_again_afterwards(plain):
    tomorrow_on = from_days(20_001.5).date()
    plan = MealPlan(zone=plain.zone, changes=(Absence(first=tomorrow_on, last=tomorrow_on + timedelta(days=6)),))
    no_season = replace(plain, site=replace(plain.site, monthly_mean_c=(20,) * 12))
    edges = 20_000.5 + np.arange(16.0)
    known = [state(record(no_season, Log(), None, edges[0], one), None) for one in (None, plan)]
    home, away = (drawn(replace(one, z_covariance=0.0 * one.z_covariance), edges) for one in known)
    share = away.made_sm3.mean(axis=0) / home.made_sm3.mean(axis=0)

    # A pool that is fed steadily makes k/(k + D) of its share, and e^(−k·t) of that when nothing comes in or leaves.
    rate = np.array([PRIOR.fast_per_d, PRIOR.slow_per_d]) * activity(np.median(away.slurry_c[:, :7]), PRIOR.t0_c)
    made = np.array(POOL_SHARES) * rate / (rate + 12.0 / 900.0)
    unfed = np.exp(-np.multiply.outer(np.arange(1.0, 7.0), rate)) @ made / made.sum()
    np.testing.assert_allclose(share[1:7], unfed, rtol=0.03)
    assert (np.diff(share[7:]) > 0.0).all()


def test_after_a_long_absence_a_digester_that_is_fed_again_makes_what_it_did(plain):
    warm = replace(plain, site=replace(plain.site, monthly_mean_c=(25,) * 12))
    yesterday = from_days(19_999.5).date()
    plan = MealPlan(zone=plain.zone, changes=(Absence(first=yesterday - timedelta(days=119), last=yesterday),))
    edges = 20_000.0 + np.arange(91.0)

    home, away = (drawn(state(record(warm, Log(), None, edges[0], one), None), edges) for one in (None, plan))

    late = slice(60, None)
    assert away.made_sm3[:, 0].mean() < 0.2 * home.made_sm3[:, 0].mean()
    assert away.made_sm3[:, late].mean() == pytest.approx(home.made_sm3[:, late].mean(), rel=0.15)


def test_a_log_narrows_what_the_prior_leaves_open(fitted, plain):
    life, found = fitted
    blind = state(record(plain, Log(), None, life.end_d), None)

    with_log, without = (np.quantile(drawn(one, tomorrow(life, 1)).made_sm3, [0.1, 0.9]) for one in (found, blind))

    assert np.ptp(with_log) < 0.6 * np.ptp(without)


def test_posted_cold_brings_less_gas_than_posted_warmth(fitted, plain):
    life, _ = fitted
    edges = tomorrow(life, 20)
    made = []
    for mean_c in (2.0, 30.0):
        posted = PostedWeather(start_d=edges[:-1], end_d=edges[1:], mean_c=np.full(20, mean_c))
        known = record(plain, life.log, posted, life.end_d)
        made.append(np.median(drawn(state(known, None), edges).made_sm3[:, -1]))

    assert made[0] < 0.7 * made[1]


def test_posted_weather_narrows_the_slurry(fitted, plain):
    life, _ = fitted
    edges = tomorrow(life, 20)
    temperature = readings(life.edges_d[-60:-1] + 0.5, np.full(59, 18.0), "tank")
    log = Log(by_quantity={**life.log.by_quantity, "digester_temperature": temperature})
    posted = PostedWeather(start_d=edges[:-1], end_d=edges[1:], mean_c=np.full(20, 15.0))

    spread = [
        drawn(state(record(plain, log, weather, life.end_d), None), edges).slurry_c[:, -1].std()
        for weather in (posted, None)
    ]

    assert spread[0] < spread[1]


def test_no_day_brings_more_than_its_feed_can_hold(fitted):
    life, found = fitted
    wild = replace(found, mean=found.mean + np.array([60.0, 0.0, 0.0, 0.0, 0.0, 0.0]))

    made = drawn(wild, tomorrow(life, 3)).made_sm3

    assert made.max() <= found.most_sm3_per_d * (1.0 + 1e-9)
    assert found.most_sm3_per_d < 2.6 * 5.0 * 0.19 * 0.62


def test_feed_of_one_weekday_comes_on_that_weekday_again(plain):
    days = 140
    first = 20_150.0  # the forecast is of July, when feed soon turns into gas
    kg = np.where(np.arange(days) % 7 == 3, 20.0, 1.0)
    log = Log(by_quantity={"feed": readings(first + np.arange(days) + 0.4, kg)})
    quick = replace(plain, digesters=(replace(plain.digesters[0], usual_feed_kg_per_d=3.7),))
    found = state(record(quick, log, None, first + days), None)

    made = np.median(drawn(found, first + days + np.arange(15.0), paths=1000).made_sm3, axis=0)

    assert found.diagnostics["weekday_rhythm"] == "found"
    assert np.argmax(np.diff(made[:7])) in (2, 3)  # half of a day's feed decays from that day on, half from the next
    assert made[:7].max() > 1.05 * made[:7].min()


def test_minutes_written_down_leave_open_what_a_flame_takes_and_a_meter_on_the_stove_does_not(fitted, plain):
    life, by_minutes = fitted
    evenings = life.log.of("holder_level").time_d + 0.01
    meter = readings(evenings, np.cumsum(np.full(len(evenings), 0.4)), "stove")
    metered = record(plain, Log(by_quantity={**life.log.by_quantity, "gas_meter": meter}), None, life.end_d)

    open_left = drawn(by_minutes, tomorrow(life, 1), paths=2000).burned_ratio
    known = drawn(state(metered, None), tomorrow(life, 1)).burned_ratio

    assert np.std(np.log(open_left)) == pytest.approx(BOOK_SPREAD, rel=0.1)
    assert np.median(open_left) == pytest.approx(1.0, abs=0.01)
    assert (known == 1.0).all()


def test_gas_that_was_metered_is_known_better_than_the_flame_that_burns_it(plain):
    first = 20_000.0
    metered = readings(first + np.arange(40.0), 10.0 + 0.4 * np.arange(40.0), "outlet")
    by_meter = state(record(plain, Log(by_quantity={"gas_meter": metered}), None, first + 39.0), None)
    no_log = state(record(plain, Log(by_quantity={}), None, first), None)

    for found, end_d in ((by_meter, first + 39.0), (no_log, first)):
        paths = drawn(found, end_d + np.arange(2.0), paths=2000)
        ratio = np.log(paths.burned_ratio)
        assert np.std(ratio) == pytest.approx(BOOK_SPREAD, rel=0.1)
        assert abs(np.corrcoef(ratio, paths.made_sm3[:, 0])[0, 1]) < 0.1


def test_a_quarter_of_a_day_brings_a_quarter_of_its_gas(fitted):
    life, found = fitted
    edges = np.array([life.end_d, life.end_d + 0.25])

    paths = drawn(found, edges)

    assert np.median(paths.made_sm3) == pytest.approx(
        np.median(drawn(found, tomorrow(life, 1)).made_sm3) / 4.0, rel=0.1
    )
