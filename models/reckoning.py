"""A balance with what it takes to tell it to a cook: units, care, quantiles of paths, and verdicts that hold still."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Literal
from zoneinfo import ZoneInfo

import numpy as np

from models.calendar import local_date, midnight
from models.errors import OutOfRange, within
from models.meals import Serving
from models.storage import StorageRun
from models.units import Bools, Floats, Ints

Verdict = Literal["gas", "tight", "backup"]
MARGIN = 0.03  # odds must pass their limit by this much before what was said turns

LONGEST_SUMMARY = 200  # characters
MOST_NAMED = 2  # meals in one sentence; more are counted

WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
MONTHS: tuple[str, ...] = ("", "January", "February", "March", "April", "May", "June")
MONTHS += ("July", "August", "September", "October", "November", "December")


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """What was last said of a household, so that it turns only past a margin.

    `covered` by day, `verdicts` of meals and whether each `lacks` gas by its name and start [d], `times_d` of events by
    name and quantile, infinite where it was said that they do not come. [d]
    """

    covered: Mapping[date, bool] = field(default_factory=dict)
    verdicts: Mapping[tuple[str, float], Verdict] = field(default_factory=dict)
    lacks: Mapping[tuple[str, float], bool] = field(default_factory=dict)
    times_d: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Reckoning:
    """A balance, and how to tell it.

    `m3_per_sm3` turns standard gas into what the gauge shows, at the edges, shape (steps + 1,). `mj_per_sm3` is the net
    heat of the gas and `flame_sm3_per_h` what the main burner takes at full flame, by path, shape (paths,) or scalar.
    `efficiency` is the share of the gas's heat that reaches the pans, shape (servings,) or scalar. `care_level` is
    the quantile that decisions are made on: 0.1 means right nine times in ten. `before` is what was last said.
    `assumed` are meals before the start that the level counts as they usually are, in order: the log does not tell of
    them, or (`overstated`) its minutes cannot be right. `away` are the household's days on which nobody is at home.
    """

    run: StorageRun
    zone: ZoneInfo
    m3_per_sm3: Floats
    mj_per_sm3: Floats
    flame_sm3_per_h: Floats
    efficiency: Floats
    care_level: float = 0.1
    before: Said = field(default_factory=Said)
    assumed: tuple[Serving, ...] = ()
    away: frozenset[date] = frozenset()

    def __post_init__(self) -> None:
        within("care_level", self.care_level, 0.01, 0.5)

    @property
    def edges_d(self) -> Floats:
        """Edges of the steps. [d]"""
        return self.run.timeline.edges_d

    def edge(self, time_d: float) -> int:
        """Index of the last edge not later than a time, to half a second."""
        return int(np.searchsorted(self.edges_d, time_d + 0.5 / 86_400.0, side="right")) - 1

    def days(self) -> list[date]:
        """The household's days that the balance runs through; the first may have begun before it."""
        first, last = local_date(self.edges_d[0], self.zone), local_date(self.edges_d[-1] - 1e-4, self.zone)
        return [date.fromordinal(k) for k in range(first.toordinal(), last.toordinal() + 1)]

    def at_home_by(self, day: date) -> date | None:
        """The last day of the balance, not after this one, on which somebody is at home; None where there is none."""
        return max((one for one in self.days() if one <= day and one not in self.away), default=None)

    def span(self, day: date) -> tuple[int, int]:
        """Edges at which a day starts and ends; a day already begun starts now.

        Raises
        ------
        OutOfRange
            A day of which the balance knows nothing, on field `date`.
        """
        days = self.days()
        if day not in days:
            raise OutOfRange(f"date is {day}, must be {days[0]} to {days[-1]}", field="date")
        start_d, end_d = midnight(day, self.zone), midnight(date.fromordinal(day.toordinal() + 1), self.zone)
        return max(self.edge(start_d), 0), self.edge(end_d)

    def day_of(self, time_d: float | None) -> date | None:
        """The household's date at a time; None stays None."""
        return None if time_d is None else local_date(time_d, self.zone)

    def plain_date(self, time_d: float) -> str:
        """A time's date in words, such as "Friday 4 December"."""
        return in_words(local_date(time_d, self.zone))

    def within_steps(self, first: int, last: int) -> Bools:
        """Which servings start in the steps from edge `first` to edge `last`, shape (servings,)."""
        step_of = self.run.timeline.step_of
        return np.asarray((step_of >= first) & (step_of < last))

    def planned(self) -> Bools:
        """Which servings are meals of the plan, shape (servings,)."""
        return np.array([serving.planned for serving in self.run.timeline.servings], dtype=bool)

    def lacks(self) -> Bools:
        """Which planned meals are cooked and not carried whole by gas, shape (paths, servings)."""
        return np.asarray(self.run.wanted.cooked & ~self.run.on_gas & self.planned())

    def lacks_d(self) -> Floats:
        """Start of the first planned meal cooked that gas does not carry whole, by path; infinite where none. [d]"""
        return self.first_time_d(self.lacks(), self.starts_d())

    def starts_d(self) -> Floats:
        """When servings start, shape (servings,). [d]"""
        return np.array([serving.start_d for serving in self.run.timeline.servings])

    def level_m3(self, edge: int, q: float) -> float:
        """Quantile of the gas in the holder at an edge, as the gauge would show it. [m3]"""
        return quantile(self.run.level_sm3[:, edge], q) * float(self.m3_per_sm3[edge])

    def reserve_m3(self, edge: int) -> float:
        """Gas that is never cooked with, as the gauge would show it at an edge. [m3]"""
        steps = self.run.made_sm3.shape
        reserve = np.broadcast_to(np.asarray(self.run.conditions.reserve_sm3, dtype=float), steps)
        return float(reserve[0, min(edge, steps[1] - 1)] * self.m3_per_sm3[edge])

    def vented_m3(self, first: int, last: int) -> Floats:
        """Gas vented between two edges, as the gauge would show it, shape (paths,). [m3]"""
        return np.asarray(self.run.vented_sm3[:, first:last] @ self.m3_per_sm3[first:last])

    def first_time_d(self, happens: Bools, time_d: Floats) -> Floats:
        """Time of the first event on each path, infinite where none happens, shape (paths,). [d]

        `happens` has shape (paths, events), `time_d` (events,) in rising order.
        """
        if not happens.shape[1]:
            return np.full(happens.shape[0], np.inf)
        first: Ints = happens.argmax(axis=1)
        return np.where(happens.any(axis=1), time_d[first], np.inf)

    def when_d(self, event: str, time_d: Floats, q: float) -> float | None:
        """Quantile over paths of when an event comes, None where it does not; holds to what was said of it. [d]"""
        return time_quantile(time_d, q, before=self.before.times_d.get(event_name(event, q)))


def event_name(event: str, q: float) -> str:
    """Under what name it is remembered when an event comes, at a quantile."""
    return f"{event}@{q:g}"


def in_words(day: date) -> str:
    """A date as a cook says it, such as "Friday 4 December"."""
    return f"{WEEKDAYS[day.weekday()]} {day.day} {MONTHS[day.month]}"


def coming(days: float) -> str:
    """A number of days from now on as a cook says it, such as "the next 14 days"."""
    return "the next day" if round(days) == 1 else f"the next {days:.0f} days"


def fitting(told: Sequence[str], longest: int = LONGEST_SUMMARY) -> str:
    """The first of some wordings that is not too long, else the last."""
    return next((one for one in told if len(one) <= longest), told[-1])


def quantile(values: Floats, q: float) -> float:
    """Quantile over paths of a finite amount."""
    return float(np.quantile(values, q))


def margin_of(limit: float) -> float:
    """How far odds must pass a limit before what was said turns, and never more than halfway to certainty."""
    return min(MARGIN, 0.5 * limit, 0.5 * (1.0 - limit))


def time_quantile(values: Floats, q: float, *, before: float | None = None) -> float | None:
    """Quantile over paths of a time that may never come (infinite): None where it does not come by then.

    A time said `before` (infinite: never) stands as long as it is one of the times and a quantile within the margin of
    `q`: then no more paths than that have changed sides since it was said.
    """
    margin = 0.0 if before is None else margin_of(q)
    early, found, late = np.quantile(values, [q - margin, q, q + margin], method="lower")
    if before is not None and early <= before <= late and np.any(values == before):
        found = before
    return float(found) if np.isfinite(found) else None


def is_sure(probability: float, care_level: float, *, before: bool | None = None) -> bool:
    """Whether a probability is high enough to promise something.

    A promise made `before` is kept until the probability falls clearly below the limit, one refused is made only when
    it rises clearly above it, so that two readings that say the same do not turn it.
    """
    margin = margin_of(care_level)
    shift = 0.0 if before is None else (-margin if before else margin)
    return probability >= 1.0 - care_level + shift


def verdict(probability: float, care_level: float, *, before: Verdict | None = None) -> Verdict:
    """What to count on for a meal, from the odds that gas carries it whole: `tight` is neither sure nor unlikely."""
    if is_sure(probability, care_level, before=None if before is None else before == "gas"):
        return "gas"
    likely = is_sure(probability, 0.5, before=None if before is None else before != "backup")
    return "tight" if likely else "backup"
