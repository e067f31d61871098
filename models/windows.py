"""When extra cooking fits: hours in which gas carries it and no planned meal of the coming day goes short for it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import time

import numpy as np

from models.calendar import SECONDS_PER_DAY, from_days
from models.errors import Inconsistent, within
from models.reckoning import Reckoning, is_sure, quantile
from models.units import MINUTES_PER_DAY, Floats

LOOK_AHEAD_D = 1.0
SECOND_D = 1.0 / SECONDS_PER_DAY
BEST = 5
CLOSE = 0.02  # probabilities nearer than this count as equal when windows are ranked


@dataclass(frozen=True, slots=True, kw_only=True)
class Extra:
    """Extra cooking: so long at full flame on a burner that takes `flame_sm3_per_h`, shape (paths,) or scalar.

    It may begin from `from_d` to `to_d` [d], on clock times from `earliest` to `latest`, and must end by `latest`.
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
    """The best times for extra cooking: sure ones first, of those the ones that save most gas, then the soonest.

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
    """
    run, edges_d = told.run, told.edges_d
    need = np.broadcast_to(extra.flame_min / 60.0 * np.asarray(extra.flame_sm3_per_h), len(run.made_sm3))
    vented = np.concatenate([np.zeros((len(need), 1)), np.cumsum(run.vented_sm3, axis=1)], axis=1)
    spare = run.usable_sm3() + vented
    found = []
    for edge in _candidates(told, extra):
        until = told.edge(float(edges_d[edge]) + LOOK_AHEAD_D)
        fits = spare[:, edge : until + 1].min(axis=1) - vented[:, edge] >= need
        saved, probability = np.minimum(vented[:, until] - vented[:, edge], need), float(fits.mean())
        found.append(
            Window(
                start_d=float(edges_d[edge]),
                end_d=float(edges_d[edge]) + extra.flame_min / MINUTES_PER_DAY,
                probability=probability,
                sure=is_sure(probability, told.care_level),
                saved_m3=quantile(saved, 0.5) * float(told.m3_per_sm3[edge]),
            )
        )
    soonest = next((window for window in found if window.sure), None)
    best = max((window.probability for window in found), default=0.0)
    surest = next((window for window in found if window.probability > best - CLOSE), None)
    return Windows(windows=_best(found), soonest=soonest, surest=surest, summary=_summary(told, extra, soonest, surest))


def _candidates(told: Reckoning, extra: Extra) -> list[int]:
    """Edges at which the extra cooking may begin."""
    allowed = []
    length_d, taken = extra.flame_min / MINUTES_PER_DAY, _taken_d(told, extra.burner)
    for edge, start_d in enumerate(told.edges_d[:-1].tolist()):
        if not extra.from_d <= start_d <= extra.to_d or start_d + length_d > told.edges_d[-1]:
            continue
        if np.any((taken[:, 0] < start_d + length_d - SECOND_D) & (taken[:, 1] > start_d + SECOND_D)):
            continue
        start, end = (from_days(moment).astimezone(told.zone) for moment in (start_d, start_d + length_d))
        if extra.earliest <= start.time() and end.time() <= extra.latest and start.date() == end.date():
            allowed.append(edge)
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

    def rank(window: Window) -> tuple[bool, float, float, float]:
        odds = 0.0 if window.sure else round(window.probability / CLOSE)
        return not window.sure, -odds, -round(window.saved_m3, 2), window.start_d

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
        return f"No hour of those allowed is left for {wish}."
    return f"{wish} cannot be counted on; the best odds, {surest.probability:.0%}, are on {_moment(told, surest)}."


def _moment(told: Reckoning, window: Window) -> str:
    return f"{told.plain_date(window.start_d)}, {from_days(window.start_d).astimezone(told.zone):%H:%M}"
