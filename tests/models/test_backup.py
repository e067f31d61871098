"""The backup fuel: equivalents by hand, bottles that run out, and dates that count back from them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from models.backup import Backup, BackupOutlook, backup_amount, backup_outlook
from models.errors import Inconsistent, OutOfRange
from models.fuels import fuel
from models.meals import Serving
from models.reckoning import Reckoning

Cook = Callable[..., Serving]
Reckon = Callable[..., Reckoning]
DINNER_LPG_KG = 0.3 * 20.0 * 0.5 / (0.55 * fuel("lpg").net_mj_per_unit)  # sm3, MJ/sm3, share into the pan


@pytest.fixture
def dry_week(reckon: Reckon, at_hour: Cook) -> Reckoning:
    """Gas for one dinner and six without, on every path."""
    return reckon([0.3] * 10, np.zeros(10), [at_hour(19.0 + 24.0 * day) for day in range(7)], hours=168.0)


def of(told: Reckoning, **described: object) -> BackupOutlook:
    return backup_outlook(told, Backup(**described))


def test_a_dinner_without_gas_takes_its_heat_from_the_bottle(dry_week: Reckoning) -> None:
    amount = backup_amount(dry_week, Backup())

    assert amount[0] == pytest.approx([0.0] + [DINNER_LPG_KG] * 6)


def test_a_dry_week_by_hand(dry_week: Reckoning) -> None:
    outlook = of(dry_week, on_hand_kg=4.5 * DINNER_LPG_KG, lead_d=2.0)

    assert outlook.first_backup_date == outlook.first_backup_date_q10 == date(2026, 3, 3)
    assert outlook.first_backup_meal == "dinner"
    assert outlook.days_until_backup == pytest.approx(1.0 + 19.0 / 24.0)
    assert outlook.backup_probability == 1.0
    assert outlook.backup == outlook.backup_q90 == pytest.approx(6.0 * DINNER_LPG_KG)
    assert (outlook.fuel, outlook.unit) == ("lpg", "kg")
    # The bottle carries four dinners and a half: it ends in the fifth, on the 7th, and takes two days to come.
    assert outlook.bottle_empty_date == date(2026, 3, 7)
    assert outlook.order_by_date == date(2026, 3, 5)
    assert len(outlook.meals) == 6
    assert outlook.meals[0].probability == 1.0
    assert outlook.meals[0].heat_mj == pytest.approx(3.0)
    assert "likely needed by dinner on Tuesday 3 March" in outlook.summary
    assert "order by Thursday 5 March" in outlook.summary


def test_a_bottle_that_runs_out_before_it_can_come_is_ordered_today(dry_week: Reckoning) -> None:
    outlook = of(dry_week, on_hand_kg=0.5 * DINNER_LPG_KG, lead_d=9.0)

    assert outlook.bottle_empty_date == date(2026, 3, 3)
    assert outlook.order_by_date == date(2026, 3, 2)


def test_a_bottle_that_lasts_needs_no_order(dry_week: Reckoning) -> None:
    outlook = of(dry_week, on_hand_kg=10.0)

    assert (outlook.bottle_empty_date, outlook.order_by_date) == (None, None)
    assert outlook.summary.endswith("the 10 kg in the house will last the next 7 days.")


def test_a_bottle_nobody_knows_has_no_dates(dry_week: Reckoning) -> None:
    outlook = of(dry_week)

    assert (outlook.on_hand_kg, outlook.bottle_empty_date, outlook.order_by_date) == (None, None, None)


def test_electricity_is_told_in_kilowatt_hours(dry_week: Reckoning) -> None:
    outlook = of(dry_week, fuel="induction", efficiency=0.85)

    assert outlook.unit == "kWh"
    assert outlook.backup == pytest.approx(6 * 3.0 / (0.85 * 3.6))


def test_an_unlikely_need_has_an_early_date_only(reckon: Reckon, at_hour: Cook) -> None:
    starts = [0.2] * 2 + [0.8] * 8
    outlook = of(reckon(starts, np.zeros(10), [at_hour(19.0)]))

    assert outlook.first_backup_date is None
    assert outlook.first_backup_meal is None
    assert outlook.days_until_backup is None
    assert outlook.first_backup_date_q10 == date(2026, 3, 2)
    assert outlook.backup_probability == pytest.approx(0.2)
    assert [(meal.meal, meal.probability) for meal in outlook.meals] == [("dinner", pytest.approx(0.2))]
    assert "odds of needing it 20%" in outlook.summary


@pytest.mark.parametrize(
    ("on_hand_kg", "care_level", "words"),
    [
        (0.1, 0.1, "order by Monday 2 March: one time in ten the 0.1 kg in the house will not last."),
        (0.1, 0.15, "order by Monday 2 March: with odds of 15% the 0.1 kg in the house will not last."),
        (0.0, 0.1, "order by Monday 2 March: one time in ten some is needed, and none is in the house."),
        (0.0, 0.4, "none is in the house."),
        (5.0, 0.1, "the 5 kg in the house will last the next day."),
    ],
)
def test_it_is_said_why_to_order_what_is_not_likely_to_be_needed(
    reckon: Reckon, at_hour: Cook, on_hand_kg: float, care_level: float, words: str
) -> None:
    told = reckon([0.0] * 2 + [0.8] * 8, np.zeros(10), [at_hour(19.0)], care_level=care_level)
    summary = of(told, on_hand_kg=on_hand_kg, lead_d=1.0).summary

    need = f"keep {DINNER_LPG_KG:.2g} kg ready"
    assert summary == f"No backup is likely to be needed in the next day; odds of needing it 20%; {need}; {words}"


def test_what_nobody_can_weigh_is_next_to_nothing(reckon: Reckon, at_hour: Cook) -> None:
    def told(lacking: float) -> str:
        return of(reckon([0.3 - lacking] * 10, np.zeros(10), [at_hour(19.0)])).summary

    ten_grams = 0.3 * 0.01 / DINNER_LPG_KG
    assert told(0.99 * ten_grams) == (
        "The backup is likely needed by dinner on Monday 2 March; next to nothing is needed."
    )
    assert told(1.01 * ten_grams).endswith("; keep 0.01 kg ready.")


@pytest.mark.parametrize(("needed_sm3", "words"), [(30.0, "keep 12 kg ready"), (300.0, "keep 118 kg ready")])
def test_much_is_told_in_whole_kilograms(reckon: Reckon, at_hour: Cook, needed_sm3: float, words: str) -> None:
    assert words in of(reckon([0.0], [0.0], [at_hour(19.0)], need_sm3=needed_sm3)).summary


def test_nothing_to_keep_and_nothing_kept_is_no_stock_that_lasts(reckon: Reckon, at_hour: Cook) -> None:
    told = reckon([0.8] * 10, np.zeros(10), [at_hour(19.0)])

    assert of(told, on_hand_kg=0.0).summary == (
        "No backup is likely to be needed in the next day; none is in the house."
    )


def test_care_orders_earlier(reckon: Reckon, at_hour: Cook) -> None:
    dinners = [at_hour(19.0 + 24.0 * day) for day in range(7)]
    told = reckon(np.linspace(0.0, 2.0, 50), np.zeros(50), dinners, hours=168.0, capacity_sm3=3.0)
    bottle = {"on_hand_kg": 0.5 * DINNER_LPG_KG, "lead_d": 1.0}

    careful, bold = (of(replace(told, care_level=care), **bottle) for care in (0.05, 0.4))
    assert careful.order_by_date < bold.order_by_date


def test_the_meal_named_is_the_one_that_first_lacks_gas(reckon: Reckon, at_hour: Cook) -> None:
    meals = [at_hour(12.0, "lunch"), at_hour(16.0, "unplanned", planned=False), at_hour(19.0)]
    told = reckon([0.25] * 2 + [0.5] * 3, np.zeros(5), meals, need_sm3=[[0.3, 0.05, 0.3]] * 5)

    assert of(told).first_backup_meal == "dinner"


def test_the_day_the_meal_and_the_time_are_of_one_meal(reckon: Reckon, at_hour: Cook) -> None:
    meals = [at_hour(hour, name) for hour, name in ((8.0, "breakfast"), (12.0, "lunch"), (19.0, "dinner"))]
    # Of a hundred paths 30 lack gas for breakfast, 25 for lunch first, 45 for dinner, which is first most often.
    starts = [0.1] * 30 + [0.4] * 25 + [0.7] * 45
    outlook = of(reckon(starts, np.zeros(100), meals))

    # By breakfast 30 in a hundred have needed the backup, by lunch 55.
    assert outlook.first_backup_meal == "lunch"
    assert outlook.days_until_backup == pytest.approx(12.0 / 24.0)
    assert outlook.first_backup_date == date(2026, 3, 2)
    assert outlook.summary.startswith("The backup is likely needed by lunch on Monday 2 March")


def test_tea_without_gas_is_no_meal_on_the_backup_and_takes_fuel(reckon: Reckon, at_hour: Cook) -> None:
    outlook = of(reckon([0.0], [0.0], [at_hour(16.0, "unplanned", planned=False)]))

    assert outlook.backup_probability == 0.0
    assert outlook.backup == pytest.approx(DINNER_LPG_KG)


def test_summaries_fit_their_line(dry_week: Reckoning) -> None:
    longest = replace(dry_week.run.timeline.servings[0], meal="m" * 300)
    timeline = replace(dry_week.run.timeline, servings=(longest,) * 7)
    told = replace(dry_week, run=replace(dry_week.run, timeline=timeline))

    assert len(of(told, on_hand_kg=99_999.0).summary) <= 200


@pytest.mark.parametrize("on_hand_kg", [0.0, 0.0123456])
def test_the_longest_reason_to_order_fits_its_line(reckon: Reckon, at_hour: Cook, on_hand_kg: float) -> None:
    usual = at_hour(19.0)
    dinner = replace(usual, start_d=usual.start_d + 205.0, end_d=usual.end_d + 205.0)
    told = reckon([0.0] * 2 + [0.8] * 8, np.zeros(10), [dinner], hours=24.0 * 214.0, care_level=0.15)
    summary = of(told, on_hand_kg=on_hand_kg).summary

    assert "order by Wednesday 23 September: with odds of 15%" in summary
    assert len(summary) <= 200


@pytest.mark.parametrize(
    ("described", "refusal", "complaint"),
    [
        ({"fuel": "coal"}, OutOfRange, "fuel is coal, must be one of lpg"),
        ({"on_hand_kg": -1.0}, OutOfRange, "on_hand_kg is -1"),
        ({"on_hand_kg": 100_001.0}, OutOfRange, "on_hand_kg is 100001"),
        ({"lead_d": -1.0}, OutOfRange, "lead_d is -1, must be 0 to 365"),
        ({"lead_d": 366.0}, OutOfRange, "lead_d is 366"),
        ({"efficiency": 0.01}, OutOfRange, "efficiency is 0.01"),
        ({"efficiency": 1.01}, OutOfRange, "efficiency is 1.01"),
        ({"fuel": "electric", "on_hand_kg": 3.0}, Inconsistent, "must be left out for electricity"),
    ],
)
def test_a_backup_that_cannot_be_is_refused(
    described: dict[str, object], refusal: type[Exception], complaint: str
) -> None:
    with pytest.raises(refusal, match=complaint):
        Backup(**described)


def test_backup_for_no_meal_is_for_the_usual_cooking(reckon: Reckon, at_hour: Cook) -> None:
    teas = reckon([0.1] * 10, np.zeros(10), [at_hour(16.0, "unplanned", planned=False)])

    need = f"{2.0 / 3.0 * DINNER_LPG_KG:.2g}"  # of 0.3 sm3, 0.1 is there
    assert of(teas).summary == f"No meal is planned in the next day; keep {need} kg ready for the usual cooking."
    assert of(reckon([0.1], [0.0])).summary == "No meal is planned in the next day."
