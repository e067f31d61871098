"""How much methane the gas holds now: what was described, drawn towards what was tested."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from models.gas import GasQuality
from models.log import Log, Readings
from models.units import Floats

METER_SD = 0.02  # one reading of a methane meter; common practice, no source
ABSORPTION_SD = 0.03  # one carbon dioxide absorption test in a syringe or tube; common practice, no source
OTHER_GASES = 0.01  # dry gas that is neither methane nor carbon dioxide; common practice, no source
DRIFT_VAR_PER_D = 0.03**2 / 90.0  # how fast a test goes stale: three points of methane in a season


def gas_quality(described: GasQuality, log: Log, as_of_d: float) -> GasQuality:
    """Methane share and its standard error from the description and the tests logged up to now.

    Parameters
    ----------
    described : GasQuality
        What the description says, or the default.
    log : Log
        `methane` and `carbon_dioxide` readings. [%]
    as_of_d : float
        Now. [d]

    Returns
    -------
    GasQuality
        The mean of all of them weighted by their precision, a test counting for less the older it is; `source` names
        the kind of the newest test.
    """
    tests = {
        "measured": _tests(log.of("methane"), as_of_d, METER_SD),
        "carbon_dioxide": _tests(_as_methane(log.of("carbon_dioxide")), as_of_d, ABSORPTION_SD),
    }
    share = np.concatenate([[described.methane_fraction], *(values for _, values, _ in tests.values())])
    var = np.concatenate([[described.methane_sd**2], *(spread for _, _, spread in tests.values())])
    if len(share) == 1:
        return described
    weight = 1.0 / np.maximum(var, 1e-6)
    mean, sd = float(np.sum(weight * share) / np.sum(weight)), float(np.sqrt(1.0 / np.sum(weight)))
    newest = max(tests, key=lambda kind: float(tests[kind][0][-1]) if len(tests[kind][0]) else -np.inf)
    return replace(
        described,
        methane_fraction=mean,
        methane_sd=max(sd, METER_SD / 2.0),
        source="measured" if newest == "measured" else "carbon_dioxide",
    )


def _as_methane(tests: Readings) -> Readings:
    return replace(tests, value=100.0 * (1.0 - OTHER_GASES) - tests.value)


def _tests(readings: Readings, as_of_d: float, sd: float) -> tuple[Floats, Floats, Floats]:
    """Times, methane shares and their variances of the tests that physics allows."""
    share = readings.value / 100.0
    sound = (share >= 0.3) & (share <= 0.85) & (readings.time_d <= as_of_d)
    age_d = as_of_d - readings.time_d[sound]
    return readings.time_d[sound], share[sound], sd**2 + DRIFT_VAR_PER_D * age_d
