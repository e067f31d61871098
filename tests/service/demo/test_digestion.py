"""The mechanistic digester: heat, growth and what it can at most give."""

from dataclasses import replace
from datetime import date
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from service.demo import weather as skies
from service.demo.digestion import (
    COD_KG_PER_KG_VS,
    METHANE_SM3_PER_KG_COD,
    Intake,
    Microbes,
    Tank,
    cardinal,
    digest,
    slurry_temperature_c,
)

ZONE = ZoneInfo("America/Los_Angeles")
TANK = Tank(liquid_m3=0.85, insulation_m2k_per_w=0.5, sun_m2=0.3, ground_share=0.1)
DAYS = 1096


@pytest.fixture(scope="module")
def sky():
    return skies.hourly(date(2022, 1, 1), DAYS, ZONE, anchor_year=2022)


def daily_feed(sky, kg_vs):
    hours = len(sky.edge_d) - 1
    organic, volume = np.zeros(hours), np.zeros(hours)
    organic[20::24], volume[20::24] = kg_vs, 0.012
    return Intake(organic_kg=organic, volume_m3=volume, temperature_c=np.full(hours, 14.0))


def test_growth_is_one_at_its_best_and_nothing_at_either_end():
    microbes = Microbes()
    ends = np.array([microbes.coldest_c, microbes.best_c, microbes.hottest_c, -5.0, 60.0])

    np.testing.assert_allclose(cardinal(ends, microbes), [0.0, 1.0, 0.0, 0.0, 0.0], atol=1e-12)


def test_an_unfed_tank_in_the_dark_settles_between_air_and_ground(sky):
    dark = replace(sky, air_c=np.full_like(sky.air_c, 12.0), sun_w_per_m2=np.zeros_like(sky.sun_w_per_m2))
    hours = len(sky.edge_d) - 1
    nothing = Intake(organic_kg=np.zeros(hours), volume_m3=np.zeros(hours), temperature_c=np.full(hours, 14.0))

    assert slurry_temperature_c(TANK, dark, nothing)[-1] == pytest.approx(12.0, abs=1e-6)


def test_insulation_sun_and_warm_water_each_warm_the_slurry(sky):
    feed = daily_feed(sky, 1.0)
    plain = slurry_temperature_c(TANK, sky, feed).mean()

    assert slurry_temperature_c(replace(TANK, sun_m2=0.4), sky, feed).mean() > plain
    assert slurry_temperature_c(replace(TANK, insulation_m2k_per_w=1.0), sky, feed).mean() > plain
    assert slurry_temperature_c(TANK, sky, replace(feed, temperature_c=feed.temperature_c + 20.0)).mean() > plain


def test_no_more_methane_is_made_than_the_feed_holds(sky):
    microbes, feed = Microbes(), daily_feed(sky, 1.0)
    gas = digest(TANK, microbes, sky, feed)
    held = feed.organic_kg.sum() * COD_KG_PER_KG_VS * microbes.degradable + 10.0 * TANK.liquid_m3  # with the seed

    assert 0.4 * held < gas.methane_sm3.sum() / METHANE_SM3_PER_KG_COD < held


def test_spring_surges_past_an_autumn_just_as_warm(sky):
    """Matter left over from the cold is eaten when the methanogens come back: no function of today's temperature."""
    gas = digest(TANK, Microbes(growth_per_d=0.33, coldest_c=2.5), sky, daily_feed(sky, 1.1))
    made = gas.methane_sm3 + gas.carbon_dioxide_sm3
    month = sky.edge_d[:-1].astype("datetime64[D]").astype("datetime64[M]").astype(int) % 12 + 1
    settled = np.arange(len(made)) > 365 * 24
    spring, autumn = settled & (month == 5), settled & (month == 9)

    assert gas.slurry_c[spring].mean() < gas.slurry_c[autumn].mean()
    assert made[spring].mean() > 1.2 * made[autumn].mean()


def test_acid_holds_the_methanogens_back(sky):
    feed = daily_feed(sky, 1.4)
    free = digest(TANK, Microbes(inhibiting_acid=1000.0), sky, feed)
    held = digest(TANK, Microbes(inhibiting_acid=4.0), sky, feed)

    assert held.methane_sm3.sum() < free.methane_sm3.sum()


def test_cold_gas_is_the_richer_one(sky):
    gas = digest(TANK, Microbes(), sky, daily_feed(sky, 1.0))
    methane = gas.methane_sm3 / (gas.methane_sm3 + gas.carbon_dioxide_sm3)
    month = sky.edge_d[:-1].astype("datetime64[D]").astype("datetime64[M]").astype(int) % 12 + 1

    assert methane[month == 11].mean() > methane[month == 7].mean()
    assert 0.5 < methane[month == 7].mean() < 0.7
