"""How a balance is told: days and edges, quantiles of times that may never come, and verdicts that hold still."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from models.errors import OutOfRange
from models.meals import Serving
from models.reckoning import LONGEST_SUMMARY, Reckoning, coming, fitting, in_words, is_sure, time_quantile, verdict

Reckon = Callable[..., Reckoning]


def test_a_time_that_may_never_come_has_quantiles_as_far_as_it_comes() -> None:
    times = np.array([1.0, 2.0, 3.0, 4.0, *[np.inf] * 6])

    assert time_quantile(times, 0.1) == 1.0
    assert time_quantile(times, 0.3) == 3.0
    assert time_quantile(times, 0.5) is None
    assert time_quantile(np.full(5, np.inf), 0.1) is None


@pytest.mark.parametrize(
    ("probability", "before", "sure"),
    [
        (0.90, None, True),
        (0.89, None, False),
        (0.88, True, True),
        (0.86, True, False),
        (0.92, False, False),
        (0.94, False, True),
    ],
)
def test_a_promise_turns_only_past_a_margin(probability: float, before: bool | None, sure: bool) -> None:
    assert is_sure(probability, 0.1, before=before) is sure


@given(st.floats(0.0, 1.0), st.floats(0.01, 0.5), st.floats(0.01, 0.5), st.sampled_from([None, True, False]))
def test_more_care_never_promises_more(probability: float, one: float, other: float, before: bool | None) -> None:
    strict, loose = sorted((one, other))

    assert is_sure(probability, loose, before=before) or not is_sure(probability, strict, before=before)


@given(st.floats(0.0, 1.0), st.floats(0.01, 0.5), st.sampled_from([None, "gas", "tight", "backup"]))
def test_a_verdict_once_given_stands_when_nothing_changes(probability: float, care: float, before: str | None) -> None:
    first = verdict(probability, care, before=before)

    assert verdict(probability, care, before=first) == first


@given(st.floats(0.01, 0.5), st.sampled_from([None, "gas", "tight", "backup"]))
def test_certainty_speaks_for_itself(care: float, before: str | None) -> None:
    assert verdict(1.0, care, before=before) == "gas"
    assert verdict(0.0, care, before=before) == "backup"


@pytest.mark.parametrize(("probability", "expected"), [(0.95, "gas"), (0.7, "tight"), (0.3, "backup")])
def test_verdicts_go_with_the_odds(probability: float, expected: str) -> None:
    assert verdict(probability, 0.1) == expected


def test_days_are_the_households_own_and_the_first_may_have_begun(reckon: Reckon) -> None:
    told = replace(reckon([0.5], [0.0], hours=48.0), zone=ZoneInfo("America/Los_Angeles"))  # eight hours behind

    assert told.days() == [date(2026, 3, 1), date(2026, 3, 2), date(2026, 3, 3)]
    assert told.span(date(2026, 3, 1)) == (0, 8)
    assert told.span(date(2026, 3, 2)) == (8, 32)
    assert told.span(date(2026, 3, 3)) == (32, 48)


def test_a_day_beyond_the_balance_is_refused_with_the_days_there_are(reckon: Reckon) -> None:
    with pytest.raises(OutOfRange, match="date is 2026-03-04, must be 2026-03-02 to 2026-03-03") as refused:
        reckon([0.5], [0.0], hours=48.0).span(date(2026, 3, 4))

    assert refused.value.field == "date"


def test_the_reserve_is_told_as_the_gauge_shows_it(reckon: Reckon) -> None:
    told = reckon([0.5], [0.0], reserve_sm3=0.1)

    assert replace(told, m3_per_sm3=np.full(25, 1.1)).reserve_m3(24) == pytest.approx(0.11)


def test_where_nothing_can_happen_nothing_does(reckon: Reckon) -> None:
    told = reckon([0.5, 0.6], [0.0, 0.0])

    assert np.isinf(told.first_time_d(told.lacks(), told.starts_d())).all()


def test_use_outside_the_plan_lacks_no_meal(reckon: Reckon, at_hour: Callable[..., Serving]) -> None:
    told = reckon([0.1], [0.0], [at_hour(16.0, "unplanned", planned=False), at_hour(19.0)])

    assert told.lacks().tolist() == [[False, True]]


def test_dates_are_said_in_words() -> None:
    assert in_words(date(2026, 12, 4)) == "Friday 4 December"
    assert [coming(days) for days in (1.2, 14.6)] == ["the next day", "the next 15 days"]


@pytest.mark.parametrize("care_level", [0.0, 0.51])
def test_care_beyond_reason_is_refused(care_level: float, reckon: Reckon) -> None:
    with pytest.raises(OutOfRange, match=r"care_level is .*, must be 0\.01 to 0\.5"):
        reckon([0.5], [0.0], care_level=care_level)


def test_of_several_wordings_the_first_that_fits_is_told_and_else_the_last() -> None:
    assert LONGEST_SUMMARY == 200  # as the contract has it
    assert fitting(["a" * 201, "b" * 200, "c"]) == "b" * 200
    assert fitting(["long", "short", "tiny"], 4) == "long"
    assert fitting(["long", "short", "tiny"], 3) == "tiny"
