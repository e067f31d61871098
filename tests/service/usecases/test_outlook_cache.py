"""What a process and the store remember: the latest outlooks, and what was last said of a day."""

from __future__ import annotations

import json
import threading
from datetime import UTC, date, datetime
from typing import Any, cast

import pytest

from models.calendar import to_days
from models.outlook import Outlook
from service.usecases.answers import said_before
from service.usecases.outlook import OutlookCache


def made(name: str, log: list[str]) -> Any:
    def make() -> Outlook:
        log.append(name)
        return cast("Outlook", name)

    return make


def test_an_outlook_is_made_once_and_the_oldest_is_dropped() -> None:
    cache, log = OutlookCache(size=2), list[str]()

    for name in ("a", "b", "a", "c", "a", "b"):
        cache.get((name,), made(name, log))

    assert log == ["a", "b", "c", "b"]


def test_one_household_does_not_wait_for_the_outlook_of_another() -> None:
    cache, log = OutlookCache(), list[str]()
    begun, go_on = threading.Event(), threading.Event()

    def slow() -> Outlook:
        begun.set()
        assert go_on.wait(30.0)
        return cast("Outlook", made("slow", log)())

    threads = [threading.Thread(target=cache.get, args=(("slow",), slow)) for _ in range(3)]
    for thread in threads:
        thread.start()
    assert begun.wait(30.0)
    cache.get(("quick",), made("quick", log))
    go_on.set()
    for thread in threads:
        thread.join()

    assert log == ["quick", "slow"]


def test_an_outlook_that_could_not_be_made_is_tried_again() -> None:
    cache, log = OutlookCache(), list[str]()

    def refuse() -> Outlook:
        raise ValueError("no such household")

    with pytest.raises(ValueError, match="no such household"):
        cache.get(("a",), refuse)

    assert cache.get(("a",), made("a", log)) == "a"


def test_what_was_said_of_a_day_is_remembered_for_that_day_alone() -> None:
    said = {
        "date": "2026-11-26",
        "covered": True,
        "meals": [{"start": "2026-11-26T19:00:00+00:00", "verdict": "gas"}],
    }
    body = json.dumps(said).encode()

    told = said_before(body, date(2026, 11, 26))

    assert told is not None
    assert told.covered
    assert told.verdicts == {to_days(datetime(2026, 11, 26, 19, tzinfo=UTC)): "gas"}
    assert said_before(body, date(2026, 11, 27)) is None
    assert said_before(None, date(2026, 11, 26)) is None
    assert said_before(json.dumps(said | {"covered": None}).encode(), date(2026, 11, 26)) is None
