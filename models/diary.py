"""The cooking log beside the plan: which entry tells of which meal."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from models.log import Readings
from models.meals import Serving
from models.stove import Stove, gas_of_cooking, planned_use, typical
from models.units import Bools, Floats, Ints

NEAR_D = 0.1  # an unnamed entry this close to a serving is that serving
SAME_MEAL_D = 0.5  # one that names the meal may be further off
MOSTLY_COOKED = 0.6  # of a planned meal in the log: what remains of it is not expected any more
TINY_SM3 = 1e-9
SMALLEST_SHARE = 0.25  # an unnamed entry below this share of a serving is a tea before it


def serving_of(cooking: Readings, used_sm3: Floats, asked: Sequence[Serving], planned_sm3: Floats) -> Ints:
    """Serving that each entry of the cooking log tells of.

    Parameters
    ----------
    cooking : Readings
    used_sm3 : ndarray, shape of `cooking`. [sm3]
    asked : sequence of Serving, sorted by start
    planned_sm3 : ndarray, shape (servings,). [sm3]
        What they are planned to take.

    Returns
    -------
    ndarray, shape of `cooking`
        Index of the serving, -1 for use outside the plan.
    """
    starts_d = np.array([serving.start_d for serving in asked])
    names = np.array([serving.meal for serving in asked], dtype=np.str_)
    found = np.full(len(cooking), -1)
    for meal in np.unique(cooking.meal):
        rows = np.flatnonzero(cooking.meal == meal)
        own = np.flatnonzero(names == meal) if meal else np.arange(len(asked))
        if len(own):
            gap_d, nearest = _nearest(cooking.time_d[rows], starts_d[own])
            found[rows] = np.where(gap_d <= (SAME_MEAL_D if meal else NEAR_D), own[nearest], -1)
    total = np.bincount(found[found >= 0], weights=used_sm3[found >= 0], minlength=len(asked))
    small = (cooking.meal == "") & (found >= 0)
    small[small] = total[found[small]] < SMALLEST_SHARE * planned_sm3[found[small]]
    return np.where(small, -1, found)


def not_yet_logged(asked: Sequence[Serving], cooking: Readings, stove: Stove) -> tuple[Serving, ...]:
    """Those of some servings, sorted by start, that the cooking log does not tell of already.

    A dinner that was cooked early and written down is not to be expected once more at its usual hour; a cup of tea
    shortly before leaves it due. One that is written down with no minutes was not cooked.
    """
    share = logged_share(asked, cooking, stove)
    return tuple(one for one, told in zip(asked, share.tolist(), strict=True) if told < MOSTLY_COOKED)


def logged_share(asked: Sequence[Serving], cooking: Readings, stove: Stove) -> Floats:
    """Logged over planned gas of servings sorted by start, infinite where the log says that they were not cooked."""
    if not asked:
        return np.empty(0)
    lately = cooking.between(asked[0].start_d - SAME_MEAL_D, asked[-1].start_d + SAME_MEAL_D)
    planned_sm3 = planned_use(asked, typical(stove)).sm3[0]
    skipped = not_cooked(asked, planned_sm3, lately)
    lately = lately.select(lately.value > 0.0)
    used_sm3 = gas_of_cooking(lately, stove)
    found = serving_of(lately, used_sm3, asked, planned_sm3)
    told_sm3 = np.bincount(found[found >= 0], weights=used_sm3[found >= 0], minlength=len(asked))
    return np.where(skipped, np.inf, told_sm3 / np.maximum(planned_sm3, TINY_SM3))


def not_cooked(asked: Sequence[Serving], planned_sm3: Floats, cooking: Readings) -> Bools:
    """Which of some servings, sorted by start, the cooking log names with no minutes at all, shape (servings,)."""
    nothing = cooking.select(cooking.value == 0.0)
    found = serving_of(nothing, nothing.value, asked, planned_sm3) if len(nothing) else np.empty(0, dtype=np.intp)
    return np.isin(np.arange(len(asked)), found)


def _nearest(time_d: Floats, sorted_d: Floats) -> tuple[Floats, Ints]:
    """Distance to, and index of, the nearest of some sorted instants. [d]"""
    after = np.clip(np.searchsorted(sorted_d, time_d), 0, len(sorted_d) - 1)
    before = np.maximum(after - 1, 0)
    nearest = np.where(np.abs(time_d - sorted_d[before]) <= np.abs(sorted_d[after] - time_d), before, after)
    return np.abs(time_d - sorted_d[nearest]), nearest
