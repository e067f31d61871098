"""Forecasts against the 7-day mean on three invented households with three years of log each, on fixed seeds.

Invented worlds rank methods; they prove nothing about any real digester.
"""

from __future__ import annotations

import numpy as np
import pytest

from models.calendar import local_midnights, midnight
from models.days import day_ledger
from models.production.fit import fit, record, state
from models.production.forecast import sample_paths
from service.demo.reading import household_of, log_of
from service.demo.world import draw_world

DAYS = 1096
WEEK_D = 7
ORIGINS = range(DAYS - 240, DAYS - WEEK_D, 21)


@pytest.mark.parametrize("seed", [41, 42, 43])
def test_a_week_ahead_is_foretold_better_than_by_the_last_weeks_mean(seed: int) -> None:
    world = draw_world(seed, days=DAYS)
    household, log = household_of(world), log_of(world)
    dates, made = list(world.truth.index), world.truth["made_sm3"].to_numpy()
    fitted = fit(record(household, log, None, midnight(dates[ORIGINS[0]], household.zone)))
    ours, naive = [], []
    for origin in ORIGINS:
        now_d = midnight(dates[origin], household.zone)
        known = record(household, log, None, now_d)
        edges = local_midnights(dates[origin], WEEK_D, household.zone)
        paths = sample_paths(state(known, fitted), edges_d=edges, paths=300, rng=np.random.default_rng(1))
        past = local_midnights(dates[origin - WEEK_D], WEEK_D, household.zone)
        week = day_ledger(household, known.log, known.air, past).made_sm3
        if not np.isfinite(week).any():
            continue  # no mean to be better than
        came = made[origin : origin + WEEK_D]
        ours.append(np.abs(np.median(paths.made_sm3, axis=0) - came).mean())
        naive.append(np.abs(np.nanmean(week) - came).mean())

    assert len(ours) >= 6
    assert np.mean(ours) < np.mean(naive)
