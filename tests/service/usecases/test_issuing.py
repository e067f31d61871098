"""What is issued rests on one state of a household, whoever writes meanwhile and whoever else answers."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from models.outlook import Outlook
from service.api.asking import places_of
from service.api.examples import DESCRIPTION, MEAL
from service.readings import Reading
from service.settings import Settings
from service.usecases.history import Mark, PastLog, inputs_from, situation_from
from service.usecases.outlook import Moment, OutlookCache, Places, Question, issue, learnt_from, outlooks_from
from service.wiring import Wiring, wire

NOW = datetime(2026, 11, 25, 6, 30, tzinfo=UTC)
QUESTION = Question(household="home", kind="test")


@pytest.fixture
def wired(tmp_path: Path, new_database: Callable[[Path], str]) -> Iterator[Wiring]:
    made = wire(Settings(database=new_database(tmp_path / "issuing.sqlite")), clock=lambda: NOW)
    made.homes.put("home", DESCRIPTION)
    made.homes.put_meal("home", "dinner", MEAL)
    read_gauge(made, 0.3, NOW - timedelta(days=2))
    yield made
    made.database.close()


def read_gauge(wired: Wiring, level_m3: float, at: datetime) -> None:
    taken_s = int(at.timestamp())
    given = Reading(quantity="holder_level", value=level_m3, unit="m3", taken_s=taken_s, recorded_s=taken_s)
    wired.logs.add("home", [given])


def render(outlook: Outlook, moment: Moment, _: bytes | None) -> bytes:
    assert outlook.told is not None
    return json.dumps({"as_of": moment.as_of.isoformat(), "level_m3": outlook.told.level_m3(0, 0.5)}).encode()


class Meddled:
    """A store before whose first call of one method something else happens."""

    def __init__(self, store: Any, method: str, meddle: Callable[[], object]) -> None:
        self._store, self._method, self._meddle = store, method, [meddle]

    def __getattr__(self, name: str) -> Any:
        if name == self._method and self._meddle:
            self._meddle.pop()()
        return getattr(self._store, name)


def test_what_is_written_while_an_answer_is_made_is_in_it(wired: Wiring) -> None:
    log = wired.logs.log
    written = [0.8]

    def read_and_write(*given: Any, **more: Any) -> Any:
        found = log(*given, **more)
        if written:
            read_gauge(wired, written.pop(), NOW - timedelta(hours=1))  # too late to be in what was read
        return found

    places = replace(places_of(wired), logs=type("Logs", (), {"log": staticmethod(read_and_write)})())
    body = json.loads(issue(QUESTION, places=places, now=NOW, render=render).body)
    [kept] = wired.forecasts.page("home")

    assert body["level_m3"] > 0.7
    assert kept.key.startswith(f"test?days=14@{wired.homes.version('home')}/")


def test_a_log_that_is_written_to_all_the_time_is_answered_from_all_the_same(wired: Wiring) -> None:
    plain = places_of(wired)

    class Written:
        """A log, and a household's version, that have changed whenever they are looked at."""

        def __init__(self, store: Any) -> None:
            self._store, self._written = store, 0

        def __getattr__(self, name: str) -> Any:
            self._written += 1
            read_gauge(wired, 0.4, NOW - timedelta(minutes=100 - self._written))
            return getattr(self._store, name)

    told = issue(QUESTION, places=replace(plain, logs=Written(plain.logs)), now=NOW, render=render)
    [kept] = wired.forecasts.page("home")
    again = learnt_from(
        situation_from(
            "home",
            inputs_from("home", kept.inputs, history=plain.history),
            logs=PastLog(history=plain.history, mark=Mark(**kept.inputs["mark"])),
        )
    )

    assert json.loads(told.body)["level_m3"] == outlooks_from(again, 14, sets=1)[0].told.level_m3(0, 0.5)


def test_of_two_processes_that_answer_at_once_both_say_the_same(wired: Wiring) -> None:
    other = replace(places_of(wired), outlooks=OutlookCache())
    told = []

    def answer_first() -> None:
        told.append(issue(QUESTION, places=other, now=NOW - timedelta(minutes=2), render=render))

    places: Places = replace(other, outlooks=OutlookCache())
    mine = replace(places, forecasts=Meddled(places.forecasts, "add", answer_first))
    second = issue(replace(QUESTION, kind="another"), places=mine, now=NOW, render=render)

    assert json.loads(second.body) == json.loads(told[0].body)
    assert json.loads(second.body)["as_of"] == (NOW - timedelta(minutes=2)).isoformat()


def test_after_a_restart_an_hour_goes_on_as_it_began(wired: Wiring) -> None:
    first = issue(QUESTION, places=places_of(wired), now=NOW, render=render)
    restarted = replace(places_of(wired), outlooks=OutlookCache())
    other = issue(replace(QUESTION, kind="another"), places=restarted, now=NOW + timedelta(minutes=9), render=render)

    assert json.loads(other.body) == json.loads(first.body)
