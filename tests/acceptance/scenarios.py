"""The hand-worked days of `fixtures/scenarios`, each with what it leaves out filled in."""

from __future__ import annotations

import tomllib
from datetime import date
from pathlib import Path
from typing import Any

SCENARIOS = sorted((Path(__file__).parents[2] / "fixtures" / "scenarios").glob("*.toml"))
DEFAULTS: dict[str, Any] = {
    "zone": "UTC",
    "first": date(2026, 3, 2),
    "days": 1,
    "changes": [],
    "backup": {},
    "log": [],
    "asked_at_h": 0,
}


def given_by(path: Path) -> dict[str, Any]:
    """What a scenario says and asks."""
    return DEFAULTS | tomllib.loads(path.read_text(encoding="utf-8"))
