"""The past of a household: its log and documents as they stood when a forecast was issued."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta

import numpy as np
import pytest

from models.calendar import to_days
from service.marks import Differences, Mark
from service.readings import Reading
from service.store.database import Database
from service.store.errors import NotFound
from service.store.fits import FitStore
from service.store.history import IN_USE, HistoryStore
from service.store.household import HouseholdStore
from service.store.logbook import LogStore


@pytest.fixture
def history(database: Database, homes: HouseholdStore) -> HistoryStore:
    return HistoryStore(database)


def level(value: float, taken_at: datetime, name: str) -> Reading:
    return Reading(
        id=name,
        taken_s=int(taken_at.timestamp()),
        quantity="holder_level",
        value=value,
        unit="m3",
        recorded_s=int(taken_at.timestamp()),
    )


def levels(history: HistoryStore, stood: Mark, until: datetime) -> list[float]:
    return history.log("home", None, to_days(until), stood=stood).of("holder_level").value.tolist()


def test_the_log_is_told_as_it_stood(logs: LogStore, history: HistoryStore, now: datetime) -> None:
    first, second = (level(value, now - timedelta(hours=h), name) for value, h, name in ((0.3, 9, "a"), (0.4, 8, "b")))
    logs.add("home", [first, second])
    then = history.mark("home", now=now)
    logs.put("home", replace(first, value=0.31), now=now + timedelta(minutes=1))
    logs.put("home", replace(first, value=0.32), now=now + timedelta(minutes=2))
    logs.delete("home", "b", now=now + timedelta(minutes=3))
    logs.add("home", [level(0.5, now - timedelta(hours=1), "c")])
    later = history.mark("home", now=now + timedelta(minutes=4))

    assert levels(history, then, now) == [0.3, 0.4]
    assert levels(history, later, now) == [0.32, 0.5]
    assert levels(history, later, now - timedelta(hours=2)) == [0.32]
    assert history.differences("home", then, later) == Differences(added=1, corrected=1, deleted=1)
    assert history.differences("home", later, later) == Differences(added=0, corrected=0, deleted=0)


def test_a_reading_deleted_and_put_back_is_missing_only_in_between(
    logs: LogStore, history: HistoryStore, now: datetime
) -> None:
    given = level(0.3, now - timedelta(hours=9), "a")
    logs.add("home", [given])
    logs.delete("home", "a", now=now)
    between = history.mark("home", now=now + timedelta(minutes=1))
    logs.put("home", given, now=now + timedelta(minutes=2))
    after = history.mark("home", now=now + timedelta(minutes=3))

    assert levels(history, between, now) == []
    assert levels(history, after, now) == [0.3]


def test_a_log_as_it_stands_is_the_log(logs: LogStore, history: HistoryStore, now: datetime) -> None:
    given = [level(0.1 + 0.01 * k, now - timedelta(hours=20 - k), f"r{k}") for k in range(12)]
    feed = Reading(id="f", taken_s=given[3].taken_s, quantity="feed", value=4.0, unit="kg", item="scraps", recorded_s=0)
    logs.add("home", [*reversed(given), feed])

    plain = logs.log("home", None, to_days(now))
    stood = history.log("home", None, to_days(now), stood=history.mark("home", now=now))

    for quantity in ("holder_level", "feed"):
        for column in ("time_d", "value", "item", "id", "sure"):
            assert np.array_equal(getattr(stood.of(quantity), column), getattr(plain.of(quantity), column))


def test_households_do_not_see_each_others_past(
    logs: LogStore, history: HistoryStore, homes: HouseholdStore, now: datetime
) -> None:
    homes.put("elsewhere", {})
    logs.add("home", [level(0.3, now, "a")])
    hashed = history.keep("home", {"meals": []}, now=now)["meals"]

    assert history.mark("elsewhere", now=now).reading == 0
    with pytest.raises(NotFound, match=f"no document {hashed}"):
        history.document("elsewhere", hashed)


def test_a_document_is_kept_once_however_often_it_comes(history: HistoryStore, now: datetime) -> None:
    first = history.keep("home", {"meals": [{"name": "dinner"}], "weather": None}, now=now)
    again = history.keep("home", {"meals": [{"name": "dinner"}]}, now=now + timedelta(days=9))

    assert first["meals"] == again["meals"] != first["weather"]
    assert history.document("home", first["meals"]) == [{"name": "dinner"}]
    assert history.document("home", first["weather"]) is None
    assert history.prune("home", now + timedelta(days=5)) == 1  # nobody has used the weather since
    assert history.document("home", first["meals"]) == [{"name": "dinner"}]
    with pytest.raises(NotFound):
        history.document("home", first["weather"])


def test_a_document_is_kept_as_long_as_answers_may_rest_on_it(history: HistoryStore, now: datetime) -> None:
    history.keep("home", {"meals": []}, now=now)

    assert history.prune("home", now + IN_USE) == 0
    assert history.prune("home", now + IN_USE + timedelta(seconds=1)) == 1


def test_a_fit_is_found_by_its_number(database: Database, history: HistoryStore, now: datetime) -> None:
    number = FitStore(database).add("home", {"z": 1}, 20_000.0, now=now)

    assert history.fit("home", number).fit == {"z": 1}
    with pytest.raises(NotFound, match="no fit 99"):
        history.fit("home", 99)
