"""Boil tests: what minutes to the boil say of a burner's heat, and how surely."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from models.boiling import Flame, boil
from models.burner import Burner, heat_input_kw
from models.errors import Inconsistent, NotEnoughReadings, within
from models.household import Household
from models.log import Log, Readings
from models.moisture import atmosphere_pa
from models.pan import Kitchen, Pan
from models.temperature import AirTemperature, at
from models.units import ArrayLike, Floats

ONE_TEST_SD = 0.08  # of one kitchen test: water, start and the moment of the boil by eye; common practice, no source
FAR_OFF = 10.0  # times the described heat either way: a slip of the pen, not a burner
HIGHEST_EFFICIENCY = 0.95
TEST_WATER_L, TEST_FROM_C, TEST_MIN = (0.05, 100.0), (0.0, 80.0), (0.5, 600.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class BoilTests:
    """Boil tests of one burner, at full flame with the lid on: litres, start [°C], minutes to the boil, shape (n,)."""

    water_l: ArrayLike
    from_c: ArrayLike
    minutes: ArrayLike

    def __post_init__(self) -> None:
        within("water_l", self.water_l, *TEST_WATER_L)
        within("from_c", self.from_c, *TEST_FROM_C)
        within("minutes", self.minutes, *TEST_MIN)

    def useful_heat(self, *, pan: Pan, flame: Flame, kitchen: Kitchen) -> Floats:
        """Useful heat by each test, relative to the described flame's.

        Parameters
        ----------
        pan : Pan
            Lidded, whatever it usually is.
        flame : Flame
            The described one, its efficiency from a test; heat input a scalar or of shape (n,).
        kitchen : Kitchen

        Returns
        -------
        ndarray, shape (n,). [1]

        Notes
        -----
        An efficiency from a test holds the losses, so that time goes exactly against heat.
        """
        described = boil(replace(pan, lid=True), water_l=self.water_l, from_c=self.from_c, flame=flame, kitchen=kitchen)
        return np.atleast_1d(described.boil_min / np.asarray(self.minutes, dtype=float))


@dataclass(frozen=True, slots=True, kw_only=True)
class Calibration:
    """Heat input × efficiency of a burner relative to its description, with its standard error.

    `measured` holds what each test alone would say, shape (n,).
    """

    factor: float
    factor_sd: float
    measured: Floats


def calibrate(tests: BoilTests, *, pan: Pan, flame: Flame, kitchen: Kitchen, described_sd: float = 0.20) -> Calibration:
    """Useful heat of a burner from boil tests.

    Parameters
    ----------
    tests : BoilTests
    pan : Pan
        The pan of the tests, lidded.
    flame : Flame
        The described burner on the gas of the tests, its efficiency from a test; heat input a scalar or of shape (n,).
    kitchen : Kitchen
    described_sd : float
        Relative standard error of the described useful heat. [1], above 0; 0.20 where left out (common practice, no
        source)

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
    Useful heat = C·(T_b − T)/t. On a log scale the tests, 8 % apart from one another (common practice, no source), are
    weighed against the description, trusted to `described_sd`; many tests outweigh it.
    """
    measured = tests.useful_heat(pan=pan, flame=flame, kitchen=kitchen)
    if not len(measured):
        raise NotEnoughReadings("no boil test, must have at least one", field="boil_test")
    off = ~_likely(measured)
    if off.any():
        message = f"a boil test makes the burner {measured[off][0]:.3g} times as strong as described, must be 0.1 to 10"
        raise Inconsistent(f"{message}: check the litres, the minutes and the burner", field="minutes")
    weight = len(measured) / ONE_TEST_SD**2
    precision = weight + 1.0 / described_sd**2
    factor = float(np.exp(weight * np.mean(np.log(measured)) / precision))
    return Calibration(factor=factor, factor_sd=factor / float(np.sqrt(precision)), measured=measured)


def _likely(measured: Floats) -> np.ndarray[tuple[int, ...], np.dtype[np.bool_]]:
    return np.asarray((measured >= 1.0 / FAR_OFF) & (measured <= FAR_OFF))


def calibrated(burner: Burner, calibration: Calibration) -> Burner:
    """The burner with the efficiency its tests give; never past 95 %, where only the described heat can be too low.

    Parameters
    ----------
    burner : Burner
        As described.
    calibration : Calibration
        Of that burner.

    Returns
    -------
    Burner
    """
    return replace(
        burner,
        efficiency=min(burner.efficiency * calibration.factor, HIGHEST_EFFICIENCY),
        useful_sd=calibration.factor_sd / calibration.factor,
    )


def burners_as_tested(household: Household, log: Log, *, air: AirTemperature) -> tuple[Burner, ...]:
    """A household's burners as the boil tests in its log have them; one that was never tested as described.

    Parameters
    ----------
    household : Household
        Its first pan stands for the pan of the tests, its gas for theirs.
    log : Log
        `boil_test` readings [min] with burner, litres and start. A test outside what `BoilTests` takes, or a factor of
        ten off, is left out.
    air : AirTemperature
        Temperature of the gas at each test.

    Returns
    -------
    tuple of Burner, in the household's order
    """
    tests = log.of("boil_test")
    sound = np.ones(len(tests), dtype=bool)
    for column, (low, high) in ((tests.water_l, TEST_WATER_L), (tests.from_c, TEST_FROM_C), (tests.value, TEST_MIN)):
        sound &= (column >= low) & (column <= high)
    return tuple(
        _tested(burner, household, tests.select(sound & (tests.item == burner.name)), air)
        for burner in household.burners
    )


def _tested(burner: Burner, household: Household, readings: Readings, air: AirTemperature) -> Burner:
    if not len(readings):
        return burner
    supply = household.supply(household.gas.methane_fraction, at(air, readings.time_d))
    flame = Flame(heat_input_kw=heat_input_kw(burner, supply), efficiency=burner.efficiency)
    pan = household.pans[0] if household.pans else Pan(name="not described", mass_kg=1.0)
    kitchen = Kitchen(atmosphere_pa=float(atmosphere_pa(household.site.altitude_m)))
    tests = BoilTests(water_l=readings.water_l, from_c=readings.from_c, minutes=readings.value)
    likely = _likely(tests.useful_heat(pan=pan, flame=flame, kitchen=kitchen))
    if not likely.all():
        return _tested(burner, household, readings.select(likely), air)
    return calibrated(burner, calibrate(tests, pan=pan, flame=flame, kitchen=kitchen, described_sd=burner.useful_sd))
