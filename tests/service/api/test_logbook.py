"""Readings over HTTP: put down once however often they are sent, corrected, taken out and brought back."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from flask.testing import FlaskClient

from service.api.examples import DESCRIPTION
from tests.service.api.support import BASE, NOW, Clock, faults, reading

READINGS = f"{BASE}/readings"
ID = "4be2e06b-6d52-4e0b-9c8c-3a86ad3a4a52"
DINNER = reading("cooking", 35, "min", NOW - timedelta(hours=11), item="ring", meal="dinner")
LEVEL = reading("holder_level", 62, "%", NOW - timedelta(hours=1))


def listed(client: FlaskClient, **query: Any) -> list[dict[str, Any]]:
    return client.get(READINGS, query_string=query).get_json()["readings"]


def test_a_reading_is_told_back_whole_in_the_household_s_own_time(home: FlaskClient) -> None:
    answer = home.post(READINGS, json=DINNER)
    told = answer.get_json()

    assert answer.status_code == 201
    assert home.get(answer.headers["Location"]).get_json() == told
    assert told.pop("id")
    assert told == {
        "taken_at": "2026-11-24T19:30:00+00:00",
        "quantity": "cooking",
        "value": 35.0,
        "unit": "min",
        "item": "ring",
        "flame_pct": 100.0,
        "meal": "dinner",
        "note": None,
        "water_l": None,
        "from_c": None,
        "sure": False,
        "recorded_at": "2026-11-25T06:30:00+00:00",
    }


def test_sending_a_reading_twice_changes_nothing(home: FlaskClient) -> None:
    first, again = home.post(READINGS, json=DINNER), home.post(READINGS, json=DINNER)

    assert (first.status_code, again.status_code) == (201, 200)
    assert first.get_json() == again.get_json()
    assert len(listed(home)) == 1


def test_a_list_is_kept_whole_or_not_at_all(home: FlaskClient) -> None:
    answer = home.post(READINGS, json=[LEVEL, DINNER, LEVEL])
    assert answer.status_code == 201
    assert (answer.get_json()["added"], answer.get_json()["unchanged"]) == (2, 1)
    assert home.post(READINGS, json=[DINNER]).status_code == 200

    later = reading("feed", 3, "kg", NOW - timedelta(minutes=5))
    refused = home.post(READINGS, json=[later, LEVEL | {"value": -3}, DINNER | {"item": "stove"}])
    assert refused.status_code == 422
    assert faults(refused) == {
        "/1/value": "value is -3, must be 0 to 1000 %",
        "/2/item": "item is 'stove', must be a burner that is described: ring",
    }
    conflict = home.post(READINGS, json=[later, LEVEL | {"value": 63}])
    assert conflict.status_code == 409
    assert "stands already as 62 %" in faults(conflict)["/1/taken_at"]
    assert len(listed(home)) == 2


@pytest.mark.parametrize(
    ("change", "status", "pointer", "message"),
    [
        ({"value": "62"}, 400, "/value", "must be a JSON number"),
        ({"value": True}, 400, "/value", "must be a JSON number"),
        ({"value": None}, 400, "/value", "may not be null"),
        ({"quantity": "height"}, 400, "/quantity", "must be one of holder_level"),
        ({"sure": "perhaps"}, 400, "/sure", "must be true or false"),
        ({"colour": "blue"}, 400, "/colour", "is not a field here"),
        ({"taken_at": "2026-11-24T19:30:00"}, 400, "/taken_at", "has no offset"),
        ({"taken_at": "yesterday"}, 400, "/taken_at", "must be a time stamp"),
        ({"unit": "gallons"}, 422, "/unit", "must be % or m3 or L"),
        ({"unit": None}, 422, "/unit", "must be one of %, m3, L"),
        ({"note": "a\x00b"}, 400, "/note", "control character"),
        ({"id": "mine"}, 422, "/id", "must be a UUID"),
        ({"taken_at": "2026-11-25T08:30:00Z"}, 422, "/taken_at", "120 minutes in the future"),
        ({"taken_at": "1971-11-25T08:30:00Z"}, 400, "/taken_at", "must be in the years 1990 to 2200"),
        ({"flame_pct": 50}, 422, "/flame_pct", "no meaning for holder_level"),
    ],
)
def test_what_cannot_be_so_is_refused_with_its_field_and_the_way_out(
    settled: FlaskClient, change: dict[str, Any], status: int, pointer: str, message: str
) -> None:
    answer = settled.post(READINGS, json=LEVEL | change)

    assert answer.status_code == status
    assert message in faults(answer)[pointer]
    assert listed(settled) == []


def test_a_meal_may_be_logged_while_it_is_on_and_not_hours_ahead(home: FlaskClient) -> None:
    """By every way in: one reading, a list, a correction and a file."""
    on, far = (reading("cooking", minutes, "min", NOW - timedelta(minutes=20), item="ring") for minutes in (35, 350))
    row = "taken_at,quantity,value\n2026-11-25T06:10:00Z,cooking,{}\n"
    why = "value is 350 min, so the flame goes out 330 minutes in the future; check the minutes"
    file = home.post(f"{READINGS}/imports", data=row.format(350), content_type="text/csv")
    refused = {
        "/value": [home.post(READINGS, json=far), home.put(f"{READINGS}/{ID}", json=far)],
        "/0/value": [home.post(READINGS, json=[far])],
        "/lines/2/value": [file],
    }

    for pointer, answers in refused.items():
        for answer in answers:
            assert answer.status_code == 422
            assert why in faults(answer)[pointer]
    assert listed(home) == []
    assert home.put(f"{READINGS}/{ID}", json=on).status_code == 201
    again = home.post(f"{READINGS}/imports?dry_run=true", data=row.format(35), content_type="text/csv")
    assert again.get_json()["unchanged"] == 1


def describe(client: FlaskClient, *started_on: str | None) -> None:
    """A household of as many digesters as there are days on which they were started, or perhaps."""
    tank = DESCRIPTION["digesters"][0]
    digesters = [
        tank | {"name": f"tank {k}"} | ({"started_on": day} if day else {}) for k, day in enumerate(started_on)
    ]
    answer = client.put(BASE, json=DESCRIPTION | {"digesters": digesters}, headers={"If-Match": "*"})
    assert answer.status_code in (200, 201)
    assert answer.get_json()["digesters"] == digesters


def test_no_reading_is_older_than_the_first_digester(home: FlaskClient) -> None:
    describe(home, "2026-11-01", "2026-10-25")
    fed = reading("feed", 3, "kg", NOW)
    # midnight in Lisbon, on the day the clocks were put back
    early = home.post(READINGS, json=fed | {"taken_at": "2026-10-24T22:59:59Z"})
    first = home.post(READINGS, json=fed | {"taken_at": "2026-10-24T23:00:00Z"})
    file = home.post(
        f"{READINGS}/imports",
        data="taken_at,quantity,value\n2026-10-24,feed,3\n2026-10-25,feed,3\n",
        content_type="text/csv",
    )

    assert (early.status_code, first.status_code, file.status_code) == (422, 201, 422)
    assert "before the digester was started, 2026-10-25; check it, or started_on" in faults(early)["/taken_at"]
    assert set(faults(file)) == {"/lines/2/taken_at"}


def test_where_one_digester_does_not_say_when_it_was_started_nothing_is_too_old(home: FlaskClient) -> None:
    describe(home, "2026-11-01", None)

    assert home.post(READINGS, json=reading("feed", 3, "kg", NOW - timedelta(days=400))).status_code == 201


def test_a_list_too_long_is_sent_to_the_import(home: FlaskClient) -> None:
    answer = home.post(READINGS, json=[LEVEL] * 1001)

    assert answer.status_code == 400
    assert "import a CSV" in answer.get_json()["detail"]


def test_a_client_s_own_id_makes_a_put_safe_to_repeat(home: FlaskClient) -> None:
    first = home.put(f"{READINGS}/{ID}", json=LEVEL)
    again = home.put(f"{READINGS}/{ID}", json=LEVEL)

    assert (first.status_code, again.status_code) == (201, 200)
    assert first.get_json()["id"] == ID
    assert again.headers["ETag"] == first.headers["ETag"]
    other = home.put(f"{READINGS}/{ID}", json=LEVEL | {"id": ID.replace("4", "5")})
    assert other.status_code == 422
    assert "must be that of the address" in faults(other)["/id"]


def test_an_id_in_capitals_is_the_same_id(home: FlaskClient) -> None:
    answer = home.put(f"{READINGS}/{ID.upper()}", json=LEVEL | {"id": ID.upper()})

    assert answer.get_json()["id"] == ID
    assert home.get(f"{READINGS}/{ID.upper()}").get_json() == home.get(f"{READINGS}/{ID}").get_json()
    assert home.delete(f"{READINGS}/{ID.upper()}").status_code == 204
    assert home.get(f"{READINGS}/nothing").status_code == 404


def test_a_correction_keeps_what_stood_before_and_needs_no_luck(home: FlaskClient, clock: Clock) -> None:
    first = home.put(f"{READINGS}/{ID}", json=LEVEL)
    clock.now = NOW + timedelta(minutes=9)
    read = home.get(f"{READINGS}/{ID}")
    document = read.get_json() | {"value": 26}  # digits the wrong way round
    corrected = home.put(f"{READINGS}/{ID}", json=document, headers={"If-Match": read.headers["ETag"]})
    stale = home.put(f"{READINGS}/{ID}", json=document | {"value": 99}, headers={"If-Match": first.headers["ETag"]})

    assert (corrected.status_code, stale.status_code) == (200, 412)
    assert home.get(f"{READINGS}/{ID}").get_json()["value"] == 26.0
    (before,) = home.get(f"{READINGS}/{ID}/history").get_json()
    assert (before["value"], before["replaced_at"]) == (62.0, "2026-11-25T06:39:00+00:00")


def test_an_answer_that_is_known_already_is_not_sent_again(home: FlaskClient) -> None:
    home.put(f"{READINGS}/{ID}", json=LEVEL)
    tag = home.get(f"{READINGS}/{ID}").headers["ETag"]
    known = home.get(f"{READINGS}/{ID}", headers={"If-None-Match": tag})

    assert (known.status_code, known.data) == (304, b"")


def test_a_deletion_is_undone_by_putting_the_reading_again(home: FlaskClient) -> None:
    home.put(f"{READINGS}/{ID}", json=LEVEL)
    assert home.delete(f"{READINGS}/{ID}", headers={"If-Match": '"other"'}).status_code == 412
    assert home.delete(f"{READINGS}/{ID}").status_code == 204
    gone = home.get(f"{READINGS}/{ID}")
    assert gone.status_code == home.get(f"{READINGS}/{ID}/history").status_code == 404
    assert "PUT it again" in gone.get_json()["detail"]
    assert "PUT it again" in home.get(f"{READINGS}/{ID}/history").get_json()["detail"]
    assert listed(home) == []
    (deleted,) = listed(home, deleted="true")

    assert home.put(f"{READINGS}/{ID}", json=deleted).status_code == 201
    assert listed(home) == [deleted]


def test_the_log_is_listed_in_pages_and_by_what_is_asked(home: FlaskClient) -> None:
    start = NOW - timedelta(days=1)
    sent = [reading("feed", k, "kg", start + timedelta(hours=k), item="scraps" if k % 2 else "peel") for k in range(7)]
    home.post(READINGS, json=[*sent, LEVEL])
    first = home.get(READINGS, query_string={"quantity": "feed", "limit": 4}).get_json()
    rest = home.get(READINGS, query_string={"quantity": "feed", "limit": 4, "cursor": first["next_cursor"]}).get_json()

    assert [one["value"] for one in first["readings"] + rest["readings"]] == list(range(7))
    assert rest["next_cursor"] is None
    window = {"from": (start + timedelta(hours=2)).isoformat(), "to": (start + timedelta(hours=5)).isoformat()}
    assert [one["value"] for one in listed(home, **window)] == [2, 3, 4]
    assert [one["value"] for one in listed(home, item="scraps")] == [1, 3, 5]
    assert faults(home.get(READINGS, query_string={"cursor": "x"})) == {
        "/cursor": "cursor is 'x', must be a next_cursor"
    }
    assert home.get(READINGS, query_string={"limit": 0}).status_code == 400


def test_a_household_that_is_not_described_has_no_log(client: FlaskClient) -> None:
    for answer in (
        client.get(READINGS),
        client.post(READINGS, json=LEVEL),
        client.put(f"{READINGS}/{ID}", json=LEVEL),
        client.get(f"{READINGS}.csv"),
        client.get(f"{READINGS}.zip"),
        client.post(f"{READINGS}/imports", data=b"x", content_type="text/csv"),
    ):
        assert answer.status_code == 404
        assert "describe it first" in answer.get_json()["detail"]


def test_a_new_reading_changes_what_the_household_is_told(home: FlaskClient) -> None:
    before = home.get(f"{BASE}/now")
    home.post(READINGS, json=LEVEL)
    after = home.get(f"{BASE}/now")

    assert (before.get_json()["valid"], before.get_json()["reason"]) == (False, "no_readings")
    assert after.headers["ETag"] != before.headers["ETag"]
    assert after.get_json()["last_reading_at"] == LEVEL["taken_at"]
