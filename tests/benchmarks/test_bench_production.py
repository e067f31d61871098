"""How long fits, states and paths take on logs of years, and whether any log makes a fit fail.

    OMP_NUM_THREADS=1 .venv/bin/pytest tests/benchmarks/test_bench_production.py --benchmark-enable

Without `--benchmark-enable` one year goes the same way, so that the benchmark itself does not rot. The fastest round
counts: whatever else a machine does only slows it.
"""

from __future__ import annotations

import json

import numpy as np
import pytest
from pytest_benchmark.fixture import BenchmarkFixture

from models.calendar import local_midnights, midnight
from models.production.fit import fit, state
from models.production.forecast import sample_paths
from models.production.record import Record, record
from service.demo.reading import household_of, log_of
from service.demo.world import draw_world
from tests.models.production.conftest import plain_household
from tests.models.production.test_fit import random_log

SEED = 11
FIT_S = {1: 1.5, 3: 5.0, 10: 12.0}
STATE_S, PATHS_S = 1.0, 0.1
RANDOM_LOGS = 300


def years_of(years: int) -> Record:
    """A household with one or two looks at the gauge a day, at the end of so many years."""
    world = draw_world(SEED, days=round(365.25 * years))
    household = household_of(world)
    return record(household, log_of(world), None, midnight(list(world.truth.index)[-1], household.zone) + 0.9)


@pytest.mark.parametrize("years", FIT_S)
def test_a_fit(benchmark: BenchmarkFixture, years: int) -> None:
    known = years_of(years if benchmark.enabled else 1)

    found = benchmark.pedantic(fit, args=(known,), rounds=3 if benchmark.enabled else 1)

    assert found.basis == "fitted"
    if benchmark.enabled:
        assert benchmark.stats.stats.min < FIT_S[years]


def test_a_state_by_stored_parameters(benchmark: BenchmarkFixture) -> None:
    known = years_of(3 if benchmark.enabled else 1)
    found = fit(known)

    benchmark(state, known, found)

    if benchmark.enabled:
        assert benchmark.stats.stats.min < STATE_S


def test_a_thousand_paths_of_a_fortnight(benchmark: BenchmarkFixture) -> None:
    known = years_of(1)
    now = state(known, None)
    edges_d = local_midnights(known.day0, len(known.air_c) + 15, known.household.zone)[-15:]

    benchmark(lambda: sample_paths(now, edges_d=edges_d, paths=1000, rng=np.random.default_rng(0)))

    if benchmark.enabled:
        assert benchmark.stats.stats.min < PATHS_S


def test_no_random_log_makes_a_fit_fail(benchmark: BenchmarkFixture) -> None:
    plain = plain_household()

    def fit_all() -> None:
        for seed in range(RANDOM_LOGS if benchmark.enabled else 3):
            found = fit(record(plain, random_log(1000 + seed), None, 20_000.0))
            json.dumps(found.to_dict(), allow_nan=False)

    benchmark.pedantic(fit_all, rounds=1)
