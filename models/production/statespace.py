"""The state-space model on gauge intervals, one row per interval.

α = [m, a, c, s, e_end, e_start];  y = Φ·(m + a + c·cos w + s·sin w) + e_end − e_start + ε,  y = rise of level + use.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt
from statsmodels.tsa.statespace.kalman_smoother import SMOOTHER_STATE, SMOOTHER_STATE_COV
from statsmodels.tsa.statespace.mlemodel import MLEModel

from models.ledger import Intervals
from models.production.parameters import LEVEL_PRIOR, SEASON_SD, Parameters, season
from models.units import Bools, Floats

STATES = 6
USE_ERROR = 0.12  # of one cooking: flame and minutes are not exact
METER_ERROR = 0.005  # from day to day; its lasting error is lost in the level
METER_STEP_SM3 = 0.002
LEAST_ROWS = 3  # statsmodels mistakes shorter time-varying matrices


@dataclass(frozen=True, slots=True, kw_only=True)
class Rows:
    """What the model is given, every column of shape (rows,).

    `made_sm3` is NaN where an interval says nothing; `error_var` [sm3²] what its balance may be off by apart from gauge
    and day; `error_scale_sm3` the gas that a gauge error of the whole capacity is worth; `widened` marks the first row
    after something was altered, `vented` a row in which venting was seen. Where `site_var` is finite the row is a
    pseudo-observation of Φ·(...) with that variance and no gauge error of its own.
    """

    start_d: Floats
    end_d: Floats
    made_sm3: Floats
    error_var: Floats
    error_scale_sm3: Floats
    outlet: Bools
    widened: Bools
    vented: Bools
    site_var: Floats

    def __len__(self) -> int:
        return len(self.end_d)

    @property
    def middle_d(self) -> Floats:
        """Middle of each interval. [d]"""
        return (self.start_d + self.end_d) / 2.0


def rows_of(spans: Intervals, changed_d: Floats) -> Rows:
    """Rows for the intervals of a log; every balance taken at its word."""
    balance = np.where(spans.outlet, 0.0, USE_ERROR**2 * spans.use_squares)
    meter = (METER_ERROR * spans.change_sm3) ** 2 + METER_STEP_SM3**2
    before = np.searchsorted(changed_d, spans.end_d, side="right")
    return Rows(
        start_d=spans.start_d,
        end_d=spans.end_d,
        made_sm3=spans.made_sm3,
        error_var=np.where(spans.outlet, meter, balance),
        error_scale_sm3=np.where(spans.outlet, 0.0, spans.capacity_sm3),
        outlet=spans.outlet,
        widened=np.diff(before, prepend=before[:1]) > 0,
        vented=spans.vented,
        site_var=np.full(len(spans), np.nan),
    )


def padded(rows: Rows) -> Rows:
    """The rows with empty ones put in front, where they are too few for statsmodels."""
    short = LEAST_ROWS - len(rows)
    if short <= 0 or len(rows) == 0:
        return rows
    index = np.append(np.zeros(short, dtype=int), np.arange(len(rows)))
    blank = np.arange(len(index)) < short
    columns = {name: getattr(rows, name)[index] for name in Rows.__dataclass_fields__}
    columns["made_sm3"] = np.where(blank, np.nan, columns["made_sm3"])
    for edge in ("start_d", "end_d"):
        columns[edge] = np.where(blank, rows.middle_d[0], columns[edge])
    return Rows(**columns)


def day_var(rows: Rows, expected_sm3: Floats, parameters: Parameters) -> Floats:
    """Variance of each row's gas by the chance of single days, shape (rows,). [sm3²]"""
    days = np.maximum(rows.end_d - rows.start_d, 1.0 / 48.0)
    return parameters.day_spread**2 * expected_sm3**2 / days


def noise_var(rows: Rows, expected_sm3: Floats, parameters: Parameters) -> Floats:
    """Variance of ε of a balance, shape (rows,). [sm3²]"""
    return day_var(rows, expected_sm3, parameters) + rows.error_var + 1e-8


class ProductionModel:
    """The state-space form for given rows. Made anew for every series: an endog is never altered in place."""

    def __init__(self, rows: Rows) -> None:
        self.rows = rows
        model = MLEModel(
            rows.made_sm3,
            k_states=STATES,
            k_posdef=STATES,
            initialization="known",
            initial_state=np.zeros(STATES),
            initial_state_cov=np.eye(STATES),
        )
        self.ssm = model.ssm
        self.ssm["selection"] = np.eye(STATES)
        self._season = season(rows.middle_d)
        self._step_d = np.append(np.maximum(np.diff(rows.middle_d), 0.0), 0.0)
        self._gauge_next = np.append(~rows.outlet[1:], False)

    def fill(self, expected_sm3: Floats, parameters: Parameters) -> None:
        """Set the matrices for the physics feature of each row [sm3] and the parameters."""
        rows = self.rows
        gauge = (~rows.outlet & np.isnan(rows.site_var)).astype(float)
        one = np.ones(len(rows))
        self.ssm["design"] = np.stack([expected_sm3, expected_sm3, *(expected_sm3 * self._season), gauge, -gauge])[None]
        noise = noise_var(rows, expected_sm3, parameters)
        self.ssm["obs_cov"] = np.where(np.isfinite(rows.site_var), rows.site_var, noise)[None, None]
        error_var = (parameters.gauge_error * rows.error_scale_sm3) ** 2
        stays = np.exp(-self._step_d / parameters.spell_d)
        transition = np.zeros((STATES, STATES, len(rows)))
        transition[[0, 2, 3], [0, 2, 3]] = one
        transition[1, 1] = stays
        transition[4, 4] = ~self._gauge_next
        transition[5, 4] = self._gauge_next
        self.ssm["transition"] = transition
        shocks = np.zeros_like(transition)
        shocks[0, 0] = parameters.drift**2 * self._step_d
        shocks[1, 1] = parameters.spell_spread**2 * (1.0 - stays**2)
        shocks[4, 4] = self._gauge_next * np.append(error_var[1:], 0.0)
        shocks += widened_covariance()[:, :, None] * np.append(rows.widened[1:], False)
        self.ssm["state_cov"] = shocks
        first_look = error_var[np.argmax(~rows.outlet)]
        self.ssm.initialize_known(prior_mean(), prior_covariance(parameters, first_look))


def prior_mean() -> Floats:
    """State before any reading."""
    return np.array([LEVEL_PRIOR[0], 0.0, 0.0, 0.0, 0.0, 0.0])


def prior_covariance(parameters: Parameters, error_var: float) -> Floats:
    """Covariance of the state before any reading."""
    return np.diag([LEVEL_PRIOR[1] ** 2, parameters.spell_spread**2, SEASON_SD**2, SEASON_SD**2, error_var, error_var])


def widened_covariance() -> Floats:
    """What the covariance of the state gains where something was altered: level and season are open again."""
    return np.diag([LEVEL_PRIOR[1] ** 2, 0.0, SEASON_SD**2, SEASON_SD**2, 0.0, 0.0])


@dataclass(frozen=True, slots=True, kw_only=True)
class Filtered:
    """Filter output: innovations and their variances, shape (rows,), and the state after each row and after the last.

    `means` are (6, rows), `covariances` (6, 6, rows).
    """

    innovation_sm3: Floats
    innovation_var: Floats
    means: Floats
    covariances: Floats

    @property
    def mean(self) -> Floats:
        """State after the last row, shape (6,)."""
        return self.means[:, -1]

    @property
    def covariance(self) -> Floats:
        """Covariance of the state after the last row, shape (6, 6)."""
        return self.covariances[:, :, -1]


@dataclass(frozen=True, slots=True, kw_only=True)
class Smoothed:
    """Each row's gas, gauge errors included but not ε, given the whole log. [sm3, sm3²]

    `mean_sm3` and `var` from all rows, `others_sm3` and `others_var` from all rows but itself; shape (rows,).
    """

    mean_sm3: Floats
    var: Floats
    others_sm3: Floats
    others_var: Floats


def run_filter(rows: Rows, expected_sm3: Floats, parameters: Parameters) -> Filtered:
    """Kalman filter over the rows, at least one."""
    short = max(LEAST_ROWS - len(rows), 0)
    model = ProductionModel(padded(rows))
    model.fill(np.append(np.zeros(short), expected_sm3), parameters)
    seen = model.ssm.filter()
    return Filtered(
        innovation_sm3=np.where(np.isfinite(rows.made_sm3), seen.forecasts_error[0][short:], np.nan),
        innovation_var=seen.forecasts_error_cov[0, 0][short:],
        means=seen.filtered_state[:, short:],
        covariances=seen.filtered_state_cov[:, :, short:],
    )


def run_smoother(rows: Rows, expected_sm3: Floats, parameters: Parameters) -> Smoothed:
    """Kalman smoother over the rows, at least one."""
    short = max(LEAST_ROWS - len(rows), 0)
    model = ProductionModel(padded(rows))
    model.fill(np.append(np.zeros(short), expected_sm3), parameters)
    # Nothing else is looked at, and copying it would take longer than the smoothing.
    seen = model.ssm.smooth(smoother_output=SMOOTHER_STATE | SMOOTHER_STATE_COV, update_filter=False)
    design = np.asarray(seen.design)[0]
    mean = np.einsum("st,st->t", design, seen.smoothed_state)[short:]
    var = np.maximum(np.einsum("st,sut,ut->t", design, seen.smoothed_state_cov, design)[short:], 1e-12)
    weight = np.where(np.isfinite(rows.made_sm3), 1.0 / np.asarray(seen.obs_cov)[0, 0, short:], 0.0)
    left = np.maximum(1.0 / var - weight, 1e-9)
    told = np.where(weight > 0.0, rows.made_sm3 * weight, 0.0)
    return Smoothed(mean_sm3=mean, var=var, others_sm3=(mean / var - told) / left, others_var=1.0 / left)


def log_likelihood(model: ProductionModel, expected_sm3: Floats, parameters: Parameters) -> float:
    """Log likelihood of the rows of a model of at least three rows."""
    model.fill(expected_sm3, parameters)
    return float(model.ssm.loglike())


def blanked(rows: Rows, which: Bools) -> Rows:
    """The rows with some balances left out."""
    return replace(rows, made_sm3=np.where(which, np.nan, rows.made_sm3))


def with_sites(rows: Rows, which: npt.NDArray[np.intp], mean_sm3: Floats, var: Floats) -> Rows:
    """The rows with pseudo-observations in place of some balances."""
    made_sm3, site_var = rows.made_sm3.copy(), rows.site_var.copy()
    made_sm3[which], site_var[which] = mean_sm3, var
    return replace(rows, made_sm3=made_sm3, site_var=site_var)
