"""The last fortnight of a log in the forms that its checks need, and what they find."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from models.household import Household
from models.ledger import GasUse, SetAside, used_between
from models.log import Log, Readings
from models.meals import Serving
from models.reckoning import LONGEST_SUMMARY
from models.units import Bools, Floats

WINDOW_D = 14.0
CLEAR_ERRORS = 3.0  # gauge errors by which a difference between two looks is no accident


@dataclass(frozen=True, slots=True, kw_only=True)
class LogWarning:
    """Something in the log that cannot be right.

    `since_d` is when it began [d]; `message` says what is seen and `look_first` what to look at first, each in at most
    200 characters.
    """

    code: str
    since_d: float
    message: str
    look_first: str

    def __post_init__(self) -> None:
        for name in ("message", "look_first"):
            if len(getattr(self, name)) > LONGEST_SUMMARY:
                raise ValueError(
                    f"{name} has {len(getattr(self, name))} characters, must have at most {LONGEST_SUMMARY}"
                )


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """The log of the last fortnight, in the forms that the checks need.

    `use` is what is believed of the cooking, `slips_d` are the moments of entries whose minutes are not [d],
    `doubted_looks` the ids of looks at the gauge that are not, with the reason.
    """

    household: Household
    log: Log
    planned: Sequence[Serving]
    as_of_d: float
    looks: Readings
    level_sm3: Floats
    error_sm3: Floats
    use: GasUse
    slips_d: Floats
    doubted_looks: SetAside

    @property
    def burned_sm3(self) -> Floats:
        """Gas burned by the log between successive looks."""
        return used_between(self.use, self.looks.time_d) if len(self.looks) > 1 else np.empty(0)

    @property
    def fallen_sm3(self) -> Floats:
        """Clear falls of the level between successive looks, 0 where there was none."""
        fall = -np.diff(self.level_sm3)
        return np.where(fall > CLEAR_ERRORS * np.hypot(self.error_sm3[1:], self.error_sm3[:-1]), fall, 0.0)


def run_to_the_end(holds: Bools) -> int:
    """Where the run of True begins that reaches the end; the length where the last is False."""
    fails = np.flatnonzero(~holds)
    return int(fails[-1]) + 1 if len(fails) else 0
