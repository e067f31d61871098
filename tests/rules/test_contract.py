"""The contract: the file and the code say the same, every field says what it is, every operation shows an example."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
import yaml
from openapi_spec_validator import validate

from models.errors import ModelError
from service.api import problems
from service.api.contract import contract_of
from service.app import create_app
from service.settings import Settings
from service.store.errors import StoreError
from service.wiring import wire

ROOT = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def contract(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    wired = wire(Settings(database=str(tmp_path_factory.mktemp("contract") / "c.sqlite")))
    document = contract_of(create_app(wired).extensions["kettlecast.api"])
    wired.database.close()
    return document


def operations(contract: dict[str, Any]) -> list[tuple[str, dict[str, Any]]]:
    return [
        (f"{method.upper()} {path}", operation)
        for path, item in contract["paths"].items()
        for method, operation in item.items()
        if method in ("get", "put", "post", "delete")
    ]


def test_the_file_says_what_the_code_says(contract: dict[str, Any]) -> None:
    assert yaml.safe_load((ROOT / "openapi.yaml").read_text(encoding="utf-8")) == contract


def test_the_contract_is_valid_openapi(contract: dict[str, Any]) -> None:
    assert contract["openapi"].startswith("3.1")
    validate(contract)


def test_every_field_says_what_it_is_and_in_which_unit(contract: dict[str, Any]) -> None:
    bare = [
        f"{name}.{field}"
        for name, schema in contract["components"]["schemas"].items()
        for field, about in schema.get("properties", {}).items()
        if "description" not in about or ("x-ucum" not in about and about.get("type") in ("number", "integer"))
    ]

    assert bare == []


def test_every_operation_says_what_it_does_and_shows_an_example(contract: dict[str, Any]) -> None:
    for name, operation in operations(contract):
        assert operation.get("summary"), name
        answers = [one for status, one in operation["responses"].items() if status in ("200", "201", "202")]
        bodies = [body for one in answers for body in one.get("content", {}).values()]
        given = operation.get("requestBody", {}).get("content", {})
        shown = [one for one in (*bodies, *given.values()) if one["schema"].get("format") != "binary"]
        assert not shown or any(body.get("example") not in (None, {}) for body in shown), name


def test_every_operation_answers_errors_as_problems(contract: dict[str, Any]) -> None:
    errors = contract["components"]["responses"]

    assert errors
    assert all(list(one.get("content", {})) == ["application/problem+json"] for one in errors.values())


def test_every_refusal_has_a_status() -> None:
    kinds = {*ModelError.__subclasses__(), *StoreError.__subclasses__()}

    assert kinds <= set(problems.STATUS)
