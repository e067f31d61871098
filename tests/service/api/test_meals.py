"""The schedule of meals and its one-off changes."""

from __future__ import annotations

from typing import Any

import pytest
from flask.testing import FlaskClient

from service.api.examples import MEAL
from tests.service.api.support import BASE, faults

SOUP = {
    "name": "soup",
    "starts_on": "2026-01-01",
    "time": "13:00",
    "rrule": "FREQ=WEEKLY;BYDAY=SA,SU",
    "dishes": [{"burner": "ring", "pan": "two litre", "steps": [{"boil": {"water_l": 2}}, {"simmer_min": 20}]}],
}


def test_meals_come_back_as_they_were_given(home: FlaskClient) -> None:
    assert home.post(f"{BASE}/meals", json=SOUP).status_code == 201

    assert home.get(f"{BASE}/meals").get_json() == [MEAL, SOUP]
    assert home.get(f"{BASE}/meals/soup").get_json() == SOUP


def test_a_name_that_is_taken_is_a_conflict(home: FlaskClient) -> None:
    answer = home.post(f"{BASE}/meals", json=MEAL)

    assert answer.status_code == 409
    assert "already" in faults(answer)["/name"]


def test_a_meal_is_replaced_only_by_one_who_has_seen_it(home: FlaskClient) -> None:
    url = f"{BASE}/meals/dinner"
    longer = {name: value for name, value in MEAL.items() if name != "name"} | {"flame_min": 50}

    assert home.put(url, json=longer).status_code == 428
    assert home.put(url, json=longer, headers={"If-Match": home.get(url).headers["ETag"]}).status_code == 200
    assert home.get(url).get_json()["flame_min"] == 50


def test_a_meal_put_under_a_new_name_is_created(home: FlaskClient) -> None:
    assert home.put(f"{BASE}/meals/supper", json=MEAL).status_code == 201
    assert home.get(f"{BASE}/meals/supper").get_json()["name"] == "supper"


def test_a_meal_is_deleted_and_changes_made_for_it_change_nothing(home: FlaskClient) -> None:
    home.post(f"{BASE}/overrides", json={"date": "2026-11-26", "meal": "dinner", "factor": 1.6})
    tag = home.get(f"{BASE}/meals/dinner").headers["ETag"]

    assert home.delete(f"{BASE}/meals/dinner", headers={"If-Match": tag}).status_code == 204
    assert home.get(f"{BASE}/gas-budget").status_code == 200


@pytest.mark.parametrize(
    ("parts", "status", "pointer"),
    [
        ({"burner": "stove"}, 422, "/burner"),
        ({"rrule": "FREQ=SECONDLY"}, 422, "/rrule"),
        ({"time": "7 pm"}, 400, "/time"),
        ({"flame_min": None}, 400, "/flame_min"),
        ({"dishes": SOUP["dishes"]}, 400, "/dishes"),
        ({"dishes": []}, 400, "/dishes"),
        ({"burner": "<ring>"}, 400, "/burner"),
    ],
)
def test_a_meal_that_cannot_be_is_named(settled: FlaskClient, parts: dict[str, Any], status: int, pointer: str) -> None:
    answer = settled.post(f"{BASE}/meals", json=MEAL | {"name": "other"} | parts)

    assert answer.status_code == status
    assert pointer in faults(answer)


@pytest.mark.parametrize("step", [{"boil": {"water_l": 2}}, {"simmer_min": 20}, {"fry_min": 8, "flame_pct": 60}])
def test_a_pan_nobody_has_is_named_with_those_there_are(home: FlaskClient, step: dict[str, Any]) -> None:
    dish = {"burner": "ring", "pan": "cauldron", "steps": [step]}

    answer = home.post(f"{BASE}/meals", json=SOUP | {"dishes": [dish]})

    assert faults(answer) == {"/dishes/0/pan": "pan is 'cauldron', must be one of two litre"}


def test_a_pan_that_never_boils_is_refused_when_the_meal_is_planned(home: FlaskClient) -> None:
    steps = [{"simmer_min": 5}]
    soup = {"burner": "ring", "pan": "two litre", "steps": steps}
    cauldron = {"burner": "ring", "pan": "two litre", "steps": [{"boil": {"water_l": 90}}]}

    added = home.post(f"{BASE}/meals", json=SOUP | {"dishes": [soup, cauldron]})
    put = home.put(f"{BASE}/meals/soup", json=SOUP | {"dishes": [soup, cauldron]})

    assert [one.status_code for one in (added, put)] == [422, 422]
    assert "does not bring 90 L to the boil" in faults(added)["/dishes/1/burner"]
    assert home.get(f"{BASE}/now").status_code == 200


def test_one_off_changes_can_be_made_repeated_and_taken_back(home: FlaskClient) -> None:
    change = {"date": "2026-11-26", "meal": "dinner", "skip": True}
    away = {"from": "2026-12-01", "to": "2026-12-05"}

    first = home.put(f"{BASE}/overrides/out", json=change)
    again = home.put(f"{BASE}/overrides/out", json=change)
    added = home.post(f"{BASE}/overrides", json=away)

    assert (first.status_code, again.status_code, added.status_code) == (201, 200, 201)
    assert [one["id"] for one in home.get(f"{BASE}/overrides").get_json()] == ["out", added.get_json()["id"]]
    assert home.get(f"{BASE}/overrides/out").get_json() == change | {"id": "out"}
    assert home.delete(f"{BASE}/overrides/out").status_code == 204
    assert home.get(f"{BASE}/overrides/out").status_code == 404


@pytest.mark.parametrize(
    ("change", "status"),
    [
        ({"date": "2026-11-26", "meal": "brunch", "skip": True}, 422),
        ({"date": "2026-11-26", "meal": "dinner"}, 400),
        ({"date": "2026-11-26", "meal": "dinner", "skip": True, "factor": 2}, 400),
        ({"from": "2026-12-05", "to": "2026-12-01"}, 400),
        ({"date": "2026-11-26"}, 400),
        ({"date": "2026-11-26", "meal": "dinner", "skip": True, "from": "2026-12-05"}, 400),
        ({"from": "2026-12-05", "to": "2026-12-06", "factor": 2}, 400),
        ({"from": "2026-12-05"}, 400),
        ({"skip": True}, 400),
    ],
)
def test_a_change_that_cannot_be_is_refused(settled: FlaskClient, change: dict[str, Any], status: int) -> None:
    assert settled.post(f"{BASE}/overrides", json=change).status_code == status


def test_an_absence_that_ends_before_it_begins_is_refused_with_the_way_out(home: FlaskClient) -> None:
    answer = home.post(f"{BASE}/overrides", json={"from": "2026-12-05", "to": "2026-12-01"})

    assert faults(answer) == {"/to": "to is before from; exchange the two"}


def test_an_absence_of_more_than_a_year_is_a_slip_of_the_pen(home: FlaskClient) -> None:
    answer = home.post(f"{BASE}/overrides", json={"from": "2026-12-05", "to": "2036-12-07"})
    year = home.post(f"{BASE}/overrides", json={"from": "2026-12-05", "to": "2027-12-06"})

    assert answer.status_code == 400
    assert faults(answer)["/to"].startswith("to is 2036-12-07, more than a year after from; look at the year")
    assert year.status_code == 201


def test_a_skipped_dinner_is_not_planned_for(home: FlaskClient) -> None:
    home.put(f"{BASE}/overrides/out", json={"date": "2026-11-26", "meal": "dinner", "skip": True})

    assert home.get(f"{BASE}/gas-budget?date=2026-11-26").get_json()["meals"] == []


def test_a_meal_that_poor_gas_no_longer_boils_does_not_stop_the_answers(home: FlaskClient) -> None:
    wash = SOUP | {"dishes": [{"burner": "ring", "pan": "two litre", "steps": [{"boil": {"water_l": 34}}]}]}
    assert home.post(f"{BASE}/meals", json=wash).status_code == 201
    poor = {"quantity": "methane", "value": 36, "unit": "%", "taken_at": "2026-11-24T12:00:00Z"}
    level = {"quantity": "holder_level", "value": 60, "unit": "%", "taken_at": "2026-11-24T12:00:00Z"}
    assert home.post(f"{BASE}/readings", json=[poor, level]).status_code == 201

    assert home.get(f"{BASE}/now").status_code == 200
