"""What the log teaches, on logs drawn with known habits and on logs that must not be misread."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date, time
from zoneinfo import ZoneInfo

import numpy as np
import pytest
import statsmodels.api as sm

from models.burner import gas_flow_sm3_per_h
from models.errors import OutOfRange
from models.habits import Habits, MealHabit, learn_habits
from models.holder import GasHolder
from models.ledger import NOTHING, GasUse
from models.log import Log
from models.meals import Meal, MealPlan, Override
from models.stove import Stove

UTC_ZONE = ZoneInfo("UTC")
MIDNIGHT_D = 20514.0  # 2 March 2026, 00:00 UTC
Logged = Callable[..., Log]
Learn = Callable[..., Habits]


@pytest.fixture
def learn(dinner: Meal, stove: Stove) -> Learn:
    """Habits after so many days of a log, with dinner and a lunch at noon in the plan."""
    lunch = replace(dinner, name="lunch", at=time(12))

    def read(log: Log, days: float, *changes: Override, forgotten: float = 0.0, metered: GasUse = NOTHING) -> Habits:
        plan = MealPlan(zone=UTC_ZONE, meals=(dinner, lunch), changes=changes)
        holder = GasHolder(capacity_m3=1.0, reserve_m3=0.1)
        return learn_habits(
            plan, log, stove, holder=holder, as_of_d=MIDNIGHT_D + days, forgotten=forgotten, metered=metered
        )

    return read


def every_day(days: int, hour: float, minutes: float, *name: str) -> list[tuple[object, ...]]:
    return [("cooking", 24.0 * day + hour, minutes, *name) for day in range(days)]


def test_without_a_log_the_plan_is_believed(learn: Learn, logged: Logged) -> None:
    habits = learn(logged(), 30.0)

    assert habits.of("dinner") == MealHabit()
    assert habits.of("dinner").cooked == pytest.approx(0.92)
    assert habits.unplanned_per_d == 0.0


def test_twenty_days_are_worth_as_much_as_the_plan(learn: Learn, logged: Logged) -> None:
    habits = learn(logged(*every_day(20, 19.0, 45.0, "dinner"), *every_day(20, 12.0, 30.0)), 20.0)
    dinner = habits.of("dinner")

    # By hand: twenty times 1 and twenty times 1.5 average 1.25; 1.5 is within 1.4 of that, so nobody had guests.
    assert dinner.ratio == pytest.approx(1.25)
    assert dinner.cooked == pytest.approx(1.0 - 20 * 0.08 / 40)
    assert dinner.guests == pytest.approx(20 * 0.06 / 40)
    assert dinner.spread == pytest.approx(np.sqrt((20 * 0.04 + 20 * np.log(1.2) ** 2) / 40))
    assert habits.of("lunch").ratio == pytest.approx(1.0)
    assert dinner.observations == 20


def test_odds_and_ratio_are_those_of_regressions_with_the_plan_as_data(learn: Learn, logged: Logged) -> None:
    # statsmodels: a binomial regression and a weighted mean over ten dinners, with the plan as twenty more.
    minutes = np.array([33.0, 27.0, 0.0, 36.0, 30.0, 0.0, 24.0, 33.0, 30.0, 36.0])
    rows = [("cooking", 24.0 * day + 19.0, spent, "dinner") for day, spent in enumerate(minutes.tolist()) if spent]
    dinner = learn(logged(*rows, *every_day(10, 12.0, 30.0)), 10.0).of("dinner")

    was_cooked = np.append(minutes > 0.0, [True, False])
    weights = np.append(np.ones(10), [20.0 * 0.92, 20.0 * 0.08])
    odds = sm.GLM(was_cooked.astype(float), np.ones(12), family=sm.families.Binomial(), freq_weights=weights).fit()
    ratios = np.append(minutes[minutes > 0.0] / 30.0, 1.0)
    mean = sm.WLS(ratios, np.ones(9), weights=np.append(np.ones(8), 20.0)).fit()
    assert dinner.cooked == pytest.approx(float(odds.predict(np.ones(1))[0]), rel=1e-6)  # its iteration stops at 1e-8
    assert dinner.ratio == pytest.approx(float(mean.params[0]))


def test_skipped_meals_are_counted(learn: Learn, logged: Logged) -> None:
    cooked = [row for day, row in enumerate(every_day(40, 19.0, 30.0)) if day % 4]

    habits = learn(logged(*cooked, *every_day(40, 12.0, 30.0)), 40.0)

    assert habits.of("dinner").cooked == pytest.approx(1.0 - (20 * 0.08 + 10) / 60)
    assert habits.of("lunch").cooked == pytest.approx(1.0 - 20 * 0.08 / 60)


def test_of_meals_that_are_missing_a_share_was_cooked_and_forgotten(learn: Learn, logged: Logged) -> None:
    rows = every_day(20, 12.0, 30.0)

    habits = learn(logged(*rows), 20.0, forgotten=0.25)

    assert habits.of("dinner").cooked == pytest.approx(1.0 - (20 * 0.08 + 0.75 * 20) / 40)


def test_a_meal_that_is_logged_with_no_minutes_was_skipped_and_not_forgotten(learn: Learn, logged: Logged) -> None:
    """Of ten dinners five are said not to have been cooked, three of them in days when nothing else was logged."""
    lunches = every_day(3, 12.0, 30.0) + [("cooking", 24.0 * day + 12.0, 30.0) for day in range(8, 10)]
    said = [("cooking", 24.0 * day + 19.0, 0.0, "dinner") for day in (0, 1, 4, 5, 6)]

    habits = learn(logged(*lunches, *said), 10.0, forgotten=0.25)

    # those of days 8 and 9 are missing from a log that was kept, and those of days 2, 3 and 7 from one that was not
    assert habits.of("dinner").observations == 7
    assert habits.of("dinner").cooked == pytest.approx(1.0 - (20 * 0.08 + 5 + 0.75 * 2) / 27)


@pytest.mark.parametrize("share", [-0.1, 1.1])
def test_no_more_than_all_can_be_forgotten(share: float, learn: Learn, logged: Logged) -> None:
    with pytest.raises(OutOfRange, match="forgotten is"):
        learn(logged(), 20.0, forgotten=share)


def test_a_meter_on_the_stove_tells_what_flames_take_and_what_nobody_wrote_down(
    learn: Learn, logged: Logged, stove: Stove
) -> None:
    """Forty lunches in the log and half as many dinners, all of half an hour; a quarter more passed the meter."""
    rows = [*every_day(40, 12.0, 30.0), *every_day(20, 19.0, 30.0)]
    one_sm3 = float(gas_flow_sm3_per_h(stove.burners[0], stove.supply)) / 2.0
    expected_sm3 = (60 + 0.5 * 20) * one_sm3  # of the dinners that are missing every other one was cooked
    days = MIDNIGHT_D + np.arange(40.0)
    metered = GasUse(start_d=days, end_d=days + 1.0, used_sm3=np.full(40, 1.25 * expected_sm3 / 40))

    plain = learn(logged(*rows), 40.0, forgotten=0.5)
    habits = learn(logged(*rows), 40.0, forgotten=0.5, metered=metered)

    stake_sm3 = 20 * expected_sm3 / 80
    assert plain.metered_ratio == 1.0
    assert habits.metered_ratio == pytest.approx((1.25 * expected_sm3 + stake_sm3) / (expected_sm3 + stake_sm3))
    assert habits.meals == plain.meals


def test_known_habits_are_found_again(learn: Learn, logged: Logged) -> None:
    rng = np.random.default_rng(1)
    days = 200
    minutes = 30.0 * 0.8 * np.exp(0.15 * rng.standard_normal(days) - 0.5 * 0.15**2)
    feasts = rng.random(days) < 0.1
    minutes = np.where(feasts, 1.8 * minutes, minutes)
    rows = [("cooking", 24.0 * k + 19.0, minutes[k]) for k in range(days) if rng.random() < 0.75]

    dinner = learn(logged(*rows, *every_day(days, 12.0, 30.0)), float(days)).of("dinner")

    assert dinner.ratio == pytest.approx(0.8, abs=0.05)  # shrunk by 20 in 170: at most 0.03 towards 1
    assert dinner.cooked == pytest.approx(0.75, abs=0.08)  # 200 draws: standard error 0.03
    assert dinner.spread == pytest.approx(0.15, abs=0.03)
    assert dinner.guests == pytest.approx(0.1, abs=0.06)
    assert dinner.guest_factor == pytest.approx(1.8, abs=0.2)


def test_only_the_last_two_hundred_servings_count(learn: Learn, logged: Logged) -> None:
    rows = [*every_day(300, 12.0, 30.0)]
    rows += [("cooking", 24.0 * day + 19.0, 60.0 if day < 100 else 30.0) for day in range(300)]

    dinner = learn(logged(*rows), 300.0).of("dinner")

    assert dinner.observations == 200
    assert dinner.ratio == pytest.approx(1.0)


def test_an_entry_without_a_name_is_the_meal_next_to_it(learn: Learn, logged: Logged) -> None:
    late = learn(logged(*every_day(20, 20.5, 45.0), *every_day(20, 11.0, 30.0)), 20.0)

    assert late.of("dinner").ratio == pytest.approx(1.25)
    assert late.unplanned_per_d == 0.0


def test_an_entry_that_names_its_meal_may_be_hours_off(learn: Learn, logged: Logged) -> None:
    habits = learn(logged(*every_day(20, 15.0, 45.0, "dinner"), *every_day(20, 12.0, 30.0)), 20.0)

    assert habits.of("dinner").ratio == pytest.approx(1.25)


def test_minutes_that_are_not_believed_teach_neither_a_ratio_nor_a_skipped_meal(learn: Learn, logged: Logged) -> None:
    """The fifth dinner's minutes are a guess, and so are those of a jam: like a log in which the dinner was not due."""
    rows = [*every_day(20, 19.0, 45.0), *every_day(20, 12.0, 30.0)]
    jam = ("cooking", 24.0 * 9 + 15.5, 300.0, "jam")

    def doubting(*moments_h: float) -> Log:
        cooking = logged(*rows, jam).of("cooking")
        told = np.isin(np.rint((cooking.time_d - MIDNIGHT_D) * 24.0 * 60.0), np.rint(np.array(moments_h) * 60.0))
        return Log(by_quantity={"cooking": replace(cooking, written=np.where(told, 900.0, np.nan))})

    found, without = learn(doubting(24.0 * 5 + 19.0, jam[1]), 20.0), learn(logged(*rows), 20.0)

    assert found.of("dinner").observations == without.of("dinner").observations - 1
    assert found.of("dinner").cooked == pytest.approx(1.0 - 20 * 0.08 / 39)
    assert found.of("dinner").ratio == pytest.approx((20 + 19 * 1.5) / 39)
    assert found.unplanned_per_d == without.unplanned_per_d == 0.0


def test_tea_is_use_outside_the_plan(learn: Learn, logged: Logged) -> None:
    rows = [*every_day(20, 12.0, 30.0), *every_day(20, 19.0, 30.0), *every_day(20, 16.0, 6.0)]

    habits = learn(logged(*rows), 20.0)

    assert habits.unplanned_per_d == pytest.approx(20 / 40)  # twenty days without a tea stand against it
    assert habits.unplanned_sm3 == pytest.approx(0.06)
    assert habits.unplanned_hour == pytest.approx(16.0)
    assert habits.of("dinner").ratio == pytest.approx(1.0)


def test_a_tea_before_a_skipped_dinner_is_not_a_small_dinner(learn: Learn, logged: Logged) -> None:
    rows = [*every_day(20, 12.0, 30.0), *every_day(20, 18.0, 6.0)]

    habits = learn(logged(*rows), 20.0)

    assert habits.of("dinner").cooked == pytest.approx(1.0 - (20 * 0.08 + 20) / 40)
    assert habits.of("dinner").ratio == pytest.approx(1.0)
    assert habits.unplanned_per_d == pytest.approx(0.5)


def test_an_entry_under_a_name_the_plan_lacks_is_outside_the_plan(learn: Learn, logged: Logged) -> None:
    habits = learn(logged(*every_day(20, 12.0, 30.0), *every_day(20, 19.0, 60.0, "jam")), 20.0)

    assert habits.unplanned_sm3 == pytest.approx(0.6)


def test_a_meal_cooked_on_the_backup_was_wanted(learn: Learn, logged: Logged) -> None:
    on_backup = [("backup_used", 24.0 * day + 19.5, 0.1) for day in range(20)]

    habits = learn(logged(*every_day(20, 12.0, 30.0), *on_backup), 20.0)

    assert habits.of("dinner").cooked == pytest.approx(1.0 - 20 * 0.08 / 40)
    assert habits.of("dinner").ratio == pytest.approx(1.0)


def test_a_meal_that_ran_out_of_gas_does_not_teach_a_smaller_one(learn: Learn, logged: Logged) -> None:
    rows = [*every_day(20, 12.0, 30.0), *every_day(20, 19.0, 10.0)]
    rows += [("backup_used", 24.0 * day + 19.3, 0.1) for day in range(20)]

    assert learn(logged(*rows), 20.0).of("dinner").ratio == pytest.approx(1.0)


def test_a_cook_who_looks_before_lighting_is_found_out(learn: Learn, logged: Logged) -> None:
    lunches = every_day(20, 12.0, 30.0)
    on_backup = [("backup_used", 24.0 * day + 19.3, 0.1) for day in range(20)]
    ran_out = every_day(5, 19.0, 15.0)

    # Twenty times on the backup, five of them begun on gas: with even odds worth four, 7 of 24.
    assert learn(logged(*lunches, *on_backup, *ran_out), 20.0).begun == pytest.approx(7 / 24)
    assert learn(logged(*lunches), 20.0).begun == Habits().begun == 0.5


def test_no_dinner_on_an_empty_holder_teaches_nothing(learn: Learn, logged: Logged) -> None:
    empty = [("holder_level", 24.0 * day + 18.0, 0.2) for day in range(20)]  # 0.1 above the reserve, dinner takes 0.3

    taught = learn(logged(*every_day(20, 12.0, 30.0), *empty), 20.0)
    stocked = [(name, hour, 0.9) for name, hour, _ in empty]
    skipped = learn(logged(*every_day(20, 12.0, 30.0), *stocked), 20.0)

    assert taught.of("dinner").observations == 0
    assert taught.of("dinner").cooked == pytest.approx(0.92)
    assert skipped.of("dinner").cooked == pytest.approx(1.0 - (20 * 0.08 + 20) / 40)


def test_lunch_takes_gas_that_a_morning_reading_still_shows(learn: Learn, logged: Logged) -> None:
    morning = [("holder_level", 24.0 * day + 8.0, 0.6) for day in range(20)]  # 0.5 above the reserve: lunch or dinner

    habits = learn(logged(*every_day(20, 12.0, 30.0), *morning), 20.0)

    assert habits.of("lunch").observations == 20
    assert habits.of("dinner").observations == 0


def test_days_of_silence_are_no_days_without_dinner(learn: Learn, logged: Logged) -> None:
    rows = every_day(60, 19.0, 30.0)

    habits = learn(logged(*rows[:20], *rows[40:]), 60.0)

    assert habits.of("dinner").observations == 40
    assert habits.of("dinner").cooked == pytest.approx(1.0 - 20 * 0.08 / 60)


def test_what_was_announced_is_compared_with_what_was_announced(learn: Learn, logged: Logged) -> None:
    guests = Override(meal="dinner", day=date(2026, 3, 2), factor=2.0)

    habits = learn(logged(("cooking", 19.0, 60.0), ("cooking", 43.0, 30.0)), 2.0, guests)

    assert habits.of("dinner").ratio == pytest.approx(1.0)


def test_a_log_older_than_a_year_is_left_alone(learn: Learn, logged: Logged) -> None:
    assert learn(logged(*every_day(10, 19.0, 60.0)), 500.0) == Habits()


def test_a_plan_made_after_the_log_reads_it_as_outside_the_plan(dinner: Meal, stove: Stove, logged: Logged) -> None:
    plan = MealPlan(zone=UTC_ZONE, meals=(replace(dinner, starts_on=date(2026, 4, 1)),))
    log = logged(*every_day(20, 19.0, 30.0))

    habits = learn_habits(plan, log, stove, holder=GasHolder(capacity_m3=1.0), as_of_d=MIDNIGHT_D + 20.0)

    assert habits.of("dinner").observations == 0
    assert habits.unplanned_sm3 == pytest.approx(0.3)


@pytest.mark.parametrize(
    "wrong", [{"cooked": 1.1}, {"cooked": -0.1}, {"ratio": 0.0}, {"ratio": 101.0}, {"spread": 3.1}, {"guests": -0.1}]
)
def test_habits_refuse_what_no_household_has(wrong: dict[str, float]) -> None:
    with pytest.raises(OutOfRange, match="must be"):
        MealHabit(**wrong)
