"""The forecasting answers, read as a cook and as a script would."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from itertools import pairwise
from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient

from service.api.examples import DESCRIPTION
from service.api.schemas import answers
from service.app import create_app
from service.wiring import Wiring, wire
from tests.service.api.support import BASE, NOW, Clock, faults, reading, strict

DOCUMENTS: dict[str, type[answers.Stamp]] = {
    "now": answers.Now,
    "gas-budget": answers.GasBudget,
    "storage": answers.StorageOutlook,
    "backup": answers.BackupNeed,
    "forecast": answers.Forecast,
}
TAKEN_BY_PROBLEMS = {"type", "title", "status", "detail", "instance"}


def ask(client: FlaskClient, path: str) -> dict[str, Any]:
    answer = client.get(f"{BASE}/{path}")
    assert answer.status_code == 200, answer.get_data(as_text=True)
    body: dict[str, Any] = strict(answer.get_data(as_text=True))
    return body


def asker(lived_in: tuple[Flask, Wiring]) -> FlaskClient:
    return lived_in[0].test_client()


@pytest.mark.parametrize("path", DOCUMENTS)
def test_every_answer_has_every_field_of_its_document(lived_in: tuple[Flask, Wiring], path: str) -> None:
    body = ask(asker(lived_in), path)

    assert set(body) == set(DOCUMENTS[path]().fields)
    assert not TAKEN_BY_PROBLEMS & set(body)


@pytest.mark.parametrize("path", DOCUMENTS)
def test_every_answer_is_stamped(lived_in: tuple[Flask, Wiring], path: str) -> None:
    body = ask(asker(lived_in), path)

    assert datetime.fromisoformat(body["as_of"]) == NOW
    assert datetime.fromisoformat(body["valid_until"]) == NOW.replace(hour=7, minute=0)
    assert datetime.fromisoformat(body["last_reading_at"]) <= NOW
    assert body["valid"] is True
    assert body["basis"] in ("blended", "fitted")
    assert 0 < len(body["summary"]) <= 200


@pytest.mark.parametrize("path", DOCUMENTS)
def test_a_household_that_logged_nothing_gets_a_reason(settled: FlaskClient, path: str) -> None:
    body = ask(settled, path)

    assert (body["valid"], body["reason"], body["basis"]) == (False, "no_readings", "prior")
    assert body["last_reading_at"] is None
    assert set(body) == set(DOCUMENTS[path]().fields)


def test_without_a_log_the_gas_to_come_is_still_forecast(home: FlaskClient) -> None:
    points = ask(home, "forecast?days=3")["points"]

    assert len(points) == 4
    assert all(0.0 < point["production_q10_m3"] < point["production_q90_m3"] < 2.0 for point in points)
    assert all(point["holder_end_q50_m3"] is None for point in points)


def test_one_reading_is_enough_for_a_first_answer(home: FlaskClient) -> None:
    given = reading("holder_level", 50, "%", NOW - timedelta(hours=2))
    assert home.post(f"{BASE}/readings", json=given).status_code == 201

    storage = ask(home, "storage")

    assert (storage["valid"], storage["reason"]) == (True, "cold_start")
    assert 0.3 < storage["holder_m3"] < 0.6


def test_an_old_reading_is_said_to_be_old(home: FlaskClient, clock: Clock) -> None:
    home.post(f"{BASE}/readings", json=reading("holder_level", 50, "%", NOW - timedelta(hours=2)))
    clock.now = NOW + timedelta(days=4)
    old = ask(home, "now")
    clock.now = NOW + timedelta(days=40)
    lost = ask(home, "now")

    assert (old["valid"], old["reason"]) == (True, "stale")
    assert old["summary"].startswith("Gauge last read 4 days ago: read it again. Gas for ")
    assert (lost["valid"], lost["reason"]) == (False, "stale")


def test_a_meal_that_nobody_wrote_down_is_counted_as_cooked_and_said_to_be(home: FlaskClient, clock: Clock) -> None:
    """Looked at in the morning; dinner, 35 min from seven, comes and goes, and then somebody remembers the log."""
    home.post(f"{BASE}/readings", json=reading("holder_level", 60, "%", NOW))
    clock.now = NOW.replace(hour=18)
    early = ask(home, "storage")
    clock.now = NOW.replace(hour=20)
    late, now = ask(home, "storage"), ask(home, "now")

    assert (early["assumed_meals"], "as cooked" in early["summary"]) == ([], False)
    assert late["assumed_meals"] == [{"meal": "dinner", "start": "2026-11-25T19:00:00+00:00"}]
    assert now["assumed_meals_count"] == 1
    for body in (late, now):
        assert ", counting dinner as cooked (read the gauge or log it); " in body["summary"]
        assert body["holder_m3"] < early["holder_m3"] - 0.1
    remembered = reading("cooking", 35, "min", NOW.replace(hour=19), item="ring", meal="dinner")
    assert home.post(f"{BASE}/readings", json=remembered).status_code == 201
    logged = ask(home, "storage")
    assert (logged["assumed_meals"], "as cooked" in logged["summary"]) == ([], False)
    assert ask(home, "now")["assumed_meals_count"] == 0


def test_a_tea_after_a_meal_that_nobody_wrote_down_makes_no_gas(home: FlaskClient, clock: Clock) -> None:
    home.post(f"{BASE}/readings", json=reading("holder_level", 60, "%", NOW))
    clock.now = NOW.replace(hour=22)
    before = ask(home, "storage")
    home.post(f"{BASE}/readings", json=reading("cooking", 3, "min", NOW.replace(hour=21, minute=30), item="ring"))
    after = ask(home, "storage")

    assert [one["meal"] for one in after["assumed_meals"]] == ["dinner"]
    assert after["holder_m3"] < before["holder_m3"]
    assert ask(home, "now")["holder_m3"] == after["holder_m3"]


@pytest.mark.parametrize("how", ["look", "skip", "no minutes"])
def test_a_look_or_a_change_of_plan_says_what_became_of_a_meal(home: FlaskClient, clock: Clock, how: str) -> None:
    home.post(f"{BASE}/readings", json=reading("holder_level", 60, "%", NOW))
    clock.now = NOW.replace(hour=20)
    assert ask(home, "now")["assumed_meals_count"] == 1
    if how == "look":
        home.post(f"{BASE}/readings", json=reading("holder_level", 55, "%", clock.now - timedelta(minutes=1)))
    elif how == "no minutes":
        home.post(
            f"{BASE}/readings", json=reading("cooking", 0, "min", NOW.replace(hour=19), item="ring", meal="dinner")
        )
    else:
        home.post(f"{BASE}/overrides", json={"meal": "dinner", "date": "2026-11-25", "skip": True})

    assert ask(home, "now")["assumed_meals_count"] == len(ask(home, "storage")["assumed_meals"]) == 0


@pytest.mark.parametrize(("days_later", "count"), [(1.6, 2), (4.6, 5), (40.6, 30)])
def test_an_old_reading_says_how_many_meals_are_counted_since(
    home: FlaskClient, clock: Clock, days_later: float, count: int
) -> None:
    """Dinner every day; beyond a month the level is no longer rolled forward from the reading."""
    home.post(f"{BASE}/readings", json=reading("holder_level", 60, "%", NOW))
    clock.now = NOW + timedelta(days=days_later)

    for body in (ask(home, "now"), ask(home, "storage")):
        assert f", counting {count} meals as cooked (read the gauge or log them)" in body["summary"]
        assert body["summary"].startswith("Gauge last read" if days_later > 2 else "Gas for")
        assert len(body["summary"]) <= 200
    assert len(ask(home, "storage")["assumed_meals"]) == ask(home, "now")["assumed_meals_count"] == count


@pytest.mark.parametrize("days_later", [0, 4, 40])
@pytest.mark.parametrize("path", ["now", "gas-budget", "gas-budget?date=today", "storage", "backup", "forecast"])
def test_an_old_reading_leaves_room_for_the_answer_itself(
    home: FlaskClient, clock: Clock, path: str, days_later: int
) -> None:
    home.post(f"{BASE}/readings", json=reading("holder_level", 50, "%", NOW - timedelta(hours=2)))
    clock.now = NOW + timedelta(days=days_later)
    summary = ask(home, path)["summary"]
    answer = summary.partition("read it again. ")[2] if days_later else summary

    assert len(summary) <= 200
    assert len(answer) > 60, summary


def test_a_day_beyond_the_horizon_is_no_traceback_but_a_reason(lived_in: tuple[Flask, Wiring]) -> None:
    body = ask(asker(lived_in), "gas-budget?date=2028-01-01")

    assert (body["valid"], body["reason"], body["budget_m3"]) == (False, "beyond_horizon", None)


def test_a_day_within_the_horizon_is_seen_however_far(lived_in: tuple[Flask, Wiring]) -> None:
    body = ask(asker(lived_in), "gas-budget?date=2027-01-20")

    assert body["date"] == "2027-01-20"
    assert body["budget_m3"] > 0.0


@pytest.mark.parametrize(
    ("query", "pointer"),
    [
        ("gas-budget?date=someday", "/date"),
        ("storage?days=0", "/days"),
        ("storage?days=91", "/days"),
        ("storage?day=3", "/day"),
        ("forecast?step=week", "/step"),
        ("forecast?levels=0.5,1.5", "/levels/1"),
        ("forecast?levels=half", "/levels/0"),
        ("now?as_of=2026-11-25T06:00:00", "/as_of"),
        ("now?as_of=yesterday", "/as_of"),
    ],
)
def test_a_question_that_cannot_be_read_names_what_to_mend(settled: FlaskClient, query: str, pointer: str) -> None:
    answer = settled.get(f"{BASE}/{query}")

    assert answer.status_code == 400
    assert pointer in faults(answer)


def test_quantiles_are_in_order_and_care_means_the_careful_one(lived_in: tuple[Flask, Wiring]) -> None:
    budget = ask(asker(lived_in), "gas-budget?date=tomorrow")

    assert budget["budget_q10_m3"] <= budget["budget_m3"] <= budget["budget_q90_m3"]
    assert budget["need_m3"] <= budget["need_q90_m3"]
    assert budget["date"] == "2026-11-26" or budget["date"] == "2026-11-25"
    assert 0.0 <= budget["cover_probability"] <= 1.0


def test_a_time_stamp_pasted_into_an_address_is_read(lived_in: tuple[Flask, Wiring]) -> None:
    body = ask(asker(lived_in), "now?as_of=2026-11-01T10:00:00+01:00")

    assert datetime.fromisoformat(body["as_of"]) == datetime(2026, 11, 1, 9, tzinfo=UTC)


def test_answers_to_the_same_state_agree(lived_in: tuple[Flask, Wiring]) -> None:
    client = asker(lived_in)
    now, budget, storage = ask(client, "now"), ask(client, "gas-budget?date=tomorrow"), ask(client, "storage")

    assert now["tomorrow_budget_m3"] == budget["budget_m3"]
    assert now["days_left"] == storage["days_left"]
    assert now["holder_m3"] == storage["holder_m3"]


def test_an_answer_as_of_then_knows_nothing_later(lived_in: tuple[Flask, Wiring]) -> None:
    client, then = asker(lived_in), NOW - timedelta(days=30)

    body = ask(client, f"storage?as_of={then.strftime('%Y-%m-%dT%H:%M:%SZ')}")

    assert datetime.fromisoformat(body["as_of"]) == then
    assert datetime.fromisoformat(body["last_reading_at"]) <= then


@pytest.mark.parametrize("moment", ["2026-11-20T23:59:59.8Z", "2026-11-20T18:59:59.7Z", "2026-11-20T19:00:00.3Z"])
@pytest.mark.parametrize("query", ["forecast?step=hour&", "forecast?", "gas-budget?date=today&", "storage?"])
def test_a_moment_just_before_a_step_is_answered(lived_in: tuple[Flask, Wiring], query: str, moment: str) -> None:
    assert ask(asker(lived_in), f"{query}as_of={moment}")["valid"]


def test_an_answer_is_issued_once_and_kept_word_for_word(lived_in: tuple[Flask, Wiring]) -> None:
    app, wired = lived_in
    first = app.test_client().get(f"{BASE}/backup")
    restarted = create_app(wire(wired.settings, clock=Clock()))
    again = restarted.test_client().get(f"{BASE}/backup")

    assert again.get_data() == first.get_data()
    assert again.headers["ETag"] == first.headers["ETag"]


def test_a_new_reading_makes_a_new_answer(home: FlaskClient) -> None:
    home.post(f"{BASE}/readings", json=reading("holder_level", 50, "%", NOW - timedelta(hours=9)))
    before = ask(home, "now")
    home.post(f"{BASE}/readings", json=reading("holder_level", 90, "%", NOW - timedelta(hours=1)))

    assert ask(home, "now")["holder_m3"] > before["holder_m3"] + 0.1


def test_the_bottle_holds_what_was_not_used_since_it_was_looked_at(client: FlaskClient) -> None:
    bottle = DESCRIPTION["backup"] | {"on_hand_kg": 3.0, "on_hand_at": (NOW - timedelta(days=2)).isoformat()}
    client.put(BASE, json=DESCRIPTION | {"backup": bottle})
    client.post(f"{BASE}/readings", json=reading("backup_used", 9.0, "kg", NOW - timedelta(days=3)))
    client.post(f"{BASE}/readings", json=reading("backup_used", 2.8, "kg", NOW - timedelta(days=1)))

    assert ask(client, "backup")["on_hand_kg"] == pytest.approx(0.2)


def test_a_bottle_told_without_a_time_is_there_now_and_so_is_a_new_one(client: FlaskClient) -> None:
    looked_at = (NOW - timedelta(days=2)).isoformat()
    first = client.put(BASE, json=DESCRIPTION | {"backup": DESCRIPTION["backup"] | {"on_hand_kg": 3.0}})
    document = first.get_json() | {"backup": first.get_json()["backup"] | {"on_hand_at": looked_at}}
    said = client.put(BASE, json=document, headers={"If-Match": first.headers["ETag"]})
    client.post(f"{BASE}/readings", json=reading("backup_used", 1.2, "kg", NOW - timedelta(days=1)))
    left = ask(client, "backup")["on_hand_kg"]
    painted = document | {"label": "An invented cottage, painted"}
    again = client.put(BASE, json=painted, headers={"If-Match": said.headers["ETag"]})
    kept = ask(client, "backup")["on_hand_kg"]
    bought = document | {"backup": document["backup"] | {"on_hand_kg": 11.0}}
    client.put(BASE, json=bought, headers={"If-Match": again.headers["ETag"]})

    assert first.get_json()["backup"]["on_hand_at"] == NOW.isoformat()
    assert left == kept == pytest.approx(1.8)
    assert ask(client, "backup")["on_hand_kg"] == 11.0


def test_a_warmer_forecast_makes_more_gas(home: FlaskClient) -> None:
    home.post(f"{BASE}/readings", json=reading("holder_level", 50, "%", NOW - timedelta(hours=9)))
    usual = ask(home, "forecast?days=10")["points"][-1]
    days = [{"date": str(NOW.date() + timedelta(days=k)), "mean_c": 24} for k in range(12)]
    home.put(f"{BASE}/weather", json=days)
    warm = ask(home, "forecast?days=10")["points"][-1]

    assert warm["slurry_q50_c"] > usual["slurry_q50_c"] + 3.0
    assert warm["production_q50_mj"] > 1.2 * usual["production_q50_mj"]


def test_the_series_goes_by_day_or_hour_in_rows_or_columns(lived_in: tuple[Flask, Wiring]) -> None:
    client = asker(lived_in)
    days = ask(client, "forecast?days=7")["points"]
    hours = ask(client, "forecast?days=1&step=hour&layout=columns&levels=0.05,0.975")["columns"]

    assert len(days) == 8
    assert all(first["end"] == second["start"] for first, second in pairwise(days))
    assert hours["production_q05_m3"][3] <= hours["production_q10_m3"][3]
    assert hours["holder_end_q975_m3"][3] >= hours["holder_end_q90_m3"][3]
    assert {len(column) for column in hours.values()} == {len(hours["start"])}


def test_levels_of_what_is_not_known_are_null(home: FlaskClient) -> None:
    point = ask(home, "forecast?days=1&levels=0.05")["points"][0]

    assert point["holder_end_q05_m3"] is None
    assert point["production_q05_m3"] > 0.0


def test_a_household_without_meals_is_answered(client: FlaskClient) -> None:
    client.put(BASE, json=DESCRIPTION)
    client.post(f"{BASE}/readings", json=reading("holder_level", 50, "%", NOW - timedelta(hours=9)))

    budget, storage = ask(client, "gas-budget"), ask(client, "storage")

    assert (budget["meals"], budget["need_m3"], budget["covered"]) == ([], 0.0, True)
    assert storage["days_left"] is None


def test_hours_and_days_hold_the_same_gas(lived_in: tuple[Flask, Wiring]) -> None:
    client = asker(lived_in)
    day = ask(client, "forecast?days=3")["points"][1]
    hours = [
        point
        for point in ask(client, "forecast?days=3&step=hour")["points"]
        if day["start"] <= point["start"] < day["end"]
    ]

    assert len(hours) == 24
    assert sum(hour["production_q50_m3"] for hour in hours) == pytest.approx(day["production_q50_m3"], rel=0.01)
    assert hours[-1]["holder_end_q50_m3"] == day["holder_end_q50_m3"]


def test_the_model_says_what_it_learnt(lived_in: tuple[Flask, Wiring]) -> None:
    body = ask(asker(lived_in), "model")

    assert body["fit"]["intervals"] > 50
    assert {one["name"] for one in body["fit"]["parameters"]} >= {"t0_c", "gauge_error"}
    assert all(one["low"] < one["value"] < one["high"] for one in body["fit"]["parameters"])


def test_a_new_fit_can_be_asked_for(home: FlaskClient) -> None:
    asked = home.post(f"{BASE}/model/fits", json={"as_of": NOW.isoformat()})

    assert asked.status_code == 202
    assert home.post(f"{BASE}/model/fits").status_code == 202
    assert {one["outcome"] for one in home.get(f"{BASE}/model/fits").get_json()} == {"waiting"}
    assert datetime.fromisoformat(asked.get_json()["as_of"]).astimezone(UTC) == NOW
