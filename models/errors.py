"""Everything a model can refuse, and the range check that refuses most of it.

ModelError
├── OutOfRange          a figure outside the physics or outside what a formula was fitted for
├── Inconsistent        figures that are each possible but contradict one another
├── NotEnoughReadings   the log cannot answer this yet
└── FitFailed           an estimation ended without a usable optimum
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from models.units import Floats


class ModelError(Exception):
    """A question the models refuse to answer; `field` names the input to change, where one is to blame."""

    def __init__(self, message: str, *, field: str | None = None) -> None:
        super().__init__(message)
        self.field = field


class OutOfRange(ModelError):
    """A figure outside the range in which a formula holds."""


class Inconsistent(ModelError):
    """Figures that are each possible but contradict one another."""


class NotEnoughReadings(ModelError):
    """The log is too short, or too gappy, for this answer."""


class FitFailed(ModelError):
    """An estimation that ended without a usable optimum."""


def within(name: str, value: npt.ArrayLike, low: float, high: float) -> Floats:
    """Values as a float array, refused when any lies outside `low` to `high`; NaN passes.

    Parameters
    ----------
    name : str
        Field name for the message, with its unit (`temperature_c`).
    value : array_like
        Of any shape, in the unit of the name. [-], any
    low, high : float
        Ends of the range, both allowed. [-], any, infinite where there is none

    Returns
    -------
    ndarray of float, shape of `value`. [-]

    Raises
    ------
    OutOfRange
        Naming the field, the first offending value and the range.
    """
    values = np.asarray(value, dtype=float)
    outside = (values < low) | (values > high)
    if outside.any():
        first = float(values[outside].flat[0]) if values.ndim else float(values)
        raise OutOfRange(f"{name} is {first:g}, must be {low:g} to {high:g}", field=name)
    return values
