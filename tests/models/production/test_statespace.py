"""The state space on gauge intervals: its likelihood and moments against the same normal written out whole."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import multivariate_normal

from models.calendar import year_angle
from models.production.parameters import LEVEL_PRIOR, SEASON_SD, from_z
from models.production.statespace import (
    ProductionModel,
    Rows,
    log_likelihood,
    noise_var,
    padded,
    run_filter,
    run_smoother,
    with_sites,
)

MODE = from_z(np.zeros(8))


def some_rows(outlet=None, made=None, count=6, seed=0, widened=None):
    rng = np.random.default_rng(seed)
    end = 20_000.0 + np.cumsum(rng.uniform(0.4, 2.5, count))
    no = np.zeros(count, dtype=bool)
    return Rows(
        start_d=np.append(20_000.0, end[:-1]),
        end_d=end,
        made_sm3=rng.normal(0.4, 0.2, count) if made is None else np.array(made),
        error_var=rng.uniform(0.0, 0.002, count),
        error_scale_sm3=np.full(count, 0.8),
        outlet=no if outlet is None else np.array(outlet),
        widened=no if widened is None else np.array(widened),
        vented=no,
        site_var=np.full(count, np.nan),
    )


def written_out(rows, expected, p):
    """Mean and covariance of all balances and of what they observe, without a filter."""
    n, middle = len(rows), rows.middle_d
    w = year_angle(middle)
    step = np.abs(middle[:, None] - middle)
    early = np.minimum(middle[:, None], middle) - middle[0]
    jumps = np.cumsum(rows.widened) - rows.widened[0]
    common = np.minimum(jumps[:, None], jumps)
    level = LEVEL_PRIOR[1] ** 2 * (1.0 + common) + p.drift**2 * early + p.spell_spread**2 * np.exp(-step / p.spell_d)
    waves = SEASON_SD**2 * (1.0 + common) * np.cos(w[:, None] - w)
    covariance = np.outer(expected, expected) * (level + waves)
    look = np.zeros((n, n + 1))
    gauge = np.flatnonzero(~rows.outlet & np.isnan(rows.site_var))
    for k in gauge:
        looks_before = int(np.sum(~rows.outlet[:k]))
        look[k, looks_before], look[k, looks_before + 1] = -1.0, 1.0
    covariance += (p.gauge_error * 0.8) ** 2 * look @ look.T
    noise = np.where(np.isfinite(rows.site_var), rows.site_var, noise_var(rows, expected, p))
    return expected * LEVEL_PRIOR[0], covariance, noise


EXPECTED = np.array([0.3, 0.5, 0.2, 0.6, 0.4, 0.35])


@pytest.mark.parametrize(
    "rows",
    [
        some_rows(),
        some_rows(outlet=[False, True, False, True, True, False]),
        some_rows(outlet=[True, False, False, True, False, False]),
        some_rows(made=[0.4, np.nan, 0.3, 0.5, np.nan, 0.4]),
        some_rows(widened=[False, False, True, False, False, False]),
        with_sites(some_rows(), np.array([2]), np.array([0.7]), np.array([0.01])),
    ],
    ids=["gauge", "with a meter", "meter first", "with gaps", "altered", "with a bound"],
)
def test_likelihood_and_smoother_are_those_of_the_normal_written_out(rows):
    mean, covariance, noise = written_out(rows, EXPECTED, MODE)
    seen = np.isfinite(rows.made_sm3)
    total = (covariance + np.diag(noise))[np.ix_(seen, seen)]

    found = log_likelihood(ProductionModel(rows), EXPECTED, MODE)
    smoothed = run_smoother(rows, EXPECTED, MODE)

    assert found == pytest.approx(multivariate_normal(mean[seen], total).logpdf(rows.made_sm3[seen]), abs=1e-6)
    gain = np.linalg.solve(total, covariance[seen]).T
    np.testing.assert_allclose(smoothed.mean_sm3, mean + gain @ (rows.made_sm3 - mean)[seen], atol=1e-9)
    np.testing.assert_allclose(smoothed.var, np.diag(covariance - gain @ covariance[seen]), atol=1e-9)


def test_what_the_others_foretell_is_what_is_left_without_the_row():
    rows = some_rows()
    smoothed = run_smoother(rows, EXPECTED, MODE)

    for k in range(len(rows)):
        alone = run_smoother(replace(rows, made_sm3=np.where(np.arange(6) == k, np.nan, rows.made_sm3)), EXPECTED, MODE)
        assert smoothed.others_sm3[k] == pytest.approx(alone.mean_sm3[k], abs=1e-8)
        assert smoothed.others_var[k] == pytest.approx(alone.var[k], rel=1e-6)


def test_innovations_of_the_model_itself_are_standard():
    sizes = []
    for seed in range(60):
        rng = np.random.default_rng(seed)
        rows = some_rows(count=20, seed=seed)
        expected = rng.uniform(0.2, 0.6, 20)
        mean, covariance, noise = written_out(rows, expected, MODE)
        drawn = rng.multivariate_normal(mean, covariance + np.diag(noise))
        seen = run_filter(replace(rows, made_sm3=drawn), expected, MODE)
        sizes.append(seen.innovation_sm3 / np.sqrt(seen.innovation_var))

    size = np.concatenate(sizes)

    assert size.mean() == pytest.approx(0.0, abs=3.0 / np.sqrt(len(size)))  # three standard errors
    assert size.std() == pytest.approx(1.0, abs=3.0 / np.sqrt(2.0 * len(size)))


@pytest.mark.parametrize("count", [1, 2])
def test_one_or_two_rows_are_enough(count):
    rows = some_rows(count=count)
    mean, covariance, noise = written_out(rows, EXPECTED[:count], MODE)

    seen = run_filter(rows, EXPECTED[:count], MODE)

    assert len(padded(rows)) == 3
    assert seen.innovation_sm3[0] == pytest.approx(rows.made_sm3[0] - mean[0])
    assert seen.innovation_var[0] == pytest.approx(covariance[0, 0] + noise[0])
    assert seen.mean.shape == (6,)


def test_a_model_made_for_one_series_is_not_changed_by_another():
    rows = some_rows()
    model = ProductionModel(rows)
    first = log_likelihood(model, EXPECTED, MODE)

    ProductionModel(replace(rows, made_sm3=rows.made_sm3 + 1.0))

    assert log_likelihood(model, EXPECTED, MODE) == first
