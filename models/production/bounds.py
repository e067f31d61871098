"""Intervals in which gas was vented: what they still say of the gas made."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt
from scipy.special import log_ndtr

from models.ledger import cumulated, standard_per_wet
from models.production.parameters import Parameters
from models.production.record import Balance, Record
from models.production.statespace import Rows, noise_var, run_smoother, with_sites
from models.units import Bools, Floats

SWEEPS = 4
FLATTEST_SITE = 1e6  # sm3²: a bound that says nothing


@dataclass(frozen=True, slots=True, kw_only=True)
class Peaks:
    """Moments before a cooking, when the holder was fullest: each shape (peaks,).

    `row` is the interval it lies in, `after_d` how long after its start, `drawn_sm3` the gas burned since then and
    `room_sm3` what the holder could take at the interval's start level.
    """

    row: npt.NDArray[np.intp]
    after_d: Floats
    drawn_sm3: Floats
    room_sm3: Floats


def peaks(known: Record, found: Balance) -> Peaks:
    """The moments at which each interval's holder may have run over."""
    spans, use = found.intervals, found.use
    gauge = np.flatnonzero(~spans.outlet)
    starts = spans.start_d[gauge]
    place = np.searchsorted(starts, use.start_d, side="right") - 1
    inside = (place >= 0) & (use.start_d < spans.end_d[gauge][place]) if len(gauge) else np.zeros(len(place), bool)
    time, row = use.start_d[inside], gauge[place[inside]]
    drawn = cumulated(use, use.used_sm3, time) - cumulated(use, use.used_sm3, spans.start_d[row])
    capacity = known.household.holder.capacity_m3 * standard_per_wet(known.household, known.air, time)
    return Peaks(row=row, after_d=time - spans.start_d[row], drawn_sm3=drawn, room_sm3=capacity - spans.start_sm3[row])


def _density(x: Floats) -> Floats:
    return np.asarray(np.exp(-0.5 * x**2) / np.sqrt(2.0 * np.pi))


def overflow(at: Peaks, rate_sm3_per_d: Floats, error_sm3: Floats) -> tuple[Floats, Floats]:
    """Gas each interval is expected to have lost by running over, and its variance, shape of `rate_sm3_per_d`.

    The level is walked from the reading through the logged cooking; what it exceeds the capacity by at its highest is
    what was vented. The level is known to `error_sm3`.
    """
    lost, var = np.zeros(rate_sm3_per_d.shape), np.zeros(rate_sm3_per_d.shape)
    sd = np.maximum(error_sm3[at.row], 1e-6)
    excess = (rate_sm3_per_d[at.row] * at.after_d - at.drawn_sm3 - at.room_sm3) / sd
    share = np.exp(log_ndtr(excess))
    mean = np.maximum(sd * (excess * share + _density(excess)), 0.0)
    square = sd**2 * ((excess**2 + 1.0) * share + excess * _density(excess))
    order = np.argsort(mean, kind="stable")  # the highest of an interval comes last and stays
    lost[at.row[order]] = mean[order]
    var[at.row[order]] = np.maximum(square - mean**2, 0.0)[order]
    return lost, var


@dataclass(frozen=True, slots=True, kw_only=True)
class Bounded:
    """Rows with their losses added, and which of them are only lower bounds at `least_sm3`."""

    rows: Rows
    is_bound: Bools
    least_sm3: Floats


def bounded(rows: Rows, forced: Bools, at: Peaks, made_sm3: Floats, parameters: Parameters) -> Bounded:
    """Find the rows that give only a bound, and add the expected loss to the others.

    Parameters
    ----------
    rows : Rows
        Balances at their word.
    forced : ndarray of bool
        Rows that ended full or in which venting was seen.
    at : Peaks
    made_sm3 : ndarray
        Gas each interval made as the model sees it now. [sm3]
    parameters : Parameters
    """
    days = np.maximum(rows.end_d - rows.start_d, 1.0 / 48.0)
    gauge_sm3 = parameters.gauge_error * rows.error_scale_sm3
    made = np.maximum(made_sm3, 0.0)
    error = np.sqrt(gauge_sm3**2 + (parameters.day_spread * made) ** 2 / days)
    lost, var = overflow(at, made / days, error)
    is_bound = (forced | (lost > 0.5 * made)) & np.isfinite(rows.made_sm3)
    mended = ~is_bound & (lost > 1e-4 * np.maximum(made, 1e-6))
    changed = replace(
        rows,
        made_sm3=np.where(mended, rows.made_sm3 + lost, rows.made_sm3),
        error_var=np.where(mended, rows.error_var + var, rows.error_var),
    )
    return Bounded(rows=changed, is_bound=is_bound, least_sm3=rows.made_sm3 - gauge_sm3)


def _site(cavity: tuple[Floats, Floats], noise: Floats, least: Floats) -> tuple[Floats, Floats]:
    """Pseudo-observation that turns a cavity into the moments of the same normal cut off below the bound."""
    mean, var = cavity
    total = np.sqrt(var + noise)
    beta = (least - mean) / total
    hazard = np.exp(-0.5 * beta**2 - 0.5 * np.log(2.0 * np.pi) - log_ndtr(-beta))
    curvature = np.clip(hazard * (hazard - beta), 1e-9, 1.0 - 1e-9) / total**2
    site_var = np.clip(1.0 / curvature - var, 1e-9, FLATTEST_SITE)
    return mean + hazard / total / curvature, site_var


def propagate(seen: Bounded, expected_sm3: Floats, parameters: Parameters) -> Rows:
    """Rows in which every bound has become a pseudo-observation, by expectation propagation."""
    which = seen.is_bound
    if not which.any():
        return seen.rows
    noise = noise_var(seen.rows, expected_sm3, parameters)
    site_mean, site_var = np.zeros(len(which)), np.full(len(which), FLATTEST_SITE)
    rows = with_sites(seen.rows, which, site_mean, site_var)
    for _ in range(SWEEPS):
        smoothed = run_smoother(rows, expected_sm3, parameters)
        precision = np.maximum(1.0 / smoothed.var - 1.0 / site_var, 1e-9)
        cavity_mean = (smoothed.mean_sm3 / smoothed.var - site_mean / site_var) / precision
        site_mean, site_var = _site((cavity_mean, 1.0 / precision), noise, seen.least_sm3)
        rows = with_sites(seen.rows, which, site_mean, site_var)
    return rows
