"""What cannot be right in a log: each slip made on purpose in an invented one, and none found where there is none."""

from dataclasses import replace
from datetime import time, timedelta

import numpy as np
import pytest

from models.calendar import midnight
from models.digester import most_sm3_per_d
from models.log import Log, Readings
from models.meals import servings
from models.production.record import balance, record
from models.seen_log import LogWarning
from models.stove import Stove
from models.warnings import log_warnings, planned_lately
from service.demo.reading import household_of, log_of, plan_of
from service.demo.world import draw_world

DAY = 120


class Home:
    """An invented household with what the warnings need, its log open to slips of the pen."""

    def __init__(self, seed):
        self.world = draw_world(seed, days=400)
        self.household, self.log, self.plan = household_of(self.world), log_of(self.world), plan_of(self.world)

    @property
    def stove(self):
        home = self.household
        supply = home.supply(home.gas.methane_fraction, 15.0)
        return Stove(burners=home.burners, pans=home.pans, supply=supply)

    def at(self, day):
        return midnight(self.world.truth.index[day], self.household.zone) + 22.0 / 24.0

    def warnings(self, day=DAY, log=None, as_of_d=None):
        home = self.household
        as_of_d = self.at(day) if as_of_d is None else as_of_d
        log = self.log if log is None else log
        planned = servings(self.plan, self.world.truth.index[day] - timedelta(days=15), 16, self.stove)
        return {found.code: found for found in log_warnings(record(home, log, None, as_of_d, self.plan), planned)}

    def changed(self, quantity, change, since_d=-np.inf):
        """The log with a change made to the readings of one quantity from a moment on."""
        old = self.log.of(quantity)
        later = old.time_d >= since_d
        new = change(old.select(later))
        columns = {
            name: np.concatenate([getattr(old.select(~later), name), getattr(new, name)]) for name in Readings.__slots__
        }
        return Log(by_quantity=dict(self.log.by_quantity) | {quantity: Readings(**columns)})


@pytest.fixture(scope="module")
def home():
    return Home(1)


def test_a_log_kept_as_people_keep_it_raises_no_alarm():
    """Sixteen households, each looked at every five weeks; only looks that are old, or slips of the pen, are named."""
    wrong = []
    for seed in range(16):
        one = Home(seed)
        for day in range(20, 400, 35):
            named = one.warnings(day)
            named.pop("stale_readings", None)
            if "above what the holder can hold" in getattr(named.get("look_doubtful"), "message", ""):
                named.pop("look_doubtful")  # the diaries hold slips of the pen
            wrong += [(seed, day, found) for found in named.values()]

    assert wrong == []


def test_old_readings_are_named_and_fresh_ones_are_not(home):
    last = home.log.until(home.at(DAY)).of("holder_level").time_d[-1]

    assert "stale_readings" not in home.warnings(as_of_d=last + 1.9)
    assert home.warnings(log=home.log.until(last), as_of_d=last + 2.1)["stale_readings"].since_d == last


@pytest.mark.parametrize(("holders", "seen"), [(1.0, "entries of cooking would take more"), (6.0, "By the log")])
def test_minutes_ten_times_too_many_are_noticed_from_when_they_began(holders, seen):
    """By what a flame can have burned at once, or where the holder is large by what it burns day after day."""
    one = Home(1)
    size = holders * one.household.holder.capacity_m3
    one.household = replace(
        one.household, holder=replace(one.household.holder, capacity_m3=size, gauge_points=((0.0, 0.0), (100.0, size)))
    )
    begun = one.at(DAY) - 8.0
    log = one.changed("cooking", lambda old: replace(old, value=10.0 * old.value), since_d=begun)
    found = one.warnings(log=log)["minutes_too_many"]

    assert abs(found.since_d - begun) < 2.0
    assert seen in found.message


def test_a_few_entries_that_cannot_have_been_are_noticed_as_long_as_they_are_recent(home):
    """Two dinners of a day and a night, among a year of right ones."""
    begun = home.at(DAY) - 6.0
    slips = home.log.of("cooking").between(begun, home.at(DAY)).time_d[[0, 3]]
    log = home.changed(
        "cooking", lambda old: replace(old, value=np.where(np.isin(old.time_d, slips), 1400.0, old.value))
    )
    found = home.warnings(log=log)["minutes_too_many"]

    assert found.since_d == slips[0]
    assert found.message.startswith("2 entries of cooking would take more gas than a holder of")
    assert "minutes_too_many" not in home.warnings(DAY + 21, log=log)


def test_slips_among_minutes_that_are_all_too_many_are_counted():
    """In a bag six times as large that nobody looks at, tenfold entries pass, but not two of ten days each."""
    one = Home(1)
    size = 6.0 * one.household.holder.capacity_m3
    one.household = replace(
        one.household, holder=replace(one.household.holder, capacity_m3=size, gauge_points=((0.0, 0.0), (100.0, size)))
    )
    begun = one.at(DAY) - 8.0
    slips = one.log.of("cooking").between(begun, one.at(DAY)).time_d[[0, 3]]
    fast = one.changed("cooking", lambda old: replace(old, value=10.0 * old.value), since_d=begun)
    both = one.changed(
        "cooking",
        lambda old: replace(old, value=np.where(np.isin(old.time_d, slips), 14_400.0, 10.0 * old.value)),
        since_d=begun,
    )
    unseen = one.log.of("holder_level").between(-np.inf, begun)
    fast, both = (Log(by_quantity={**log.by_quantity, "holder_level": unseen}) for log in (fast, both))
    alone, found = (one.warnings(log=log)["minutes_too_many"] for log in (fast, both))

    assert alone.message.startswith("By the log")
    assert "besides" not in alone.message
    assert found.message.startswith("By the log")
    assert found.message.endswith(" 2 entries besides cannot have been.")
    assert found.since_d == slips[0]
    assert "set_aside" in found.look_first


def test_minutes_twice_too_many_are_left_to_the_model(home):
    assert "minutes_too_many" not in home.warnings(
        log=home.changed("cooking", lambda old: replace(old, value=1.5 * old.value))
    )


def test_falls_without_any_cooking_are_noticed(home):
    last = home.at(DAY) - 9.0
    log = home.changed("cooking", lambda old: old.select(slice(0, 0)), since_d=last)
    found = home.warnings(log=log)["no_cooking_logged"]

    assert found.since_d <= last
    assert "gas fitter" in found.look_first


def test_a_bag_that_only_falls_is_noticed_too(home):
    """Ten days without an entry, the level down by a fifth of the bag at every other look."""
    log = home.changed("cooking", lambda old: old.select(slice(0, 0)), since_d=home.at(DAY) - 10.0)
    capacity = home.household.holder.capacity_m3
    old = log.of("holder_level")
    level = capacity * np.where(np.arange(len(old)) % 2 == 0, 0.5, 0.2)
    falling = Log(by_quantity=dict(log.by_quantity) | {"holder_level": replace(old, value=level)})

    assert "fell by" in home.warnings(log=falling)["no_cooking_logged"].message


def test_a_bag_that_fills_without_cooking_raises_nothing(home):
    log = home.changed("cooking", lambda old: old.select(slice(0, 0)), since_d=home.at(DAY) - 10.0)
    old = log.of("holder_level")
    level = np.clip((old.time_d - home.at(DAY) + 10.0) / 10.0, 0.0, 1.0) * home.household.holder.capacity_m3
    filling = Log(by_quantity=dict(log.by_quantity) | {"holder_level": replace(old, value=level)})

    assert "no_cooking_logged" not in home.warnings(log=filling)


def test_a_household_that_never_logs_cooking_is_told_so(home):
    log = Log(by_quantity={name: r for name, r in home.log.by_quantity.items() if name != "cooking"})

    assert "no_cooking_logged" in home.warnings(log=log)


def test_a_gauge_that_never_moves_is_noticed_from_its_first_look(home):
    begun = home.at(DAY) - 10.0
    half = 0.5 * home.household.holder.capacity_m3
    log = home.changed("holder_level", lambda old: replace(old, value=np.full(len(old), half)), since_d=begun)
    found = home.warnings(log=log)["gauge_stuck"]

    assert found.since_d == log.of("holder_level").time_d[log.of("holder_level").time_d >= begun][0]


def test_a_bag_that_stays_full_is_no_stuck_gauge(home):
    full = home.household.holder.capacity_m3
    log = home.changed("holder_level", lambda old: replace(old, value=np.full(len(old), full)))

    assert "gauge_stuck" not in home.warnings(log=log)


@pytest.mark.parametrize(("hours", "word"), [(1.0, "late"), (-1.0, "early")])
def test_a_clock_an_hour_off_is_noticed_from_when_it_changed(home, hours, word):
    begun = home.at(DAY) - 7.0
    log = home.changed("cooking", lambda old: replace(old, time_d=old.time_d + hours / 24.0), since_d=begun)
    found = home.warnings(log=log)["clock_off"]

    assert word in found.message
    assert abs(found.since_d - begun) < 2.0


def test_without_a_schedule_the_clock_is_not_judged(home):
    late = home.changed("cooking", lambda old: replace(old, time_d=old.time_d + 1.0 / 24.0))

    assert log_warnings(record(home.household, late, None, home.at(DAY)), ()) == ()


@pytest.mark.parametrize("factor", [1000.0, 100.0, 0.1], ids=["litres as m3", "per cent as m3", "per cent as litres"])
def test_a_level_in_a_unit_that_cannot_be_is_noticed(factor):
    """A level of 45 % of a 0.9 m3 bag (0.4 m3) comes in as 400 m3, as 45 m3, or as 0.045 m3."""
    one = Home(2)
    vented = int(np.argmax(one.world.truth.vented_sm3.rolling(14).sum()))  # a bag that is never seen empty
    log = one.changed("holder_level", lambda old: replace(old, value=factor * old.value))

    assert "level_unit" in one.warnings(vented, log=log)


def test_an_empty_log_raises_nothing(home):
    assert home.warnings(log=Log()) == {}


def test_the_most_the_feed_can_give_is_worked_by_hand():
    """0.19 kg of volatile solids per kg of scraps and 0.62 sm3 from each."""
    household = Home(0).household
    one = replace(household.digesters[0], usual_feed_kg_per_d=4.0, feedstock="kitchen scraps")

    assert most_sm3_per_d((one,)) == pytest.approx(4.0 * 0.19 * 0.62)


def test_texts_are_kept_short():
    with pytest.raises(ValueError, match="message has 201 characters, must have at most 200"):
        LogWarning(code="x", since_d=0.0, message="m" * 201, look_first="")


def looked_again(home, minutes, share, *, fill, **more):
    """The log up to a look about so full, and one so many minutes later that shows so much more of the capacity."""
    looks = home.log.of("holder_level")
    about = np.abs(looks.value / home.household.holder.capacity_m3 - fill) < 0.1
    log = home.log.until(float(looks.time_d[about & (looks.time_d > home.at(DAY))][0]) + 1e-6)
    old = log.of("holder_level")
    value = np.clip(old.value[-1] + share * home.household.holder.capacity_m3, 0.0, None)
    new = replace(old.select(slice(-1, None)), time_d=old.time_d[-1:] + minutes / 1440.0, value=np.array([value]))
    new = replace(new, id=np.array(["the last"]), **more)
    columns = {name: np.append(getattr(old, name), getattr(new, name)) for name in Readings.__slots__}
    return Log(by_quantity=dict(log.by_quantity) | {"holder_level": Readings(**columns)}), float(new.time_d[0]) + 0.001


def test_a_last_look_that_no_digester_explains_is_taken_and_said(home):
    log, as_of_d = looked_again(home, 12.0, 0.5, fill=0.3)

    found = home.warnings(log=log, as_of_d=as_of_d)["look_doubtful"]

    assert "more than the digester can have made" in found.message
    assert balance(record(home.household, log, None, as_of_d, home.plan)).last_level_d == found.since_d
    sure, as_of_d = looked_again(home, 12.0, 0.5, fill=0.3, sure=np.array([True]))
    assert "look_doubtful" not in home.warnings(log=sure, as_of_d=as_of_d)
    slow, as_of_d = looked_again(home, 2.0 * 1440.0, 0.5, fill=0.3)
    assert "look_doubtful" not in home.warnings(log=slow, as_of_d=as_of_d)


def test_a_last_look_that_is_set_aside_is_said(home):
    log, as_of_d = looked_again(home, 240.0, 0.9, fill=0.3)

    found = home.warnings(log=log, as_of_d=as_of_d)["look_doubtful"]

    assert "is set aside: above what the holder can hold." in found.message
    assert "sure true" in found.look_first


def test_a_last_look_that_no_flame_explains_is_taken_and_said(home):
    log, as_of_d = looked_again(home, 2.0, -0.5, fill=0.8)

    found = home.warnings(log=log, as_of_d=as_of_d)["look_doubtful"]

    assert "licensed gas fitter" in found.look_first
    assert balance(record(home.household, log, None, as_of_d, home.plan)).last_level_d == found.since_d
    cooked, as_of_d = looked_again(home, 240.0, -0.5, fill=0.8)
    assert "look_doubtful" not in home.warnings(log=cooked, as_of_d=as_of_d)


def renamed(home, name, since_d):
    """The log with what was cooked as dinner under another name from a moment on."""

    def rename(late):
        return replace(late, meal=np.where(late.meal == "dinner", name, late.meal))

    return home.changed("cooking", rename, since_d)


@pytest.mark.parametrize("slip", ["diner", "DINNER", "dinners"])
def test_a_meal_that_the_log_spells_otherwise_is_named(home, slip):
    since_d = home.at(DAY - 3)

    found = home.warnings(log=renamed(home, slip, since_d))["meal_misspelt"]

    assert f"{slip!r}" in found.message and "'dinner'" in found.message
    assert found.since_d > since_d


def test_a_meal_of_another_name_is_no_slip(home):
    assert "meal_misspelt" not in home.warnings(log=renamed(home, "jam", home.at(DAY - 3)))


def test_a_name_nearly_that_of_a_meal_that_is_logged_as_well_is_no_slip(home):
    plain = home.log.of("cooking").select(home.log.of("cooking").meal == "dinner")
    more = replace(plain, time_d=plain.time_d + 1.0 / 24.0, meal=np.full(len(plain), "dinner 2"))
    both = {name: np.append(getattr(plain, name), getattr(more, name)) for name in Readings.__slots__}
    order = np.argsort(both["time_d"])
    cooking = Readings(**{name: column[order] for name, column in both.items()})

    assert "meal_misspelt" not in home.warnings(log=Log(by_quantity=dict(home.log.by_quantity) | {"cooking": cooking}))


def test_two_meals_that_differ_by_a_capital_are_each_their_own(home):
    dinner = next(meal for meal in home.plan.meals if meal.name == "dinner")
    plan = replace(home.plan, meals=(dinner, replace(dinner, name="Dinner", at=time(12))))
    log = renamed(home, "Dinner", home.at(DAY - 3))
    known = record(home.household, log, None, home.at(DAY), plan)

    found = log_warnings(known, planned_lately(plan, home.stove, home.at(DAY)))

    assert "meal_misspelt" not in {one.code for one in found}


def test_a_misspelt_name_too_long_for_a_sentence_is_left_out(home):
    long = "dinner " * 25
    dinner = next(meal for meal in home.plan.meals if meal.name == "dinner")
    plan = replace(home.plan, meals=(replace(dinner, name=long + "."),))
    known = record(home.household, renamed(home, long, -np.inf), None, home.at(DAY), plan)

    warned = {one.code: one for one in log_warnings(known, planned_lately(plan, home.stove, home.at(DAY)))}
    found = warned["meal_misspelt"]

    assert "spells otherwise" in found.message
