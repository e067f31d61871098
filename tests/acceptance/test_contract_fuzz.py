"""Whatever is sent to whichever operation of the contract: no crash, problems for errors, strict JSON, no poison."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
from flask import Flask

from service.api.examples import DESCRIPTION, MEAL, OVERRIDE, WEATHER
from service.api.examples_log import READING
from service.api.examples_physics import BOIL_ASKED, GAS_ASKED
from service.app import create_app
from service.settings import Settings
from service.wiring import wire
from tests.acceptance.fuzzing import fuzz
from tests.service.api.support import BASE, NOW, Clock, reading, strict

FEW = (
    *("--phases", "fuzzing,stateful", "--max-examples", "10", "--seed", "1"),
    *("--workers", "2", "--suppress-health-check", "all"),
)
"""A seed and few requests for each operation; `python -m tests.acceptance.fuzzing` makes thousands."""
SOUP = {
    **{name: MEAL[name] for name in ("starts_on", "time", "rrule")},
    "dishes": [{"burner": "ring", "pan": "two litre", "steps": [{"boil": {"water_l": 2}}, {"simmer_min": 20}]}],
}
AWKWARD = (
    None, True, "", "x", "\ud800", "a\x00b", "x" * 100_000, [], {}, [[]], -1, 0, 1e308, -1e308, 10**400, 1e-320,
    "9999-12-31", "0001-01-01", "9999-12-31T23:59:59-14:00", "0001-01-01T00:00:00+14:00", "FREQ=DAILY;UNTIL=00010101",
)  # fmt: skip
WRITES = {
    "describe": ("PUT", BASE, DESCRIPTION),
    "weather": ("PUT", f"{BASE}/weather", WEATHER),
    "meal": ("PUT", f"{BASE}/meals/dinner", MEAL),
    "dishes": ("PUT", f"{BASE}/meals/soup", SOUP),
    "override": ("PUT", f"{BASE}/overrides/out", OVERRIDE),
    "reading": ("POST", f"{BASE}/readings", READING),
    "fit": ("POST", f"{BASE}/model/fits", {"as_of": NOW.isoformat()}),
    "gas": ("POST", "/v1/gas-quality", GAS_ASKED),
    "boil": ("POST", "/v1/boil-time", BOIL_ASKED),
}
QUESTIONS = (
    "now", "gas-budget", "storage", "backup", "venting", "windows?flame_min=30", "forecast", "forecast.csv",
    "forecast.svg", "outlook", "outlook.csv", "outlook.svg", "days", "days.csv", "model", "skill", "readings",
)  # fmt: skip


@pytest.fixture(scope="module")
def app(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Flask]:
    """An app with a household that cooks dinner and has read its gauge."""
    wired = wire(Settings(database=str(tmp_path_factory.mktemp("fuzz") / "f.sqlite")), clock=Clock())
    app = create_app(wired)
    client = app.test_client()
    assert client.put(BASE, json=DESCRIPTION).status_code == 201
    assert client.post(f"{BASE}/meals", json=MEAL).status_code == 201
    assert client.post(f"{BASE}/readings", json=reading("holder_level", 50, "%", NOW)).status_code == 201
    assert client.put(f"{BASE}/meals/soup", json=SOUP).status_code == 201
    assert client.put(f"{BASE}/overrides/out", json=OVERRIDE).status_code == 201
    yield app
    wired.database.close()


def test_every_operation_keeps_its_contract_whatever_is_sent() -> None:
    outcome = fuzz(*FEW)

    assert outcome.code == 0, outcome.said
    assert outcome.cases > 250


def changed(document: Any) -> Iterator[Any]:
    """The document with an awkward value in its place, and in that of each of its parts."""
    yield from AWKWARD
    if isinstance(document, dict | list):
        for place in document if isinstance(document, dict) else range(len(document)):
            for other in changed(document[place]):
                whole = document.copy()
                whole[place] = other
                yield whole


@pytest.mark.parametrize("write", WRITES)
def test_an_awkward_value_anywhere_is_refused_or_does_no_harm(app: Flask, write: str) -> None:
    method, url, document = WRITES[write]
    client = app.test_client()
    for sent in changed(document):
        answer = client.open(url, method=method, json=sent, headers={"If-Match": "*"})
        assert answer.status_code < 500, sent
        strict(answer.get_data(as_text=True))
        if answer.status_code >= 400:
            assert answer.mimetype == "application/problem+json"
        elif url.startswith(BASE):
            assert client.get(f"{BASE}/now").status_code == 200, sent


@pytest.mark.parametrize("question", QUESTIONS)
def test_nothing_that_was_taken_stops_the_answers(app: Flask, question: str) -> None:
    answer = app.test_client().get(f"{BASE}/{question}")

    assert answer.status_code == 200, answer.get_data(as_text=True)
