"""The holder walked through time over many sample paths: what is burned, vented, leaked and lacking."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from models.calendar import SECONDS_PER_DAY
from models.errors import Inconsistent, within
from models.meals import Serving
from models.units import ArrayLike, Bools, Floats, Ints

HOUR_D = 1.0 / 24.0
ROUNDING_SM3 = 1e-9  # a thousandth of a millilitre decides nothing


@dataclass(frozen=True, slots=True, kw_only=True)
class Timeline:
    """Steps of a balance and the servings in them: edges shape (steps + 1,) [d], `step_of` shape (servings,)."""

    edges_d: Floats
    servings: tuple[Serving, ...]
    step_of: Ints

    @property
    def steps(self) -> int:
        """Number of steps."""
        return len(self.edges_d) - 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Conditions:
    """What holds for the holder at each step: shapes (paths, steps), (steps,) or scalar. [sm3]

    `reserve_sm3` is gas that is never cooked with, `leaked_sm3` what escapes in the step while there is gas.
    """

    capacity_sm3: ArrayLike
    reserve_sm3: ArrayLike = 0.0
    leaked_sm3: ArrayLike = 0.0

    def __post_init__(self) -> None:
        within("capacity_sm3", self.capacity_sm3, 1e-6, np.inf)
        within("reserve_sm3", self.reserve_sm3, 0.0, np.inf)
        within("leaked_sm3", self.leaked_sm3, 0.0, np.inf)


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """Gas that servings take: `need_sm3` if cooked, and whether each is cooked at all; shapes (paths, servings).

    `begun` says whether a serving is begun on gas that will not carry it whole; left out, it always is.
    """

    need_sm3: Floats
    cooked: Bools
    begun: Bools | None = None

    def first(self, count: int) -> Wanted:
        """What the first servings take."""
        begun = None if self.begun is None else self.begun[:, :count]
        return Wanted(need_sm3=self.need_sm3[:, :count], cooked=self.cooked[:, :count], begun=begun)


@dataclass(frozen=True, slots=True, kw_only=True)
class StorageRun:
    """Gas in the holder and where it went, path by path. All in sm3.

    `level_sm3` (paths, steps + 1) at the edges; `made_sm3`, `vented_sm3` and `leaked_sm3` (paths, steps);
    `burned_sm3`, `shortfall_sm3` (wanted by a serving that is cooked, and not burned) and `on_gas` (the holder carries
    the serving whole, if it is cooked) (paths, servings).
    """

    timeline: Timeline
    conditions: Conditions
    level_sm3: Floats
    made_sm3: Floats
    vented_sm3: Floats
    leaked_sm3: Floats
    wanted: Wanted
    burned_sm3: Floats
    shortfall_sm3: Floats
    on_gas: Bools

    def usable_sm3(self) -> Floats:
        """Gas above the reserve at the edges, shape (paths, steps + 1). [sm3]"""
        return np.asarray(np.maximum(self.level_sm3 - self._at_edges(self.conditions.reserve_sm3), 0.0))

    def room_sm3(self) -> Floats:
        """Gas the holder could still take at the edges, shape (paths, steps + 1). [sm3]"""
        return np.asarray(np.maximum(self._at_edges(self.conditions.capacity_sm3) - self.level_sm3, 0.0))

    def _at_edges(self, of_step: ArrayLike) -> Floats:
        """A figure of steps at their ends, and of the first step at the start."""
        steps = np.broadcast_to(np.asarray(of_step, dtype=float), self.made_sm3.shape)
        return np.concatenate([steps[:, :1], steps], axis=1)

    def without_production(self) -> StorageRun:
        """The same days with no new gas."""
        return run_balance(
            self.timeline,
            start_sm3=self.level_sm3[:, 0],
            made_sm3=np.zeros_like(self.made_sm3),
            wanted=self.wanted,
            conditions=self.conditions,
        )


def starting_between(start_d: float, end_d: float, servings: Sequence[Serving]) -> tuple[Serving, ...]:
    """The servings that start in a span, to the second; one that starts at its end does not. [d]"""
    first_s, last_s = round(start_d * SECONDS_PER_DAY), round(end_d * SECONDS_PER_DAY)
    return tuple(one for one in servings if first_s <= round(one.start_d * SECONDS_PER_DAY) < last_s)


def lay_timeline(
    start_d: float, end_d: float, servings: Sequence[Serving], *, extra_d: ArrayLike = (), step_h: int = 1
) -> Timeline:
    """Hourly steps from `start_d` to `end_d`, cut where servings start and end, and at `extra_d` (midnights). [d]

    Servings that start outside the span are left out. Instants closer than a second count as one. `step_h` makes the
    steps longer: a balance of gas that comes evenly then differs only by the warmth that a step does not see.
    """
    first_s, last_s = round(start_d * SECONDS_PER_DAY), round(end_d * SECONDS_PER_DAY)
    kept = starting_between(start_d, end_d, servings)
    step_d = step_h * HOUR_D
    hours = np.arange(np.ceil(start_d / step_d), np.floor(end_d / step_d) + 1.0) * step_d
    bounds = [moment for one in kept for moment in (one.start_d, one.end_d)]
    instants = np.concatenate([[start_d, end_d], hours, bounds, np.ravel(np.asarray(extra_d, dtype=float))])
    seconds = np.unique(np.rint(instants * SECONDS_PER_DAY))
    seconds = seconds[(seconds >= first_s) & (seconds <= last_s)]
    starts_s = np.rint(np.array([one.start_d for one in kept]) * SECONDS_PER_DAY)
    edges_d, step_of = seconds / SECONDS_PER_DAY, np.searchsorted(seconds, starts_s)
    return Timeline(edges_d=edges_d, servings=kept, step_of=step_of)


def spread(amount: Floats, *, edges_d: Floats, onto_d: Floats) -> Floats:
    """Amounts made between coarse edges, spread evenly onto finer ones.

    Parameters
    ----------
    amount : ndarray, shape (paths, len(edges_d) - 1)
    edges_d, onto_d : ndarray, increasing. [d]
        The grid the amounts are on, and the one wanted; it may stop earlier or later.

    Returns
    -------
    ndarray, shape (paths, len(onto_d) - 1), unit of `amount`; nothing outside the coarse grid.
    """
    inside = np.clip(onto_d, edges_d[0], edges_d[-1])
    step = np.clip(np.searchsorted(edges_d, inside, side="right") - 1, 0, len(edges_d) - 2)
    share = (inside - edges_d[step]) / np.diff(edges_d)[step]
    until = np.cumsum(amount, axis=1)[:, step] - amount[:, step] * (1.0 - share)
    return np.asarray(np.maximum(np.diff(until, axis=1), 0.0))


def run_balance(
    timeline: Timeline, *, start_sm3: ArrayLike, made_sm3: Floats, wanted: Wanted, conditions: Conditions
) -> StorageRun:
    """Walk the holder through the steps of a timeline, all paths at once.

    Parameters
    ----------
    timeline : Timeline
    start_sm3 : array_like, shape (paths,) or scalar. [sm3]
        Gas in the holder at the first edge.
    made_sm3 : ndarray, shape (paths, steps). [sm3]
        Gas made in each step, not negative.
    wanted : Wanted
        What the servings take, shape (paths, servings). [sm3]
    conditions : Conditions

    Returns
    -------
    StorageRun
        On every path start + made = burned + vented + leaked + end, to rounding.

    Raises
    ------
    Inconsistent
        Where the shapes do not belong together.

    Notes
    -----
    Within a step gas is made, leaks, is cooked with and only then vented, so a full holder loses only what the stove
    does not take. A serving takes its gas in the step in which it starts, those of one step in order. Nothing is burned
    below the reserve; what is lacking is the shortfall, and all of it where a serving is not begun.
    """
    made = np.ascontiguousarray(made_sm3.T)
    steps, paths = made.shape
    if steps != timeline.steps or wanted.need_sm3.shape != (paths, len(timeline.servings)):
        raise Inconsistent(
            f"made_sm3 is {made_sm3.shape} and need_sm3 {wanted.need_sm3.shape}, must fit {timeline.steps} steps and "
            f"{len(timeline.servings)} servings",
            field="made_sm3",
        )
    capacity, reserve, leak = (
        np.broadcast_to(np.asarray(figure, dtype=float), (paths, steps)).T
        for figure in (conditions.capacity_sm3, conditions.reserve_sm3, conditions.leaked_sm3)
    )
    need = np.ascontiguousarray(np.where(wanted.cooked, wanted.need_sm3, 0.0).T)
    enough = np.zeros_like(need) if wanted.begun is None else np.where(wanted.begun.T, 0.0, need - ROUNDING_SM3)
    level, leaked, vented = np.empty((steps + 1, paths)), np.empty((steps, paths)), np.empty((steps, paths))
    burned, usable = np.empty_like(need), np.empty_like(need)
    level[0] = start_sm3
    first_of = np.searchsorted(timeline.step_of, np.arange(steps + 1)).tolist()
    for step in range(steps):
        gas = level[step] + made[step]
        np.minimum(leak[step], gas, out=leaked[step])
        gas -= leaked[step]
        for serving in range(first_of[step], first_of[step + 1]):
            np.maximum(gas - reserve[step], 0.0, out=usable[serving])
            np.minimum(need[serving], usable[serving], out=burned[serving])
            burned[serving] *= usable[serving] >= enough[serving]
            gas -= burned[serving]
        np.minimum(gas, capacity[step], out=level[step + 1])
        np.subtract(gas, level[step + 1], out=vented[step])
    return StorageRun(
        timeline=timeline,
        conditions=conditions,
        level_sm3=level.T,
        made_sm3=made_sm3,
        vented_sm3=vented.T,
        leaked_sm3=leaked.T,
        wanted=wanted,
        burned_sm3=burned.T,
        shortfall_sm3=(need - burned).T,
        on_gas=wanted.need_sm3 - usable.T <= ROUNDING_SM3,
    )
