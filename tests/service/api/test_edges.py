"""The edges of the API: what browsers may do, what is no JSON, how long a problem may be."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from flask.testing import FlaskClient

from service.api.examples import DESCRIPTION
from service.api.examples_physics import GAS_ASKED
from service.api.guard import MOST_JSON_BYTES, token_hash
from service.api.shortening import LONGEST_TEXT, MOST_FAULTS, shortened
from service.app import create_app
from service.settings import Settings
from service.wiring import wire
from tests.service.api.support import BASE, NOW, faults, reading, strict

HUB = "https://hub.example"
JSON = {"Content-Type": "application/json"}


@pytest.fixture
def hub(tmp_path: Path, new_database: Callable[[Path], str]) -> Iterator[FlaskClient]:
    """A client of a server that names the origin of a hub, and has a token."""
    wired = wire(Settings(database=new_database(tmp_path / "t.sqlite"), origins=HUB), clock=lambda: NOW)
    wired.tokens.add(None, "write", token_hash("w"), now=NOW)
    yield create_app(wired).test_client()
    wired.database.close()


@pytest.mark.parametrize("path", [BASE, "/v1/units", "/v1/nowhere", "/health/live", "/docs", "/openapi.json"])
def test_every_answer_keeps_browsers_within_bounds(settled: FlaskClient, path: str) -> None:
    with settled.get(path) as answer:
        assert answer.headers["X-Content-Type-Options"] == "nosniff"
        assert answer.headers["Referrer-Policy"] == "no-referrer"
        assert "frame-ancestors 'none'" in answer.headers["Content-Security-Policy"]
        assert answer.headers["Cross-Origin-Resource-Policy"] == "same-origin"
        assert "Access-Control-Allow-Origin" not in answer.headers
        assert answer.headers["Cache-Control"]


@pytest.mark.parametrize(
    "origin", ["https://elsewhere.example", "null", "http://localhost:3000", "http://[", "kitchen.example"]
)
def test_a_page_elsewhere_cannot_write(settled: FlaskClient, origin: str) -> None:
    answer = settled.post(f"{BASE}/model/fits", headers={"Origin": origin})

    assert answer.status_code == 403
    assert answer.get_json()["type"] == "/problems/origin"
    assert settled.get(f"{BASE}/model/fits").get_json() == []


def test_a_page_of_this_server_may_write(home: FlaskClient) -> None:
    assert home.post(f"{BASE}/model/fits", headers={"Origin": "http://localhost"}).status_code == 202


def test_a_page_of_a_named_origin_may_ask_first_and_then_read_and_write(hub: FlaskClient) -> None:
    asked = hub.options(f"{BASE}/meals", headers={"Origin": HUB, "Access-Control-Request-Method": "PUT"})
    told = hub.put(BASE, json=DESCRIPTION, headers={"Origin": HUB, "Authorization": "Bearer w"})
    refused = hub.get(BASE, headers={"Origin": HUB})

    assert (asked.status_code, asked.headers["Access-Control-Allow-Origin"]) == (204, HUB)
    assert "Authorization" in asked.headers["Access-Control-Allow-Headers"]
    assert (told.status_code, told.headers["Access-Control-Allow-Origin"]) == (201, HUB)
    assert "ETag" in told.headers["Access-Control-Expose-Headers"]
    assert (refused.status_code, refused.headers["Access-Control-Allow-Origin"]) == (401, HUB)
    assert "Origin" in hub.get("/health/live").headers["Vary"]


def test_a_page_of_another_origin_is_told_nothing(hub: FlaskClient) -> None:
    asked = hub.options(BASE, headers={"Origin": "https://other.example", "Access-Control-Request-Method": "PUT"})

    assert "Access-Control-Allow-Origin" not in asked.headers
    assert "Access-Control-Allow-Methods" not in asked.headers


@pytest.mark.parametrize(
    ("body", "says"),
    [
        ('{"components": {"CH4": 0.6, "CO2": 0.4, "CH4": 0.7}}', "the name 'CH4' stands twice"),
        ('{"components": {"CH4": 0.6, "CO2": 0.4}, "components": {}}', "the name 'components' stands twice"),
        ('{"components": {"CH4": NaN}}', "NaN is no number"),
        ('{"components": {"CH4": -Infinity}}', "-Infinity is no number"),
        ('{"components": ', "line 1 column 16"),
        (b'{"components": "\xff"}', "the body is no JSON"),
        ('{"components": {"CH4": ' + "1" * 5000 + "}}", "the body is no JSON"),
        ("[" * 100_000, "nested too deeply"),
        ("", "the body is empty"),
    ],
)
def test_what_is_no_strict_json_is_refused(vacant: FlaskClient, body: str | bytes, says: str) -> None:
    answer = vacant.post("/v1/gas-quality", data=body, headers=JSON)

    assert answer.status_code == 400
    assert says in strict(answer.get_data(as_text=True))["detail"]


def test_a_byte_order_mark_does_no_harm(vacant: FlaskClient) -> None:
    body = json.dumps(GAS_ASKED).encode("utf-8-sig")

    assert vacant.post("/v1/gas-quality", data=body, headers=JSON).status_code == 200


def test_a_problem_quotes_what_was_sent_but_not_at_any_length(home: FlaskClient) -> None:
    long = "x" * 100_000
    answers = [
        home.put(BASE, json={**DESCRIPTION, "time_zone": long}),
        home.put(BASE, json={**DESCRIPTION, long: 1}),
        home.post(f"{BASE}/readings", json=reading("cooking", 30, "min", NOW, item=long[:99], flame_pct=long)),
        home.get(f"{BASE}/readings?cursor={long}"),
        home.get(f"{BASE}/gas-budget?date={long}"),
        home.get(f"/v1/households/{long}/now"),
    ]

    for answer in answers:
        assert answer.status_code in (400, 422)
        assert len(answer.get_data()) < 10_000
        assert len(answer.get_json()["detail"]) <= LONGEST_TEXT
    assert "must be" in answers[4].get_json()["detail"]


def test_a_bar_in_what_was_sent_does_not_pass_for_a_code(home: FlaskClient) -> None:
    answer = home.get(f"{BASE}/forecast", query_string={"step": "week|\u0084 long"})
    [fault] = answer.get_json()["errors"]

    assert answer.status_code == 400
    assert fault["code"] == "choice"
    assert fault["message"].startswith("step is week|")


def test_what_is_left_out_of_a_long_text_is_its_middle() -> None:
    text = "what is wrong " + "x" * 5000 + " the way out"

    assert shortened(text).startswith("what is wrong xxx")
    assert shortened(text).endswith("xxx the way out")
    assert len(shortened(text)) == LONGEST_TEXT
    assert shortened("short") == "short"


def test_a_list_with_many_faults_names_the_first_hundred(home: FlaskClient) -> None:
    answer = home.post(f"{BASE}/readings", json=[reading("holder_level", -1, "%", NOW) for _ in range(300)])

    assert answer.status_code == 422
    assert len(answer.get_json()["errors"]) == MOST_FAULTS


@pytest.mark.parametrize("path", ["/v1/units", BASE, f"{BASE}/meals", f"{BASE}/weather"])
def test_a_question_that_nobody_asks_is_named(settled: FlaskClient, path: str) -> None:
    answer = settled.get(f"{path}?colour=blue")

    assert answer.status_code == 400
    assert faults(answer) == {"/colour": "colour is no query parameter here; this path takes none"}


def test_a_packed_body_is_refused(home: FlaskClient) -> None:
    answer = home.put(BASE, data=b"\x1f\x8b", headers={**JSON, "Content-Encoding": "gzip"})

    assert answer.status_code == 415


def test_a_body_beyond_what_is_taken_is_refused_before_it_is_read(home: FlaskClient) -> None:
    answer = home.post(
        f"{BASE}/readings", data=b"{}", headers=JSON, environ_overrides={"CONTENT_LENGTH": str(MOST_JSON_BYTES + 1)}
    )

    assert answer.status_code == 413
    assert "CSV" in answer.get_json()["detail"]


@pytest.mark.parametrize("quantity", ["methane", "carbon_dioxide"])
def test_a_share_written_as_a_fraction_is_refused_with_the_way_out(home: FlaskClient, quantity: str) -> None:
    answer = home.post(f"{BASE}/readings", json=reading(quantity, 0.6, "%", NOW))

    assert answer.status_code == 422
    assert "0.6 of the gas is 60" in faults(answer)["/value"]
    assert home.post(f"{BASE}/readings", json=reading(quantity, 0.6, "%", NOW, sure=True)).status_code == 201


@pytest.mark.parametrize("quantity", ["methane", "carbon_dioxide"])
def test_a_share_in_per_cent_is_taken(home: FlaskClient, quantity: str) -> None:
    assert home.post(f"{BASE}/readings", json=reading(quantity, 60, "%", NOW)).status_code == 201


def test_a_path_that_is_none_says_where_the_paths_are_listed(client: FlaskClient) -> None:
    lost = client.get("/v1/household")

    assert lost.status_code == 404
    assert lost.get_json()["detail"] == "there is nothing at this path; /docs lists the paths that there are"


@pytest.mark.parametrize(
    ("path", "asked", "takes"),
    [
        ("gas-budget", "days", "as_of, date"),
        ("windows?flame_min=30", "days", "flame_min, "),
        ("now", "when", "as_of"),
        ("readings", "as_of", "quantity, item, from, to, "),
    ],
)
def test_a_query_is_told_what_its_path_takes(settled: FlaskClient, path: str, asked: str, takes: str) -> None:
    answer = settled.get(f"{BASE}/{path}{'&' if '?' in path else '?'}{asked}=3")

    assert answer.status_code == 400
    assert f"{asked} is no query parameter here; this path takes " in faults(answer)[f"/{asked}"]
    assert takes in faults(answer)[f"/{asked}"]


@pytest.mark.parametrize(
    ("method", "path", "says"),
    [
        ("PUT", f"{BASE}/weather", 'send a JSON array (a list) such as [{"date": ..., "mean_c": ...}]'),
        ("POST", f"{BASE}/meals", 'send a JSON object such as {"name": ..., "starts_on": ..., "time": ...}'),
        ("POST", f"{BASE}/model/fits", "send a JSON object such as {}"),
    ],
)
@pytest.mark.parametrize("body", [b"", b" \n"])
def test_an_empty_body_is_told_as_such(settled: FlaskClient, method: str, path: str, says: str, body: bytes) -> None:
    answer = settled.open(path, method=method, data=body, content_type="application/json")

    assert answer.status_code == 400
    assert answer.get_json()["detail"].startswith(f"the body is empty; {says}")


def test_a_body_of_no_type_and_no_length_is_no_list(settled: FlaskClient) -> None:
    answer = settled.put(f"{BASE}/weather")

    assert answer.status_code == 400
    assert answer.get_json()["detail"].startswith("the body is empty; send a JSON array")


@pytest.mark.parametrize(
    ("parts", "pointer", "says"),
    [
        ({"time_zone": None}, "/time_zone", "time_zone may not be null; give a value"),
        ({"holder": None}, "/holder", "holder may not be null; give a value"),
        ({"digesters": None}, "/digesters", "digesters may not be null; give a value"),
        (
            {"site": DESCRIPTION["site"] | {"monthly_mean_c": None}},
            "/site/monthly_mean_c",
            "monthly_mean_c may not be null; give a value",
        ),
        ({"care_level": None}, "/care_level", "care_level may not be null; leave it out or give a value"),
        ({"changed_on": None}, "/changed_on", "changed_on may not be null; leave it out or give a value"),
        ({"changed_on": "2026-01-01"}, "/changed_on", "changed_on must be a JSON array (a list), in square brackets"),
        ({"pans": DESCRIPTION["pans"][0]}, "/pans", "pans must be a JSON array (a list), in square brackets"),
    ],
)
def test_what_is_null_or_no_list_is_told_the_way_out(
    vacant: FlaskClient, parts: dict[str, object], pointer: str, says: str
) -> None:
    answer = vacant.put(BASE, json=DESCRIPTION | parts)

    assert answer.status_code == 400
    assert faults(answer)[pointer] == says
