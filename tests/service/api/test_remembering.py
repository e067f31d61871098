"""An answer from memory is the one that would be given without it: whatever changes in between is seen at once."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from service.api import guard
from service.api.guard import token_hash
from service.api.remembering import KEPT_ANSWERS
from service.app import create_app
from service.settings import Settings
from service.wiring import Wiring, wire
from tests.service.api.support import BASE, NOW, Clock, reading

PATHS = ("now", "gas-budget", "storage", "backup", "forecast?days=2")


@pytest.fixture
def handled(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """What requests reached the app itself."""
    seen: list[str] = []
    check = guard._host

    def watched() -> Any:
        seen.append("seen")
        return check()

    monkeypatch.setattr(guard, "_host", watched)
    return seen


def same(one: TestResponse, other: TestResponse) -> bool:
    return (one.status, list(one.headers), one.get_data()) == (other.status, list(other.headers), other.get_data())


@pytest.fixture
def cook(home: FlaskClient) -> FlaskClient:
    home.post(f"{BASE}/readings", json=reading("holder_level", 50, "%", NOW - timedelta(hours=2)))
    return home


@pytest.mark.parametrize("path", PATHS)
def test_the_same_request_is_answered_from_memory_to_the_letter(
    cook: FlaskClient, handled: list[str], path: str
) -> None:
    cook.get(f"{BASE}/{path}")  # issues it, which is a write
    first = cook.get(f"{BASE}/{path}")
    reached = len(handled)
    again = cook.get(f"{BASE}/{path}")

    assert same(first, again)
    assert len(handled) == reached


def test_a_cache_that_has_it_is_told_so_from_memory(cook: FlaskClient, handled: list[str]) -> None:
    cook.get(f"{BASE}/now")
    held = {"If-None-Match": cook.get(f"{BASE}/now").headers["ETag"]}
    first = cook.get(f"{BASE}/now", headers=held)
    reached = len(handled)
    again = cook.get(f"{BASE}/now", headers=held)

    assert first.status_code == 304
    assert same(first, again)
    assert len(handled) == reached


def test_whatever_is_written_is_seen_at_once(cook: FlaskClient) -> None:
    for _ in range(2):
        before = cook.get(f"{BASE}/now").get_json()
    cook.post(f"{BASE}/readings", json=reading("holder_level", 80, "%", NOW - timedelta(hours=1)))
    after = cook.get(f"{BASE}/now").get_json()

    assert after["level_pct"] > before["level_pct"] + 10.0
    etag = cook.get(BASE).headers["ETag"]
    assert cook.delete(BASE, headers={"If-Match": etag}).status_code == 204
    assert cook.get(f"{BASE}/now").status_code == 404


def test_what_another_process_writes_is_seen_at_once(cook: FlaskClient, wired: Wiring, clock: Clock) -> None:
    for _ in range(2):
        before = cook.get(f"{BASE}/now").get_json()
    other = wire(Settings(database=wired.settings.database), clock=clock)
    given = reading("holder_level", 80, "%", NOW - timedelta(hours=1))
    create_app(other).test_client().post(f"{BASE}/readings", json=given)
    other.database.close()

    assert cook.get(f"{BASE}/now").get_json()["level_pct"] > before["level_pct"] + 10.0


def test_the_hour_ends_in_memory_too(cook: FlaskClient, clock: Clock, handled: list[str]) -> None:
    told = []
    for minute in (30.0, 58.0, 59.5, 59.75, 60.0):
        clock.now = NOW.replace(minute=0) + timedelta(minutes=minute)
        reached = len(handled)
        answer = cook.get(f"{BASE}/now")
        if minute == 30.0:
            answer = cook.get(f"{BASE}/now")  # the first was issued, which is a write
        told.append((answer.headers["Cache-Control"], answer.get_json()["valid_until"][11:16], len(handled) - reached))

    assert told == [
        ("private, max-age=60", "07:00", 2),
        ("private, max-age=60", "07:00", 0),
        ("private, max-age=30", "07:00", 0),
        ("private, max-age=15", "07:00", 0),
        ("private, max-age=60", "08:00", 1),
    ]


def test_a_token_revoked_opens_nothing_from_memory(cook: FlaskClient, wired: Wiring) -> None:
    number = wired.tokens.add("home", "read", token_hash("secret"), now=NOW)
    wired.tokens.add(None, "read", token_hash("another"), now=NOW)
    opened = {"Authorization": "Bearer secret"}
    for _ in range(3):
        assert cook.get(f"{BASE}/now", headers=opened).status_code == 200
    assert cook.get(f"{BASE}/now").status_code == 401
    assert cook.get(f"{BASE}/now", headers={"Authorization": "Bearer wrong"}).status_code == 401
    wired.tokens.revoke(number, now=NOW)

    assert cook.get(f"{BASE}/now", headers=opened).status_code == 401


def test_another_host_is_refused_whatever_is_remembered(cook: FlaskClient) -> None:
    for _ in range(3):
        assert cook.get(f"{BASE}/now").status_code == 200

    assert cook.get(f"{BASE}/now", headers={"Host": "elsewhere.example"}).status_code == 421


def test_refusals_and_answers_of_another_moment_are_not_remembered(cook: FlaskClient, handled: list[str]) -> None:
    for path in ("now?days=3", "now?as_of=2026-11-25T04:10:00Z", "skill", ""):
        cook.get(f"{BASE}/{path}".rstrip("/"))
        reached = len(handled)
        cook.get(f"{BASE}/{path}".rstrip("/"))
        assert len(handled) == reached + 1, path


def test_what_is_remembered_longest_is_forgotten_first(cook: FlaskClient, handled: list[str]) -> None:
    cook.get(f"{BASE}/now")
    for number in range(KEPT_ANSWERS + 1):
        cook.get(f"{BASE}/now", headers={"X-Number": str(number)})
    reached = len(handled)
    cook.get(f"{BASE}/now", headers={"X-Number": str(KEPT_ANSWERS)})
    assert len(handled) == reached
    cook.get(f"{BASE}/now", headers={"X-Number": "0"})

    assert len(handled) == reached + 1


def test_an_answer_too_long_to_be_remembered_is_read_each_time(cook: FlaskClient, handled: list[str]) -> None:
    path = f"{BASE}/forecast?days=14&step=hour"
    first = [cook.get(path) for _ in range(2)][-1]
    reached = len(handled)
    again = cook.get(path)

    assert len(first.get_data()) > 65_536
    assert same(first, again)
    assert len(handled) == reached + 1


def test_a_database_that_cannot_tell_remembers_nothing(app: Flask, wired: Wiring, cook: FlaskClient) -> None:
    assert wired.database.mark() is not None
    memory = wire(Settings(database=":memory:"))

    assert memory.database.mark() is None
    memory.database.close()


def test_a_new_connection_begins_anew(wired: Wiring) -> None:
    first = wired.database.mark()
    assert wired.database.mark() == first
    wired.database.close()

    assert wired.database.mark() != first
