"""The ledger by day: balanced by hand on small logs, and against the truth of invented households."""

from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from models.calendar import local_midnights
from models.days import AT_LEAST, EXACT, MISSING, day_ledger
from models.ledger import cooked_gas, sound_cooking, standard_per_wet
from models.log import Log, Readings
from models.temperature import air_temperature
from service.demo.life import live
from service.demo.reading import household_of, log_of
from service.demo.traits import demo_traits
from service.demo.world import WARM_UP_D, draw_world, imagine

SEEDS = (0, 1, 2, 3, 4, 6, 8, 12)
DAYS = 400


def readings(time_d, value, **columns):
    count = len(time_d)
    texts = {name: np.array(columns.get(name, [""] * count)) for name in ("item", "meal")}
    return Readings(
        time_d=np.array(time_d, dtype=float),
        value=np.array(value, dtype=float),
        flame_fraction=np.ones(count),
        water_l=np.full(count, np.nan),
        from_c=np.full(count, np.nan),
        id=np.array([f"r{k}" for k in range(count)]),
        **texts,
    )


@pytest.fixture(scope="module")
def home():
    return household_of(draw_world(0, days=5))


@pytest.fixture
def edges(home):
    return local_midnights(date(2025, 5, 1), 4, home.zone)


def still_air(home, until_d):
    """Air of 15 °C day and night, so that balances can be worked by hand."""
    site = replace(home.site, monthly_mean_c=(15.0,) * 12)
    return replace(air_temperature(site, Readings(), None, until_d), diurnal_k=0.0)


def ledger(home, edges, air=None, **quantities):
    air = still_air(home, edges[-1]) if air is None else air
    return day_ledger(home, Log(by_quantity=quantities), air, edges)


def test_a_rise_and_the_cooking_make_the_day(home, edges):
    levels = readings(edges, [0.10, 0.20, 0.15, 0.25, 0.35])
    cooking = readings(edges[:4] + 0.5, [30.0] * 4, item=["ring"] * 4)
    air = still_air(home, edges[-1])
    days = ledger(home, edges, holder_level=levels, cooking=cooking)
    burned = cooked_gas(home, sound_cooking(Log(by_quantity={"cooking": cooking})), air).used_sm3
    rise = np.diff(levels.value) * standard_per_wet(home, air, edges[:1])

    assert list(days.bound) == [EXACT] * 4
    # by hand: rise, logged cooking, and the 12 % of it that is usually forgotten
    np.testing.assert_allclose(days.made_sm3, rise + 1.12 * burned, rtol=1e-9)
    np.testing.assert_allclose(days.burned_sm3, 1.12 * burned, rtol=1e-9)
    assert (days.vented_sm3 == 0.0).all()


def test_a_span_is_cut_at_midnight(home, edges):
    levels = readings([edges[0], edges[0] + 1.5, edges[0] + 3.0], [0.10, 0.25, 0.34])
    days = ledger(home, edges, holder_level=levels)
    per_wet = standard_per_wet(home, still_air(home, edges[-1]), edges[:1])

    # by hand: 0.15 m3 in 1.5 days, then 0.09 m3 in 1.5 days
    np.testing.assert_allclose(days.made_sm3[:3], np.array([0.10, 0.08, 0.06]) * per_wet, rtol=1e-9)
    assert days.bound[3] == MISSING
    assert np.isnan(days.made_sm3[3])
    assert days.reason[3] == "no two readings near enough"


def test_looks_within_a_day_cancel_and_only_the_outer_ones_count(home, edges):
    midnight_only = ledger(home, edges, holder_level=readings(edges, [0.1, 0.2, 0.2, 0.2, 0.2]))
    often = np.linspace(edges[0], edges[-1], 33)
    hourly = ledger(home, edges, holder_level=readings(often, np.interp(often, edges, [0.1, 0.2, 0.2, 0.2, 0.2])))

    np.testing.assert_allclose(hourly.made_sd_sm3, midnight_only.made_sd_sm3, rtol=1e-9)
    gauge_sd = home.holder.level_error_fraction * home.holder.capacity_m3 * np.sqrt(2.0)
    assert midnight_only.made_sd_sm3 == pytest.approx(gauge_sd, rel=0.15)  # the rest is the air's temperature


def test_a_full_holder_gives_only_a_lower_bound(home, edges):
    top = home.holder.capacity_m3
    days = ledger(home, edges, holder_level=readings(edges, [0.1, top, top, 0.1, 0.2]))

    assert list(days.bound) == [AT_LEAST, AT_LEAST, AT_LEAST, EXACT]
    assert np.isnan(days.made_sd_sm3[:3]).all()
    assert np.isnan(days.vented_sm3[:3]).all()
    assert days.reason[0] == "the holder was full, or nearly"


def test_a_holder_that_fills_between_two_looks_is_noticed(home, edges):
    """The gauge never stood near the top when it was looked at: an hour's cooking came just before each look."""
    top = home.holder.capacity_m3
    looks = edges + 0.8
    cooking = readings(looks[1:] - 0.1, [90.0] * 4, item=["ring"] * 4)
    days = ledger(home, edges, holder_level=readings(looks, [0.7 * top] * 5), cooking=cooking)

    assert AT_LEAST in days.bound
    assert EXACT not in days.bound


def test_venting_seen_gives_only_a_lower_bound(home, edges):
    levels = readings(edges, [0.1, 0.15, 0.2, 0.25, 0.3])
    days = ledger(home, edges, holder_level=levels, venting=readings([edges[1] + 0.4], [1.0]))

    assert list(days.bound) == [EXACT, AT_LEAST, EXACT, EXACT]


def test_an_outlet_meter_tells_what_was_made_and_what_was_vented(home, edges):
    top = home.holder.capacity_m3
    counter = readings(edges, [10.0, 10.3, 10.6, 10.9, 11.2], item=["outlet"] * 5)
    days = ledger(home, edges, holder_level=readings(edges, [top] * 5), gas_meter=counter)
    per_wet = float(standard_per_wet(home, still_air(home, edges[-1]), edges[:1])[0])

    assert list(days.bound) == [EXACT] * 4
    np.testing.assert_allclose(days.made_sm3, 0.3 * per_wet)
    np.testing.assert_allclose(days.vented_sm3, 0.3 * per_wet)


def test_meter_and_gauge_are_weighed_by_their_errors(home, edges):
    counter = readings(edges, [10.0, 10.3, 10.6, 10.9, 11.2], item=["outlet"] * 5)
    levels = readings(edges, [0.02, 0.08, 0.14, 0.20, 0.26])
    meter, gauge = ledger(home, edges, gas_meter=counter), ledger(home, edges, holder_level=levels)
    both = ledger(home, edges, gas_meter=counter, holder_level=levels)

    np.testing.assert_allclose(both.made_sd_sm3**-2.0, meter.made_sd_sm3**-2.0 + gauge.made_sd_sm3**-2.0)
    assert (abs(both.made_sm3 - meter.made_sm3) < abs(both.made_sm3 - gauge.made_sm3)).all()


def test_a_counter_that_was_exchanged_tells_nothing_of_that_day(home, edges):
    counter = readings(edges, [10.0, 10.3, 0.0, 0.3, 0.6], item=["outlet"] * 5)
    days = ledger(home, edges, gas_meter=counter)

    assert list(days.bound) == [EXACT, MISSING, EXACT, EXACT]


def test_a_stove_meter_leaves_nothing_forgotten(home, edges):
    levels = readings(edges, [0.1] * 5)
    stove = readings(edges, [5.0, 5.2, 5.4, 5.6, 5.8], item=["stove"] * 5)
    cooking = readings(edges[:4] + 0.5, [30.0] * 4, item=["ring"] * 4)
    days = ledger(home, edges, holder_level=levels, gas_meter=stove, cooking=cooking)
    per_wet = float(standard_per_wet(home, still_air(home, edges[-1]), edges[:1])[0])

    np.testing.assert_allclose(days.burned_sm3, 0.2 * per_wet)
    np.testing.assert_allclose(days.made_sm3, 0.2 * per_wet)


def test_forgotten_cooking_between_meter_readings_may_fall_on_either_side_of_midnight(home, edges):
    noon = edges + 0.5
    stove = readings(noon, [5.0, 5.2, 5.4, 5.6, 5.8], item=["stove"] * 5)
    written = readings(noon[:4] + 0.3, [35.0] * 4, item=["ring"] * 4)  # about what the meter counts
    once = readings(noon[3:4] + 0.3, [35.0], item=["ring"])
    silent = ledger(home, edges, gas_meter=stove, cooking=once)
    told = ledger(home, edges, gas_meter=stove, cooking=written)

    assert (told.burned_sd_sm3[1:3] < 0.5 * silent.burned_sd_sm3[1:3]).all()


def test_days_inside_a_long_gap_are_missing(home, edges):
    days = ledger(home, edges, holder_level=readings([edges[0], edges[-1]], [0.1, 0.3]))

    assert list(days.bound) == [MISSING] * 4


def test_a_typo_is_set_aside_with_its_reason(home, edges):
    levels = readings(edges, [0.1, 0.15, 9.0, 0.2, 0.25])
    days = ledger(home, edges, holder_level=levels)

    assert days.set_aside == (("r2", "above what the holder can hold"),)
    assert list(days.bound) == [EXACT] * 4


@pytest.mark.parametrize("levels", [readings([], []), readings([20_209.5], [0.3])])
def test_an_empty_log_makes_every_day_missing(home, edges, levels):
    days = ledger(home, edges, holder_level=levels)

    assert list(days.bound) == [MISSING] * 4
    assert np.isnan(days.burned_sm3).all()


@pytest.fixture(scope="module")
def judged():
    """Ledger and truth of invented households: bound, figure, error and the gas truly made, by day."""
    found = []
    for seed in SEEDS:
        world = draw_world(seed, days=DAYS)
        home, log = household_of(world), log_of(world)
        edges = local_midnights(world.truth.index[0], DAYS, home.zone)
        air = air_temperature(home.site, log.of("ambient_temperature"), None, edges[-1], zone=home.zone)
        found.append((day_ledger(home, log, air, edges), world.truth.made_sm3.to_numpy()))
    return found


def test_the_true_gas_lies_within_the_error_of_exact_days(judged):
    inside = np.concatenate(
        [
            abs(days.made_sm3 - true)[days.bound == EXACT] <= (1.96 * days.made_sd_sm3)[days.bound == EXACT]
            for days, true in judged
        ]
    )

    assert len(inside) > 0.25 * len(SEEDS) * DAYS
    assert 0.90 <= inside.mean() <= 0.98


def test_the_true_gas_lies_above_the_bound_of_at_least_days(judged):
    above = np.concatenate([(true >= days.made_sm3)[days.bound == AT_LEAST] for days, true in judged])

    assert len(above) > 0.1 * len(SEEDS) * DAYS
    assert above.mean() >= 0.97


def test_the_bound_says_something(judged):
    """A bound of nothing would always hold: together the bounds carry a good part of what was really made."""
    least = np.concatenate([days.made_sm3[days.bound == AT_LEAST] for days, _ in judged])
    true = np.concatenate([true[days.bound == AT_LEAST] for days, true in judged])

    assert least.sum() > 0.2 * true.sum()


def test_without_the_temperature_a_warm_afternoon_counts_as_gas():
    """A sensor's log, cut at dawn and mid-afternoon, where the bag's swing is at its widest."""
    inside = {"corrected": [], "uncorrected": []}
    first, count = date(2025, 4, 15), 150
    for seed in range(5):
        traits = _with_sensors(demo_traits(2026))
        world = imagine(traits, first, count, np.random.default_rng(seed))
        past = live(
            traits,
            world.truth.index[0] - (WARM_UP_D * np.timedelta64(1, "D")).item(),
            WARM_UP_D + count,
            np.random.default_rng(seed),
        )
        home, log = household_of(world), log_of(world)
        midnights = local_midnights(first, count, home.zone)
        edges = np.column_stack([midnights[:-1] + 6.0 / 24.0, midnights[:-1] + 15.0 / 24.0]).ravel()
        true = np.diff(past.at(edges, np.cumsum(past.made_sm3)))
        air = air_temperature(home.site, log.of("ambient_temperature"), None, midnights[-1], zone=home.zone)
        for name, thermometer in (("corrected", air), ("uncorrected", still_air(home, midnights[-1]))):
            found = day_ledger(home, log, thermometer, edges)
            exact = found.bound == EXACT
            inside[name] += (abs(found.made_sm3 - true) <= 1.96 * found.made_sd_sm3)[exact].tolist()

    assert 0.90 <= np.mean(inside["corrected"]) <= 0.98
    assert np.mean(inside["uncorrected"]) < 0.85


def _with_sensors(traits):
    """A hub reads level and stove meter eight times a day, and the cook writes everything down."""
    bag = replace(traits.bag, capacity_m3=1.5, gauge_points=((0.0, 0.0), (100.0, 1.5)))
    diary = replace(
        traits.diary, level_sd=0.005, level_step_pct=0.1, stated_error_pct=0.5, looks_per_d=8.0, stove_meter=True,
        ambient_odds=1.0, typo_odds=0.0,
    )  # fmt: skip
    cook = replace(traits.cook, appetite=1.2, holidays_per_year=0.0, unlogged_odds=0.0, tea_per_d=0.0)
    return replace(traits, bag=bag, diary=diary, cook=cook)
