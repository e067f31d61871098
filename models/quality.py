"""How much methane the gas holds now: what was described, drawn towards what was tested."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from models.gas import TEST_SD, GasQuality, Source, from_carbon_dioxide
from models.log import Log
from models.units import Floats

METER_SD = 0.02  # one reading of a methane meter; common practice, no source
MEMORY_D = (
    180.0  # how long the gas stays as a test found it, before it is what it usually is; common practice, no source
)
LIKELY = (0.30, 0.85)  # a test outside it was spoilt


def gas_quality(described: GasQuality, log: Log, as_of_d: float) -> GasQuality:
    """Methane share and its standard error from the description and the tests logged up to now.

    Parameters
    ----------
    described : GasQuality
        What the description says, or the default: what the gas usually is, and how far it strays from that.
    log : Log
        `methane` and `carbon_dioxide` readings. [%]
    as_of_d : float
        Now. [d]

    Returns
    -------
    GasQuality
        `source` names the kind of the newest test.

    Notes
    -----
    The share strays from what was described as a first-order autoregression whose spread is that of the description; a
    scalar Kalman filter takes the tests in their order. An old test is forgotten, and many at once teach no more of
    today than the gas has changed since.
    """
    time_d, share, sd, source = _tests(log, as_of_d)
    if not len(time_d):
        return described
    spread = described.methane_sd**2
    mean, var = 0.0, spread
    steps = np.diff(np.append(time_d, as_of_d))
    for value, error, step_d in zip(share.tolist(), sd.tolist(), steps.tolist(), strict=True):
        gain = var / (var + error**2)
        mean += gain * (value - described.methane_fraction - mean)
        kept = float(np.exp(-step_d / MEMORY_D))
        mean, var = kept * mean, kept**2 * (1.0 - gain) * var + (1.0 - kept**2) * spread
    return replace(
        described, methane_fraction=described.methane_fraction + mean, methane_sd=float(np.sqrt(var)), source=source
    )


def _tests(log: Log, as_of_d: float) -> tuple[Floats, Floats, Floats, Source]:
    """Times, methane shares and errors of the tests that physics allows, in order, and the kind of the newest."""
    meter, absorbed = log.of("methane"), log.of("carbon_dioxide")
    by_absorption = [
        from_carbon_dioxide(value).methane_fraction for value in np.clip(absorbed.value / 100.0, 0.0, 0.95)
    ]
    time_d = np.append(meter.time_d, absorbed.time_d)
    share = np.append(meter.value / 100.0, by_absorption)
    sd = np.append(np.full(len(meter), METER_SD), np.full(len(absorbed), TEST_SD))
    sound = (share >= LIKELY[0]) & (share <= LIKELY[1]) & (time_d <= as_of_d)
    order = np.flatnonzero(sound)[np.argsort(time_d[sound], kind="stable")]
    newest: Source = "measured" if len(order) and order[-1] < len(meter) else "carbon_dioxide"
    return time_d[order], share[order], sd[order], newest
