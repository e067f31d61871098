"""Who may ask: tokens with a scope, for one household or for every one."""

from __future__ import annotations

from pathlib import Path

import pytest
from flask.testing import FlaskClient

from service.api.examples import WEATHER
from service.api.examples_physics import BOIL_ASKED, GAS_ASKED
from service.api.guard import token_hash
from service.app import create_app
from service.settings import Settings
from service.wiring import Wiring, wire
from tests.service.api.support import BASE, NOW


@pytest.fixture
def guarded(home: FlaskClient, wired: Wiring) -> FlaskClient:
    for secret, household, scope in (("r", "home", "read"), ("w", None, "write"), ("other", "elsewhere", "write")):
        wired.tokens.add(household, scope, token_hash(secret), now=NOW)
    return home


def bearer(secret: str) -> dict[str, str]:
    return {"Authorization": f"Bearer {secret}"}


def test_without_a_token_made_a_loopback_server_is_open(home: FlaskClient) -> None:
    assert home.get(BASE).status_code == 200


@pytest.mark.parametrize("headers", [{}, {"Authorization": "Basic cjpy"}, {"Authorization": "Bearer guess"}])
def test_once_a_token_is_made_one_is_needed(guarded: FlaskClient, headers: dict[str, str]) -> None:
    answer = guarded.get(BASE, headers=headers)

    assert answer.status_code == 401
    assert answer.headers["WWW-Authenticate"].startswith("Bearer")
    assert answer.mimetype == "application/problem+json"


@pytest.mark.parametrize("headers", [{}, bearer("wrong"), {"Authorization": "Basic eA=="}])
def test_health_needs_no_token_and_says_one_word(guarded: FlaskClient, headers: dict[str, str]) -> None:
    assert guarded.get("/health/live", headers=headers).get_json() == {"state": "alive"}
    assert guarded.get("/health/ready", headers=headers).get_json() == {"state": "ready"}


@pytest.mark.parametrize("path", ["/docs", "/openapi.json", "/static/docs.js"])
def test_the_contract_is_no_secret(guarded: FlaskClient, path: str) -> None:
    with guarded.get(path) as answer:
        assert answer.status_code == 200


@pytest.mark.parametrize("path", ["/v1/units", "/v1/nowhere", "/docs/nowhere"])
def test_what_is_not_the_contract_needs_a_token(guarded: FlaskClient, path: str) -> None:
    assert guarded.get(path).status_code == 401


def test_a_reader_may_post_what_is_only_computed(guarded: FlaskClient) -> None:
    assert guarded.post("/v1/gas-quality", json=GAS_ASKED, headers=bearer("r")).status_code == 200
    assert guarded.post("/v1/boil-time", json=BOIL_ASKED, headers=bearer("r")).status_code == 200
    assert guarded.post(f"{BASE}/model/fits", json={}, headers=bearer("r")).status_code == 403


def test_a_server_that_others_reach_is_open_to_nobody_once_its_last_token_is_revoked(tmp_path: Path) -> None:
    wired = wire(Settings(database=str(tmp_path / "t.sqlite"), bind="0.0.0.0:8080"), clock=lambda: NOW)
    client = create_app(wired).test_client()
    number = wired.tokens.add(None, "write", token_hash("w"), now=NOW)
    before = client.get("/v1/units", headers=bearer("w")).status_code
    wired.tokens.revoke(number, now=NOW)

    assert before == 200
    assert client.get("/v1/units").status_code == 401
    assert client.get("/v1/units", headers=bearer("w")).status_code == 401
    assert client.get("/health/live").status_code == 200
    wired.database.close()


@pytest.mark.parametrize(("host", "status"), [("kitchen.example", 404), ("KITCHEN.example:80", 404), ("other", 421)])
def test_host_names_are_compared_as_names_are(tmp_path: Path, host: str, status: int) -> None:
    wired = wire(Settings(database=str(tmp_path / "t.sqlite"), hosts="one.example, Kitchen.example"))
    answer = create_app(wired).test_client().get(BASE, headers={"Host": host})

    assert answer.status_code == status
    wired.database.close()


def test_a_method_nobody_serves_is_named_as_such(home: FlaskClient) -> None:
    answer = home.open(BASE, method="TRACE", headers={"Transfer-Encoding": "chunked"})

    assert answer.status_code == 405


def test_a_reader_reads_and_a_writer_writes(guarded: FlaskClient) -> None:
    assert guarded.get(BASE, headers=bearer("r")).status_code == 200
    assert guarded.put(f"{BASE}/weather", json=WEATHER, headers=bearer("r")).status_code == 403
    assert guarded.put(f"{BASE}/weather", json=WEATHER, headers=bearer("w")).status_code == 200


def test_a_token_of_another_household_opens_nothing_here(guarded: FlaskClient) -> None:
    assert guarded.get(BASE, headers=bearer("other")).status_code == 403


def test_the_page_and_the_contract_come_from_this_server_alone(home: FlaskClient) -> None:
    start, page = home.get("/"), home.get("/docs")
    text = page.get_data(as_text=True)

    assert start.status_code == 200
    assert 'href="/docs"' in start.get_data(as_text=True)
    assert page.headers["Content-Security-Policy"].startswith("default-src 'self'")
    assert "http://" not in text and "https://" not in text
    with home.get("/static/docs.js") as script:
        assert script.status_code == 200
    assert home.get("/openapi.json").get_json()["openapi"].startswith("3.1")
