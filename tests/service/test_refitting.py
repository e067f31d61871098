"""The background process fits when asked and once a day, and never throws a good fit away."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from models.calendar import to_days
from service.api.examples import DESCRIPTION
from service.readings import Reading
from service.refitting import answer_requests, due, refit_now
from service.settings import Settings
from service.wiring import Wiring, wire

NOW = datetime(2026, 11, 25, 6, 30, tzinfo=UTC)


@pytest.fixture
def wired(tmp_path: Path) -> Iterator[Wiring]:
    made = wire(Settings(database=str(tmp_path / "test.sqlite")), clock=lambda: NOW)
    made.homes.put("home", DESCRIPTION)
    yield made
    made.database.close()


def read_gauge(wired: Wiring, taken_at: datetime, level_pct: float = 50.0) -> None:
    seconds = int(taken_at.timestamp())
    given = Reading(
        id=f"00000000-0000-4000-8000-{seconds:012d}",
        taken_s=seconds,
        quantity="holder_level",
        value=level_pct,
        unit="%",
        recorded_s=seconds,
    )
    wired.logs.add("home", [given])


def test_a_household_that_logs_nothing_is_not_fitted(wired: Wiring) -> None:
    assert not due("home", wired)


def test_a_new_reading_makes_the_days_fit_due_once(wired: Wiring) -> None:
    read_gauge(wired, NOW - timedelta(hours=5))
    assert due("home", wired)

    wired.fits.request("home", now=NOW)
    assert answer_requests(wired) == 1

    assert not due("home", wired)
    assert wired.fits.requests("home")[0].outcome == "replaced"


def test_a_log_that_ended_long_ago_is_left_alone(wired: Wiring) -> None:
    read_gauge(wired, NOW - timedelta(days=90))

    assert not due("home", wired)


def test_a_fit_up_to_then_knows_nothing_later(wired: Wiring) -> None:
    then = NOW - timedelta(days=20)
    for day in range(40):
        read_gauge(wired, NOW - timedelta(days=day, hours=5), 30.0 + day)

    assert refit_now("home", then, wired).outcome == "replaced"

    kept = wired.fits.newest("home")
    assert kept is not None
    assert kept.made_as_of_d == to_days(then)
    assert kept.fit["window_d"][1] <= to_days(then)
    assert wired.fits.newest("home", to_days(then) - 1.0) is None
