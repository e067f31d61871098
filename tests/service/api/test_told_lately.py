"""What is told of a household as it stands is worked out once, and anew as soon as anything may have changed."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from flask.testing import FlaskClient

from service.api.asking import places_of
from service.wiring import Wiring
from tests.service.api.support import BASE, NOW, Clock, reading


@pytest.fixture
def log() -> list[int]:
    return []


@pytest.fixture
def ask(home: FlaskClient, wired: Wiring, log: list[int]) -> Any:
    def make() -> dict[str, Any]:
        log.append(len(log) + 1)
        return {"as_of": NOW, "made": log[-1]}

    return lambda *question: places_of(wired).told_lately(question, "home", wired.clock(), make)


def test_it_is_worked_out_once_and_told_as_of_now(ask: Any, clock: Clock, log: list[int]) -> None:
    ask("days", None)
    clock.now = NOW + timedelta(minutes=14)

    assert ask("days", None) == {"as_of": clock.now, "made": 1}
    assert log == [1]


def test_it_is_worked_out_anew_for_another_question_or_quarter(ask: Any, clock: Clock, log: list[int]) -> None:
    ask("days", None)
    ask("model")
    clock.now = NOW + timedelta(minutes=15)
    ask("model")

    assert log == [1, 2, 3]


def test_it_is_worked_out_anew_when_the_household_changes(ask: Any, home: FlaskClient, log: list[int]) -> None:
    ask("model")
    assert home.post(f"{BASE}/readings", json=reading("holder_level", 50, "%", NOW)).status_code == 201
    ask("model")

    assert log == [1, 2]


def test_days_and_model_follow_the_log_at_once(home: FlaskClient) -> None:
    before = home.get(f"{BASE}/days")
    for k in range(30):
        taken = NOW - timedelta(days=30 - k)
        assert home.post(f"{BASE}/readings", json=reading("holder_level", 30 + k, "%", taken)).status_code == 201
    after = home.get(f"{BASE}/days")

    assert before.get_json()["days"] != after.get_json()["days"]
    assert before.headers["ETag"] != after.headers["ETag"]
    assert home.get(f"{BASE}/days").headers["ETag"] == after.headers["ETag"]


def test_what_came_of_a_wish_for_a_fit_is_told_at_once(home: FlaskClient, wired: Wiring) -> None:
    before = home.get(f"{BASE}/model").get_json()
    number = wired.fits.request("home", now=NOW)
    wired.fits.finish(number, "failed", "no fit was made", now=NOW)
    after = home.get(f"{BASE}/model").get_json()

    assert before["last_outcome"] is None
    assert (after["last_outcome"], after["last_message"]) == ("failed", "no fit was made")
