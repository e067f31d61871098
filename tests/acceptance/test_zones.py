"""Today and tomorrow a minute before midnight and at midnight, on days the clock changes, in zones that do it oddly."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from flask.testing import FlaskClient

from service.api.examples import DESCRIPTION, MEAL
from service.app import create_app
from service.settings import Settings
from service.wiring import wire
from tests.service.api.support import BASE, Clock, reading

QUESTIONS = ("now", "storage", "backup", "days", "forecast?days=3", "forecast?days=3&step=hour")
# When the household's day begins, from the IANA time zone database, and how long it and the day before it last.
BEGINNINGS = [
    ("Europe/Lisbon", "2026-03-29T00:00:00+00:00", 23.0, 24.0),
    ("Europe/Lisbon", "2026-10-25T00:00:00+01:00", 25.0, 24.0),
    ("America/Santiago", "2026-09-06T01:00:00-03:00", 23.0, 24.0),  # there is no midnight
    ("America/Santiago", "2026-04-05T00:00:00-04:00", 24.0, 25.0),  # midnight only at the second attempt
    ("America/Havana", "2026-03-08T01:00:00-04:00", 23.0, 24.0),
    ("America/Havana", "2026-11-01T00:00:00-04:00", 25.0, 24.0),  # midnight comes twice
    ("America/St_Johns", "2010-11-07T00:00:00-03:30", 24.0, 25.0),
    ("Australia/Lord_Howe", "2026-10-04T00:00:00+10:30", 23.5, 24.0),
    ("Asia/Kathmandu", "2026-11-26T00:00:00+05:45", 24.0, 24.0),
    ("Pacific/Marquesas", "2026-11-26T00:00:00-09:30", 24.0, 24.0),
    ("Pacific/Apia", "2011-12-31T00:00:00+14:00", 24.0, 24.0),  # the day after the 29th
]


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def client(tmp_path: Path, clock: Clock, new_database: Callable[[Path], str]) -> Iterator[FlaskClient]:
    wired = wire(Settings(database=new_database(tmp_path / "zones.sqlite")), clock=clock)
    yield create_app(wired).test_client()
    wired.database.close()


def settle(client: FlaskClient, clock: Clock, zone: str, now: datetime) -> None:
    """A household in a zone that cooks dinner and has read its gauge daily up to now."""
    clock.now = now
    assert client.put(BASE, json={**DESCRIPTION, "time_zone": zone}).status_code == 201
    assert client.post(f"{BASE}/meals", json={**MEAL, "starts_on": "2000-01-01"}).status_code == 201
    looks = [reading("holder_level", 40 + k, "%", now - timedelta(days=k, hours=3)) for k in range(12)]
    assert client.post(f"{BASE}/readings", json=looks).status_code == 201


def asked(client: FlaskClient, question: str) -> Any:
    answer = client.get(f"{BASE}/{question}")
    assert answer.status_code == 200, answer.get_data(as_text=True)
    return answer.get_json()


def lasts_h(day: dict[str, Any]) -> float:
    return (datetime.fromisoformat(day["end"]) - datetime.fromisoformat(day["start"])) / timedelta(hours=1)


@pytest.mark.parametrize(("zone", "begins", "day_h", "before_h"), BEGINNINGS)
def test_a_minute_before_midnight_tomorrow_is_the_day_that_begins_then(
    client: FlaskClient, clock: Clock, zone: str, begins: str, day_h: float, before_h: float
) -> None:
    start = datetime.fromisoformat(begins)
    settle(client, clock, zone, start - timedelta(minutes=1))
    today, named = asked(client, "gas-budget?date=today"), asked(client, f"gas-budget?date={start:%Y-%m-%d}")

    assert today["date"] < f"{start:%Y-%m-%d}"
    assert datetime.fromisoformat(today["end"]) == start
    assert (named["start"], lasts_h(named)) == (begins, day_h)
    last = asked(client, "days")["days"][-1]  # the account of days ends with the last whole one
    assert datetime.fromisoformat(last["end"]) <= start
    # No answer of the evening outlives it, on whatever minute of the world's clock the day begins.
    clock.now = start
    assert asked(client, "gas-budget?date=today")["start"] == begins


@pytest.mark.parametrize(("zone", "begins", "day_h", "before_h"), BEGINNINGS)
def test_at_midnight_today_is_the_day_that_begins(
    client: FlaskClient, clock: Clock, zone: str, begins: str, day_h: float, before_h: float
) -> None:
    start = datetime.fromisoformat(begins)
    settle(client, clock, zone, start)
    today, tomorrow = asked(client, "gas-budget?date=today"), asked(client, "gas-budget?date=tomorrow")
    days = [one for one in asked(client, "days")["days"] if datetime.fromisoformat(one["end"]) == start]

    assert (today["date"], today["start"], lasts_h(today)) == (f"{start:%Y-%m-%d}", begins, day_h)
    assert tomorrow["start"] == today["end"]
    assert [meal["start"][11:16] for meal in today["meals"]] == ["19:00"]
    assert before_h in [lasts_h(one) for one in days]


@pytest.mark.parametrize("late", [timedelta(minutes=1), timedelta(0)])
@pytest.mark.parametrize(("zone", "begins", "day_h", "before_h"), BEGINNINGS)
def test_every_answer_is_given_and_the_series_has_no_gap(
    client: FlaskClient, clock: Clock, zone: str, begins: str, day_h: float, before_h: float, late: timedelta
) -> None:
    start = datetime.fromisoformat(begins)
    settle(client, clock, zone, start - late)
    answers = {question: asked(client, question) for question in QUESTIONS}

    for question in QUESTIONS[-2:]:
        points = answers[question]["points"]
        assert all(one["end"] == other["start"] for one, other in pairwise(points))
        assert all(lasts_h(point) > 0.0 for point in points)
        assert datetime.fromisoformat(points[0]["start"]) == start - late
        assert datetime.fromisoformat(points[-1]["end"]).astimezone(ZoneInfo(zone)).hour == 0
    ends = {question: answers[question]["points"][-1]["end"] for question in QUESTIONS[-2:]}
    assert len(set(ends.values())) == 1
    assert datetime.fromisoformat(answers["now"]["as_of"]).astimezone(UTC) == (start - late).astimezone(UTC)
