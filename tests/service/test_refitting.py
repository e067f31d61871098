"""The background process fits when asked and once a day, and never throws a good fit away."""

from __future__ import annotations

import os
import signal
import threading
import time
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from models.calendar import to_days
from service.api.examples import DESCRIPTION
from service.readings import Reading
from service.refitting import KEPT_ANSWERS_D, answer_requests, due, look_after, refit_now, tidy, watch
from service.settings import Settings
from service.usecases import skill
from service.wiring import Wiring, wire

NOW = datetime(2026, 11, 25, 6, 30, tzinfo=UTC)


@pytest.fixture
def wired(tmp_path: Path, new_database: Callable[[Path], str]) -> Iterator[Wiring]:
    made = wire(Settings(database=new_database(tmp_path / "test.sqlite")), clock=lambda: NOW)
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


def test_a_fit_up_to_a_time_to_come_is_one_up_to_now(wired: Wiring) -> None:
    read_gauge(wired, NOW - timedelta(hours=5))
    wired.fits.request("home", to_days(NOW) + 9_000.0, now=NOW)
    answer_requests(wired)
    kept = wired.fits.newest("home")
    read_gauge(wired, NOW - timedelta(hours=1))

    assert kept is not None
    assert kept.made_as_of_d == to_days(NOW)
    assert refit_now("home", NOW + timedelta(days=1), wired).outcome in ("replaced", "kept")


def test_a_request_that_cannot_be_fitted_is_marked_so_and_the_next_is_answered(wired: Wiring) -> None:
    read_gauge(wired, NOW - timedelta(hours=5))
    wired.fits.request("home", -719_163.0, now=NOW)  # the year 0
    wired.fits.request("home", now=NOW)

    assert answer_requests(wired) == 2
    assert wired.fits.pending() == []
    assert [one.outcome for one in wired.fits.requests("home")] == ["replaced", "failed"]
    assert "the one before stays in use" in (wired.fits.requests("home")[1].message or "")


def test_a_household_that_cannot_be_read_leaves_the_others_to_be_fitted(wired: Wiring) -> None:
    wired.homes.put("a broken one", {"time_zone": "Mars/Olympus"})
    read_gauge(wired, NOW - timedelta(hours=5))
    wired.fits.request("a broken one", now=NOW)

    look_after(wired, tidying=True)

    assert [one.outcome for one in wired.fits.requests("home")] == ["replaced"]
    assert [one.outcome for one in wired.fits.requests("a broken one")] == ["failed"]


def test_answers_of_long_ago_are_dropped_and_the_last_measurement_kept(wired: Wiring) -> None:
    old = NOW - timedelta(days=KEPT_ANSWERS_D, seconds=1)
    for key, issued_at in (("now?@1", old), ("now?@2", NOW), (f"{skill.KIND}1", old), (f"{skill.KIND}2", old)):
        wired.forecasts.add("home", key, issued_at, b"{}", {})

    tidy("home", wired)

    keys = ("now?@1", "now?@2", f"{skill.KIND}1", f"{skill.KIND}2")
    assert [key for key in keys if wired.forecasts.find("home", key)] == ["now?@2", f"{skill.KIND}2"]


@pytest.fixture
def signals() -> Iterator[None]:
    before = {one: signal.getsignal(one) for one in (signal.SIGTERM, signal.SIGINT)}
    yield
    for one, handler in before.items():
        signal.signal(one, handler)


@pytest.mark.usefixtures("signals")
def test_the_watch_ends_with_the_process_that_started_it(wired: Wiring) -> None:
    wired.fits.request("home", now=NOW)

    watch(wired, parent=os.getppid() + 1)

    assert len(wired.fits.pending()) == 1


@pytest.mark.usefixtures("signals")
def test_the_watch_goes_on_until_it_is_told_to_stop(wired: Wiring) -> None:
    wired.fits.request("home", now=NOW)

    def stop_once_answered() -> None:
        give_up = time.monotonic() + 60.0
        while wired.fits.pending() and time.monotonic() < give_up:
            time.sleep(0.05)
        os.kill(os.getpid(), signal.SIGTERM)

    stopping = threading.Thread(target=stop_once_answered)
    stopping.start()
    watch(wired, parent=os.getppid())
    stopping.join()

    assert wired.fits.pending() == []
