"""What moved a budget: parts that add up, to the tenth of a litre, to the difference of the figures issued."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import date
from types import SimpleNamespace
from typing import cast

import pytest
from hypothesis import given
from hypothesis import strategies as st

from models.backup import Backup
from models.changes import ORDER, change_l, shares, steady_budget_m3
from models.outlook import Outlook
from models.reckoning import Reckoning

MONDAY = date(2026, 3, 2)
volumes = st.floats(0.0, 50.0)


@given(st.lists(volumes | st.none(), min_size=6, max_size=6), volumes, st.tuples(volumes, volumes))
def test_the_parts_add_up_to_the_difference_issued(
    budgets: list[float | None], before: float, issued: tuple[float, float]
) -> None:
    parts = shares(list(zip(ORDER, budgets, strict=True)), before_m3=before, issued_m3=issued)

    assert [part.why for part in parts] == [*ORDER, "chance"]
    assert round(sum(part.litres or 0.0 for part in parts), 6) == change_l(*issued)
    assert [part.litres is None for part in parts[:-1]] == [budget is None for budget in budgets]


def test_parts_by_hand() -> None:
    exchanged = [("time", 0.41), ("readings", 0.452), ("meals", None), ("description", 0.3), ("fit", 0.3)]
    parts = shares(exchanged, before_m3=0.4, issued_m3=(0.4031, 0.3052))

    # 400 -> 410 -> 452 -> (not alone) -> 300 -> 300 L; issued 403.1 -> 305.2: 2.1 L more than the exchanges explain.
    assert [part.litres for part in parts] == [10.0, 42.0, None, -152.0, 0.0, 2.1]


def outlooks(told: Sequence[Reckoning | None]) -> list[Outlook]:
    return [cast("Outlook", SimpleNamespace(told=one, household=SimpleNamespace(backup=Backup()))) for one in told]


def test_a_budget_is_the_mean_over_its_sets_of_paths(reckon: Callable[..., Reckoning]) -> None:
    told = [reckon([start], [0.0], reserve_sm3=0.1) for start in (0.4, 0.5, 0.9)]

    assert steady_budget_m3(outlooks(told), MONDAY) == pytest.approx(0.5)
    assert steady_budget_m3(outlooks([replace(told[0])]), MONDAY) == pytest.approx(0.3)


def test_a_gauge_never_read_gives_no_budget(reckon: Callable[..., Reckoning]) -> None:
    assert steady_budget_m3(outlooks([None, None]), MONDAY) is None
