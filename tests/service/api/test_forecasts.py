"""Forecasts as they were issued, listed, and what moved the budget from one to the next."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from flask.testing import FlaskClient

from service.api.examples import DESCRIPTION
from service.api.schemas.forecasts import ForecastChanges, ForecastEntry
from service.refitting import refit_now
from service.wiring import Wiring
from tests.service.api.support import BASE, NOW, Clock, faults, reading, strict


@pytest.fixture
def cook(home: FlaskClient, clock: Clock) -> FlaskClient:
    """A household that looked at its gauge daily for three weeks."""
    for day in range(21, 0, -1):
        level = 60.0 + 10.0 * (day % 3)
        given = reading("holder_level", level, "%", NOW - timedelta(days=day, hours=1))
        assert home.post(f"{BASE}/readings", json=given).status_code == 201
    return home


def ask(client: FlaskClient, path: str) -> Any:
    answer = client.get(f"{BASE}/{path}")
    assert answer.status_code == 200, answer.get_data(as_text=True)
    return strict(answer.get_data(as_text=True))


def newest(client: FlaskClient, kind: str = "gas-budget") -> int:
    return int(ask(client, f"forecasts?limit=1&kind={kind}")["forecasts"][0]["id"])


def changes(client: FlaskClient, query: str = "") -> Any:
    return ask(client, f"forecasts/{newest(client)}/changes{query}")


def litres(told: Any) -> dict[str, float]:
    """What moved the budget, by reason; the parts must add up to the whole."""
    assert set(told) == set(ForecastChanges().fields)
    assert told["valid"]
    found = {one["why"]: one["litres"] for one in told["changes"]}
    assert round(sum(part or 0.0 for part in found.values()), 6) == told["change_l"]
    assert told["change_l"] == pytest.approx(1000.0 * (told["budget_m3"] - told["budget_before_m3"]), abs=0.1)
    assert len(told["summary"]) <= 200
    return found


def test_forecasts_are_listed_newest_first_a_page_at_a_time(cook: FlaskClient, clock: Clock) -> None:
    for hour in range(3):
        clock.now = NOW + timedelta(hours=hour)
        ask(cook, "now")
        ask(cook, "storage?days=7")

    whole = ask(cook, "forecasts")
    first = ask(cook, "forecasts?limit=2&kind=now")
    rest = ask(cook, f"forecasts?limit=2&kind=now&cursor={first['next_cursor']}")

    assert [one["kind"] for one in whole["forecasts"]] == ["storage", "now"] * 3
    assert [one["id"] for one in whole["forecasts"]] == sorted((one["id"] for one in whole["forecasts"]), reverse=True)
    assert whole["next_cursor"] is None
    assert [len(one["forecasts"]) for one in (first, rest)] == [2, 1]
    assert rest["next_cursor"] is None
    assert all(set(one) == set(ForecastEntry().fields) for one in whole["forecasts"])
    assert whole["forecasts"][0]["asked"] == {"days": 7}


def test_the_list_tells_what_was_asked_as_it_was_asked(cook: FlaskClient) -> None:
    ask(cook, "windows?flame_min=45&from=2026-11-26&to=2026-11-27T20:00:00Z&hours=08:00-24:00&burner=ring")
    ask(cook, "windows?flame_min=45")
    usual, named = (one["asked"] for one in ask(cook, "forecasts?kind=windows")["forecasts"])

    asked = {"flame_min": 45.0, "burner": "ring", "from": "2026-11-26", "to": "2026-11-27T20:00:00+00:00"}
    assert named == {**asked, "hours": "08:00-24:00", "days": named["days"]}
    assert (usual["hours"], usual["from"], usual["burner"]) == ("06:00-22:00", None, None)


def test_the_list_tells_the_main_figures(cook: FlaskClient) -> None:
    budget, now = ask(cook, "gas-budget?date=2026-11-27"), ask(cook, "now")
    told_now, told_budget = (one["figures"] for one in ask(cook, "forecasts")["forecasts"])

    for name in ("date", "budget_m3", "budget_q10_m3", "need_m3", "covered", "summary"):
        assert told_budget[name] == budget[name]
    assert (told_budget["holder_m3"], told_now["date"]) == (None, None)
    assert (told_now["budget_m3"], told_now["days_left"]) == (now["tomorrow_budget_m3"], now["days_left"])


def test_a_forecast_stays_as_it_was_issued(cook: FlaskClient, clock: Clock) -> None:
    issued = cook.get(f"{BASE}/gas-budget")
    number = newest(cook)
    clock.now = NOW + timedelta(days=3)
    cook.post(f"{BASE}/readings", json=reading("holder_level", 10, "%", NOW + timedelta(days=2)))
    cook.get(f"{BASE}/gas-budget")
    again = cook.get(f"{BASE}/forecasts/{number}")
    held = cook.get(f"{BASE}/forecasts/{number}", headers={"If-None-Match": again.headers["ETag"]})

    assert again.get_data() == issued.get_data()
    assert again.headers["ETag"] == issued.headers["ETag"]
    assert (held.status_code, held.get_data()) == (304, b"")


@pytest.mark.parametrize(
    "path", ["forecasts/999", "forecasts/999/changes", "forecasts/0", "forecasts/99999999999999999"]
)
def test_what_was_never_issued_is_not_found(cook: FlaskClient, path: str) -> None:
    answer = cook.get(f"{BASE}/{path}")

    assert (answer.status_code, answer.mimetype) == (404, "application/problem+json")


def test_what_the_service_keeps_for_itself_is_no_forecast(cook: FlaskClient, wired: Wiring) -> None:
    ask(cook, "now")
    number = newest(cook, "now")

    assert wired.forecasts.latest("home", "said?") is not None
    assert [cook.get(f"{BASE}/forecasts/{one}").status_code for one in (number - 1, number)] == [404, 200]


def test_the_first_forecast_has_nothing_to_be_compared_with(cook: FlaskClient) -> None:
    ask(cook, "gas-budget")
    told = changes(cook)

    assert (told["valid"], told["reason"], told["changes"]) == (False, "no_forecast_before", [])


def test_an_hour_without_news_moves_what_the_hour_moves(cook: FlaskClient, clock: Clock) -> None:
    ask(cook, "gas-budget")
    clock.now = NOW + timedelta(hours=1)
    ask(cook, "gas-budget")
    found = litres(changes(cook))

    assert set(found) <= {"time", "chance"}
    assert abs(found["time"]) < 1.0


def test_a_fuller_holder_is_told_as_a_reading(cook: FlaskClient, clock: Clock) -> None:
    before = ask(cook, "gas-budget")
    cook.post(f"{BASE}/readings", json=reading("holder_level", 20, "%", NOW - timedelta(hours=1)))
    after = ask(cook, "gas-budget")
    told = changes(cook)
    found = litres(told)

    assert set(found) <= {"readings", "chance"}
    assert found["readings"] < -100.0
    assert abs(found.get("chance", 0.0)) < 0.1 * abs(found["readings"])
    assert (told["budget_before_m3"], told["budget_m3"]) == (before["budget_m3"], after["budget_m3"])
    assert told["changes"][0]["what"] == "readings: 1 new"
    assert "less than what was said on Wednesday 25 November at 06:30: the readings -" in told["summary"]


def test_a_corrected_reading_is_told_by_what_it_said_before(cook: FlaskClient) -> None:
    given = reading("holder_level", 90, "%", NOW - timedelta(hours=1))
    number = cook.post(f"{BASE}/readings", json=given).get_json()["id"]
    ask(cook, "gas-budget")
    cook.put(f"{BASE}/readings/{number}", json={**given, "value": 30})
    ask(cook, "gas-budget")
    told = changes(cook)

    assert litres(told)["readings"] < -100.0
    assert told["changes"][0]["what"] == "readings: 1 corrected"


def test_guests_are_told_as_the_meals(cook: FlaskClient) -> None:
    dinner_l = 1000.0 * ask(cook, "gas-budget?date=today")["meals"][0]["need_m3"]
    ask(cook, "gas-budget")
    cook.post(f"{BASE}/overrides", json={"date": "2026-11-25", "meal": "dinner", "factor": 1.5})
    ask(cook, "gas-budget")
    found = litres(changes(cook))

    assert set(found) <= {"meals", "chance"}
    assert found["meals"] == pytest.approx(-0.5 * dinner_l, rel=0.3)  # half a dinner more tonight is missing tomorrow


def test_each_cause_is_told_apart_in_the_order_of_the_contract(cook: FlaskClient, clock: Clock, wired: Wiring) -> None:
    dinner_l = 1000.0 * ask(cook, "gas-budget?date=2026-11-27")["meals"][0]["need_m3"]
    clock.now = NOW + timedelta(hours=5)
    cook.post(f"{BASE}/readings", json=reading("holder_level", 50, "%", NOW + timedelta(hours=4)))
    warm = [{"date": f"2026-11-{day}", "mean_c": 24.0} for day in (25, 26, 27)]
    assert cook.put(f"{BASE}/weather", json=warm).status_code in (200, 204)
    cook.post(f"{BASE}/overrides", json={"date": "2026-11-26", "meal": "dinner", "skip": True})
    described = cook.get(BASE)
    smaller = {**DESCRIPTION, "holder": {**DESCRIPTION["holder"], "reserve_m3": 0.1}}
    assert cook.put(BASE, json=smaller, headers={"If-Match": described.headers["ETag"]}).status_code == 200
    ask(cook, "gas-budget?date=2026-11-27")
    told = changes(cook)
    found = litres(told)

    assert [one["why"] for one in told["changes"] if one["why"] != "chance"] == [
        "time",
        "readings",
        "weather",
        "meals",
        "description",
    ]
    assert found["readings"] < 0.0 < found["weather"]
    assert 0.25 * dinner_l < found["meals"] < dinner_l  # some of it would have been cooked on the backup
    assert -50.1 <= found["description"] < -20.0  # 0.05 m3 of reserve have become 0.1; an empty holder loses less


def test_a_new_fit_is_told_by_its_number(cook: FlaskClient, wired: Wiring) -> None:
    ask(cook, "gas-budget")
    assert refit_now("home", NOW - timedelta(days=2), wired).outcome == "replaced"
    ask(cook, "gas-budget")
    first = changes(cook)
    assert refit_now("home", NOW, wired).outcome == "replaced"
    ask(cook, "gas-budget")
    second = changes(cook)

    assert set(litres(first)) <= {"fit", "chance"}
    assert [told["changes"][0]["what"] for told in (first, second)] == ["fit 1 in place of none", "fit 2 in place of 1"]


def test_a_day_later_the_same_day_is_compared(cook: FlaskClient, clock: Clock) -> None:
    ask(cook, "gas-budget")
    clock.now = NOW + timedelta(days=1)
    told_before, told = ask(cook, "forecasts")["forecasts"][0], ask(cook, "gas-budget")
    found = changes(cook)

    assert told_before["figures"]["date"] == "2026-11-26"
    assert (found["date"], found["budget_m3"]) == (told["date"], told["budget_m3"]) == ("2026-11-27", told["budget_m3"])
    assert set(litres(found)) <= {"time", "chance"}
    assert found["changes"][0]["what"] == "24.0 hours passed"


def test_any_earlier_forecast_may_be_compared(cook: FlaskClient, clock: Clock) -> None:
    ask(cook, "now")
    first = newest(cook, "now")
    for hours in (1, 2):
        clock.now = NOW + timedelta(hours=hours)
        ask(cook, "gas-budget")

    assert changes(cook)["before_id"] > first
    assert changes(cook, f"?since={first}")["before_id"] == first
    assert litres(changes(cook, f"?since={first}"))
    wrong = cook.get(f"{BASE}/forecasts/{first}/changes?since={first}")
    assert wrong.status_code == 422
    assert faults(wrong)["/since"] == f"since is {first}, must be smaller than {first}: that of an earlier forecast"


def test_a_comparison_is_worked_out_once(cook: FlaskClient, clock: Clock, wired: Wiring) -> None:
    ask(cook, "gas-budget")
    cook.post(f"{BASE}/readings", json=reading("holder_level", 20, "%", NOW - timedelta(hours=1)))
    ask(cook, "gas-budget")
    first = cook.get(f"{BASE}/forecasts/{newest(cook)}/changes")
    again = cook.get(f"{BASE}/forecasts/{newest(cook)}/changes")

    assert again.get_data() == first.get_data()
    assert wired.forecasts.find("home", f"changes?{newest(cook)}-{newest(cook) - 2}@") is not None


def test_meals_on_a_burner_of_a_new_description_count_with_it(cook: FlaskClient) -> None:
    ask(cook, "gas-budget")
    renamed = {**DESCRIPTION, "burners": [{**DESCRIPTION["burners"][0], "name": "great ring"}]}
    for meal in cook.get(f"{BASE}/meals").get_json():
        etag = cook.get(f"{BASE}/meals/{meal['name']}").headers["ETag"]
        assert cook.delete(f"{BASE}/meals/{meal['name']}", headers={"If-Match": etag}).status_code == 204
    described = cook.get(BASE)
    assert cook.put(BASE, json=renamed, headers={"If-Match": described.headers["ETag"]}).status_code == 200
    supper = {"name": "supper", "starts_on": "2026-01-01", "time": "18:00", "burner": "great ring", "flame_min": 20}
    assert cook.post(f"{BASE}/meals", json=supper).status_code == 201
    ask(cook, "gas-budget")
    found = litres(changes(cook))

    assert found["meals"] is None
    assert found["description"] is not None


def test_before_the_first_reading_there_is_no_budget_to_compare(home: FlaskClient, clock: Clock) -> None:
    ask(home, "gas-budget")
    home.post(f"{BASE}/readings", json=reading("holder_level", 50, "%", NOW - timedelta(hours=1)))
    ask(home, "gas-budget")
    told = changes(home)

    assert (told["valid"], told["reason"]) == (False, "no_readings")


def test_a_forecast_too_old_to_reach_so_far_is_said_to_be(cook: FlaskClient, clock: Clock) -> None:
    ask(cook, "gas-budget")
    clock.now = NOW + timedelta(days=91)
    ask(cook, "gas-budget")
    told = changes(cook)

    assert (told["valid"], told["reason"]) == (False, "beyond_horizon")
