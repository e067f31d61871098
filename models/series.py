"""The forecast as a series: gas wanted, held and vented between edges, as quantiles of paths."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from models.errors import within
from models.reckoning import Reckoning
from models.units import ArrayLike, Floats, Ints


@dataclass(frozen=True, slots=True, kw_only=True)
class Series:
    """Quantiles by `levels` (levels,) between `edges_d` (points + 1,) [d]; every other array (levels, points).

    `backup_probability` (points,) are the odds that a planned meal of the point lacks gas.
    """

    levels: tuple[float, ...]
    edges_d: Floats
    need_mj: Floats
    holder_end_m3: Floats
    vented_m3: Floats
    backup_probability: Floats


def series(told: Reckoning, edges_d: ArrayLike, *, levels: Sequence[float] = (0.1, 0.5, 0.9)) -> Series:
    """Sum a balance up between edges of its timeline and take quantiles over the paths.

    Parameters
    ----------
    told : Reckoning
    edges_d : array_like, increasing. [d]
        Each is moved to the timeline's edge before it.
    levels : sequence of float, 0 to 1

    Returns
    -------
    Series

    Raises
    ------
    OutOfRange
        A level outside 0 to 1.
    """
    within("levels", levels, 0.0, 1.0)
    run = told.run
    edges: Ints = np.unique([max(told.edge(float(moment)), 0) for moment in np.asarray(edges_d, dtype=float)])
    net_mj = np.broadcast_to(told.mj_per_sm3, len(run.made_sm3))[:, None]
    point_of = np.searchsorted(edges, run.timeline.step_of, side="right") - 1
    wanted = _by_point(run.wanted.need_sm3 * run.wanted.cooked, point_of, len(edges) - 1)
    lacks = _by_point(told.lacks().astype(float), point_of, len(edges) - 1)

    def quantiles(values: Floats) -> Floats:
        return np.asarray(np.quantile(values, list(levels), axis=0))

    return Series(
        levels=tuple(levels),
        edges_d=told.edges_d[edges],
        need_mj=quantiles(wanted * net_mj),
        holder_end_m3=quantiles(run.level_sm3[:, edges[1:]] * told.m3_per_sm3[edges[1:]]),
        vented_m3=quantiles(_summed(run.vented_sm3 * told.m3_per_sm3[1:], edges)),
        backup_probability=np.asarray((lacks > 0.0).mean(axis=0)),
    )


def _summed(steps: Floats, edges: Ints) -> Floats:
    """Amounts of steps summed between edges, shape (paths, points)."""
    total = np.concatenate([np.zeros((len(steps), 1)), np.cumsum(steps, axis=1)], axis=1)[:, edges]
    return np.asarray(np.maximum(np.diff(total, axis=1), 0.0))


def _by_point(amount: Floats, point_of: Ints, points: int) -> Floats:
    """Amounts of servings summed by the point they start in, shape (paths, points)."""
    member = (point_of[:, None] == np.arange(points)).astype(float)
    return np.asarray(amount @ member)
