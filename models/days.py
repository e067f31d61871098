"""The ledger by household day: gas made, burned and vented, each with its error and how far it can be trusted."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy.ndimage import median_filter

from models.cooking import believed
from models.household import Household
from models.ledger import (
    FULL_GAUGE_ERRORS,
    GasUse,
    Intervals,
    SetAside,
    cooked_gas,
    cumulated,
    gas_use,
    intervals,
    sound_cooking,
    standard_per_wet,
)
from models.log import Log, Strings
from models.looks import sound_levels
from models.temperature import WARMEST_HOUR, AirTemperature
from models.units import Bools, Floats, Ints

EXACT, AT_LEAST, MISSING = "exact", "at_least", "missing"

# A cook forgets about one entry in ten, and tea is seldom written down; common practice, no source.
FORGOTTEN_SHARE, FORGOTTEN_SD = 0.12, 0.06
BURNER_SD = 0.07  # the rating, the gas and its pressure; common to all entries
ENTRY_SD = 0.12  # minutes rounded and flames turned; each entry's own
METER_SD = 0.02
METER_STEP_SM3 = 0.002
AIR_SD_K = 2.5  # of the air at the moment of a look
SWING_SD_K = 3.5  # of half the swing between night and afternoon, and of what the sun adds to it in the bag
GAS_PER_K = 0.0045  # share by which a kelvin swells the saturated gas of a bag, near 20 °C
UNEVEN = 0.35  # how unevenly a span's gas may be made, as a share of it
LONGEST_SPAN_D = 3.0  # a longer one says little of each of its days
SPARSE_SHARE = 0.25  # of a day that may lie in such spans
BOUND_SDS = 1.645
FORTNIGHT_D = 14.5
USUAL_SPANS = 15
CHECKS_PER_SPAN = 12


@dataclass(frozen=True, slots=True, kw_only=True)
class DayLedger:
    """Household days between `edges_d`, shape (days + 1,) [d]; every other column has shape (days,).

    `bound` is `exact`: `made_sm3` is known with the standard error `made_sd_sm3`; `at_least`: the holder was, or may
    have been, full, and `made_sm3` is what was made at the least, 19 times in 20; `missing`: nothing is known, and
    `reason` says why. `burned_sm3` holds the logged cooking and the usual share of forgotten cooking. `vented_sm3`
    is 0 on exact days without a meter and NaN where nothing tells it, as is `burned_sm3` before the first entry and
    after the last. NaN is unknown. [sm3]
    """

    edges_d: Floats
    made_sm3: Floats
    made_sd_sm3: Floats
    bound: Strings
    burned_sm3: Floats
    burned_sd_sm3: Floats
    vented_sm3: Floats
    vented_sd_sm3: Floats
    reason: Strings
    set_aside: SetAside


@dataclass(frozen=True, slots=True, kw_only=True)
class _Figure:
    """A figure by day; NaN where unknown."""

    value: Floats
    sd: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class _Spans:
    """Spans in order that do not overlap. [d]"""

    start_d: Floats
    end_d: Floats

    def __len__(self) -> int:
        return len(self.end_d)

    def select(self, rows: Bools) -> _Spans:
        return _Spans(start_d=self.start_d[rows], end_d=self.end_d[rows])

    def longer_than(self, days: float) -> _Spans:
        return self.select(self.end_d - self.start_d > days)

    def within_days(self, amount: Floats, edges_d: Floats) -> Floats:
        """Amounts spread evenly over their spans, summed by day, shape (days,)."""
        if not len(self):
            return np.zeros(len(edges_d) - 1)
        total = np.cumsum(amount)
        knots = np.column_stack([self.start_d, self.end_d]).ravel()
        return np.diff(np.interp(edges_d, knots, np.column_stack([np.append(0.0, total[:-1]), total]).ravel()))

    def within(self, use: GasUse) -> Floats:
        """Gas burned in each span, shape (spans,). [sm3]"""
        return cumulated(use, use.used_sm3, self.end_d) - cumulated(use, use.used_sm3, self.start_d)

    def share_of_days(self, edges_d: Floats) -> Floats:
        """Share of each day that lies in a span, shape (days,); none of a day that the zone left out."""
        covered, lasts = self.within_days(self.end_d - self.start_d, edges_d), np.diff(edges_d)
        return np.divide(covered, lasts, out=np.zeros_like(covered), where=lasts > 0.0)

    def holding(self, edges_d: Floats) -> tuple[Ints, Floats]:
        """Span that holds each edge, and how far into it the edge lies; the number of spans, and 0, where none does."""
        if not len(self):
            return np.zeros(len(edges_d), dtype=np.int64), np.zeros(len(edges_d))
        span = np.searchsorted(self.end_d, edges_d, side="left")
        near = np.minimum(span, len(self) - 1)
        share = (edges_d - self.start_d[near]) / (self.end_d[near] - self.start_d[near])
        inside = (share >= 0.0) & (share <= 1.0)
        return np.where(inside, near, len(self)), np.where(inside, share, 0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Looks:
    """The holder as its gauge showed it, look by look, and the spans between the looks.

    `received_sm3` is the level and all logged use before the look; `error_sm3` the standard error of one look,
    `swing_sm3` the error that all looks of an hour share; `full`, one shorter, marks spans that may have vented.
    """

    spans: _Spans
    received_sm3: Floats
    error_sm3: Floats
    swing_sm3: Floats
    full: Bools


def day_ledger(household: Household, log: Log, air: AirTemperature, edges_d: Floats) -> DayLedger:
    """Balance the log day by day.

    Parameters
    ----------
    household : Household
    log : Log
    air : AirTemperature
        Carries every gauge reading to standard gas, so that a warm afternoon counts for nothing.
    edges_d : ndarray
        Household midnights, one more than the days. [d]

    Returns
    -------
    DayLedger

    Notes
    -----
    Between two looks at the gauge made = rise + burned (+ vented); a span's gas is spread evenly over it and cut at
    midnight. The error of a look is shared by the span it ends and the one it begins, so within a day it cancels.
    A gas meter on the outlet tells the gas made directly and, with the gauge, what was vented. Several digesters on
    one holder are one. Cooking that takes more gas than there can have been is set aside.
    """
    log, slips = believed(household, log, air)
    cooked = cooked_gas(household, sound_cooking(log), air)
    use = gas_use(household, log, air, cooked)
    levels, set_aside = sound_levels(household, log, air, use)
    spans = intervals(household, log, air, use, levels)
    logged = np.diff(cumulated(use, use.used_sm3, edges_d))
    metered = _stove_spans(log)
    burned = _burned(use, metered, metered.within(use) - metered.within(cooked), _kept(log), edges_d)
    looks = _looks(household, spans.select(~spans.outlet), air, use)
    by_gauge, full = _by_gauge(looks, burned, burned.value - logged, edges_d)
    by_meter = _by_meter(spans.select(spans.outlet), edges_d)
    told = _joined(by_gauge, full, by_meter, burned, edges_d=edges_d, set_aside=(*slips, *set_aside))
    start, end = _kept(log)
    kept = (edges_d[1:] > start) & (edges_d[:-1] <= end) & (start < end)
    return replace(
        told,
        burned_sm3=np.where(kept, told.burned_sm3, np.nan),
        burned_sd_sm3=np.where(kept, told.burned_sd_sm3, np.nan),
    )


def _stove_spans(log: Log) -> _Spans:
    """Spans over which a stove meter, and not memory, says what was burned."""
    meter = log.of("gas_meter")
    meter = meter.select(meter.item == "stove")
    forward = np.diff(meter.value) >= 0.0
    return _Spans(start_d=meter.time_d[:-1][forward], end_d=meter.time_d[1:][forward])


def _burned(use: GasUse, metered: _Spans, unwritten: Floats, kept_d: tuple[float, float], edges_d: Floats) -> _Figure:
    """Gas burned by day: what was logged, and what is usually forgotten outside the metered spans.

    A meter counts forgotten cooking too (`unwritten`, by span) but cannot say on which side of midnight it was.
    """
    logged, squares = (_by_day(use, column, edges_d) for column in (use.used_sm3, use.squares))
    usual, usual_squares = (_usual(use, column, kept_d, edges_d) for column in (use.used_sm3, use.used_sm3**2))
    by_meter = metered.share_of_days(edges_d)
    memory = 1.0 - by_meter
    common = by_meter * METER_SD * logged + memory * np.hypot(BURNER_SD, FORGOTTEN_SD) * usual
    own = memory * (ENTRY_SD**2 * squares + FORGOTTEN_SHARE * usual_squares)
    span, share = metered.holding(edges_d)
    astray = _taken(unwritten, span) ** 2 * share * (1.0 - share)
    return _Figure(
        value=logged + memory * FORGOTTEN_SHARE * usual, sd=np.sqrt(common**2 + own + astray[:-1] + astray[1:])
    )


def _by_day(use: GasUse, weights: Floats, edges_d: Floats) -> Floats:
    """Weights of the use within each day, shape (days,); rounding may dip below zero, gas does not."""
    return np.maximum(np.diff(cumulated(use, weights, edges_d)), 0.0)


def _usual(use: GasUse, weights: Floats, kept_d: tuple[float, float], edges_d: Floats) -> Floats:
    """Daily mean over the fortnight on each side, as far as the log was kept; 0 on days outside it, shape (days,)."""
    start, end = kept_d
    middle = (edges_d[:-1] + edges_d[1:]) / 2.0
    low, high = np.clip(middle - FORTNIGHT_D, start, end), np.clip(middle + FORTNIGHT_D, start, end)
    inside = (edges_d[1:] > start) & (edges_d[:-1] < end) & (high > low)
    total = np.maximum(cumulated(use, weights, high) - cumulated(use, weights, low), 0.0)
    return np.asarray(np.where(inside, total / np.maximum(high - low, 1.0), 0.0))


def _kept(log: Log) -> tuple[float, float]:
    """First and last entry of the gauge and the cooking; nothing where there is none. [d]"""
    time = np.concatenate([log.of(name).time_d for name in ("holder_level", "cooking", "gas_meter")])
    return (float(time.min()), float(time.max())) if len(time) else (0.0, 0.0)


def _taken(amount: Floats, span: Ints) -> Floats:
    """Amount of the span that holds each edge, 0 where none does."""
    return np.append(amount, 0.0)[span]


def _looks(household: Household, spans: Intervals, air: AirTemperature, use: GasUse) -> _Looks:
    holder = household.holder
    time = np.append(spans.start_d[:1], spans.end_d)
    level = np.append(spans.start_sm3[:1], spans.end_sm3)
    gauge = holder.level_error_fraction * holder.capacity_m3 * standard_per_wet(household, air, time)
    error = np.hypot(gauge, GAS_PER_K * AIR_SD_K * level)
    return _Looks(
        spans=_Spans(start_d=time[:-1], end_d=time[1:]),
        received_sm3=level + cumulated(use, use.used_sm3, time),
        error_sm3=error,
        swing_sm3=GAS_PER_K * SWING_SD_K * level * np.cos(2.0 * np.pi * (time + air.offset_d - WARMEST_HOUR / 24.0)),
        full=spans.ends_full | spans.vented | _touches_full(household, spans, air, use, error[1:]),
    )


def _touches_full(household: Household, spans: Intervals, air: AirTemperature, use: GasUse, error: Floats) -> Bools:
    """Spans in which the level, walked through the logged cooking, comes so near the capacity that gas may be lost."""
    if not len(spans):
        return np.zeros(0, dtype=bool)
    length = spans.end_d - spans.start_d
    share = np.linspace(0.0, 1.0, CHECKS_PER_SPAN + 1)
    moments = np.append((spans.start_d[:, None] + share * length[:, None]).ravel(), use.start_d)
    lighting = np.searchsorted(spans.end_d, use.start_d, side="left")
    span = np.append(np.repeat(np.arange(len(spans)), len(share)), np.minimum(lighting, len(spans) - 1))
    passed = (moments - spans.start_d[span]) / length[span]
    inside = (passed >= 0.0) & (passed <= 1.0)
    moments, span, passed = moments[inside], span[inside], passed[inside]
    gone = cumulated(use, use.used_sm3, moments) - cumulated(use, use.used_sm3, spans.start_d)[span]
    usual = median_filter(spans.made_sm3 / length, min(USUAL_SPANS, len(spans)))
    made = np.maximum(spans.made_sm3, usual * length)  # what was vented is missing from the span's own balance
    level = spans.start_sm3[span] + made[span] * passed - gone
    room = household.holder.capacity_m3 * standard_per_wet(household, air, moments)
    near = level > room - FULL_GAUGE_ERRORS * error[span]
    return np.asarray(np.bincount(span[near], minlength=len(spans)) > 0)


def _by_gauge(looks: _Looks, burned: _Figure, forgotten: Floats, edges_d: Floats) -> tuple[_Figure, Bools]:
    """Rise of the holder and gas burned, cut at midnight; and the days that may have vented."""
    if not len(looks.spans):
        unknown = np.full(len(edges_d) - 1, np.nan)
        return _Figure(value=unknown, sd=unknown), np.zeros(len(unknown), dtype=bool)
    span, share = looks.spans.holding(edges_d)
    known = np.where(span < len(looks.spans), 1.0, np.nan)
    gained, swung = (_taken(np.diff(column), span) for column in (looks.received_sm3, looks.swing_sm3))
    value = np.diff((looks.received_sm3[span] + gained * share) * known)
    variance = _shared_variance(span, share, looks.error_sm3**2) + np.diff(looks.swing_sm3[span] + swung * share) ** 2
    uneven = (UNEVEN * gained * share * (1.0 - share)) ** 2
    variance += burned.sd**2 + uneven[:-1] + uneven[1:]
    thin = looks.spans.longer_than(LONGEST_SPAN_D).share_of_days(edges_d) > SPARSE_SHARE
    full = looks.spans.select(looks.full).share_of_days(edges_d) > 0.0
    return _Figure(value=np.where(thin, np.nan, value + forgotten), sd=np.sqrt(variance)), full


def _shared_variance(span: Ints, share: Floats, squares: Floats) -> Floats:
    """Variance that errors of single looks bring to a difference between edges lying between them, shape (days,)."""
    before, after = 1.0 - share, share
    squares = np.append(squares, 0.0)
    own = before**2 * squares[span] + after**2 * squares[span + 1]
    a, b = span[:-1], span[1:]
    same = before[:-1] * before[1:] * squares[a] + after[:-1] * after[1:] * squares[a + 1]
    common = np.where(a == b, same, np.where(a + 1 == b, after[:-1] * before[1:] * squares[b], 0.0))
    return np.asarray(np.maximum(own[:-1] + own[1:] - 2.0 * common, 0.0))


def _by_meter(spans: Intervals, edges_d: Floats) -> _Figure:
    """What passed the outlet meter, cut at midnight; unknown on days that it was not read across."""
    read = _Spans(start_d=spans.start_d, end_d=spans.end_d)
    value = read.within_days(spans.change_sm3, edges_d)
    span, share = read.holding(edges_d)
    uneven = (UNEVEN * _taken(spans.change_sm3, span) * share * (1.0 - share)) ** 2
    thin = read.longer_than(LONGEST_SPAN_D).share_of_days(edges_d) > SPARSE_SHARE
    whole = read.share_of_days(edges_d) > 1.0 - 1e-6
    return _Figure(
        value=np.where(whole & ~thin, value, np.nan),
        sd=np.sqrt((METER_SD * value) ** 2 + METER_STEP_SM3**2 + uneven[:-1] + uneven[1:]),
    )


def _joined(
    gauge: _Figure, full: Bools, meter: _Figure, burned: _Figure, *, edges_d: Floats, set_aside: SetAside
) -> DayLedger:
    """One answer a day from gauge and meter: weighed where both know it, the meter alone where the holder was full."""
    has_gauge, has_meter = np.isfinite(gauge.value), np.isfinite(meter.value)
    weights = np.stack([np.where(has_gauge & ~full, gauge.sd, np.inf), np.where(has_meter, meter.sd, np.inf)]) ** -2.0
    total = weights.sum(axis=0)
    exact = total > 0.0
    at_least = has_gauge & full & ~exact
    weighed = (np.nan_to_num([gauge.value, meter.value]) * weights).sum(axis=0) / np.where(exact, total, 1.0)
    least = gauge.value - BOUND_SDS * gauge.sd
    lost = np.where(full & has_meter, np.maximum(meter.value - gauge.value, 0.0), np.where(exact & ~full, 0.0, np.nan))
    lost_sd = np.where(full & has_meter, np.hypot(meter.sd, gauge.sd), lost)
    return DayLedger(
        edges_d=edges_d,
        made_sm3=np.maximum(np.where(exact, weighed, np.where(at_least, least, np.nan)), 0.0),
        made_sd_sm3=np.where(exact, np.where(exact, total, 1.0) ** -0.5, np.nan),
        bound=np.where(exact, EXACT, np.where(at_least, AT_LEAST, MISSING)),
        burned_sm3=burned.value,
        burned_sd_sm3=burned.sd,
        vented_sm3=lost,
        vented_sd_sm3=np.where(np.isfinite(lost), lost_sd, np.nan),
        reason=np.where(exact, "", np.where(at_least, "the holder was full, or nearly", "no two readings near enough")),
        set_aside=set_aside,
    )
