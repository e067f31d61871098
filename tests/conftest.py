"""Fixtures that every test may ask for."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from flask.testing import FlaskClient
from hypothesis import settings
from rich.console import Console

from service.app import create_app
from service.demo.show import NAME, move_in
from service.demo.world import demo_world
from service.refitting import refit_now
from service.settings import Settings
from service.wiring import wire

# The same examples every time, and no deadline: a loaded machine is no failure.
settings.register_profile("steady", deadline=None, derandomize=True)
settings.load_profile("steady")

DEMO_NOW = datetime(2026, 11, 25, 20, 0, tzinfo=UTC)

OUTSIDE = {
    "mosquitto": "publishing to Mosquitto, and in version 5 of MQTT",
    "chromium": "whether a browser that shows the contract asks any other host",
    "curl": "the README's examples for curl",
}
"""Programs of the machine, and what is not checked where one is missing."""

TABLES = Path(__file__).parents[1] / "fixtures" / "tables"


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """Say plainly what this machine could not check."""
    for program, check in OUTSIDE.items():
        if shutil.which(program) is None:
            terminalreporter.write_line(f"NOT CHECKED: {check}; there is no {program} on this machine", yellow=True)


@pytest.fixture(scope="session")
def published() -> Callable[[str], pd.DataFrame]:
    """A table of published figures by name; one that does not say where its figures come from is refused."""

    def read(name: str) -> pd.DataFrame:
        path = TABLES / f"{name}.csv"
        assert path.read_text(encoding="utf-8").startswith("# source: "), f"{path.name} does not name its source"
        return pd.read_csv(path, comment="#")

    return read


@pytest.fixture(scope="session")
def agree() -> Callable[[pd.DataFrame, object], None]:
    """Compare figures with a table's `expected`, each within its row's own tolerance, relative or absolute."""

    def check(table: pd.DataFrame, figures: object) -> None:
        expected = table["expected"].to_numpy(dtype=float)
        allowed = table["tolerance"] * np.where(table["tolerance_kind"] == "rel", np.abs(expected), 1.0)
        found = np.asarray(figures, dtype=float)
        off = ~(np.abs(found - expected) <= allowed.to_numpy())
        shown = table.assign(found=found)[["id", "expected", "found", "tolerance", "reason"]]
        assert not off.any(), shown[off].to_string()

    return check


@pytest.fixture(scope="session")
def demo_now() -> datetime:
    """When the clock of `demo_client` stands."""
    return DEMO_NOW


@pytest.fixture(scope="session")
def demo_client(tmp_path_factory: pytest.TempPathFactory) -> Iterator[FlaskClient]:
    """The demonstration's household with its years of log, fitted at `DEMO_NOW`, where its clock stands still."""
    database = str(tmp_path_factory.mktemp("demo") / "demo.sqlite")
    wired = wire(Settings(database=database), clock=lambda: DEMO_NOW)
    move_in(demo_world(DEMO_NOW), wired, Console(quiet=True))
    assert refit_now(NAME, DEMO_NOW, wired).outcome == "replaced"
    yield create_app(wired).test_client()
    wired.database.close()
