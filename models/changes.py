"""Why a budget is another one than before: its inputs exchanged one after another, and what each exchange moves."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Literal

import numpy as np

from models.budget import gas_budget
from models.outlook import Outlook

Why = Literal["time", "readings", "weather", "meals", "fit", "description", "chance"]
ORDER: tuple[Why, ...] = ("time", "readings", "weather", "meals", "fit", "description")
"""In this order the inputs of the budget before are exchanged for the new ones, each on top of those before it."""
SETS_OF_PATHS = 8
"""A budget is the mean over so many sets of sample paths, the same for each exchange: else chance would move it too."""
TENTHS_PER_M3 = 10_000.0  # of a litre


@dataclass(frozen=True, slots=True, kw_only=True)
class Share:
    """What one exchange moved the budget by; None where it makes sense only together with the next. [L]"""

    why: Why
    litres: float | None


def steady_budget_m3(outlooks: Sequence[Outlook], day: date) -> float | None:
    """A day's budget, the mean over sets of sample paths; None where the gauge was never read. [m3]"""
    told = [one.told for one in outlooks if one.told is not None]
    if len(told) < len(outlooks):
        return None
    return float(np.mean([gas_budget(one, day, backup=outlooks[0].household.backup).budget_m3 for one in told]))


def shares(
    exchanged: Sequence[tuple[Why, float | None]],
    *,
    before_m3: float,
    issued_m3: tuple[float, float],
) -> tuple[Share, ...]:
    """What each exchange moved the budget by, to a tenth of a litre.

    Parameters
    ----------
    exchanged : sequence of (why, budget)
        The budget after each exchange in turn, the last with everything new; None where it could not be told. [m3]
    before_m3 : float
        The budget with everything as it was. [m3]
    issued_m3 : tuple of float
        The budgets as they were issued, before and now, each read off a single set of sample paths. [m3]

    Returns
    -------
    tuple of Share
        Their litres add up exactly to the difference of the budgets issued; the last, `chance`, is what those owe to
        the set of paths they were read off.
    """
    found: list[Share] = []
    at = _tenths(before_m3)
    for why, budget_m3 in exchanged:
        if budget_m3 is None:
            found.append(Share(why=why, litres=None))
            continue
        found.append(Share(why=why, litres=(_tenths(budget_m3) - at) / 10.0))
        at = _tenths(budget_m3)
    issued = _tenths(issued_m3[1]) - _tenths(issued_m3[0])
    chance = issued - (at - _tenths(before_m3))
    return (*found, Share(why="chance", litres=chance / 10.0))


def change_l(before_m3: float, now_m3: float) -> float:
    """Difference of two budgets, to a tenth of a litre. [L]"""
    return (_tenths(now_m3) - _tenths(before_m3)) / 10.0


def _tenths(volume_m3: float) -> int:
    return round(volume_m3 * TENTHS_PER_M3)
