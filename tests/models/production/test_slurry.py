"""Slurry temperature: learnt from its readings, followed through them, and told apart from a heated tank."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from models.log import Log
from models.production.record import record
from models.production.slurry import (
    READING_SD_K,
    RESIDUAL_DECAY_PER_D,
    SlurryFit,
    base_c,
    fit_slurry,
    follow,
    lagged,
    own_readings,
)
from tests.models.production.conftest import readings

START_D, DAYS = 19_800.0, 400


def measured(household, truth_of, sd_k=0.5, every=3, item="tank", at=0.5):
    """A record of a digester whose slurry is a function of daily air and sun."""
    blank = record(household, Log(by_quantity={"feed": readings([START_D], [5.0])}), None, START_D + DAYS)
    truth = truth_of(blank)
    day = np.arange(200, 200 + DAYS, every)
    value = truth[day] + sd_k * np.random.default_rng(3).standard_normal(len(day))
    seen = readings(blank.edges_d[day] + at, value, item)
    log = Log(by_quantity={"digester_temperature": seen, "feed": readings([START_D], [5.0])})
    return record(household, log, None, START_D + DAYS), truth


def test_a_step_of_the_air_is_followed_by_two_thirds_in_one_time_constant():
    step = np.append(np.full(50, 10.0), np.full(50, 20.0))

    followed = lagged(step, 4.0)

    assert followed[49] == pytest.approx(10.0)
    assert followed[53] == pytest.approx(20.0 - 10.0 * np.exp(-1.0))
    assert followed[-1] == pytest.approx(20.0, abs=1e-4)


def test_lag_warmth_and_sun_are_found_again(plain):
    true = SlurryFit(lag_d=6.0, warmth_k=3.0, sun_k_per_mj=0.15)
    known, truth = measured(plain, lambda r: base_c(true, r.air_c, r.sun_mj_per_m2_d))

    found = fit_slurry(known, plain.digesters[0])

    # The pieces trade against one another; what counts is the temperature, good to half a reading's error.
    np.testing.assert_allclose(base_c(found, known.air_c, known.sun_mj_per_m2_d)[200:], truth[200:], atol=0.6)
    assert found.held_c is None


def test_without_a_thermometer_the_prior_stands(plain):
    known = record(plain, Log(), None, START_D)

    assert fit_slurry(known, plain.digesters[0]) == SlurryFit()


def test_a_heated_digester_is_told_from_one_that_follows_the_air(plain):
    known, _ = measured(plain, lambda r: np.full(len(r.air_c), 37.0))

    found = fit_slurry(known, plain.digesters[0])

    assert found.held_c == pytest.approx(37.0, abs=0.3)
    np.testing.assert_allclose(base_c(found, known.air_c, known.sun_mj_per_m2_d), found.held_c)


def test_a_digester_in_the_ground_feels_the_year_only_in_part(plain):
    true = SlurryFit(lag_d=9.0, air_share=0.5, ground_c=14.4)
    known, truth = measured(plain, lambda r: base_c(true, r.air_c, r.sun_mj_per_m2_d))

    found = fit_slurry(known, plain.digesters[0])

    assert found.air_share < 1.0
    np.testing.assert_allclose(base_c(found, known.air_c, known.sun_mj_per_m2_d)[200:], truth[200:], atol=1.2)


def test_a_sensor_on_the_wall_reads_between_slurry_and_air(plain):
    outside = replace(plain, digesters=(replace(plain.digesters[0], sensor="outside_wall"),))
    true = SlurryFit(lag_d=4.0, warmth_k=8.0, sun_k_per_mj=0.1)
    known, truth = measured(
        outside, lambda r: 0.65 * base_c(true, r.air_c, r.sun_mj_per_m2_d) + 0.35 * r.air_c, sd_k=0.3, every=2
    )
    inside = (truth - 0.35 * known.air_c) / 0.65

    found = follow(known, outside.digesters[0], fit_slurry(known, outside.digesters[0]))

    assert found.fit.wall_share > 0.0
    # Warmth and share trade against one another, so that only part of the difference can be found.
    assert np.abs(found.daily_c[200:] - inside[200:]).mean() < 0.6 * np.abs(truth[200:] - inside[200:]).mean()


def test_the_residual_is_that_of_an_exact_smoother(plain):
    fit = SlurryFit(residual_sd_k=1.5)
    known, _ = measured(plain, lambda r: base_c(fit, r.air_c, r.sun_mj_per_m2_d) + 2.0, every=7)
    base = base_c(fit, known.air_c, known.sun_mj_per_m2_d)
    seen = own_readings(known, plain.digesters[0])
    day = known.day_of(seen.time_d)

    found = follow(known, plain.digesters[0], fit)

    # A first-order process seen with noise is one big normal: its conditional mean is the smoother's.
    days = np.arange(len(base))
    covariance = 1.5**2 * RESIDUAL_DECAY_PER_D ** np.abs(days[:, None] - days)
    seen_covariance = covariance[np.ix_(day, day)] + READING_SD_K**2 * np.eye(len(day))
    gain = np.linalg.solve(seen_covariance, covariance[day]).T
    np.testing.assert_allclose(found.daily_c, base + gain @ (seen.value - base[day]), atol=1e-8)
    left = covariance[-1, -1] - gain[-1] @ covariance[day, -1]
    assert found.residual_var == pytest.approx(left)


def test_a_reading_that_names_no_digester_is_the_firsts(plain):
    pair = replace(plain, digesters=tuple(replace(plain.digesters[0], name=name) for name in ("tank", "drum")))
    time = START_D + np.arange(3.0)
    log = Log(
        by_quantity={
            "digester_temperature": replace(readings(time, [20.0, 21.0, 90.0]), item=np.array(["", "drum", "tank"]))
        }
    )
    known = record(pair, log, None, START_D + 10.0)

    assert own_readings(known, pair.digesters[0]).value.tolist() == [20.0]  # 90 °C is no slurry
    assert own_readings(known, pair.digesters[1]).value.tolist() == [21.0]
