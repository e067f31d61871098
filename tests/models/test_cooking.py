"""Cooking that cannot have been: set aside where no holder could have fed it, and left alone where one might."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, time

import numpy as np
import pytest

from models.cooking import TOO_MUCH_GAS, believed, slips
from models.days import day_ledger
from models.digester import most_sm3_per_d
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
    cooking = kept.of("cooking")

    assert out == (("r20", TOO_MUCH_GAS),)
    assert cooking.id.tolist() == written.of("cooking").id.tolist()
    assert cooking.doubted.tolist() == [k == 20 for k in range(30)]
    assert cooking.written[20] == 350.0
    # the usual gas in the minutes that a flame of that evening's gas takes for it
    assert cooking.value[20] == pytest.approx(35.0, rel=0.01)
    assert believed(small, kept, air) == (kept, ())


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

    assert most_sm3_per_d(unfed.digesters) == 0.0
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


def usual_min(
    household: Household, cooking: Readings, air: AirTemperature, plan: MealPlan | None = None
) -> list[float]:
    """Minutes of full flame that stand in for the slips of a cooking log, in its order."""
    kept = believed(household, log(cooking=cooking), air, plan)[0].of("cooking")
    assert np.all(kept.flame_fraction[kept.doubted] == 1.0)
    return kept.value[kept.doubted].tolist()


def joined(*some: Readings) -> Readings:
    """Readings together in the order of their time."""
    whole = {name: np.concatenate([getattr(one, name) for one in some]) for name in Readings.__slots__}
    return Readings(**whole).select(np.argsort(whole["time_d"], kind="stable"))


def test_a_slip_counts_as_its_meal_usually_takes_by_the_log(small: Household, air: AirTemperature) -> None:
    """Of the meals of its name, or where it has none of its hour of the day, else of all that is cooked."""
    teas = replace(dinners(5.0), time_d=START_D + np.arange(30.0) + 0.4, meal=np.full(30, ""))
    lunch = readings(np.array([START_D + 10.5]), np.array([400.0]), "ring", "lunch")
    dinner = dinners(40.0, typo=400.0, day=25)

    assert usual_min(small, joined(dinner, teas), air) == pytest.approx([40.0], rel=0.01)
    assert usual_min(
        small, joined(dinners(40.0), replace(teas, value=np.where(np.arange(30) == 9, 500.0, 5.0))), air
    ) == (pytest.approx([5.0], rel=0.01))
    assert usual_min(small, joined(dinner, lunch), air) == pytest.approx([40.0, 40.0], rel=0.01)
    nameless = replace(lunch, meal=np.array([""]))
    assert usual_min(small, joined(dinner, nameless), air) == pytest.approx([40.0, 40.0], rel=0.01)


def test_a_slip_takes_after_the_meals_of_its_own_time_of_year(small: Household, air: AirTemperature) -> None:
    stews = dinners(60.0, days=15)
    salads = replace(dinners(20.0, typo=300.0), time_d=dinners(20.0).time_d + 15.0)

    assert usual_min(small, joined(stews, salads), air) == pytest.approx([20.0], rel=0.01)


def plan_of(small: Household, *meals: Meal) -> MealPlan:
    dinner = Meal(
        name="dinner", starts_on=date(2025, 1, 1), at=time(19), rrule="FREQ=DAILY", burner="ring", flame_min=40.0
    )
    return MealPlan(zone=small.zone, meals=(dinner, *meals))


def test_a_slip_counts_as_its_meal_usually_takes_by_plan_and_habit(small: Household, air: AirTemperature) -> None:
    plan = plan_of(small)
    first = dinners(40.0, days=1, typo=400.0, day=0)

    assert usual_min(small, first, air, plan) == pytest.approx([40.0], rel=0.02)  # the plan's, for want of a log
    assert usual_min(small, replace(first, meal=np.array([""])), air, plan) == pytest.approx([40.0], rel=0.02)
    # twenty dinners of half the plan's minutes are worth as much as the plan
    assert usual_min(small, dinners(20.0, days=21, typo=400.0), air, plan) == pytest.approx([30.0], rel=0.02)
    # fifteen of the dinner's minutes are in an entry of their own
    starter = readings(first.time_d - 0.02, np.array([15.0]), "ring", "dinner")
    habit = 40.0 * (20.0 + 15.0 / 40.0) / 21.0
    assert usual_min(small, joined(starter, first), air, plan) == pytest.approx([habit - 15.0], rel=0.02)
    both = joined(first, replace(first, time_d=first.time_d + 0.02))
    assert usual_min(small, both, air, plan) == pytest.approx([20.0, 20.0], rel=0.02)
    jam = replace(first, meal=np.array(["jam"]))
    assert usual_min(small, joined(dinners(15.0, days=1), jam), air, plan) == pytest.approx([15.0], rel=0.01)
    none = MealPlan(zone=small.zone)
    assert usual_min(small, dinners(35.0, typo=350.0), air, none) == pytest.approx([35.0], rel=0.01)


def test_a_slip_that_nothing_tells_of_counts_as_half_an_hour_and_no_more_than_a_full_holder(
    small: Household, air: AirTemperature
) -> None:
    first = dinners(40.0, days=1, typo=400.0, day=0)
    feast = Meal(
        name="feast", starts_on=date(2025, 1, 1), at=time(19), burner="ring", flame_min=1000.0, rrule="FREQ=DAILY"
    )
    (full,) = usual_min(small, replace(first, meal=np.array(["feast"])), air, plan_of(small, feast))
    per_min = float(cooked_gas(small, readings(first.time_d, np.ones(1), "ring"), air).used_sm3[0])

    assert usual_min(small, first, air) == [30.0]
    assert full == pytest.approx(0.9 * float(standard_per_wet(small, air, first.time_d)[0]) / per_min)


def test_low_flames_are_told_as_minutes_of_full_flame(small: Household, air: AirTemperature) -> None:
    cooking = dinners(60.0, typo=900.0)
    half = believed(small, log(cooking=replace(cooking, flame_fraction=np.full(30, 0.5))), air)[0].of("cooking")

    assert half.value[half.doubted] == pytest.approx([30.0], rel=0.01)
    assert half.written[half.doubted] == pytest.approx([450.0])


def seen(
    household: Household, cooking: Readings, *, looks_d: np.ndarray | None = None, now_d: float = NOW_D
) -> Outlook:
    looks_d = START_D + np.arange(30.0) + 0.9 if looks_d is None else looks_d
    looks = readings(looks_d, np.tile([0.40, 0.50], 15)[: len(looks_d)])
    plan = plan_of(household)
    known = record(household, log(cooking=cooking, holder_level=looks), None, now_d, plan)
    return look_ahead(known, state(known, None), plan, 3, seed=1)


def level(outlook: Outlook) -> np.ndarray:
    assert outlook.told is not None
    return outlook.told.run.level_sm3[:, 0]


def test_nothing_is_learnt_from_a_slip_but_that_somebody_cooked(small: Household) -> None:
    """Level, production and habits are near those of the right log; without the meal they are not."""
    slip, right = (seen(small, dinners(35.0, typo=typo)) for typo in (350.0, 35.0))
    cooking = dinners(35.0)
    without = seen(small, cooking.select(cooking.id != "r20"))

    assert slip.told is not None
    assert right.told is not None
    assert np.median(level(slip)) == pytest.approx(np.median(level(right)), rel=0.02)
    made = [float(np.median(one.made.made_sm3.sum(axis=1))) for one in (slip, right, without)]
    assert made[0] == pytest.approx(made[1], rel=0.01)
    need = [float(np.median(one.told.run.wanted.need_sm3)) for one in (slip, right)]
    assert need[0] == pytest.approx(need[1], rel=0.01)
    assert [one.code for one in right.warnings] == []
    (warned,) = slip.warnings
    assert (warned.code, warned.since_d) == ("minutes_too_many", dinners(35.0).time_d[20])
    assert warned.message.startswith("An entry of cooking would take more gas than a holder of 0.9 m3")


@pytest.mark.parametrize("tea", [False, True], ids=["last entry", "tea after it"])
def test_a_slip_since_the_last_look_never_makes_the_level_rise(small: Household, tea: bool) -> None:
    """The last look is of the evening before; dinner is cooked, and perhaps a tea, and its minutes are mistyped."""
    now_d, looks_d = NOW_D - 0.05, START_D + np.arange(29.0) + 0.9
    after = [readings(np.array([NOW_D - 0.1]), np.array([5.0]), "ring")] if tea else []
    found = {
        typo: seen(small, joined(dinners(35.0, typo=typo, day=29), *after), looks_d=looks_d, now_d=now_d)
        for typo in (20.0, 35.0, 350.0, 700.0, 1400.0)
    }
    middle = {typo: float(np.median(level(one))) for typo, one in found.items()}
    careful = {typo: float(np.quantile(level(one), 0.1)) for typo, one in found.items()}

    for figures in (middle, careful):
        assert figures[20.0] > figures[35.0] > figures[350.0] == figures[700.0] == figures[1400.0]
    dinner = middle[20.0] + 20.0 * (middle[20.0] - middle[35.0]) / 15.0 - middle[35.0]
    # one time in five all was burned: the middle of all is below that of the usual dinner, and well above an empty bag
    assert middle[35.0] - middle[350.0] < dinner / 3.0
    assert careful[350.0] < 0.25 * careful[35.0]
    told = found[350.0].told
    assert told is not None
    assert [(one.meal, one.overstated > 5.0) for one in told.assumed] == [("dinner", True)]
    assert found[35.0].told is not None
    assert found[35.0].told.assumed == ()


def test_a_slip_is_set_aside_in_the_ledger_and_in_what_production_is_learnt_from(
    small: Household, air: AirTemperature
) -> None:
    """What was burned and made on its day is that of the right log, known half as well as its meal is."""
    edges_d = START_D + np.arange(31.0)
    looks = readings(edges_d + 0.9, np.full(31, 0.45))
    slip, right = (
        day_ledger(small, log(cooking=dinners(35.0, typo=typo), holder_level=looks), air, edges_d)
        for typo in (350.0, 35.0)
    )
    known = record(small, log(cooking=dinners(35.0, typo=350.0), holder_level=looks), None, NOW_D)

    assert slip.set_aside == state(known, None).set_aside == (("r20", TOO_MUCH_GAS),)
    assert slip.bound.tolist() == right.bound.tolist()
    assert slip.made_sm3 == pytest.approx(right.made_sm3, rel=0.005, nan_ok=True)
    assert slip.burned_sm3 == pytest.approx(right.burned_sm3, rel=0.005, nan_ok=True)
    cooked = float(cooked_gas(small, dinners(35.0), air).used_sm3[20])
    more = slip.burned_sd_sm3**2 - right.burned_sd_sm3**2
    assert more[20] == pytest.approx((0.48 * cooked) ** 2 - (0.12 * cooked) ** 2, rel=0.02)
    assert np.delete(more, 20) == pytest.approx(0.0, abs=0.01 * cooked**2)
    assert known.written.of("cooking").value.max() == 350.0
    assert known.log.of("cooking").value.max() == pytest.approx(35.0, rel=0.01)


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
