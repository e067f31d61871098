"""The next hour's outlooks are there when the hour begins, and are not used where something was written meanwhile."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from models.outlook import Outlook
from service.api.asking import places_of
from service.api.examples import DESCRIPTION, MEAL
from service.preparing import keep_prepared, prepare_ending
from service.readings import Reading
from service.settings import Settings
from service.usecases.ahead import AHEAD
from service.usecases.outlook import Moment, OutlookCache, Question, issue
from service.usecases.shared import Shared, files_in_memory
from service.wiring import Wiring, wire
from tests.service.api.support import Clock

HOUR = datetime(2026, 11, 25, 7, 0, tzinfo=UTC)
SOON = HOUR - timedelta(seconds=7)
QUESTION = Question(household="home", kind="test")

pytestmark = pytest.mark.skipif(not files_in_memory(), reason="the system has no files without a name")


@pytest.fixture
def home(tmp_path: Path) -> Iterator[tuple[Wiring, Clock]]:
    clock = Clock()
    clock.now = HOUR - timedelta(days=2)
    wired = wire(Settings(database=str(tmp_path / "ahead.sqlite")), clock=clock, shared=Shared(files_in_memory()))
    wired.homes.put("home", DESCRIPTION)
    wired.homes.put_meal("home", "dinner", MEAL)
    read_gauge(wired, 0.3)
    clock.now = HOUR - timedelta(minutes=20)
    yield wired, clock
    wired.database.close()


def read_gauge(wired: Wiring, level_m3: float) -> None:
    at_s = int(wired.clock().timestamp())
    given = Reading(quantity="holder_level", value=level_m3, unit="m3", taken_s=at_s, recorded_s=at_s)
    wired.logs.add("home", [given])


def render(outlook: Outlook, moment: Moment, _: bytes | None) -> bytes:
    assert outlook.told is not None
    return json.dumps([moment.as_of.isoformat(), outlook.told.run.level_sm3.mean(axis=0).tolist()]).encode()


def told(wired: Wiring, *, logs: bool = True) -> list[object]:
    """As of when an answer is, and its levels; without a log for who would work the outlook out."""
    places = replace(places_of(wired), outlooks=OutlookCache()) if logs else replace(places_of(wired), logs=None)
    body: list[object] = json.loads(issue(QUESTION, places=places, now=wired.clock(), render=render).body)
    return body


def test_what_was_asked_about_is_prepared_shortly_before_the_hour(home: tuple[Wiring, Clock]) -> None:
    wired, clock = home
    issue(QUESTION, places=places_of(wired), now=clock(), render=render)
    clock.now = SOON
    prepare_ending(wired)
    clock.now = HOUR + timedelta(seconds=40)

    as_of, levels = told(wired, logs=False)

    assert as_of == HOUR.isoformat()
    assert levels == told(replace(wired, shared=Shared()))[1]  # as if it were worked out then


def test_nothing_is_prepared_long_before_nor_for_who_never_asked(home: tuple[Wiring, Clock]) -> None:
    wired, clock = home
    clock.now = SOON
    prepare_ending(wired)
    clock.now = HOUR - AHEAD - timedelta(seconds=1)
    issue(QUESTION, places=places_of(wired), now=clock(), render=render)
    prepare_ending(wired)
    clock.now = HOUR

    with pytest.raises(AttributeError):
        told(wired, logs=False)


def test_who_writes_meanwhile_is_heard(home: tuple[Wiring, Clock]) -> None:
    wired, clock = home
    issue(QUESTION, places=places_of(wired), now=clock(), render=render)
    clock.now = SOON
    prepare_ending(wired)
    read_gauge(wired, 0.7)
    clock.now = HOUR + timedelta(seconds=40)

    as_of, levels = told(wired)

    assert as_of == clock.now.isoformat()
    assert isinstance(levels, list)
    assert levels[0] > 0.6


def test_a_household_that_is_gone_leaves_the_others_theirs(home: tuple[Wiring, Clock]) -> None:
    wired, clock = home
    wired.homes.put("gone", DESCRIPTION)
    for name in ("gone", "home"):
        issue(replace(QUESTION, household=name), places=places_of(wired), now=clock(), render=lambda *_: b"[]")
    wired.homes.delete("gone", if_match="*")
    clock.now = SOON
    prepare_ending(wired)
    clock.now = HOUR

    assert told(wired, logs=False)[0] == HOUR.isoformat()


def test_an_hour_that_is_over_is_forgotten(home: tuple[Wiring, Clock]) -> None:
    wired, clock = home
    issue(QUESTION, places=places_of(wired), now=clock(), render=render)
    clock.now = HOUR
    prepare_ending(wired)

    assert wired.outlooks.asked == {}


def test_nobody_to_share_with_is_no_reason_to_prepare(
    home: tuple[Wiring, Clock], monkeypatch: pytest.MonkeyPatch
) -> None:
    started: list[str] = []
    monkeypatch.setattr("threading.Thread.start", lambda thread: started.append(thread.name))
    wired, _ = home

    keep_prepared(replace(wired, shared=Shared()))
    keep_prepared(wired)

    assert started == ["next hour"]
