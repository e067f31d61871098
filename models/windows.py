"""When extra cooking fits: hours in which gas carries it and no planned meal of the coming day goes short for it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import time

import numpy as np

from models.calendar import SECONDS_PER_DAY, from_days, local_date
from models.errors import Inconsistent, within
from models.reckoning import Reckoning, is_sure, quantile
from models.units import MINUTES_PER_DAY, Floats

LOOK_AHEAD_D = 1.0
SECOND_D = 1.0 / SECONDS_PER_DAY
STARTS_PER_DAY = 288  # nobody begins at 10:39:34: begin at whole five minutes
ALMOST = 0.5 * STARTS_PER_DAY / SECONDS_PER_DAY  # half a second after them is not after them
BEST = 5
ODDS_DIGITS = 3  # odds are ranked as they are shown
LEAST_ODDS = 0.005  # smaller ones are none
CLOSE = 0.02  # odds this near to the best are as good as the best


@dataclass(frozen=True, slots=True, kw_only=True)
class Extra:
    """Extra cooking: so long at full flame on a burner that takes `flame_sm3_per_h`, shape (paths,) or scalar.

    It may begin from `from_d` to `to_d` [d], on clock times from `earliest` to `latest`, and must end by `latest`, on a
    day on which somebody is at home.
    `burner` names the one it takes, which planned meals may need; None: one that nothing else is cooked on.
    """

    flame_min: float
    flame_sm3_per_h: Floats
    from_d: float
    to_d: float
    earliest: time = time(6)
    latest: time = time(22)
    burner: str | None = None

    def __post_init__(self) -> None:
        within("flame_min", self.flame_min, 1.0, 1440.0)
        if self.latest <= self.earliest:
            raise Inconsistent(
                f"hours is {self.earliest:%H:%M}-{self.latest:%H:%M}, must end later on the same day",
                field="hours",
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """One time to cook: the odds that gas does, and how much of it would have been vented within a day otherwise.

    `sure` says whether the odds are what the care level asks.
    """

    start_d: float
    end_d: float
    probability: float
    sure: bool
    saved_m3: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Windows:
    """The best times for extra cooking.

    Sure ones come first, the soonest before the later; then the others by their odds, of equal odds the soonest.
    `soonest` is the first that is as sure as the care level asks, `surest` the first whose odds come close to the best;
    None where there is none.
    """

    windows: tuple[Window, ...]
    soonest: Window | None
    surest: Window | None
    summary: str


def cooking_windows(told: Reckoning, extra: Extra) -> Windows:
    """Find the best times for extra cooking.

    Parameters
    ----------
    told : Reckoning
    extra : Extra

    Returns
    -------
    Windows

    Notes
    -----
    Extra gas burned at an hour is missing later unless the holder would have vented it in between. So it fits on a path
    if, at every hour of the coming day, the gas above the reserve and what was vented since add up to at least as much.
    Within a step, gas is made, burned and vented evenly.
    """
    run = told.run
    need = np.broadcast_to(extra.flame_min / 60.0 * np.asarray(extra.flame_sm3_per_h), len(run.made_sm3))
    vented = np.concatenate([np.zeros((len(need), 1)), np.cumsum(run.vented_sm3, axis=1)], axis=1)
    spare = run.usable_sm3() + vented
    found = []
    for start_d in _candidates(told, extra):
        edge, until = told.edge(start_d), told.edge(start_d + LOOK_AHEAD_D)
        vented_before, spare_then = (_at(values, told, start_d) for values in (vented, spare))
        least = np.minimum(spare_then, spare[:, edge + 1 : until + 1].min(axis=1))
        probability = float((least - vented_before >= need).mean())
        saved = np.minimum(vented[:, until] - vented_before, need)
        found.append(
            Window(
                start_d=start_d,
                end_d=start_d + extra.flame_min / MINUTES_PER_DAY,
                probability=probability,
                sure=is_sure(probability, told.care_level),
                saved_m3=quantile(saved, 0.5) * float(told.m3_per_sm3[edge]),
            )
        )
    soonest = next((window for window in found if window.sure), None)
    best = max((window.probability for window in found), default=0.0)
    surest = next((window for window in found if window.probability > best - CLOSE), None)
    return Windows(windows=_best(found), soonest=soonest, surest=surest, summary=_summary(told, extra, soonest, surest))


def _at(values: Floats, told: Reckoning, time_d: float) -> Floats:
    """Values at the edges, shape (paths, edges), at a time between them: shape (paths,)."""
    edge = told.edge(time_d)
    first_d, last_d = told.edges_d[edge : edge + 2].tolist()
    share = max(0.0, (time_d - first_d) / (last_d - first_d))
    return np.asarray(values[:, edge] + share * (values[:, edge + 1] - values[:, edge]))


def _candidates(told: Reckoning, extra: Extra) -> list[float]:
    """When the extra cooking may begin: the first whole five minutes at or after an edge. [d]"""
    allowed = []
    length_d, taken = extra.flame_min / MINUTES_PER_DAY, _taken_d(told, extra.burner)
    starts = np.unique(np.ceil(told.edges_d[:-1] * STARTS_PER_DAY - ALMOST)) / STARTS_PER_DAY
    for start_d in starts.tolist():
        if not extra.from_d - SECOND_D < start_d < extra.to_d + SECOND_D:
            continue
        if start_d + length_d > told.edges_d[-1] + SECOND_D:
            continue
        if np.any((taken[:, 0] < start_d + length_d - SECOND_D) & (taken[:, 1] > start_d + SECOND_D)):
            continue
        start, end = (from_days(moment).astimezone(told.zone) for moment in (start_d, start_d + length_d))
        in_hours = extra.earliest <= start.time() and end.time() <= extra.latest and start.date() == end.date()
        if in_hours and start.date() not in told.away:
            allowed.append(start_d)
    return allowed


def _taken_d(told: Reckoning, burner: str | None) -> Floats:
    """From when to when planned meals need a burner, shape (meals, 2). [d]"""
    needs = [
        (one.start_d, one.end_d)
        for one in told.run.timeline.servings
        if one.planned and burner in {dish.burner for dish in one.dishes}
    ]
    return np.array(needs, dtype=float).reshape(-1, 2)


def _best(found: Sequence[Window]) -> tuple[Window, ...]:
    """The best few windows that do not overlap."""

    def rank(window: Window) -> tuple[bool, float, float]:
        odds = 0.0 if window.sure else round(window.probability, ODDS_DIGITS)
        return not window.sure, -odds, window.start_d

    best: list[Window] = []
    for window in sorted(found, key=rank):
        if all(window.end_d <= other.start_d or window.start_d >= other.end_d for other in best):
            best.append(window)
    return tuple(best[:BEST])


def _summary(told: Reckoning, extra: Extra, soonest: Window | None, surest: Window | None) -> str:
    wish = f"{extra.flame_min:.0f} min of extra flame"
    if soonest is not None:
        return f"{wish} can be counted on from {_moment(told, soonest)}."
    if surest is None:
        first, last = (local_date(moment_d, told.zone) for moment_d in (extra.from_d, extra.to_d))
        away = any(first <= day <= last for day in told.away)
        return f"No hour of those allowed is left for {wish}{' on a day when somebody is at home' if away else ''}."
    holds_min = _full_min(told, extra)
    if surest.probability < LEAST_ODDS and extra.flame_min > holds_min:
        return f"{wish} is more than the full holder gives, {int(holds_min)} min; ask for less."
    if surest.probability < LEAST_ODDS:
        return f"{wish} cannot be counted on at any hour of those allowed."
    return f"{wish} cannot be counted on; the best odds, {surest.probability:.0%}, are on {_moment(told, surest)}."


def _full_min(told: Reckoning, extra: Extra) -> float:
    """How long the burner burns at full flame on what a full holder has above its reserve, at its best (median)."""
    conditions = told.run.conditions
    most = np.max(np.asarray(conditions.capacity_sm3) - np.asarray(conditions.reserve_sm3))
    return quantile(60.0 * np.maximum(most, 0.0) / np.asarray(extra.flame_sm3_per_h), 0.5)


def _moment(told: Reckoning, window: Window) -> str:
    return f"{told.plain_date(window.start_d)}, {from_days(window.start_d).astimezone(told.zone):%H:%M}"
