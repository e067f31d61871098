"""Fits, forecasts as issued, and access tokens."""

from __future__ import annotations

import threading
from datetime import datetime, timedelta

import pytest
from sqlalchemy import event

from service.store.database import Database
from service.store.errors import Conflict, NotFound
from service.store.fits import FitStore
from service.store.forecasts import ForecastStore, Issued
from service.store.household import HouseholdStore
from service.store.tokens import TokenStore


def test_the_newest_fit_is_the_one_made_on_the_latest_readings_allowed(
    database: Database, homes: HouseholdStore, now: datetime
) -> None:
    fits = FitStore(database)
    before = homes.version("home")
    assert fits.newest("home") is None
    for as_of_d in (20_000.0, 20_400.0, 20_200.0):
        fits.add("home", {"as_of": as_of_d}, as_of_d, now=now)

    assert homes.version("home") == before + 3
    assert fits.newest("home").made_as_of_d == 20_400.0
    assert fits.newest("home", 20_399.0).fit == {"as_of": 20_200.0}
    assert fits.newest("home", 20_200.0).made_as_of_d == 20_200.0
    assert fits.newest("home", 19_999.0) is None
    assert [one.made_as_of_d for one in fits.history("home", limit=2)] == [20_400.0, 20_200.0]
    assert fits.newest("home").created_at == now


def test_a_wish_for_a_fit_waits_until_it_is_tried_and_is_not_repeated_meanwhile(
    database: Database, homes: HouseholdStore, now: datetime
) -> None:
    fits = FitStore(database)
    first = fits.request("home", now=now)
    assert fits.request("home", now=now) == first
    second = fits.request("home", 20_000.0, now=now)
    assert [(one.household, one.as_of_d) for one in fits.pending()] == [("home", None), ("home", 20_000.0)]
    fits.finish(first, "replaced", "fitted", now=now + timedelta(seconds=9))

    assert [one.id for one in fits.pending()] == [second]
    assert fits.request("home", now=now) not in (first, second)
    done = fits.requests("home")[-1]
    assert (done.outcome, done.message, done.finished_at) == ("replaced", "fitted", now + timedelta(seconds=9))
    with pytest.raises(NotFound, match="no request 99"):
        fits.finish(99, "failed", now=now)


def test_a_forecast_is_issued_once_however_many_ask_at_once(
    database: Database, homes: HouseholdStore, now: datetime
) -> None:
    forecasts = ForecastStore(database)
    issued: list[Issued] = []

    def issue(worker: int) -> None:
        issued.append(forecasts.add("home", "budget@7", now, f"body {worker}".encode(), {"kind": "budget"}))

    workers = [threading.Thread(target=issue, args=(worker,)) for worker in range(6)]
    for worker in workers:
        worker.start()
    for worker in workers:
        worker.join()

    assert len({one.body for one in issued}) == 1
    assert forecasts.find("home", "budget@7") == issued[0]
    assert forecasts.get("home", issued[0].id) == issued[0]
    assert len(forecasts.page("home")) == 1


def test_forecasts_are_listed_newest_first_and_old_ones_pruned(
    database: Database, homes: HouseholdStore, now: datetime
) -> None:
    forecasts = ForecastStore(database)
    for hour in range(4):
        forecasts.add("home", f"at {hour}", now + timedelta(hours=hour), b"{}", {"kind": "now"})

    assert [one.key for one in forecasts.page("home", limit=2)] == ["at 3", "at 2"]
    assert forecasts.prune("home", now + timedelta(hours=3)) == 3
    assert [one.key for one in forecasts.page("home")] == ["at 3"]
    assert forecasts.find("home", "at 0") is None
    with pytest.raises(NotFound, match="no forecast 1"):
        forecasts.get("home", 1)


def test_the_latest_forecast_of_a_question_is_found_by_how_its_key_begins(
    database: Database, homes: HouseholdStore, now: datetime
) -> None:
    forecasts = ForecastStore(database)
    homes.put("elsewhere", {})
    keys = (
        "now?days=14@2/later",
        "now?days=14@10/later",
        "now?days=1_@3",
        "now?days=14A",
        "now?days=14?",
        "NOW?days=14@",
    )
    for key in keys:
        forecasts.add("home", key, now, key.encode(), {})
    forecasts.add("elsewhere", "now?days=14@99", now, b"", {})
    found = forecasts.latest("home", "now?days=14@")

    assert found is not None and found.key == "now?days=14@10/later"
    assert forecasts.latest("home", "now?days=2@") is None


def test_the_latest_forecast_is_found_without_reading_every_other(sqlite: Database) -> None:
    said: list[tuple[str, object]] = []
    HouseholdStore(sqlite).put("home", {})
    event.listen(sqlite.engine, "before_cursor_execute", lambda *given: said.append(given[2:4]))
    ForecastStore(sqlite).latest("home", "now?days=14@")
    sql, parameters = said[-1]
    with sqlite.read() as connection:
        plan = [row[3] for row in connection.exec_driver_sql(f"EXPLAIN QUERY PLAN {sql}", parameters)]

    assert not any(step.startswith("SCAN") for step in plan)
    assert any("household_id=? AND key>? AND key<?" in step for step in plan)


def test_a_household_takes_everything_with_it(database: Database, homes: HouseholdStore, now: datetime) -> None:
    FitStore(database).add("home", {}, 20_000.0, now=now)
    FitStore(database).request("home", now=now)
    ForecastStore(database).add("home", "now@1", now, b"{}", {})
    homes.delete("home", if_match="*")
    homes.put("home", {})

    assert FitStore(database).newest("home") is None
    assert FitStore(database).pending() == []
    assert ForecastStore(database).page("home") == []


def test_a_token_opens_until_it_is_revoked(database: Database, now: datetime) -> None:
    tokens = TokenStore(database)
    assert not tokens.any()
    number = tokens.add("home", "read", "abc", now=now)
    assert tokens.any()
    found = tokens.find("abc")
    assert found is not None and (found.household, found.scope) == ("home", "read")
    with pytest.raises(Conflict):
        tokens.add(None, "write", "abc", now=now)
    tokens.revoke(number, now=now)

    assert tokens.find("abc") is None
    assert not tokens.any()
    assert [one.revoked_at for one in tokens.list()] == [now]
    with pytest.raises(NotFound):
        tokens.revoke(number, now=now)
