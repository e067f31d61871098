"""Every public function of the physics says what goes in and comes out, in which unit, and what it refuses."""

from __future__ import annotations

import ast
import inspect
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

MODELS = Path(__file__).parents[2] / "models"
PHYSICS = (
    "boil_time", "boiling", "burner", "buswell", "calibration", "cautions", "digester", "dilution", "errors", "fuels",
    "gas", "holder", "iso6976", "moisture", "pan", "site", "units",
)  # fmt: skip
SECTION = re.compile(r"^(\w+)\n-{3,}\n(.*?)(?=^\w+\n-{3,}\n|\Z)", re.MULTILINE | re.DOTALL)
RANGE = re.compile(r"\b(to|above|at least|and up|any)\b")
FIGURE = re.compile(r"\b(float|array_like|ndarray)\b")


def public_functions(module: str) -> Iterator[tuple[str, ast.FunctionDef]]:
    """Public functions of a module, and public methods of its public classes."""
    tree = ast.parse((MODELS / f"{module}.py").read_text(encoding="utf-8"))
    for node in tree.body:
        if isinstance(node, ast.FunctionDef) and not node.name.startswith("_"):
            yield node.name, node
        elif isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
            for method in node.body:
                if isinstance(method, ast.FunctionDef) and not method.name.startswith("_"):
                    yield f"{node.name}.{method.name}", method


def arguments(node: ast.FunctionDef) -> list[str]:
    given = (*node.args.posonlyargs, *node.args.args, *node.args.kwonlyargs)
    return [one.arg for one in given if one.arg != "self"]


def entries(section: str) -> list[tuple[str, str]]:
    """Head and indented text of each entry of a section."""
    found: list[tuple[str, str]] = []
    for line in section.splitlines():
        if line and not line.startswith(" "):
            found.append((line, ""))
        elif found:
            found[-1] = (found[-1][0], f"{found[-1][1]} {line.strip()}")
    return found


def refusals(node: ast.FunctionDef) -> set[str]:
    """Errors that a function raises by itself."""
    found = set()
    for inner in ast.walk(node):
        if isinstance(inner, ast.Raise) and isinstance(inner.exc, ast.Call):
            found.add(ast.unparse(inner.exc.func))
        elif isinstance(inner, ast.Call) and ast.unparse(inner.func) == "within":
            found.add("OutOfRange")
    return found


def faults(node: ast.FunctionDef) -> Iterator[str]:
    sections = dict(SECTION.findall(inspect.cleandoc(ast.get_docstring(node) or "") + "\n"))
    described = [
        (name.strip(), kind, text)
        for head, text in entries(sections.get("Parameters", ""))
        for names, _, kind in [head.partition(" : ")]
        for name in names.split(",")
    ]
    if [name for name, _, _ in described] != arguments(node):
        yield "Parameters must describe its arguments, in their order"
    for name, kind, text in described:
        if FIGURE.search(kind) and "[" not in text:
            yield f"{name} has no unit in brackets"
        elif FIGURE.search(kind) and not RANGE.search(text.partition("[")[2]):
            yield f"{name} has no range after its unit"
    returned = sections.get("Returns", "")
    if not returned.strip():
        yield "Returns is missing"
    elif FIGURE.search(returned) and "[" not in returned:
        yield "what it returns has no unit in brackets"
    missing = refusals(node) - {head for head, _ in entries(sections.get("Raises", ""))}
    if missing:
        yield f"Raises must name {', '.join(sorted(missing))}"


@pytest.mark.parametrize("module", PHYSICS)
def test_every_function_of_the_physics_tells_units_ranges_and_refusals(module: str) -> None:
    found = [f"{name}: {fault}" for name, node in public_functions(module) if arguments(node) for fault in faults(node)]

    assert found == []


@pytest.mark.parametrize(
    ("docstring", "fault"),
    [
        ("Heat.", "Parameters must"),
        ("Heat.\n\nParameters\n----------\nx_c : float\n    Warmth.\n", "x_c has no unit"),
        ("Heat.\n\nParameters\n----------\nx_c : float\n    Warmth. [°C]\n", "x_c has no range"),
        ("Heat.\n\nParameters\n----------\nx_c : float\n    Warmth. [°C], 0 to 1\n", "Returns is missing"),
        ("Heat.\n\nReturns\n-------\nndarray. 3\n", "what it returns has no unit"),
        ("Heat.\n\nReturns\n-------\nndarray. [J]\n", "Raises must name OutOfRange"),
    ],
)
def test_what_is_not_said_is_found(docstring: str, fault: str) -> None:
    code = f'def heat_j(x_c: float) -> float:\n    """{docstring}"""\n    return within("x_c", x_c, 0, 1)\n'

    assert any(told.startswith(fault) for told in faults(ast.parse(code).body[0]))
