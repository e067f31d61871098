"""From a record to a fit, and from a fit to the state that a forecast starts from."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from models.ledger import standard_per_wet
from models.production.bounds import Peaks, peaks, propagate, touching
from models.production.diagnosis import Scores, basis_of, innovation_summary, season_of, weekday_rhythm
from models.production.echo import echo
from models.production.estimate import covariance_at, most_probable
from models.production.forgotten import Missed, missed_servings, remembered
from models.production.leads import lead_errors, widening
from models.production.parameters import PRIORS, Parameters, from_z
from models.production.record import Balance, Record, balance, record
from models.production.slurry import SlurryFit, SlurryNow, fit_slurry, follow
from models.production.statespace import (
    Filtered,
    Rows,
    blanked,
    prior_covariance,
    prior_mean,
    rows_of,
    run_filter,
    run_smoother,
    widened_covariance,
)
from models.production.substrate import Feature, Feeding, Kinetics, feature, feeding
from models.production.values import DigesterNow, Echo, FittedProduction, ProductionState
from models.units import Bools, Floats

__all__ = ["FittedProduction", "ProductionState", "Record", "fit", "record", "state"]

FEWEST_INTERVALS = 12
DOUBT_SD = 4.5
DOUBT_ROUNDS = 3
UNLIKELY = "no likely amount of gas explains it"
FEED_MEMORY_D = 90
FEED_ROOM, SEEN_ROOM = 2.5, 2.0
RECENT_ROWS = 60
ITERATIONS = 40
SHORT_ITERATIONS = 12


@dataclass(frozen=True, slots=True, kw_only=True)
class Evidence:
    """The log turned into what the model is given."""

    known: Record
    found: Balance
    rows: Rows
    peaks: Peaks
    missed: Missed
    feedings: tuple[Feeding, ...]
    slurry: tuple[SlurryNow, ...]

    @property
    def forced(self) -> Bools:
        """Rows that are bounds whatever the model says."""
        return self.found.intervals.ends_full | self.found.intervals.vented

    def feature(self, kinetics: Kinetics) -> Feature:
        """The physics through the log."""
        return feature(self.known, self.feedings, tuple(one.daily_c for one in self.slurry), kinetics)

    def expected(self, kinetics: Kinetics) -> Floats:
        """Gas the physics expects of each row. [sm3]"""
        return self.feature(kinetics).between(self.rows.start_d, self.rows.end_d)


def _evidence(known: Record, fits: tuple[SlurryFit, ...] | None) -> Evidence:
    digesters = known.household.digesters
    if fits is None or len(fits) != len(digesters):
        fits = tuple(fit_slurry(known, digester) for digester in digesters)
    found = balance(known)
    return Evidence(
        known=known,
        found=found,
        rows=rows_of(found.intervals, known.changed_d),
        peaks=peaks(known, found),
        missed=missed_servings(known, found),
        feedings=tuple(feeding(known, index) for index in range(len(digesters))),
        slurry=tuple(follow(known, digester, one) for digester, one in zip(digesters, fits, strict=True)),
    )


def _doubted(rows: Rows, expected_sm3: Floats, parameters: Parameters, sure: Bools) -> Bools:
    """Rows with an innovation beyond belief; found in rounds, because a bad row makes its neighbours look bad.

    A meter does not slip: it was misread only where its next rise makes good what this one was off by.
    """
    out = np.zeros(len(rows), dtype=bool)
    for _ in range(DOUBT_ROUNDS):
        seen = run_filter(blanked(rows, out), expected_sm3, parameters)
        size = np.nan_to_num(seen.innovation_sm3 / np.sqrt(seen.innovation_var))
        following = np.append(size[1:], 0.0)
        new = (np.abs(size) > DOUBT_SD) & (~rows.outlet | (size * following < -(DOUBT_SD**2)))
        new &= ~sure  # the cook says so herself
        new[1:] &= ~new[:-1]
        if not new.any() or np.sum(out | new) > max(2.0, 0.1 * len(rows)):
            break
        out |= new
    return out


@dataclass(frozen=True, slots=True, kw_only=True)
class Settled:
    """Rows ready to be filtered at given parameters: doubts blanked, losses added, bounds turned into sites."""

    rows: Rows
    doubted: Bools
    is_bound: Bools
    expected_sm3: Floats
    filtered: Filtered


def _settle(evidence: Evidence, parameters: Parameters) -> Settled:
    expected = evidence.expected(parameters.kinetics)
    rows = remembered(evidence.rows, evidence.forced, evidence.missed, expected, parameters)
    touched = evidence.forced
    for _ in range(2):
        seen = run_smoother(blanked(rows, touched), expected, parameters)
        touched = evidence.forced | touching(rows, evidence.peaks, seen, expected, parameters)
    doubted = _doubted(blanked(rows, touched), expected, parameters, evidence.found.intervals.end_sure)
    changed = propagate(blanked(rows, doubted), touched, evidence.peaks, expected, parameters)
    return Settled(
        rows=changed,
        doubted=doubted,
        is_bound=touched,
        expected_sm3=expected,
        filtered=run_filter(changed, expected, parameters),
    )


def _without_bounds(settled: Settled) -> Rows:
    return blanked(settled.rows, settled.is_bound)


def _search(evidence: Evidence, start: Floats) -> tuple[Floats, Floats]:
    """Mode and covariance of the parameters: without bounds first, then once more with them."""
    settled = _settle(evidence, from_z(start))
    rows = _without_bounds(settled)
    if np.isfinite(rows.made_sm3).sum() >= FEWEST_INTERVALS:
        start = most_probable(rows, evidence.expected, start, ITERATIONS)
        settled = _settle(evidence, from_z(start))
    z = most_probable(settled.rows, evidence.expected, start, SHORT_ITERATIONS)
    return z, covariance_at(settled.rows, evidence.expected, z)


def fit(known: Record, *, start: FittedProduction | None = None) -> FittedProduction:
    """Learn a household's production from its record.

    Parameters
    ----------
    known : Record
    start : FittedProduction, optional
        An earlier fit to begin the search from.

    Returns
    -------
    FittedProduction
        With fewer than 12 intervals the prior itself, its slurry fitted to what temperatures there are.

    Raises
    ------
    FitFailed
        The search met no finite likelihood.
    """
    evidence = _evidence(known, None)
    z, covariance = np.zeros(len(PRIORS)), np.eye(len(PRIORS))
    if np.isfinite(evidence.rows.made_sm3).sum() >= FEWEST_INTERVALS:
        z, covariance = _search(evidence, start.z if start is not None else z)
    now = _state(evidence, z, covariance)
    spans = evidence.found.intervals
    return FittedProduction(
        made_as_of_d=known.as_of_d,
        z=z,
        z_covariance=covariance,
        slurry=tuple(one.fit for one in evidence.slurry),
        window_d=(float(spans.start_d.min()), float(spans.end_d.max())) if len(spans) else None,
        intervals=len(spans),
        bounds=int(now.diagnostics["bounds"]),
        basis=now.basis,
        diagnostics=now.diagnostics,
        set_aside=now.set_aside,
    )


def state(known: Record, fitted: FittedProduction | None) -> ProductionState:
    """Where production stands, by stored parameters or, without a fit, by the prior. Estimates nothing."""
    if fitted is None:
        found = _state(_evidence(known, None), np.zeros(len(PRIORS)), np.eye(len(PRIORS)))
        return replace(found, basis="blended") if found.basis == "fitted" else found  # its parameters are the prior's
    return _state(_evidence(known, fitted.slurry), fitted.z, fitted.z_covariance)


def _capacity_sm3(known: Record) -> float:
    now = np.array([known.as_of_d])
    return known.household.holder.capacity_m3 * float(standard_per_wet(known.household, known.air, now)[0])


def _most_sm3_per_d(evidence: Evidence) -> float:
    """More gas than a day can bring: what recent or usual feed holds, or what the log has seen, with room to spare."""
    feed = sum(max(float(fed.gas_sm3[-FEED_MEMORY_D:].mean()), fed.usual_gas_sm3) for fed in evidence.feedings)
    rows = evidence.rows
    rate = rows.made_sm3 / np.maximum(rows.end_d - rows.start_d, 0.5)
    seen = float(np.quantile(rate, 0.95)) if len(rate) else 0.0
    return max(FEED_ROOM * feed, SEEN_ROOM * seen)


def _scores(settled: Settled) -> Scores:
    filtered = settled.filtered
    size = filtered.innovation_sm3 / np.sqrt(filtered.innovation_var)
    return Scores(size=np.where(settled.is_bound, np.nan, size), is_bound=settled.is_bound)


def _diagnostics(evidence: Evidence, parameters: Parameters, mean: Floats, scores: Scores) -> Mapping[str, Any]:
    spans = evidence.found.intervals
    days = float(spans.end_d[-1] - spans.start_d.min()) if len(spans) else 0.0
    return innovation_summary(scores) | {
        "bounds": int(scores.is_bound.sum()),
        "season": season_of(evidence.known, evidence.slurry, parameters, mean, days),
        "weekday_rhythm": weekday_rhythm(evidence.known, evidence.feedings[0]),
        "log_days": days,
    }


def _state(evidence: Evidence, z: Floats, covariance: Floats) -> ProductionState:
    known, found, parameters = evidence.known, evidence.found, from_z(z)
    spans = found.intervals
    mean, spread, state_d = prior_mean(), prior_covariance(parameters, 0.0), known.as_of_d
    carried, wider, brim_share, booked_share = Echo(), 1.0, 0.0, 0.0
    set_aside, scores = found.set_aside, Scores(size=np.empty(0), is_bound=np.empty(0, dtype=bool))
    if len(spans):
        settled = _settle(evidence, parameters)
        mean, spread = settled.filtered.mean, settled.filtered.covariance
        since = known.changed_d[(known.changed_d > spans.end_d[-1]) & (known.changed_d <= known.as_of_d)]
        spread = spread + len(since) * widened_covariance()
        state_d = float(settled.rows.middle_d[-1])
        set_aside += tuple((str(name), UNLIKELY) for name in spans.end_id[settled.doubted])
        scores, carried = _scores(settled), echo(settled.rows, settled.filtered, known.as_of_d)
        brim_share = float(settled.is_bound[-RECENT_ROWS:].mean())
        booked_share = float(np.mean(~spans.outlet[-RECENT_ROWS:]))
        wider = widening(lead_errors(settled.rows, settled.filtered, settled.expected_sm3, parameters), carried.share)
    capacity = _capacity_sm3(known)
    return ProductionState(
        as_of_d=known.as_of_d,
        basis=basis_of(spread),
        z=z,
        z_covariance=covariance,
        mean=mean,
        covariance=spread,
        state_d=state_d,
        level_sm3=found.last_level_sm3,
        level_d=found.last_level_d,
        level_in_state=bool(np.any(~spans.outlet)),
        level_error_sm3=parameters.gauge_error * capacity,
        capacity_sm3=capacity,
        echo=carried,
        widening=wider,
        brim_share=brim_share,
        booked_share=booked_share,
        most_sm3_per_d=_most_sm3_per_d(evidence),
        known=known,
        digesters=tuple(
            DigesterNow(slurry=warm, feeding=fed) for warm, fed in zip(evidence.slurry, evidence.feedings, strict=True)
        ),
        set_aside=set_aside,
        diagnostics=_diagnostics(evidence, parameters, mean, scores),
    )
