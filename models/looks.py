"""Which looks at the gauge can be believed."""

from __future__ import annotations

import numpy as np

from models.household import Household
from models.ledger import HIGHEST_FILL, GasUse, SetAside, overruled, standard_per_wet, used_between
from models.log import Log, Readings
from models.temperature import AirTemperature
from models.units import Bools, Floats

SPIKE_GAUGE_ERRORS = 6.0


def _spikes(level: Floats, looks: Readings, burned: Floats, error_sm3: float) -> Bools:
    """Readings that leave their neighbours and come back at once, further than gauge error and gas explain."""
    time_d, spike = looks.time_d, np.zeros(len(level), dtype=bool)
    if len(level) < 3:
        return spike
    made, span = np.diff(level) + burned, np.diff(time_d)
    usual = max(float(np.median(made / np.maximum(span, 0.05))), 0.0)
    surprise = made - usual * span
    margin = SPIKE_GAUGE_ERRORS * error_sm3 + 0.5 * usual * (span[:-1] + span[1:])
    step, back = surprise[:-1], surprise[1:]
    spike[1:-1] = (step * back < 0.0) & (np.minimum(np.abs(step), np.abs(back)) > margin) & ~looks.sure[1:-1]
    spike[1:] &= ~spike[:-1]  # of two in a row the first is the odd one out
    return spike


def sound_levels(household: Household, log: Log, air: AirTemperature, use: GasUse) -> tuple[Readings, SetAside]:
    """Gauge readings that physics allows, or that are sure, and those set aside with the reason."""
    holder = household.holder
    every = log.of("holder_level")
    reasons: dict[int, str] = {}
    too_high = ~(every.value <= HIGHEST_FILL * holder.capacity_m3) & ~every.sure
    reasons |= dict.fromkeys(np.flatnonzero(too_high).tolist(), "above what the holder can hold")
    too_low = (every.value < -0.05 * holder.capacity_m3) & ~every.sure
    reasons |= dict.fromkeys(np.flatnonzero(too_low).tolist(), "below empty")
    reasons |= dict.fromkeys(np.flatnonzero(overruled(every)).tolist(), "read again at the same moment")
    rows = np.array([k for k in range(len(every)) if k not in reasons], dtype=int)
    looks = every.select(rows)
    level = looks.value * standard_per_wet(household, air, looks.time_d)
    error_sm3 = holder.level_error_fraction * holder.capacity_m3
    odd = _spikes(level, looks, used_between(use, looks.time_d), error_sm3)
    reasons |= dict.fromkeys(rows[odd].tolist(), "left the readings around it and came straight back")
    good = np.array([k not in reasons for k in range(len(every))], dtype=bool)
    return every.select(good), tuple((str(every.id[k]), why) for k, why in sorted(reasons.items()))
