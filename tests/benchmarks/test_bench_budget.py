"""How long tomorrow's budget takes on the demonstration's years of log: asked again, and first after a new reading.

.venv/bin/pytest tests/benchmarks/test_bench_budget.py --benchmark-enable
"""

from __future__ import annotations

from datetime import datetime, timedelta

from flask.testing import FlaskClient
from pytest_benchmark.fixture import BenchmarkFixture

from service.demo.show import BASE

AGAIN_S, FIRST_S = 0.05, 1.0


def budget(client: FlaskClient) -> None:
    answer = client.get(f"{BASE}/gas-budget?date=tomorrow")
    assert answer.status_code == 200
    assert answer.get_json()["valid"]


def test_budget_asked_again(demo_client: FlaskClient, benchmark: BenchmarkFixture) -> None:
    budget(demo_client)
    benchmark(budget, demo_client)

    if benchmark.enabled:
        assert benchmark.stats.stats.median < AGAIN_S


def test_budget_first_after_a_new_reading(
    demo_client: FlaskClient, demo_now: datetime, benchmark: BenchmarkFixture
) -> None:
    taken = iter(demo_now - timedelta(minutes=k) for k in range(40, 0, -1))

    def read_the_gauge() -> None:
        given = {"quantity": "holder_level", "value": 60, "unit": "%", "taken_at": next(taken).isoformat()}
        assert demo_client.post(f"{BASE}/readings", json=given).status_code == 201

    benchmark.pedantic(budget, args=(demo_client,), setup=read_the_gauge, rounds=10 if benchmark.enabled else 1)

    if benchmark.enabled:
        assert benchmark.stats.stats.median < FIRST_S
