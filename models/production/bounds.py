"""Intervals in which the holder may have run over: what they still say of the gas made.

A holder that is full between two looks lets go what it cannot take, so a balance tells less than was made. Given the
gas made M, evenly over the interval, the holder loses V(M) = max over its fullest moments of (s·M − θ − e)⁺: s is the
share of the interval gone by, θ the room at the start plus what was burned since, e the error of the first look. The
balance shows M − V(M). Such rows enter by expectation propagation: what all other rows foretell of M, times the
likelihood of the balance, gives moments, and a pseudo-observation with those moments stands in for the row.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from models.ledger import cumulated, standard_per_wet
from models.production.parameters import Parameters
from models.production.record import Balance, Record
from models.production.statespace import Rows, Smoothed, day_var, run_smoother, with_sites
from models.units import Bools, Floats

SWEEPS = 4
FLATTEST_SITE = 1e6  # sm3²: a pseudo-observation that says nothing
GRID = np.linspace(-5.0, 5.0, 61)
ERROR_NODES, ERROR_WEIGHTS = np.polynomial.hermite_e.hermegauss(7)
LIKELY_LOSS = 0.03  # of the gas made: what a row may lose before it is doubted
MOST_SPREAD = 0.99  # of the variance that the other rows leave: even a row that says nothing narrows it a little
HIGH_SD = 2.0
CAPACITY_ERROR = 0.02
BLUNDER = 0.02  # odds that a balance says nothing at all

Places = npt.NDArray[np.intp]


@dataclass(frozen=True, slots=True, kw_only=True)
class Peaks:
    """Moments at which holders were fullest, before each cooking and at each interval's end, sorted by row.

    `row` is the interval, `share` how much of it had gone by and `threshold_sm3` the gas made by then that would have
    filled the holder; each shape (peaks,).
    """

    row: Places
    share: Floats
    threshold_sm3: Floats

    def of(self, rows: Places) -> Peaks:
        """The peaks of some rows, renumbered by their place among them."""
        place = np.full(int(max(self.row.max(initial=0), rows.max(initial=0))) + 1, -1)
        place[rows] = np.arange(len(rows))
        mine = place[self.row] >= 0
        return Peaks(row=place[self.row[mine]], share=self.share[mine], threshold_sm3=self.threshold_sm3[mine])

    def highest(self, excess: Floats) -> Floats:
        """The largest of each row's values, which lead over the peaks, shape (rows, ...); every row has a peak."""
        return np.asarray(np.maximum.reduceat(excess, np.flatnonzero(np.diff(self.row, prepend=-1)), axis=0))


def peaks(known: Record, found: Balance) -> Peaks:
    """The moments at which each interval's holder may have run over."""
    spans, use = found.intervals, found.use
    gauge = np.flatnonzero(~spans.outlet)
    if not len(gauge):
        return Peaks(row=np.empty(0, dtype=np.intp), share=np.empty(0), threshold_sm3=np.empty(0))
    place = np.searchsorted(spans.start_d[gauge], use.start_d, side="right") - 1
    inside = (place >= 0) & (use.start_d < spans.end_d[gauge][place])
    time = np.append(use.start_d[inside], spans.end_d[gauge])
    row = np.append(gauge[place[inside]], gauge)
    drawn = cumulated(use, use.used_sm3, time) - cumulated(use, use.used_sm3, spans.start_d[row])
    capacity = known.household.holder.capacity_m3 * standard_per_wet(known.household, known.air, time)
    order = np.lexsort((time, row))
    share = (time - spans.start_d[row]) / (spans.end_d[row] - spans.start_d[row])
    threshold = np.maximum(capacity - spans.start_sm3[row], 0.0) + drawn
    return Peaks(row=row[order], share=share[order], threshold_sm3=threshold[order])


def touching(rows: Rows, at: Peaks, seen: Smoothed, expected_sm3: Floats, parameters: Parameters) -> Bools:
    """Rows that would have lost a noticeable part of their gas, had they made as much as they may well have."""
    out = np.zeros(len(rows), dtype=bool)
    gauge = np.flatnonzero(~rows.outlet)
    if not len(gauge):
        return out
    high = np.maximum(seen.others_sm3 + HIGH_SD * np.sqrt(seen.others_var + day_var(rows, expected_sm3, parameters)), 0)
    slack = HIGH_SD * parameters.gauge_error * rows.error_scale_sm3
    mine = at.of(gauge)
    lost = mine.highest(mine.share * high[at.row] - at.threshold_sm3 + slack[at.row])
    out[gauge] = lost > LIKELY_LOSS * high[gauge]
    return out


def _log_likelihood(rows: Rows, which: Places, at: Peaks, made_sm3: Floats, parameters: Parameters) -> Floats:
    """Log likelihood of the balances at grids of the gas made, both (touching rows, grid)."""
    gauge = parameters.gauge_error * rows.error_scale_sm3[which]
    capacity = CAPACITY_ERROR * rows.error_scale_sm3[which]
    noise_sd = np.sqrt(gauge**2 + rows.error_var[which] + 1e-8)[:, None]
    error = np.sqrt(gauge**2 + capacity**2)[:, None] * ERROR_NODES / noise_sd
    filled = at.highest(at.share[:, None] * made_sm3[at.row] - at.threshold_sm3[:, None]) / noise_sd
    short = (rows.made_sm3[which][:, None] - made_sm3) / noise_sd
    # What was lost, (filled − error)⁺, and the error of the look together are the larger of the two.
    gap = short[:, :, None] + np.maximum(filled[:, :, None], error[:, None, :])
    told = np.exp(-0.5 * gap**2)
    told[rows.vented[which][:, None, None] & (filled[:, :, None] <= error[:, None, :])] = 0.0
    density = told @ (ERROR_WEIGHTS / ERROR_WEIGHTS.sum()) / (np.sqrt(2.0 * np.pi) * noise_sd)
    return np.asarray(np.log((1.0 - BLUNDER) * density + BLUNDER / rows.error_scale_sm3[which][:, None]))


def _sites(likelihood: Floats, made_sm3: Floats, mean: Floats, var: Floats) -> tuple[Floats, Floats]:
    """Pseudo-observations of M that turn normals into the moments of normal times likelihood."""
    log_weight = likelihood - 0.5 * (made_sm3 - mean[:, None]) ** 2 / var[:, None]
    weight = np.exp(log_weight - log_weight.max(axis=1, keepdims=True))
    weight /= weight.sum(axis=1, keepdims=True)
    tilted = np.sum(weight * made_sm3, axis=1)
    spread = np.sum(weight * (made_sm3 - tilted[:, None]) ** 2, axis=1)
    spread = np.clip(spread, 1e-4 * var, MOST_SPREAD * var)
    precision = 1.0 / spread - 1.0 / var
    return (tilted / spread - mean / var) / precision, 1.0 / precision


def propagate(rows: Rows, touched: Bools, at: Peaks, expected_sm3: Floats, parameters: Parameters) -> Rows:
    """The rows with a pseudo-observation in place of every balance that may have lost gas."""
    which = np.flatnonzero(touched & np.isfinite(rows.made_sm3))
    if not len(which):
        return rows
    mine = at.of(which)
    day = day_var(rows, expected_sm3, parameters)[which]
    changed = with_sites(rows, which, np.zeros(len(which)), np.full(len(which), FLATTEST_SITE))
    for _ in range(SWEEPS):
        seen = run_smoother(changed, expected_sm3, parameters)
        mean, var = seen.others_sm3[which], seen.others_var[which] + day
        made = np.maximum(mean[:, None] + np.sqrt(var)[:, None] * GRID, 0.0)
        site, site_var = _sites(_log_likelihood(rows, which, mine, made, parameters), made, mean, var)
        changed = with_sites(rows, which, site, site_var + day)
    return changed
