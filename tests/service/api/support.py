"""What the tests of the API share: a fixed moment, a clock that stands still, strict JSON, readings and faults."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from typing import Any

from werkzeug.test import TestResponse

NOW = datetime(2026, 11, 25, 6, 30, tzinfo=UTC)
BASE = "/v1/households/home"


class Clock:
    """A clock that stands still until it is set."""

    def __init__(self) -> None:
        self.now = NOW

    def __call__(self) -> datetime:
        return self.now


def reading(quantity: str, value: float, unit: str, taken_at: datetime, **more: Any) -> dict[str, Any]:
    return {"quantity": quantity, "value": value, "unit": unit, "taken_at": taken_at.isoformat(), **more}


def strict(text: str) -> Any:
    """JSON that holds neither NaN nor infinity."""

    def refuse(word: str) -> None:
        raise AssertionError(f"{word} is not JSON")

    return json.loads(text, parse_constant=refuse)


def faults(answer: TestResponse) -> dict[str, str]:
    """What a problem says is wrong, by pointer."""
    body = strict(answer.get_data(as_text=True))
    assert answer.mimetype == "application/problem+json"
    assert body["status"] == answer.status_code
    return {fault["pointer"]: fault["message"] for fault in body["errors"]}
