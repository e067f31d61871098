"""How long tomorrow's budget takes on the demonstration's years of log: asked again, and first after a new reading.

.venv/bin/pytest tests/benchmarks/test_bench_budget.py --benchmark-enable
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from flask.testing import FlaskClient
from pytest_benchmark.fixture import BenchmarkFixture
from rich.console import Console

from service.app import create_app
from service.demo.show import BASE, NAME, move_in
from service.demo.world import demo_world
from service.refitting import refit_now
from service.settings import Settings
from service.wiring import wire

NOW = datetime(2026, 11, 25, 20, 0, tzinfo=UTC)


@pytest.fixture(scope="module")
def client(tmp_path_factory: pytest.TempPathFactory) -> Iterator[FlaskClient]:
    wired = wire(Settings(database=str(tmp_path_factory.mktemp("budget") / "demo.sqlite")), clock=lambda: NOW)
    move_in(demo_world(NOW), wired, Console(quiet=True))
    assert refit_now(NAME, NOW, wired).outcome == "replaced"
    yield create_app(wired).test_client()
    wired.database.close()


def budget(client: FlaskClient) -> None:
    answer = client.get(f"{BASE}/gas-budget?date=tomorrow")
    assert answer.status_code == 200
    assert answer.get_json()["valid"]


def test_budget_asked_again(client: FlaskClient, benchmark: BenchmarkFixture) -> None:
    budget(client)
    benchmark(budget, client)


def test_budget_first_after_a_new_reading(client: FlaskClient, benchmark: BenchmarkFixture) -> None:
    taken = iter(NOW - timedelta(minutes=k) for k in range(40, 0, -1))

    def read_the_gauge() -> None:
        given = {"quantity": "holder_level", "value": 60, "unit": "%", "taken_at": next(taken).isoformat()}
        assert client.post(f"{BASE}/readings", json=given).status_code == 201

    benchmark.pedantic(budget, args=(client,), setup=read_the_gauge, rounds=10)
