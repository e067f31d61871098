"""Files and functions stay short enough to read at once."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
CODE = sorted(
    path
    for folder in ("models", "service")
    for path in (ROOT / folder).rglob("*.py")
    if "migrations" not in path.parts  # a schema as it once was is history, not code to keep short
)


def length(node: ast.FunctionDef) -> int:
    """Lines of a function without its docstring."""
    documented = ast.get_docstring(node) is not None
    first = node.body[0]
    return node.end_lineno - node.lineno + 1 - ((first.end_lineno - first.lineno + 1) if documented else 0)


@pytest.mark.parametrize("path", CODE, ids=lambda path: str(path.relative_to(ROOT)))
def test_files_and_functions_are_short(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    functions = [node for node in ast.walk(ast.parse(text)) if isinstance(node, ast.FunctionDef)]

    assert text.count("\n") <= 400
    assert [f"{node.name}: {length(node)}" for node in functions if length(node) > 50] == []


@pytest.mark.parametrize("path", sorted((ROOT / "models").rglob("*.py")), ids=lambda path: str(path.relative_to(ROOT)))
def test_every_public_name_of_the_models_is_documented(path: Path) -> None:
    tree = ast.parse(path.read_text(encoding="utf-8"))
    public = [n for n in tree.body if isinstance(n, ast.FunctionDef | ast.ClassDef) and not n.name.startswith("_")]

    assert ast.get_docstring(tree) or not tree.body
    assert [node.name for node in public if not ast.get_docstring(node)] == []
