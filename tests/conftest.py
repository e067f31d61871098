"""Fixtures that every test may ask for."""

from __future__ import annotations

import fcntl
import os
import shutil
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
from flask.testing import FlaskClient
from hypothesis import settings
from rich.console import Console

from service.api.contract import contract_of
from service.app import create_app
from service.demo.show import NAME, move_in
from service.demo.world import demo_world
from service.refitting import refit_now
from service.settings import Settings
from service.store.database import Database
from service.store.maintenance import back_up
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

MOST_PROCESSES = 4  # each holds up to 0.7 GB

TABLES = Path(__file__).parents[1] / "fixtures" / "tables"


def pytest_xdist_auto_num_workers(config: pytest.Config) -> int:
    """How many processes run the tests: one a core where all are asked for, and this one alone for some of them."""
    whole = config.args_source is pytest.Config.ArgsSource.TESTPATHS
    return min(os.cpu_count() or 1, MOST_PROCESSES) if whole else 0


def pytest_configure() -> None:
    """Leave to each of the processes that run tests one core, and not to each all cores for its linear algebra."""
    for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
        os.environ.setdefault(name, "1")


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
def once(tmp_path_factory: pytest.TempPathFactory, worker_id: str) -> Callable[[str, Callable[[Path], None]], Path]:
    """A file that is made once in a run, by whichever of its processes asks first; whoever writes, copies it before."""
    own = tmp_path_factory.getbasetemp()
    shared = own if worker_id == "master" else own.parent

    def made(name: str, make: Callable[[Path], None]) -> Path:
        path, unfinished = shared / name, shared / f"unfinished-{name}"
        with (shared / f"{name}.lock").open("w") as lock:
            fcntl.flock(lock, fcntl.LOCK_EX)
            if not path.exists():
                make(unfinished)
                unfinished.rename(path)
        return path

    return made


@pytest.fixture(scope="session")
def new_database(once: Callable[..., Path]) -> Callable[[Path], str]:
    """Make a database that holds nothing, at a path; migrations are tried elsewhere and run once here."""

    def migrate(path: Path) -> None:
        database = Database(str(path))
        database.migrate()
        database.close()

    return lambda path: str(shutil.copyfile(once("empty.sqlite", migrate), path))


@pytest.fixture(scope="session")
def demo_database(once: Callable[..., Path], tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demonstration's household with its years of log, fitted at `DEMO_NOW`; to be copied."""

    def live_in(path: Path) -> None:
        lived = tmp_path_factory.mktemp("demo") / "demo.sqlite"
        wired = wire(Settings(database=str(lived)), clock=lambda: DEMO_NOW)
        move_in(demo_world(DEMO_NOW), wired, Console(quiet=True))
        assert refit_now(NAME, DEMO_NOW, wired).outcome == "replaced"
        wired.database.close()
        back_up(lived, path)

    return once("demo.sqlite", live_in)


@pytest.fixture(scope="module")
def demo_client(demo_database: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[FlaskClient]:
    """The demonstration's household in a database of the module's own, with a clock that stands still at `DEMO_NOW`."""
    database = str(shutil.copyfile(demo_database, tmp_path_factory.mktemp("demo") / "demo.sqlite"))
    wired = wire(Settings(database=database), clock=lambda: DEMO_NOW)
    yield create_app(wired).test_client()
    wired.database.close()


@pytest.fixture(scope="session")
def contract(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    """The OpenAPI document, as the code makes it."""
    wired = wire(Settings(database=str(tmp_path_factory.mktemp("contract") / "c.sqlite")))
    document = contract_of(create_app(wired).extensions["kettlecast.api"])
    wired.database.close()
    return document
