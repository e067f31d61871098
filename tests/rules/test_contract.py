"""The contract: the file and the code say the same, every field says what it is, every operation shows an example."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import yaml
from jsonschema import Draft202012Validator, FormatChecker
from openapi_spec_validator import validate

from models.errors import ModelError
from service.api import problems
from service.store.errors import StoreError

ROOT = Path(__file__).parents[2]


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


def parameters(contract: dict[str, Any]) -> list[tuple[str, dict[str, Any]]]:
    shared = [(path, one) for path, item in contract["paths"].items() for one in item.get("parameters", [])]
    return shared + [(name, one) for name, operation in operations(contract) for one in operation.get("parameters", [])]


def fields(contract: dict[str, Any]) -> list[tuple[str, dict[str, Any]]]:
    return [
        (f"{name}.{field}", about)
        for name, schema in contract["components"]["schemas"].items()
        for field, about in schema.get("properties", {}).items()
    ]


def fits(example: object, schema: dict[str, Any], contract: dict[str, Any]) -> bool:
    whole = {**schema, "components": contract["components"]}
    return Draft202012Validator(whole, format_checker=FormatChecker()).is_valid(example)


def test_every_field_says_what_it_is_and_in_which_unit(contract: dict[str, Any]) -> None:
    assert [name for name, about in fields(contract) if not about.get("description") or not about.get("x-ucum")] == []


def test_every_field_shows_an_example_that_it_would_take(contract: dict[str, Any]) -> None:
    shown = {name: about.get("examples", []) for name, about in fields(contract)}

    assert [name for name, examples in shown.items() if not examples] == []
    assert [name for name, about in fields(contract) if not fits(shown[name][0], about, contract)] == []


def test_every_parameter_says_what_it_is_and_shows_an_example_that_it_would_take(contract: dict[str, Any]) -> None:
    bare = [
        f"{name}: {one['name']}"
        for name, one in parameters(contract)
        if not one.get("description") or "x-ucum" not in one["schema"] or "example" not in one
    ]

    assert bare == []
    assert [
        f"{name}: {one['name']}"
        for name, one in parameters(contract)
        if not fits(one["example"], one["schema"], contract)
    ] == []


def test_every_example_of_an_operation_is_one_that_its_schema_takes(contract: dict[str, Any]) -> None:
    bodies = [
        (name, body)
        for name, operation in operations(contract)
        for part in (operation.get("requestBody", {}), *operation["responses"].values())
        for body in part.get("content", {}).values()
        if "example" in body
    ]

    assert len(bodies) > 30
    assert [name for name, body in bodies if not fits(body["example"], body["schema"], contract)] == []


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
