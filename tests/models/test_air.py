"""Air at the digester: radiation against the published example, and series whose swing and seasons are known."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.signal import lfilter

from models.errors import Inconsistent, OutOfRange
from models.log import Readings
from models.site import Site
from models.temperature import (
    DIURNAL_K,
    PostedWeather,
    air_temperature,
    at,
    daily_mean,
    extraterrestrial_mj_per_m2_d,
)

SITE = Site(altitude_m=0.0, latitude_deg=41.0, monthly_mean_c=(9, 10, 12, 14, 17, 20, 22, 22, 20, 16, 12, 10))
START_D = 19_000.0
JANUARY_FIRST_2026_D = 20_454.0


def readings(time_d: np.ndarray, value: np.ndarray) -> Readings:
    blank, unused = np.full(len(time_d), ""), np.full(len(time_d), np.nan)
    return Readings(
        time_d=time_d,
        value=value,
        item=blank,
        meal=blank,
        id=blank,
        flame_fraction=unused,
        water_l=unused,
        from_c=unused,
        sure=np.zeros(len(time_d), dtype=bool),
    )


def seasons(time_d: np.ndarray, mean_c: float, half_k: float, swing_k: float) -> np.ndarray:
    """A made-up climate: warmest at the end of July, and at three in the afternoon."""
    year = 2.0 * np.pi * (time_d - JANUARY_FIRST_2026_D - 210.0) / 365.2425
    return mean_c + half_k * np.cos(year) + swing_k * np.cos(2.0 * np.pi * (time_d - 15.0 / 24.0))


def test_radiation_is_that_of_the_published_example() -> None:
    # FAO Irrigation and Drainage Paper 56, example 8: 20° S on 3 September, 32.2 MJ/m2/d (printed to 0.1; the year
    # angle here runs with the true year, which moves it by less than 0.2).
    third_of_september = JANUARY_FIRST_2026_D + 245.5

    assert float(extraterrestrial_mj_per_m2_d(-20.0, third_of_september)) == pytest.approx(32.2, abs=0.2)


def test_without_a_reading_the_normals_hold() -> None:
    air = air_temperature(SITE, Readings(), None, START_D)
    year = daily_mean(air, START_D + np.arange(366.0))

    assert year.mean() == pytest.approx(np.mean(SITE.monthly_mean_c), abs=0.2)
    assert at(air, [START_D + 15.0 / 24.0, START_D + 3.0 / 24.0]).tolist() == pytest.approx(
        [float(daily_mean(air, [START_D, START_D + 1.0])[0]) + sign * DIURNAL_K for sign in (1.0, -1.0)], abs=0.2
    )


def test_a_warm_spell_fades_and_a_lasting_bias_stays() -> None:
    time_d = START_D - np.arange(100.0, 0.0, -1.0) + 0.375  # nine in the morning, where the swing is nought
    warm = air_temperature(SITE, readings(time_d, seasons(time_d, 20.0, 6.5, 0.0)), None, START_D)
    usual = air_temperature(SITE, Readings(), None, START_D)
    ahead = np.array([START_D + 60.0, START_D + 61.0])

    bias = float(daily_mean(warm, ahead)[0] - daily_mean(usual, ahead)[0])
    assert 1.0 < bias < 6.0


def test_the_swing_is_learnt_from_days_read_at_several_hours() -> None:
    time_d = (START_D - np.arange(60.0, 0.0, -1.0)[:, None] + np.array([0.25, 0.625])).ravel()
    air = air_temperature(SITE, readings(time_d, seasons(time_d, 15.0, 6.5, 7.0)), None, START_D)

    assert air.diurnal_k == pytest.approx(7.0, abs=0.3)


def test_one_hour_a_day_leaves_the_swing_as_it_usually_is() -> None:
    time_d = START_D - np.arange(60.0, 0.0, -1.0) + 0.5
    air = air_temperature(SITE, readings(time_d, seasons(time_d, 15.0, 6.5, 7.0)), None, START_D)

    assert air.diurnal_k == DIURNAL_K


def test_the_season_is_learnt_once_a_year_was_logged() -> None:
    time_d = START_D - np.arange(800.0, 0.0, -1.0) + 0.375
    log = readings(time_d, seasons(time_d, 12.0, 12.0, 0.0))
    air = air_temperature(SITE, log, None, START_D)
    short = air_temperature(SITE, log.between(START_D - 200.0, START_D), None, START_D)
    ahead = START_D + np.arange(90.0, 300.0)
    truth = seasons(ahead[:-1] + 0.5, 12.0, 12.0, 0.0)

    error, before = (np.abs(daily_mean(one, ahead) - truth).mean() for one in (air, short))
    assert error < 0.5
    assert error < 0.5 * before


def test_posted_weather_is_used_for_the_days_it_names() -> None:
    posted = PostedWeather(
        start_d=np.array([START_D, START_D + 1.0]),
        end_d=np.array([START_D + 1.0, START_D + 2.0]),
        mean_c=np.array([30.0, np.nan]),
        min_c=np.array([20.0, np.nan]),
        max_c=np.array([40.0, np.nan]),
    )
    air = air_temperature(SITE, Readings(), posted, START_D)

    assert daily_mean(air, [START_D, START_D + 1.0])[0] == pytest.approx(30.0)
    assert air.diurnal_k > DIURNAL_K


@pytest.mark.parametrize("logged", [Readings(), readings(START_D + np.arange(-5.0, 0.0) + 0.4, np.full(5, 14.0))])
def test_what_is_posted_for_days_to_come_changes_those_alone(logged: Readings) -> None:
    day = START_D + 4.0
    posted = PostedWeather(start_d=np.array([day]), end_d=np.array([day + 1.0]), mean_c=np.array([-5.0]))
    edges = START_D + np.arange(-10.0, 9.0)

    plain, told = (daily_mean(air_temperature(SITE, logged, one, START_D + 0.6), edges) for one in (None, posted))

    np.testing.assert_allclose(told[:11], plain[:11], atol=1e-9)  # up to today
    assert told[14] == pytest.approx(-5.0)
    assert (np.diff(told[10:15]) < 0.0).all()  # towards it, day by day
    assert (np.diff((plain - told)[14:]) < 0.0).all()  # and away from it again


def test_posted_means_alone_leave_the_swing_as_it_usually_is() -> None:
    posted = PostedWeather(start_d=np.array([START_D]), end_d=np.array([START_D + 1.0]), mean_c=np.array([3.0]))

    assert air_temperature(SITE, Readings(), posted, START_D).diurnal_k == DIURNAL_K


def test_what_cannot_be_is_refused() -> None:
    with pytest.raises(OutOfRange, match="latitude_deg is 91, must be -90 to 90"):
        extraterrestrial_mj_per_m2_d(91.0, START_D)
    with pytest.raises(OutOfRange, match="mean_c is 70, must be -60 to 60"):
        PostedWeather(start_d=np.array([0.0]), end_d=np.array([1.0]), mean_c=np.array([70.0]))
    with pytest.raises(Inconsistent, match="differ in number"):
        PostedWeather(start_d=np.array([0.0]), end_d=np.array([1.0]), mean_c=np.array([7.0, 8.0]))


def test_looks_at_odd_moments_do_not_pass_for_wilder_weather() -> None:
    """Weather of 2 K that decays by a quarter a day, seen through looks that stray by 3 K."""
    time_d = START_D - np.arange(120.0, 0.0, -1.0) + 0.375
    spreads = []
    for seed in range(20):
        rng = np.random.default_rng(seed)
        spell = lfilter([2.0 * np.sqrt(1.0 - 0.75**2)], [1.0, -0.75], rng.standard_normal(120))
        seen = daily_mean(air_temperature(SITE, Readings(), None, START_D), np.append(time_d, START_D + 0.375)) + spell
        log = readings(time_d, seen + 3.0 * rng.standard_normal(120))
        spreads.append(air_temperature(SITE, log, None, START_D).anomaly_sd_k)

    # The usual 3 K weigh thirty pairs of days against the log's 119.
    assert np.mean(spreads) == pytest.approx(np.sqrt((119 * 2.0**2 + 30 * 3.0**2) / 149), abs=0.25)
