"""Boil tests: what minutes to the boil say of a burner's heat, and how surely."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy.optimize import brentq

from models.boiling import Flame, boil
from models.burner import Burner
from models.errors import Inconsistent, NotEnoughReadings, within
from models.pan import Kitchen, Pan
from models.units import ArrayLike, Floats

BURNER_SD = 0.20  # of a described burner's useful heat, as a log; common practice, no source
ONE_TEST_SD = 0.08  # of one kitchen test: water, start and the moment of the boil by eye; common practice, no source


@dataclass(frozen=True, slots=True, kw_only=True)
class BoilTests:
    """Boil tests of one burner: litres, start [°C] and minutes to the boil, arrays of one length (n,)."""

    water_l: ArrayLike
    from_c: ArrayLike
    minutes: ArrayLike

    def __post_init__(self) -> None:
        within("water_l", self.water_l, 0.05, 100.0)
        within("from_c", self.from_c, 0.0, 80.0)
        within("minutes", self.minutes, 0.5, 600.0)

    def columns(self) -> tuple[Floats, Floats, Floats]:
        """Litres, start and minutes, each of shape (n,)."""
        litres, start, minutes = np.broadcast_arrays(
            *(np.atleast_1d(np.asarray(column, dtype=float)) for column in (self.water_l, self.from_c, self.minutes))
        )
        return litres, start, minutes


@dataclass(frozen=True, slots=True, kw_only=True)
class Calibration:
    """Heat input × efficiency of a burner relative to its description, with its standard error.

    `measured` holds what each test alone would say, shape (n,).
    """

    factor: float
    factor_sd: float
    measured: Floats


def calibrate(tests: BoilTests, *, pan: Pan, flame: Flame, kitchen: Kitchen) -> Calibration:
    """Useful heat of a burner from boil tests at full flame.

    Parameters
    ----------
    tests : BoilTests
    pan : Pan
        The pan of the tests.
    flame : Flame
        The described burner on the gas of the tests; its heat input a scalar or of shape (n,).
    kitchen : Kitchen

    Returns
    -------
    Calibration

    Raises
    ------
    NotEnoughReadings
        No test.
    Inconsistent
        A test that no burner within a factor of ten of the described one could give.

    Notes
    -----
    Each test is inverted exactly through `boil`. On a log scale the tests, 8 % apart from one another, are weighed
    against the description, trusted to 20 %; many tests outweigh it.
    """
    litres, start, minutes = tests.columns()
    if not len(minutes):
        raise NotEnoughReadings("no boil test, must have at least one", field="boil_test")
    heat_kw = np.broadcast_to(np.asarray(flame.heat_input_kw, dtype=float), minutes.shape)
    flames = [replace(flame, heat_input_kw=kw) for kw in heat_kw]
    asked = zip(minutes, zip(litres, start, strict=True), flames, strict=True)
    measured = np.array([_factor(took, pan=pan, water=water, flame=one, air=kitchen) for took, water, one in asked])
    weight = len(measured) / ONE_TEST_SD**2
    precision = weight + 1.0 / BURNER_SD**2
    factor = float(np.exp(weight * np.mean(np.log(measured)) / precision))
    return Calibration(factor=factor, factor_sd=factor / float(np.sqrt(precision)), measured=measured)


def _factor(minutes: float, *, pan: Pan, water: tuple[float, float], flame: Flame, air: Kitchen) -> float:
    """Multiple of the described heat at which the pan boils in just that time."""
    litres, start = water
    described_kw = float(np.asarray(flame.heat_input_kw))

    def slower(log_factor: float) -> float:
        tried = replace(flame, heat_input_kw=described_kw * np.exp(log_factor))
        took = boil(pan, water_l=litres, from_c=start, flame=tried, kitchen=air).boil_min
        return float(minutes / took - 1.0)

    widest = float(np.log(10.0))
    if slower(-widest) > 0.0 or slower(widest) < 0.0:
        message = f"boil test of {litres:g} L in {minutes:g} min is beyond ten times the described heat either way"
        raise Inconsistent(f"{message}, must be within it: check the litres, the minutes and the burner", field="value")
    return float(np.exp(brentq(slower, -widest, widest, xtol=1e-10)))


def calibrated(burner: Burner, calibration: Calibration) -> Burner:
    """The burner with its efficiency as the tests have it.

    Raises
    ------
    Inconsistent
        Where that would pass 95 %: then the described heat input is too low.
    """
    efficiency = burner.efficiency * calibration.factor
    if efficiency > 0.95:
        message = f"{burner.name} would have an efficiency of {efficiency:.2f} by its boil tests, must be at most 0.95"
        raise Inconsistent(f"{message}: its rated heat input is too low", field="heat_input_kw")
    return replace(burner, efficiency=efficiency)
