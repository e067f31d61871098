"""The level at the last look: the gauge, the looks before it and the cooking between them weighed together."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from models.household import Household
from models.ledger import standard_per_wet
from models.log import Log
from models.production.fit import state
from models.production.forecast import ProductionPaths, sample_paths
from models.production.record import record
from tests.models.production.conftest import Life, readings

GAUGE_SD = 0.05  # of capacity
SEEDS = 16


def at_last_look(plain: Household, log: Log, end_d: float) -> ProductionPaths:
    found = state(record(plain, log, None, end_d), None)
    return sample_paths(found, edges_d=end_d + np.arange(2.0), paths=2000, rng=np.random.default_rng(0))


def test_looks_before_make_the_last_one_surer(plain: Household, live: Callable[..., Life]) -> None:
    off, fused_off, said = [], [], []
    for seed in range(SEEDS):
        seen, true = (
            live(plain, 60, seed=seed, day_spread=0.05, gauge_sd=gauge_sd) for gauge_sd in (GAUGE_SD, 0.0)
        )  # the same life with a gauge that errs and one that does not
        paths = at_last_look(plain, seen.log, seen.end_d)
        known = record(plain, seen.log, None, seen.end_d)
        per_wet = float(standard_per_wet(plain, known.air, np.array([paths.level_time_d]))[0])
        shown, held = (life.log.of("holder_level").value[-1] * per_wet for life in (seen, true))
        off.append(shown - held)
        fused_off.append(float(paths.level_sm3.mean()) - held)
        said.append(float(paths.level_sm3.std()))

    rms, fused_rms = (float(np.sqrt(np.mean(np.square(errors)))) for errors in (off, fused_off))
    assert fused_rms < 0.9 * rms
    # An error of sixteen is known to 18 %: two of those either way.
    assert 0.6 < fused_rms / np.sqrt(np.mean(np.square(said))) < 1.4


def test_a_slip_of_the_last_look_is_believed_in_part(plain: Household, live: Callable[..., Life]) -> None:
    life = live(plain, 60, day_spread=0.05)
    looks = life.log.of("holder_level")
    slipped = readings(looks.time_d, looks.value + 0.15 * (np.arange(len(looks)) == len(looks) - 1))
    right, wrong = (
        at_last_look(plain, Log(by_quantity={**life.log.by_quantity, "holder_level": levels}), life.end_d)
        for levels in (looks, slipped)
    )

    moved = wrong.level_sm3.mean() - right.level_sm3.mean()
    assert 0.0 < moved < 0.9 * 0.15
    assert wrong.level_sm3.std() == pytest.approx(right.level_sm3.std(), rel=0.05)
