"""Meals that were probably cooked and not written down: the level tells, where the habit says one was due."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt
from scipy.signal import convolve

from models.ledger import NOTHING
from models.log import Readings
from models.production.parameters import Parameters
from models.production.record import Balance, Record
from models.production.statespace import Rows, blanked, noise_var, run_smoother
from models.units import Bools, Floats

WEEKS_ROUND = 5  # each side: a habit is what was done on most of these same weekdays
HABIT_SHARE = 0.5
HOURS_ALIKE = 4.0  # cooking that names no meal belongs together within these hours of the day
ODDS_PSEUDO = 5.0  # missed servings that the even odds of forgotten and skipped are worth
MOST_TOGETHER = 4  # servings missing from one interval that are still told apart
SERVING_SPREAD = 0.3
ODDS_ROUNDS = 4
REMEMBERING_ROUNDS = 2

Places = npt.NDArray[np.intp]


@dataclass(frozen=True, slots=True, kw_only=True)
class Missed:
    """Servings that were due by habit and are not in the log: the row each falls in, and the gas it takes. [sm3]"""

    row: Places
    use_sm3: Floats


def _keys(cooking: Readings, local_hour: Floats) -> npt.NDArray[np.str_]:
    buckets = (local_hour // HOURS_ALIKE).astype(int).astype(np.str_)
    return np.where(cooking.meal != "", cooking.meal, np.char.add("at ", buckets))


def _around(by_day: Floats) -> Floats:
    """Sum over the same weekday of the weeks around each day, the day itself left out, shape of `by_day`."""
    window = np.zeros(14 * WEEKS_ROUND + 1)
    window[::7] = 1.0
    window[7 * WEEKS_ROUND] = 0.0
    return np.asarray(convolve(by_day, window, mode="full")[7 * WEEKS_ROUND : 7 * WEEKS_ROUND + len(by_day)])


def _alive(known: Record) -> Floats:
    """1 on days on which somebody cooked or looked at the gauge, else 0: nobody home forgets nothing.

    A sensor looks at the gauge on days away, too.
    """
    days = np.zeros(len(known.air_c))
    for quantity in ("cooking", "holder_level"):
        day = known.day_of(known.log.of(quantity).time_d)
        days[day[day >= 0]] = 1.0
    return np.where(known.away(known.day0, len(days)), 0.0, days)


def _told_uncooked(known: Record, meal: str) -> Bools:
    """Days on which the log itself says that a meal was not cooked: named, with no minutes."""
    cooking = known.log.of("cooking")
    day = known.day_of(cooking.time_d[(cooking.meal == meal) & (cooking.value == 0.0)])
    told = np.zeros(len(known.air_c), dtype=bool)
    told[day[day >= 0]] = True
    return told


def missed_servings(known: Record, found: Balance) -> Missed:
    """Servings that habit expected and the log does not hold.

    A habit is a meal (or an hour, where meals have no name) that was logged on most of the same weekdays around.
    """
    cooking, cooked = found.cooking, found.cooked
    if known.stove_metered:
        cooking, cooked = Readings(), NOTHING  # the meter forgets nothing
    day = known.day_of(cooked.start_d)
    hour = (cooked.start_d - known.edges_d[np.maximum(day, 0)]) * 24.0
    names = _keys(cooking, hour) if len(cooking) else np.empty(0, dtype=np.str_)
    alive = _alive(known)
    time_d, use = [np.empty(0)], [np.empty(0)]
    for name in np.unique(names[day >= 0]).tolist():
        mine = (names == name) & (day >= 0)
        logged = np.zeros(len(alive))
        logged[day[mine]] = 1.0
        usual = _around(logged) / np.maximum(_around(alive), 1.0)
        due = (usual >= HABIT_SHARE) & (logged == 0.0) & (alive > 0.0) & (_around(logged) >= 2.0)
        due &= ~_told_uncooked(known, name)
        time_d.append(known.edges_d[:-1][due] + float(np.median(hour[mine])) / 24.0)
        use.append(np.full(int(due.sum()), float(np.median(cooked.used_sm3[mine]))))
    return _placed(found, np.concatenate(time_d), np.concatenate(use))


def _placed(found: Balance, time_d: Floats, use_sm3: Floats) -> Missed:
    spans = found.intervals
    gauge = np.flatnonzero(~spans.outlet)
    if not len(gauge):
        return Missed(row=np.empty(0, dtype=np.intp), use_sm3=np.empty(0))
    place = np.searchsorted(spans.start_d[gauge], time_d, side="right") - 1
    inside = (place >= 0) & (time_d < spans.end_d[gauge][place])
    return Missed(row=gauge[place[inside]], use_sm3=use_sm3[inside])


@dataclass(frozen=True, slots=True, kw_only=True)
class Forgotten:
    """Gas that was burned without a word in each row, expected and variance, shape (rows,). [sm3, sm3²]"""

    use_sm3: Floats
    var: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class _Cases:
    """Rows that miss as many servings each: `row` and what its balance is off by, `gap_sm3` and `var`, (rows,).

    `count` (combinations,) says how many of the servings were cooked, `gas_sm3` (rows, combinations) what that took.
    """

    row: Places
    gap_sm3: Floats
    var: Floats
    count: Floats
    gas_sm3: Floats

    def weights(self, odds: float) -> Floats:
        """Probability of every combination of missed servings having been cooked, shape (rows, combinations)."""
        log_weight = self.count * np.log(odds) + (self.count.max() - self.count) * np.log1p(-odds)
        spread = self.var[:, None] + (SERVING_SPREAD * self.gas_sm3) ** 2
        log_weight = log_weight - 0.5 * (self.gap_sm3[:, None] + self.gas_sm3) ** 2 / spread - 0.5 * np.log(spread)
        weight = np.exp(log_weight - log_weight.max(axis=1, keepdims=True))
        return np.asarray(weight / weight.sum(axis=1, keepdims=True))


def _cases(missed: Missed, gap_sm3: Floats, var: Floats) -> list[_Cases]:
    """The rows whose servings can be told apart, by how many they miss."""
    order = np.argsort(missed.row, kind="stable")
    row, first, counts = np.unique(missed.row[order], return_index=True, return_counts=True)
    found = []
    for count in range(1, MOST_TOGETHER + 1):
        mine = (counts == count) & np.isfinite(gap_sm3[row])
        which = ((np.arange(2**count)[:, None] >> np.arange(count)) & 1).astype(float)
        servings = missed.use_sm3[order][first[mine, None] + np.arange(count)]
        one = _Cases(
            row=row[mine],
            gap_sm3=gap_sm3[row[mine]],
            var=var[row[mine]],
            count=which.sum(axis=1),
            gas_sm3=servings @ which.T,
        )
        found.append(one)
    return found


def forgotten(rows: Rows, missed: Missed, others_sm3: Floats, others_var: Floats) -> Forgotten:
    """Weigh for every missed serving whether it was skipped, or cooked and not written down.

    Parameters
    ----------
    rows : Rows
        Balances at their word.
    missed : Missed
    others_sm3, others_var : ndarray
        Each row's balance as all other rows foretell it, and its variance with the row's own noise. [sm3, sm3²]
    """
    cases = _cases(missed, rows.made_sm3 - others_sm3, others_var)
    odds = _odds_of_forgetting(cases)
    total, squares = (np.bincount(missed.row, gas, len(rows)) for gas in (missed.use_sm3, missed.use_sm3**2))
    many = np.bincount(missed.row, minlength=len(rows)) > MOST_TOGETHER
    use, var = np.where(many, odds * total, 0.0), np.where(many, odds * (1.0 - odds) * squares, 0.0)
    for case in cases:
        weight = case.weights(odds)
        use[case.row] = np.sum(weight * case.gas_sm3, axis=1)
        spread = (case.gas_sm3 - use[case.row][:, None]) ** 2 + (SERVING_SPREAD * case.gas_sm3) ** 2
        var[case.row] = np.sum(weight * spread, axis=1)
    return Forgotten(use_sm3=use, var=var)


def _odds_of_forgetting(cases: list[_Cases]) -> float:
    """Share of the missed servings that were cooked after all, by expectation and maximisation from even odds."""
    odds = 0.5
    total = sum(len(case.row) * case.count.max() for case in cases)
    for _ in range(ODDS_ROUNDS):
        cooked = sum(float(np.sum(case.weights(odds) @ case.count)) for case in cases)
        odds = (cooked + ODDS_PSEUDO) / (total + 2.0 * ODDS_PSEUDO)
    return odds


def with_forgotten(rows: Rows, found: Forgotten) -> Rows:
    """The rows with the gas of unwritten meals added to their balance."""
    return replace(rows, made_sm3=rows.made_sm3 + found.use_sm3, error_var=rows.error_var + found.var)


def remembered(rows: Rows, forced: Bools, missed: Missed, expected_sm3: Floats, parameters: Parameters) -> Rows:
    """The rows with the meals that were cooked and not written down put back; those `forced` to be bounds tell nothing.

    What the others foretell of a row is too little while they lack such meals themselves: so it is done twice.
    """
    plain, found = blanked(rows, forced), rows
    for _ in range(REMEMBERING_ROUNDS):
        seen = run_smoother(blanked(found, forced), expected_sm3, parameters)
        var = seen.others_var + noise_var(plain, expected_sm3, parameters)
        found = with_forgotten(rows, forgotten(plain, missed, seen.others_sm3, var))
    return found
