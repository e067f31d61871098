"""What was said holds until the odds pass a margin, and every answer from one balance says the same."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace
from datetime import date

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from models.backup import Backup, BackupOutlook, backup_outlook
from models.budget import gas_budget
from models.holder import GasHolder
from models.lasting import storage_outlook
from models.meals import Serving
from models.reckoning import MARGIN, Reckoning, Said, margin_of, time_quantile
from models.steady import said
from models.venting import venting_outlook

MONDAY, TUESDAY = date(2026, 3, 2), date(2026, 3, 3)
HOLDER = GasHolder(capacity_m3=1.0)
LPG = Backup(on_hand_kg=0.2, lead_d=1.0)
Cook = Callable[..., Serving]
Reckon = Callable[..., Reckoning]


def times(early: int, late: int = 0) -> np.ndarray:
    """Of a hundred paths so many on day 1 and so many on day 2; on the others it never happens."""
    return np.array([1.0] * early + [2.0] * late + [np.inf] * (100 - early - late))


@pytest.mark.parametrize(
    ("early", "before", "expected"),
    [
        (52, None, 1.0),
        (49, None, 2.0),
        (49, 1.0, 1.0),  # 49 in 100 on day 1: within three of a half
        (46, 1.0, 2.0),
        (52, 2.0, 2.0),
        (55, 2.0, 1.0),
    ],
)
def test_a_time_turns_only_past_a_margin(early: int, before: float | None, expected: float) -> None:
    assert time_quantile(times(early, 100 - early), 0.5, before=before) == expected


@pytest.mark.parametrize(("early", "expected"), [(52, None), (55, 1.0)])
def test_what_was_said_never_to_come_turns_only_past_a_margin(early: int, expected: float | None) -> None:
    assert time_quantile(times(early), 0.5, before=np.inf) == expected
    assert time_quantile(times(52), 0.5) == 1.0


def test_a_time_at_which_nothing_can_happen_any_more_is_not_held() -> None:
    assert time_quantile(times(50, 50), 0.5, before=1.5) == 1.0  # the dinner of 1.5 was taken off the plan


@given(
    st.lists(st.integers(0, 6).map(float) | st.just(float("inf")), min_size=1, max_size=60),
    st.floats(0.01, 0.99),
    st.integers(0, 6).map(float) | st.just(float("inf")) | st.none(),
)
def test_a_time_once_said_stands_when_nothing_changes(values: list[float], q: float, before: float | None) -> None:
    paths = np.array(values)
    first = time_quantile(paths, q, before=before)

    assert time_quantile(paths, q, before=np.inf if first is None else first) == first


@given(st.floats(0.01, 0.99))
def test_a_margin_leaves_room_on_both_sides(limit: float) -> None:
    assert 0.0 < margin_of(limit) <= MARGIN
    assert margin_of(limit) < limit < 1.0 - margin_of(limit)


@pytest.fixture
def week(reckon: Reckon, at_hour: Cook) -> Reckoning:
    """Two meals a day on gas that lasts for a few of them, some paths longer than others."""
    meals = [at_hour(hour + 24.0 * day, name) for day in range(4) for hour, name in ((12.0, "lunch"), (19.0, "dinner"))]
    rng = np.random.default_rng(5)
    return reckon(rng.uniform(0.3, 1.0, 200), rng.uniform(0.0, 0.03, 200), meals, hours=96.0)


def answers(told: Reckoning) -> tuple[object, ...]:
    budgets = [gas_budget(told, day, backup=LPG) for day in told.days()]
    venting = venting_outlook(told, methane_fraction=0.6)
    return storage_outlook(told, HOLDER), backup_outlook(told, LPG), venting, *budgets


def test_every_answer_told_with_what_was_said_says_the_same(week: Reckoning) -> None:
    assert answers(replace(week, before=said(week, LPG))) == answers(week)
    assert said(replace(week, before=said(week, LPG)), LPG) == said(week, LPG)


class Asked(Mapping[str, float]):
    """Remembers what it was asked for."""

    def __init__(self) -> None:
        self.names: set[str] = set()

    def __getitem__(self, name: str) -> float:
        self.names.add(name)
        raise KeyError(name)

    def __iter__(self) -> Iterator[str]:
        return iter(())

    def __len__(self) -> int:
        return 0


def test_every_time_that_an_answer_tells_is_remembered(week: Reckoning) -> None:
    asked = Asked()
    answers(replace(week, before=Said(times_d=asked)))

    assert asked.names == set(said(week, LPG).times_d)


def test_days_and_dates_hold_together(reckon: Reckon, at_hour: Cook) -> None:
    dinners = [at_hour(19.0 + 24.0 * day) for day in range(3)]

    def told(lasting: int) -> Reckoning:
        """A hundred paths: so many carry two dinners, the others one."""
        return reckon([0.7] * lasting + [0.4] * (100 - lasting), np.zeros(100), dinners, hours=72.0)

    before = said(told(48), Backup())  # dinner of Tuesday, the second, is the first to lack gas
    held = replace(told(52), before=before)
    turned = replace(told(56), before=before)

    def of(one: Reckoning) -> tuple[BackupOutlook, float | None]:
        return backup_outlook(one, Backup()), storage_outlook(one, HOLDER).days_left

    assert [of(one)[0].first_backup_date for one in (told(48), told(52))] == [TUESDAY, date(2026, 3, 4)]
    assert (of(held)[0].first_backup_date, of(held)[1]) == (TUESDAY, pytest.approx(1.0 + 19.0 / 24.0))
    assert (of(turned)[0].first_backup_date, of(turned)[1]) == (date(2026, 3, 4), pytest.approx(2.0 + 19.0 / 24.0))


def test_the_meal_named_first_holds_too_and_its_time_is_its_own(reckon: Reckon, at_hour: Cook) -> None:
    meals = [at_hour(12.0, "lunch"), at_hour(19.0, "dinner")]

    def told(without: int) -> Reckoning:
        """A hundred paths: so many lack gas for lunch already, forty-one for dinner alone, the others for nothing."""
        return reckon([0.2] * without + [0.4] * 41 + [0.9] * (59 - without), np.zeros(100), meals)

    before = said(told(48), Backup())
    found = [
        backup_outlook(one, Backup())
        for one in (told(52), replace(told(52), before=before), replace(told(55), before=before))
    ]

    assert [one.first_backup_meal for one in found] == ["lunch", "dinner", "lunch"]
    assert [one.days_until_backup for one in found] == pytest.approx([12.0 / 24.0, 19.0 / 24.0, 12.0 / 24.0])


def test_a_meal_is_listed_as_long_as_it_was(reckon: Reckon, at_hour: Cook) -> None:
    def told(lacking: int) -> Reckoning:
        return reckon([0.2] * lacking + [0.4] * (100 - lacking), np.zeros(100), [at_hour(19.0)])

    before = said(told(11), Backup())
    listed = [
        len(backup_outlook(one, Backup()).meals)
        for one in (told(11), told(9), replace(told(9), before=before), replace(told(6), before=before))
    ]

    assert listed == [1, 0, 1, 0]


def test_a_day_that_was_covered_stays_so_within_the_margin(reckon: Reckon, at_hour: Cook) -> None:
    def told(lasting: int) -> Reckoning:
        return reckon([0.4] * lasting + [0.2] * (100 - lasting), np.zeros(100), [at_hour(19.0)])

    before = said(told(91), LPG)
    covered = [
        gas_budget(one, MONDAY, backup=LPG).covered
        for one in (told(88), replace(told(88), before=before), replace(told(86), before=before))
    ]

    assert covered == [False, True, False]


def test_of_seasons_it_is_held_to_when_the_bottle_is_empty(reckon: Reckon, at_hour: Cook) -> None:
    dinners = [at_hour(19.0 + 24.0 * day) for day in range(27)]

    def told(early: int) -> Reckoning:
        """A hundred paths: so many empty the bottle at the second dinner, the others at the third."""
        starts = [0.0] * early + [0.3] * (100 - early)
        return reckon(starts, np.zeros(100), dinners, hours=93.0 * 24.0, care_level=0.1)

    # A dinner without gas takes 3 MJ in the pan, 0.12 kg.
    before = said(told(9), LPG)
    empty = [
        backup_outlook(one, LPG).bottle_empty_date for one in (told(9), told(11), replace(told(11), before=before))
    ]

    assert (before.covered, before.verdicts, before.lacks) == ({}, {}, {})
    assert empty == [date(2026, 3, 4), TUESDAY, date(2026, 3, 4)]


def test_two_meals_at_one_hour_are_told_apart(reckon: Reckon, at_hour: Cook) -> None:
    dishes = [at_hour(19.0, "rice"), at_hour(19.0, "soup")]
    told = reckon([0.5] * 60 + [1.0] * 40, np.zeros(100), dishes, need_sm3=[[0.2, 0.6]] * 100)
    rice, soup = gas_budget(told, MONDAY, backup=LPG).meals

    assert (rice.verdict, soup.verdict) == ("gas", "backup")
    assert backup_outlook(told, LPG).first_backup_meal == "soup"
    assert answers(replace(told, before=said(told, LPG))) == answers(told)


def test_one_day_is_told_on_which_a_meal_first_lacks_gas(week: Reckoning) -> None:
    skipped = np.random.default_rng(1).random(week.run.wanted.cooked.shape) < 0.5
    wanted = replace(week.run.wanted, cooked=~skipped)
    told = replace(week, run=replace(week.run, wanted=wanted))

    holder, backup = storage_outlook(told, HOLDER), backup_outlook(told, LPG)

    assert holder.days_left == backup.days_until_backup
    assert holder.days_left_q10 != storage_outlook(week, HOLDER).days_left_q10  # a meal that nobody cooks lacks nothing
