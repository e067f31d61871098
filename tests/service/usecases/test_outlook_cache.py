"""What a process and the store remember: the latest outlooks, and what was last said of a day."""

from __future__ import annotations

import json
import threading
from datetime import date
from typing import Any, cast

import numpy as np
import pytest

from models.reckoning import Said
from service.usecases.outlook import Grounds, OutlookCache
from service.usecases.steady import said_document, said_from


def made(name: str, log: list[str]) -> Any:
    def make() -> Grounds:
        log.append(name)
        return cast("Grounds", name)

    return make


def test_an_outlook_is_made_once_and_the_oldest_is_dropped() -> None:
    cache, log = OutlookCache(size=2), list[str]()

    for name in ("a", "b", "a", "c", "a", "b"):
        cache.get((name,), made(name, log))

    assert log == ["a", "b", "c", "b"]


def test_one_household_does_not_wait_for_the_outlook_of_another() -> None:
    cache, log = OutlookCache(), list[str]()
    begun, go_on = threading.Event(), threading.Event()

    def slow() -> Grounds:
        begun.set()
        assert go_on.wait(30.0)
        return cast("Grounds", made("slow", log)())

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

    def refuse() -> Grounds:
        raise ValueError("no such household")

    with pytest.raises(ValueError, match="no such household"):
        cache.get(("a",), refuse)

    assert cache.get(("a",), made("a", log)) == "a"


def test_what_was_said_is_kept_to_the_last_bit() -> None:
    told = Said(
        covered={date(2026, 11, 26): True},
        verdicts={("dinner", 20783.0 + 1.0 / 3.0): "gas", ("soup", 20783.0 + 1.0 / 3.0): "tight"},
        lacks={("dinner", 20783.0 + 1.0 / 3.0): False},
        times_d={"empty@0.5": 20790.0 + 1.0 / 7.0, "full@0.5": np.inf},
    )

    assert said_from(json.dumps(said_document(told), allow_nan=False).encode()) == told
