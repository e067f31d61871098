"""How long the balance takes: hours and meals of two weeks and of three months, on a thousand paths.

    .venv/bin/pytest tests/benchmarks/test_bench_balance.py --benchmark-enable

Must: 14 days within 0.1 s, 90 days within 0.6 s on one core.
"""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import pytest
from pytest_benchmark.fixture import BenchmarkFixture

from models.meals import Serving
from models.storage import Conditions, StorageRun, Wanted, lay_timeline, run_balance

PATHS = 1000
FIRST = date(2026, 3, 2)
MIDNIGHT_D = 20514.0


def three_meals_a_day(days: int) -> list[Serving]:
    starts_d = [MIDNIGHT_D + day + hour / 24.0 for day in range(days) for hour in (7.25, 12.5, 19.0)]
    return [
        Serving(meal="meal", day=FIRST + timedelta(days=int(at - MIDNIGHT_D)), start_d=at, end_d=at + 35.0 / 1440.0)
        for at in starts_d
    ]


@pytest.mark.parametrize("days", [14, 90])
def test_balance(days: int, benchmark: BenchmarkFixture) -> None:
    rng = np.random.default_rng(1)
    timeline = lay_timeline(MIDNIGHT_D, MIDNIGHT_D + days, three_meals_a_day(days))
    servings = len(timeline.servings)
    made = rng.gamma(4.0, 0.4 / 96.0, (PATHS, timeline.steps)) * np.diff(timeline.edges_d) * 24.0
    wanted = Wanted(
        need_sm3=rng.gamma(20.0, 0.13 / 20.0, (PATHS, servings)), cooked=rng.random((PATHS, servings)) < 0.92
    )
    conditions = Conditions(capacity_sm3=np.full(timeline.steps, 0.85), reserve_sm3=0.05)

    def walk() -> StorageRun:
        return run_balance(timeline, start_sm3=0.5, made_sm3=made, wanted=wanted, conditions=conditions)

    run = benchmark(walk)
    assert run.level_sm3.shape == (PATHS, timeline.steps + 1)
