"""Where the contract says an answer leads: every link is followed once, as a client would, and something is there."""

from __future__ import annotations

from typing import Any

import pytest
from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from service.api.examples import OVERRIDE
from service.api.links import LINKS
from tests.service.api.support import BASE, NOW

NAMES = {"household": "home", "meal": "tea", "override": "out", "reading_id": "4be2e06b-6d52-4e0b-9c8c-3a86ad3a4a52"}
CHANGE = {name: OVERRIDE[name] for name in ("date", "meal", "factor")}
LEVEL = {"taken_at": NOW.isoformat(), "quantity": "holder_level", "value": 50, "unit": "%"}
GIVEN = {"put_override": CHANGE, "add_override": CHANGE, "put_reading": LEVEL, "add_readings": LEVEL}
"""What is sent where the contract's example is of another day, or its id stands for something else."""
ANSWERED = [(source, target) for source, onward in LINKS.items() for target in onward.operations]


def operation(contract: dict[str, Any], name: str) -> tuple[str, str, dict[str, Any]]:
    """Method, path and description of an operation."""
    return next(
        (method, path, about)
        for path, item in contract["paths"].items()
        for method, about in item.items()
        if isinstance(about, dict) and about.get("operationId") == name
    )


def call(client: FlaskClient, contract: dict[str, Any], name: str, parts: dict[str, Any]) -> TestResponse:
    """Ask an operation as its example does, with these parts of the path and these headers."""
    method, path, about = operation(contract, name)
    for part, value in (NAMES | parts).items():
        path = path.replace(f"{{{part}}}", str(value))
    content = about.get("requestBody", {}).get("content", {})
    headers = {name: value for name, value in parts.items() if name == "If-Match"}
    if not content:
        return client.open(path, method=method, headers=headers)
    (kind, body), *_ = content.items()
    sent = GIVEN.get(name, body.get("example"))
    if isinstance(sent, str):
        return client.open(path, method=method, data=sent, content_type=kind, headers=headers)
    renamed = {"name": parts.get("meal", "tea")} if name.endswith("_meal") else {}
    return client.open(path, method=method, json=sent | renamed, headers=headers)


def found(expression: str, answer: TestResponse) -> Any:
    """What a runtime expression of OpenAPI stands for in an answer."""
    if expression == "$request.path.household":
        return NAMES["household"]
    if expression.startswith("$response.header."):
        return answer.headers[expression.removeprefix("$response.header.")]
    value = answer.get_json()
    for step in expression.removeprefix("$response.body#/").split("/"):
        value = value[int(step) if isinstance(value, list) else step]
    return value


@pytest.mark.parametrize(("source", "target"), ANSWERED)
def test_every_link_leads_somewhere(home: FlaskClient, contract: dict[str, Any], source: str, target: str) -> None:
    if source.startswith("list_"):
        assert call(home, contract, "import_file", {}).status_code == 201
        assert home.get(f"{BASE}/gas-budget?date=tomorrow").status_code == 200
    tagged = {"If-Match": home.get(BASE).headers["ETag"]} if source == "put_description" else {}
    answer = call(home, contract, source, tagged)
    links = operation(contract, source)[2]["responses"][str(answer.status_code)]["links"]
    parts = {name.split(".", 1)[1]: found(told, answer) for name, told in links[target]["parameters"].items()}
    followed = call(home, contract, target, parts)

    assert followed.status_code in (200, 201, 204), followed.get_data(as_text=True)


def test_a_plan_names_no_import_and_leads_nowhere(home: FlaskClient, contract: dict[str, Any]) -> None:
    _, _, about = operation(contract, "import_file")
    example = about["requestBody"]["content"]["text/csv"]["example"]
    plan = home.post(f"{BASE}/readings/imports?dry_run=true", data=example, content_type="text/csv")

    assert (plan.status_code, plan.get_json()["id"]) == (200, None)
    assert "links" not in about["responses"]["200"]
    assert set(about["responses"]["201"]["links"]) == {"get_import", "undo_import"}
