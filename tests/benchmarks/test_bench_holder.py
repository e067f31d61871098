"""A million gauge readings to standard volume: `pytest tests/benchmarks --benchmark-enable` shows the time."""

from __future__ import annotations

import numpy as np

from models.holder import GasHolder, sm3_per_m3, volume_m3

READINGS = 1_000_000
LONGEST_S = 0.3


def test_a_million_holder_conversions(benchmark) -> None:
    rng = np.random.default_rng(1)
    holder = GasHolder(capacity_m3=0.9, gauge_points=((0.0, 0.0), (50.0, 0.42), (100.0, 0.9)))
    level_pct, air_c = rng.uniform(0.0, 100.0, READINGS), rng.uniform(-10.0, 40.0, READINGS)

    sm3 = benchmark(lambda: volume_m3(holder, level_pct) * sm3_per_m3(air_c, gauge_pa=600.0, atmosphere_pa=99_700.0))

    assert sm3.shape == (READINGS,)
    assert 0.0 <= sm3.min() < sm3.max() < 1.1
    if benchmark.enabled:
        assert benchmark.stats.stats.median < LONGEST_S
