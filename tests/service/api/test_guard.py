"""Who may ask: tokens with a scope, for one household or for every one."""

from __future__ import annotations

import pytest
from flask.testing import FlaskClient

from service.api.examples import WEATHER
from service.api.guard import token_hash
from service.wiring import Wiring
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


def test_health_needs_no_token(guarded: FlaskClient) -> None:
    assert guarded.get("/health/live").get_json() == {"state": "alive"}
    assert guarded.get("/health/ready").get_json() == {"state": "ready"}


def test_a_reader_reads_and_a_writer_writes(guarded: FlaskClient) -> None:
    assert guarded.get(BASE, headers=bearer("r")).status_code == 200
    assert guarded.put(f"{BASE}/weather", json=WEATHER, headers=bearer("r")).status_code == 403
    assert guarded.put(f"{BASE}/weather", json=WEATHER, headers=bearer("w")).status_code == 200


def test_a_token_of_another_household_opens_nothing_here(guarded: FlaskClient) -> None:
    assert guarded.get(BASE, headers=bearer("other")).status_code == 403


def test_the_page_and_the_contract_come_from_this_server_alone(home: FlaskClient) -> None:
    start, page = home.get("/"), home.get("/docs")
    text = page.get_data(as_text=True)

    assert (start.status_code, start.headers["Location"]) == (302, "/docs")
    assert page.headers["Content-Security-Policy"].startswith("default-src 'self'")
    assert "http://" not in text and "https://" not in text
    with home.get("/static/docs.js") as script:
        assert script.status_code == 200
    assert home.get("/openapi.json").get_json()["openapi"].startswith("3.1")
