"""A check of its own for the contract's fuzz: what a schema says, and only that, may not be said against a request."""

from __future__ import annotations

import schemathesis

SAID_BY_SCHEMAS = ("type", "unknown", "null", "length", "choice")
"""Faults that a request cannot have if its schema takes it; years and texts are narrower than a schema says."""


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
