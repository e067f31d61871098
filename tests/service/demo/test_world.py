"""Invented households as a whole: true to themselves, varied, and plausible to a cook."""

import csv
import io
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
import pytest

from models.log import QUANTITIES
from service.demo.diary import COLUMNS, level_row
from service.demo.life import live
from service.demo.traits import demo_traits
from service.demo.world import demo_world, draw_world, to_csv

NOW = datetime(2026, 11, 25, 20, 30, tzinfo=UTC)
SEEDS = range(6)


@pytest.fixture(scope="module")
def demo():
    return demo_world(NOW)


@pytest.fixture(scope="module")
def drawn():
    return [draw_world(seed, days=400) for seed in SEEDS]


def month(truth):
    return np.array([day.month for day in truth.index])


def test_no_gas_is_lost_or_invented(demo, drawn):
    for world in [demo, *drawn]:
        truth = world.truth
        left = truth.level_start_sm3 + truth.made_sm3 - truth.burned_sm3 - truth.vented_sm3 - truth.leaked_sm3

        np.testing.assert_allclose(left, truth.level_end_sm3, atol=1e-9)
        np.testing.assert_allclose(truth.level_end_sm3[:-1], truth.level_start_sm3[1:])
        assert (truth.drop(columns=["slurry_c", "air_mean_c"]) >= 0.0).all(axis=None)


def test_the_stove_burned_what_the_servings_took(drawn):
    for world in drawn:
        assert world.kitchen.burned_sm3.sum() == pytest.approx(world.truth.burned_sm3.sum(), rel=1e-3)


def test_the_same_seed_gives_the_same_household():
    one, again, other = draw_world(7, days=60), draw_world(7, days=60), draw_world(8, days=60)

    assert one.readings == again.readings
    assert one.description == again.description
    pd.testing.assert_frame_equal(one.truth, again.truth)
    assert other.readings != one.readings


def test_truth_covers_the_days_asked_for():
    world = draw_world(3, days=90, end=date(2025, 3, 31))

    assert list(world.truth.index) == [date(2025, 1, 1) + timedelta(days=k) for k in range(90)]


def test_readings_are_canonical_rows_in_time_order(demo, drawn):
    for world in [demo, *drawn]:
        moments = [datetime.fromisoformat(row["taken_at"]) for row in world.readings]
        assert all(moment.utcoffset() is not None for moment in moments)
        assert moments == sorted(moments)
        for row in world.readings:
            assert tuple(row) == COLUMNS
            assert row["unit"] in QUANTITIES[row["quantity"]]
            assert float(row["value"]) >= (-20.0 if row["unit"] == "Cel" else 0.0)


def test_csv_reads_back_as_the_same_rows(drawn):
    assert list(csv.DictReader(io.StringIO(to_csv(drawn[0].readings)))) == drawn[0].readings


def test_cooking_names_a_burner_and_a_meal_of_the_description(drawn):
    for world in drawn:
        burners = {burner["name"] for burner in world.description["burners"]}
        meals = {meal["name"] for meal in world.meals}
        cooked = [row for row in world.readings if row["quantity"] == "cooking"]
        assert cooked
        assert {row["item"] for row in cooked} <= burners
        assert {row["meal"] for row in cooked} <= meals


def test_nothing_is_written_down_while_the_household_is_away(drawn):
    for world in drawn:
        zone = ZoneInfo(world.description["time_zone"])
        written = {
            datetime.fromisoformat(row["taken_at"]).astimezone(zone).date().isoformat() for row in world.readings
        }
        for away in world.overrides:
            assert not any(away["from"] <= day <= away["to"] for day in written)


def test_the_gauge_moves_without_gas_when_the_day_warms():
    """Between dawn and afternoon a bag that neither gains nor loses gas still shows more."""
    traits = demo_traits(2026)
    past = live(traits, date(2026, 7, 1), 3, np.random.default_rng(1))
    still = replace(past, walk=replace(past.walk, level_sm3=np.full_like(past.walk.level_sm3, 0.4)))
    exact = replace(still, traits=replace(traits, diary=replace(traits.diary, level_sd=0.0, level_step_pct=1.0)))
    dawn, afternoon = (
        float(level_row(exact, past.days.start_d[1] + hour / 24.0, np.random.default_rng(1))[1]["value"])
        for hour in (6.0, 15.0)
    )

    assert 2.0 <= afternoon - dawn <= 8.0  # July swings by some 12 K: 5 % of a bag half full


def test_drawn_households_differ_and_stay_plausible(drawn):
    made = [world.truth.made_sm3.mean() for world in drawn]
    capacity = [world.description["holder"]["capacity_m3"] for world in drawn]

    assert min(made) > 0.08
    assert max(made) < 2.0
    assert max(made) > 1.5 * min(made)
    assert len(set(capacity)) > 3
    assert sum(world.truth.vented_sm3.sum() > 1.0 for world in drawn) >= len(drawn) - 1


def test_the_demo_is_short_in_winter_and_vents_in_summer(demo):
    truth, kitchen = demo.truth, demo.kitchen
    winter, summer = truth[np.isin(month(truth), [1, 12])], truth[np.isin(month(truth), [6, 7])]
    meals = kitchen[kitchen.meal != ""]
    cold = np.isin(meals.start_d.to_numpy().astype("datetime64[D]").astype("datetime64[M]").astype(int) % 12, [0, 11])

    assert winter.made_sm3.mean() < 0.6 * summer.made_sm3.mean()
    assert summer.vented_sm3.mean() > 0.1 > winter.vented_sm3.mean()
    assert meals.on_gas[cold].mean() < 0.95 < meals.on_gas[~cold].mean()


def test_a_dinner_of_the_demo_takes_some_hundred_litres(demo):
    dinners = demo.kitchen[(demo.kitchen.meal == "dinner") & demo.kitchen.on_gas]

    assert 0.1 < dinners.burned_sm3.quantile(0.05) < dinners.burned_sm3.quantile(0.95) < 0.4


def test_the_demo_log_ends_now(demo):
    last = demo.readings[-1]
    zone = ZoneInfo(demo.description["time_zone"])

    assert last["quantity"] == "holder_level"
    assert datetime.fromisoformat(last["taken_at"]) <= NOW
    assert datetime.fromisoformat(last["taken_at"]).astimezone(zone).date() == NOW.astimezone(zone).date()
    assert demo.truth.index[-1] == NOW.astimezone(zone).date() - timedelta(days=1)


@pytest.mark.parametrize(
    "now",
    [
        datetime(2027, 1, 1, 8, 10, tzinfo=UTC),  # ten past midnight where the demo stands
        datetime(2028, 2, 29, 18, 0, tzinfo=UTC),
        datetime(2028, 12, 31, 23, 59, tzinfo=UTC),
    ],
)
def test_the_demo_log_is_three_to_four_years_at_any_moment(now):
    world = demo_world(now)
    first, last = (datetime.fromisoformat(world.readings[end]["taken_at"]) for end in (0, -1))
    zone = ZoneInfo(world.description["time_zone"])

    assert timedelta(days=3 * 365 - 3) < last - first < timedelta(days=4 * 366)
    assert last <= now
    assert last.astimezone(zone).date() == now.astimezone(zone).date()
