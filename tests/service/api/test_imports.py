"""CSV files over HTTP: planned, imported, undone, and given back."""

from __future__ import annotations

import csv
import io
import json
import zipfile
from datetime import timedelta
from typing import Any

import pytest
from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from service.api.examples import DESCRIPTION
from tests.service.api.support import BASE, NOW, Clock, faults

IMPORTS = f"{BASE}/readings/imports"
HEADING = "taken_at,quantity,value,unit,item,flame_pct,meal,note\n"
GOOD = HEADING + "2026-11-20T07:30,holder_level,62,%,,,,\n2026-11-20T19:30,cooking,35,min,ring,,dinner,\n"


def send(client: FlaskClient, body: str | bytes, **query: Any) -> TestResponse:
    data = body if isinstance(body, bytes) else body.encode()
    return client.post(IMPORTS, data=data, content_type="text/csv", query_string=query)


def log_of(client: FlaskClient, household: str = "home") -> list[dict[str, Any]]:
    answer = client.get(f"/v1/households/{household}/readings?limit=10000").get_json()
    assert answer["next_cursor"] is None
    return answer["readings"]


def codes(answer: TestResponse) -> list[tuple[int, str]]:
    return [(row["line"], row["code"]) for row in answer.get_json()["rows"]]


def test_a_dry_run_tells_what_the_import_then_does_and_keeps_nothing(home: FlaskClient) -> None:
    plan = send(home, GOOD, dry_run="true")
    assert log_of(home) == []
    done = send(home, GOOD)

    assert (plan.status_code, done.status_code) == (200, 201)
    assert codes(plan) == codes(done) == [(2, "added"), (3, "added")]
    assert plan.get_json()["id"] is None
    assert [one["value"] for one in log_of(home)] == [62.0, 35.0]
    assert home.get(done.headers["Location"]).get_json()["rows"] == done.get_json()["rows"]


def test_importing_a_file_again_changes_nothing(home: FlaskClient) -> None:
    send(home, GOOD)
    tag = home.get(f"{BASE}/readings").headers["ETag"]
    again = send(home, GOOD)

    assert again.status_code == 200
    assert codes(again) == [(2, "unchanged"), (3, "unchanged")]
    assert home.get(f"{BASE}/readings").headers["ETag"] == tag


def test_a_file_with_one_bad_row_is_imported_not_at_all_unless_in_part(home: FlaskClient) -> None:
    bad = GOOD + "2026-11-21T07:30,holder_level,-5,%,,,,\n2026-11-20T07:30,holder_level,63,%,,,,\n"
    refused = send(home, bad)
    assert refused.status_code == 422
    assert faults(refused) == {"/lines/4/value": "line 4: value is -5, must be 0 to 1000 %"}
    assert "partial=true" in refused.get_json()["detail"]
    assert log_of(home) == []

    partly = send(home, bad, partial="true")
    assert partly.status_code == 201
    assert codes(partly) == [(2, "added"), (3, "added"), (4, "refused"), (5, "conflict")]
    assert "an earlier row of this file says 62" in partly.get_json()["rows"][3]["message"]
    assert len(log_of(home)) == 2


def test_a_file_that_says_otherwise_than_the_log_is_a_conflict_and_the_log_stands(home: FlaskClient) -> None:
    send(home, GOOD)
    answer = send(home, GOOD.replace("62,%", "63,%").replace("35,min", "36,min"))

    assert answer.status_code == 409
    assert "the log says 62" in faults(answer)["/lines/2/value"]
    assert [one["value"] for one in log_of(home)] == [62.0, 35.0]
    plan = send(home, GOOD.replace("62,%", "63,%"), dry_run="true")
    assert codes(plan) == [(2, "conflict"), (3, "unchanged")]
    assert send(home, GOOD.replace(",dinner,", ",tea,")).status_code == 409


def test_twice_the_same_second_in_one_file_is_told(home: FlaskClient) -> None:
    twice = HEADING + "2026-11-20T07:30:00,feed,3,kg,,,,\n" * 2 + "2026-11-20T07:30:00,feed,4,kg,,,,\n"

    assert codes(send(home, twice, dry_run="true")) == [(2, "added"), (3, "unchanged"), (4, "conflict")]


def test_an_import_is_undone_in_one_go_but_for_what_was_corrected_since(home: FlaskClient) -> None:
    home.post(f"{BASE}/readings", json={"taken_at": "2026-11-19T07:30:00Z", "quantity": "feed", "value": 3})
    done = send(home, GOOD)
    corrected = log_of(home)[2] | {"value": 40}
    home.put(f"{BASE}/readings/{corrected['id']}", json=corrected)
    undone = home.delete(done.headers["Location"])
    again = home.delete(done.headers["Location"])

    assert undone.status_code == again.status_code == 200
    assert undone.get_json()["undone_at"] is not None
    assert "was undone on 2026-11-25" in home.get(done.headers["Location"]).get_json()["detail"]
    assert [(one["quantity"], one["value"]) for one in log_of(home)] == [("feed", 3.0), ("cooking", 40.0)]
    assert codes(send(home, GOOD, partial="true")) == [(2, "added"), (3, "conflict")]
    assert home.delete(f"{IMPORTS}/nothing").status_code == 404


def test_what_an_import_was_is_shown_after_it_is_undone(home: FlaskClient, clock: Clock) -> None:
    partly = send(home, GOOD + "x,feed,1,kg,,,,\n", partial="true")
    clock.now = NOW + timedelta(hours=1)
    undone = home.delete(partly.headers["Location"])
    gone = home.get(partly.headers["Location"])
    (listed,) = home.get(IMPORTS).get_json()["imports"]
    deleted = home.get(f"{BASE}/readings?deleted=true").get_json()["readings"]

    assert gone.status_code == 404
    assert "the list of imports shows what it was" in gone.get_json()["detail"]
    assert listed["id"] == partly.get_json()["id"]
    assert [listed[code] for code in ("added", "unchanged", "conflict", "refused")] == [2, 0, 0, 1]
    assert listed["imported_at"] == NOW.isoformat()
    assert listed["undone_at"] == (NOW + timedelta(hours=1)).isoformat()
    assert home.delete(partly.headers["Location"]).get_json()["rows"] == undone.get_json()["rows"]
    assert [one["id"] for one in deleted] == [row["reading_id"] for row in undone.get_json()["rows"][:2]]


def test_imports_are_listed_newest_first_so_that_yesterday_s_can_be_undone(home: FlaskClient, clock: Clock) -> None:
    kept = []
    for day in (20, 21, 22):
        clock.now = NOW + timedelta(days=day - 20)
        sent = send(home, f"{HEADING}2026-11-{day}T07:30,holder_level,{day},%,,,,\n")
        kept.append(sent.get_json()["id"])
    send(home, GOOD, dry_run="true")
    first = home.get(f"{IMPORTS}?limit=2").get_json()
    second = home.get(f"{IMPORTS}?limit=2&cursor={first['next_cursor']}").get_json()
    home.delete(f"{IMPORTS}/{kept[1]}")
    undone = home.get(IMPORTS).get_json()["imports"]

    assert [one["id"] for one in first["imports"] + second["imports"]] == kept[::-1]
    assert first["next_cursor"] is not None and second["next_cursor"] is None
    assert first["imports"][0]["summary"] == "1 added, 0 unchanged, 0 in conflict, 0 refused"
    assert first["imports"][0]["imported_at"] == (NOW + timedelta(days=2)).isoformat()
    assert [one["undone_at"] is not None for one in undone] == [False, True, False]
    assert home.get(f"{IMPORTS}?cursor=nothing").status_code == 400


def test_a_household_without_imports_lists_none(home: FlaskClient) -> None:
    assert home.get(IMPORTS).get_json() == {"imports": [], "next_cursor": None}
    assert home.get("/v1/households/nobody/readings/imports").status_code == 404


def test_a_diary_in_a_spreadsheet_s_own_format_is_mapped(home: FlaskClient) -> None:
    columns = {"Tag": "date", "Stand": "holder_level:%@07:30", "Abend": "cooking:min:ring:dinner@19:00"}
    body = "\ufeffTag;Stand;Abend;Wetter\r\n13.10.2026;45,5;30;kalt\r\n14.10.2026;;25;mild\r\n"
    answer = send(home, body, columns=json.dumps(columns))
    report = answer.get_json()

    assert answer.status_code == 201
    assert codes(answer) == [(2, "added"), (2, "added"), (3, "added")]
    assert (report["separator"], report["decimal"], report["date_order"]) == (";", ",", "dmy")
    assert report["notes"] == ["column 'Wetter' is not mapped and was not read"]
    # Lisbon is an hour ahead of UTC until 25 October 2026.
    assert [one["taken_at"] for one in log_of(home)] == [
        "2026-10-13T07:30:00+01:00", "2026-10-13T19:00:00+01:00", "2026-10-14T19:00:00+01:00",
    ]  # fmt: skip


def test_dates_that_can_be_read_in_two_ways_are_asked_back(home: FlaskClient) -> None:
    body = "date,scraps\n03/04/2026,4\n05/06/2026,3\n"
    columns = json.dumps({"date": "date", "scraps": "feed:kg"})
    answer = send(home, body, columns=columns)
    assert answer.status_code == 422
    assert "date_order=dmy or date_order=mdy" in faults(answer)["/date_order"]

    told = send(home, body, columns=columns, date_order="mdy")
    assert told.status_code == 201
    assert "2 rows have a date without a time of day" in told.get_json()["notes"][0]
    assert log_of(home)[0]["taken_at"].startswith("2026-03-04T12:00:00")


@pytest.mark.parametrize(
    ("body", "status"),
    [
        (b"\x00\x01\x02\xff", 422),
        (b"GIF89a,,\n;;;", 422),
        (b'"', 422),
        (HEADING.encode() + b'a,"b\n', 422),
        (b"\n" * 9, 422),
    ],
)
def test_garbage_gets_a_problem_and_nothing_is_lost(home: FlaskClient, body: bytes, status: int) -> None:
    send(home, GOOD)
    answer = send(home, body)

    assert answer.status_code == status
    assert answer.mimetype == "application/problem+json"
    assert len(log_of(home)) == 2


def test_a_file_of_no_known_type_or_too_large_is_refused(home: FlaskClient) -> None:
    assert home.post(IMPORTS, json={}).status_code == 415
    assert home.post(IMPORTS, data=b"x", content_type="text/plain").status_code == 415
    # The length that is announced is enough: not a byte of 201 MB is read.
    announced = {"CONTENT_LENGTH": str(201_000_000)}
    large = home.post(IMPORTS, data=b"x", content_type="text/csv", environ_overrides=announced)

    assert large.status_code == 413
    assert faults(large) == {}


def test_a_long_report_is_read_in_pages_and_by_code(home: FlaskClient) -> None:
    body = HEADING + "".join(f"2026-10-{1 + k // 24:02d}T{k % 24:02d}:00Z,feed,{k},kg,,,,\n" for k in range(120))
    done = send(home, body + "x,feed,1,kg,,,,\n", partial="true", limit=50)
    lines, cursor = [row["line"] for row in done.get_json()["rows"]], done.get_json()["next_cursor"]
    while cursor:
        page = home.get(done.headers["Location"], query_string={"limit": 50, "cursor": cursor}).get_json()
        lines += [row["line"] for row in page["rows"]]
        cursor = page["next_cursor"]

    assert lines == list(range(2, 123))
    (bad,) = home.get(done.headers["Location"], query_string={"code": "refused"}).get_json()["rows"]
    assert (bad["line"], bad["pointer"]) == (122, "/lines/122/taken_at")


def test_the_whole_log_comes_back_as_a_package_that_another_household_can_import(home: FlaskClient) -> None:
    send(home, GOOD)
    home.post(
        f"{BASE}/readings",
        json={"taken_at": "2026-11-21T10:00:00Z", "quantity": "boil_test", "value": 11.25, "item": "ring",
              "water_l": 2, "from_c": 14.5, "note": 'said "quick",\nwith lid'},
    )  # fmt: skip
    answer = home.get(f"{BASE}/readings.zip")
    with zipfile.ZipFile(io.BytesIO(answer.data)) as package:
        described = json.loads(package.read("datapackage.json"))
        body = package.read(described["resources"][0]["path"])
    home.put("/v1/households/cabin", json=DESCRIPTION)
    back = home.post("/v1/households/cabin/readings/imports", data=body, content_type="text/csv")

    assert back.status_code == 201, back.get_json()
    assert log_of(home, "cabin") == log_of(home)
    assert body == home.get(f"{BASE}/readings.csv").data
    fields = [field["name"] for field in described["resources"][0]["schema"]["fields"]]
    assert next(csv.reader(io.StringIO(body.decode()))) == fields
    assert described["profile"] == "tabular-data-package"


def test_a_deleted_reading_comes_back_with_the_export_it_is_in(home: FlaskClient) -> None:
    send(home, GOOD)
    body = home.get(f"{BASE}/readings.csv").data
    kept = log_of(home)
    home.delete(f"{BASE}/readings/{kept[0]['id']}")
    back = send(home, body)

    assert codes(back) == [(2, "added"), (3, "unchanged")]
    assert log_of(home) == kept
    stolen = body.replace(b"2026-11-20T07:30:00+00:00", b"2026-11-18T07:30:00+00:00")
    assert codes(send(home, stolen, dry_run="true")) == [(2, "conflict"), (3, "unchanged")]
