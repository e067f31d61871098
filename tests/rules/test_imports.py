"""Imports point down the house: models know nothing of the service, use cases nothing of the web or the store."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
STANDARD_IN_MODELS = {
    "__future__", "bisect", "collections", "dataclasses", "datetime", "difflib", "enum", "functools", "itertools",
    "math", "re", "types", "typing", "warnings", "zoneinfo",
}  # fmt: skip
LIBRARIES_IN_MODELS = {"numpy", "scipy", "pandas", "dateutil"}


def imported(path: Path) -> set[str]:
    """Full names of the modules a file imports."""
    names: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path} imports relatively"
            names.add(node.module or "")
    return names


def files(folder: str) -> list[Path]:
    found = sorted((ROOT / folder).rglob("*.py"))
    assert found, f"{folder} holds no code"
    return found


def roots(path: Path) -> set[str]:
    return {name.split(".")[0] for name in imported(path)}


@pytest.mark.parametrize("path", files("models"), ids=str)
def test_models_import_only_the_science(path: Path) -> None:
    allowed = STANDARD_IN_MODELS | LIBRARIES_IN_MODELS | {"models"}
    if "production" in path.parts:
        allowed = allowed | {"statsmodels"}

    assert roots(path) <= allowed


def test_the_api_keeps_away_from_the_store_and_the_arithmetic() -> None:
    for path in files("service/api"):
        assert not {"pandas", "numpy", "scipy", "sqlalchemy"} & roots(path), path
        if path.name != "problems.py":  # the one table from errors to answers knows the store's errors
            assert not {name for name in imported(path) if name.startswith("service.store")}, path


def test_use_cases_know_neither_web_nor_store() -> None:
    for path in files("service/usecases"):
        assert not {"flask", "flask_smorest", "marshmallow", "sqlalchemy", "sqlite3"} & roots(path), path
        assert not {name for name in imported(path) if name.startswith(("service.store", "service.api"))}, path


def test_the_store_builds_values_and_knows_no_use_case() -> None:
    for path in files("service/store"):
        assert not {"flask", "flask_smorest", "marshmallow"} & roots(path), path
        assert not {name for name in imported(path) if name.startswith(("service.api", "service.usecases"))}, path


def calls(path: Path) -> set[str]:
    found = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Attribute):
            found.add(ast.unparse(node))
    return found


def test_only_wiring_reads_the_clock() -> None:
    for folder in ("models", "service"):
        for path in files(folder):
            if path.name == "wiring.py":
                continue
            reads = {"datetime.now", "datetime.utcnow", "date.today", "time.time", "datetime.today"} & calls(path)
            assert not reads, f"{path} reads the clock: {reads}"


def test_only_settings_read_the_environment() -> None:
    for folder in ("models", "service"):
        for path in files(folder):
            if path.name == "settings.py":
                continue
            reads = {"os.environ", "os.getenv"} & calls(path)
            assert not reads, f"{path} reads the environment: {reads}"
