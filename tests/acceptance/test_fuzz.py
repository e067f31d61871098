"""Headers, names, dates and bodies as no client should send them: never a crash, always a problem that says so."""

from __future__ import annotations

import json
from collections.abc import Iterator
from urllib.parse import quote

import pytest
from flask.testing import FlaskClient
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from werkzeug.test import TestResponse

from service.api.examples import DESCRIPTION, MEAL, OVERRIDE
from service.app import create_app
from service.settings import Settings
from service.wiring import wire
from tests.service.api.support import BASE, NOW, Clock, reading, strict

OFTEN = settings(max_examples=300, suppress_health_check=[HealthCheck.function_scoped_fixture])
# What a server lets through as the value of a header: Latin-1 without line ends (RFC 9110, 5.5).
VALUES = st.text(st.characters(max_codepoint=255, exclude_characters="\r\n\0"), max_size=60)
TAGS = VALUES | st.sampled_from(['"', 'W/"a"', '"a", "b"', '""', "W/", ",,,", '"a'])
HEADERS = st.fixed_dictionaries(
    {},
    optional={
        "Host": VALUES | st.sampled_from(["localhost", "localhost:0", "[::1]", "[", "::", "localhost:x", "@"]),
        "Authorization": VALUES | st.sampled_from(["Bearer", "Bearer  ", "bearer x", "Basic eA==", "Basic \xff"]),
        "Origin": VALUES | st.sampled_from(["null", "http://[", "https://", "//", "http://localhost"]),
        "If-Match": TAGS,
        "If-None-Match": TAGS,
        "If-Modified-Since": VALUES,
        "Range": VALUES | st.sampled_from(["bytes=0-", "bytes=9-1", "bytes=-1"]),
        "Accept": VALUES,
        "Accept-Encoding": VALUES,
        "Content-Type": VALUES
        | st.sampled_from(["application/json; charset=utf-16", "text/csv", "application/x+json"]),
        "Content-Encoding": VALUES,
        "Content-Length": st.sampled_from(["-1", "0", "x", "1e3", "99999999999999999999"]),
        "Transfer-Encoding": st.sampled_from(["chunked", "gzip, chunked", "x"]),
        "Access-Control-Request-Method": VALUES,
        "X-Forwarded-Host": VALUES,
    },
)
METHODS = st.sampled_from(["GET", "HEAD", "OPTIONS", "PUT", "POST", "DELETE", "PATCH", "TRACE", "QUERY"])
PLACES = ("", "/now", "/meals", "/meals/dinner", "/overrides/out", "/readings", "/readings/imports", "/model/fits")
NAMES = st.text(min_size=1, max_size=80)
TIMES = st.text(max_size=40) | st.sampled_from(
    [
        "0001-01-01T00:00:00+14:00", "9999-12-31T23:59:59-14:00", "2026-02-30", "2026-W07-1", "20261126", "now",
        "2026-11-26T24:00:00Z", "2026-11-26T12:00:60Z", "2026-11-26 12:00", "-2026-11-26", "٢٠٢٦-١١-٢٦", "2200-12-31",
        "1990-01-01", "2026-11-26T12:00:00+99:99", "2026-11-26T12:00:00.0000000001Z", "1e3", "nan", "inf", "0x7",
    ]
)  # fmt: skip
ASKED = (
    "now?as_of={}", "gas-budget?date={}", "gas-budget?as_of={}", "days?from={}", "days?to={}&from={}", "days.csv?to={}",
    "readings?from={}", "readings?to={}", "readings?cursor={}", "forecast?as_of={}", "forecast?levels={}",
    "forecast?days={}", "storage?days={}", "windows?flame_min=30&from={}&to={}", "windows?flame_min=30&hours={}",
    "boil-time?water_l={}", "boil-time?water_l=2&methane_pct={}", "outlook?months={}", "skill?days={}",
    "model?as_of={}", "forecasts?before={}", "plan.ics?key={}", "backup?as_of={}", "venting?as_of={}",
)  # fmt: skip


def as_json(document: object) -> bytes:
    """A document as JSON, whatever it holds."""
    return json.dumps(document).encode()


@pytest.fixture(scope="module")
def client(tmp_path_factory: pytest.TempPathFactory) -> Iterator[FlaskClient]:
    """A household that cooks, has read its gauge and has changed one meal."""
    wired = wire(Settings(database=str(tmp_path_factory.mktemp("fuzz") / "f.sqlite")), clock=Clock())
    client = create_app(wired).test_client()
    assert client.put(BASE, json=DESCRIPTION).status_code == 201
    assert client.post(f"{BASE}/meals", json=MEAL).status_code == 201
    assert client.put(f"{BASE}/overrides/out", json=OVERRIDE).status_code == 201
    assert client.post(f"{BASE}/readings", json=reading("holder_level", 50, "%", NOW)).status_code == 201
    yield client
    assert client.get(f"{BASE}/now").status_code == 200  # it was there all the time
    wired.database.close()


def sound(answer: TestResponse) -> None:
    """No crash; an error is a problem; JSON is strict."""
    assert answer.status_code < 500, answer.get_data(as_text=True)
    body = answer.get_data()
    if answer.status_code >= 400 and answer.request.method != "HEAD":
        assert answer.mimetype == "application/problem+json"
        assert strict(body.decode())["status"] == answer.status_code
    elif answer.mimetype.endswith("json") and body:
        strict(body.decode())


@OFTEN
@given(method=METHODS, place=st.sampled_from(PLACES), headers=HEADERS, body=st.binary(max_size=40))
def test_no_header_breaks_an_answer(
    client: FlaskClient, method: str, place: str, headers: dict[str, str], body: bytes
) -> None:
    sound(client.open(f"{BASE}{place}", method=method, headers=headers, data=body))


@OFTEN
@given(name=NAMES, method=METHODS, place=st.sampled_from(("{}", "{}/now", "home/meals/{}", "home/overrides/{}")))
def test_no_name_breaks_an_answer(client: FlaskClient, name: str, method: str, place: str) -> None:
    path = place.format(quote(name.encode("utf-8", "surrogatepass"), safe=""))

    sound(client.open(f"/v1/households/{path}", method=method, json={} if method in ("PUT", "POST") else None))


@OFTEN
@given(name=NAMES, method=METHODS, place=st.sampled_from(("{}", "{}/history", "imports/{}", "../forecasts/{}/changes")))
def test_no_id_breaks_an_answer(client: FlaskClient, name: str, method: str, place: str) -> None:
    path = place.format(quote(name.encode("utf-8", "surrogatepass"), safe="")).removeprefix("../")
    base = f"{BASE}/readings/" if not place.startswith("..") else f"{BASE}/"

    sound(client.open(base + path, method=method, json={} if method in ("PUT", "POST") else None))


@OFTEN
@given(asked=st.sampled_from(ASKED), when=TIMES)
def test_no_date_or_figure_breaks_an_answer(client: FlaskClient, asked: str, when: str) -> None:
    given = quote(when.encode("utf-8", "surrogatepass"), safe="")

    sound(client.get(f"{BASE}/{asked.replace('{}', given)}"))


@OFTEN
@given(
    place=st.sampled_from(("", "/weather", "/meals", "/overrides", "/readings", "/model/fits")),
    body=st.binary(max_size=200)
    | st.recursive(
        st.none() | st.booleans() | st.floats() | st.integers() | st.text(),
        lambda inner: st.lists(inner) | st.dictionaries(st.sampled_from([*DESCRIPTION, *MEAL, "value", "x"]), inner),
        max_leaves=8,
    ).map(as_json),
)
def test_no_body_breaks_an_answer(client: FlaskClient, place: str, body: bytes) -> None:
    method = "POST" if place in ("/meals", "/overrides", "/readings", "/model/fits") else "PUT"
    headers = {"Content-Type": "application/json", "If-Match": "*"}

    sound(client.open(f"{BASE}{place}", method=method, data=body, headers=headers))


@OFTEN
@given(
    head=st.sampled_from(
        ["taken_at,quantity,value,unit", "taken_at;quantity;value", "day;gauge", "", "\ufeffdate,level"]
    ),
    rows=st.lists(st.lists(TIMES | st.sampled_from(["holder_level", "50", "%", "1,5", '"', "1e400"]), max_size=5)),
)
def test_no_file_breaks_an_import(client: FlaskClient, head: str, rows: list[list[str]]) -> None:
    lines = "\n".join([head, *(",".join(row) for row in rows)])
    body = lines.encode("utf-8", "surrogatepass")

    sound(client.post(f"{BASE}/readings/imports?dry_run=true", data=body, content_type="text/csv"))
