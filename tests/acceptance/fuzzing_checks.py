"""A check of its own for the contract's fuzz: what a schema says, and only that, may not be said against a request."""

from __future__ import annotations

from typing import Any
from urllib.parse import unquote

import schemathesis

from service.api.naming import is_name

SAID_BY_SCHEMAS = ("type", "unknown", "null", "length", "choice", "required", "form", "one_way", "name", "text")
"""Faults that a request cannot have if its schema takes it; years and the order of two days a schema cannot say."""


@schemathesis.hook
def before_call(context: schemathesis.HookContext, case: schemathesis.Case, kwargs: dict[str, Any]) -> None:
    """A link may bring a name that stands in place of one that cannot be: look at it as the server will read it."""
    read = {name: unquote(value) for name, value in case.path_parameters.items() if isinstance(value, str)}
    case.path_parameters.update({name: value for name, value in read.items() if is_name(value)})


@schemathesis.check
def a_schema_is_taken_at_its_word(
    ctx: schemathesis.CheckContext, response: schemathesis.Response, case: schemathesis.Case
) -> None:
    """A request that its schema takes is not refused for its type, its fields or its words."""
    if response.status_code != 400 or not case.meta.generation.mode.is_positive:
        return
    codes = {fault["code"] for fault in response.json()["errors"]}
    assert not codes.intersection(SAID_BY_SCHEMAS), f"refused as {codes}"


@schemathesis.check
def errors_are_problems(
    ctx: schemathesis.CheckContext, response: schemathesis.Response, case: schemathesis.Case
) -> None:
    """Every status from 400 is a problem that says so itself."""
    if response.status_code >= 400:
        assert response.headers["content-type"][0] == "application/problem+json"
        assert response.json()["status"] == response.status_code
