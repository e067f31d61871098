"""Everything that a household's production is learnt from, as it stood at one moment."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from models.calendar import local_date, local_midnights, midnight
from models.cooking import believed
from models.household import Household
from models.ledger import (
    GasUse,
    Intervals,
    SetAside,
    cooked_gas,
    gas_use,
    intervals,
    sound_cooking,
    standard_per_wet,
)
from models.log import Log, Readings
from models.looks import sound_levels
from models.meals import Absence, MealPlan
from models.temperature import AirTemperature, PostedWeather, air_temperature, daily_mean, extraterrestrial_mj_per_m2_d
from models.units import Bools, Floats

WARM_UP_D = 200  # days before the first reading for slurry and pools to forget how they began
LONGEST_LOG_D = 12 * 366


@dataclass(frozen=True, slots=True, kw_only=True)
class Record:
    """A household and its log up to a moment.

    `log` is what is believed of all that was `written`; `slips` are the readings that are not, with the reason. Entries
    of cooking whose minutes cannot have been are in it with what their meals usually take.
    `edges_d` are the household's midnights from `day0` (well before the first reading) to the end of the day that
    holds `as_of_d`. [d] `air_c` and `sun_mj_per_m2_d` are that span's daily air temperature and radiation above the
    atmosphere, shape (days,). `plan` is what the household means to cook, and when nobody is there; None: not known.
    """

    household: Household
    log: Log
    written: Log
    slips: SetAside
    air: AirTemperature
    as_of_d: float
    day0: date
    edges_d: Floats
    air_c: Floats
    sun_mj_per_m2_d: Floats
    plan: MealPlan | None = None

    def away(self, first: date, days: int) -> Bools:
        """Of so many household days from the first on, those on which nobody is at home, as the plan has it."""
        away = np.zeros(days, dtype=bool)
        for one in () if self.plan is None else self.plan.changes:
            if isinstance(one, Absence):
                away[max((one.first - first).days, 0) : max((one.last - first).days + 1, 0)] = True
        return away

    @property
    def changed_d(self) -> Floats:
        """Moments at which the household says something was altered. [d]"""
        return np.array([midnight(day, self.household.zone) for day in sorted(self.household.changed_on)])

    @property
    def stove_metered(self) -> bool:
        """Whether a meter counts what the stove burns."""
        return bool(np.any(self.log.of("gas_meter").item == "stove"))

    def day_of(self, time_d: Floats) -> np.ndarray[tuple[int, ...], np.dtype[np.intp]]:
        """Index of the household day that holds each moment; -1 before the first."""
        return np.searchsorted(self.edges_d, time_d, side="right") - 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Balance:
    """What the log says once cooking and gauge are put side by side.

    `cooked` is the gas of each reading of `cooking`, `use` all gas burned: the stove meter's where there is one.
    """

    cooking: Readings
    cooked: GasUse
    use: GasUse
    intervals: Intervals
    set_aside: SetAside
    last_level_sm3: float
    last_level_d: float


def _first_reading_d(log: Log, as_of_d: float) -> float:
    starts = [readings.time_d[0] for readings in log.by_quantity.values() if len(readings)]
    return float(np.clip(min(starts, default=as_of_d), as_of_d - LONGEST_LOG_D, as_of_d))


def record(
    household: Household, log: Log, posted: PostedWeather | None, as_of: float, plan: MealPlan | None = None
) -> Record:
    """What was known at a moment.

    Parameters
    ----------
    household : Household
    log : Log
        May run on past the moment: it is cut there.
    posted : PostedWeather or None
        Daily weather the household posted.
    as_of : float
        The moment. [d]
    plan : MealPlan, optional
        What the household means to cook: it says what a meal took whose logged minutes cannot have been, and on which
        days nobody was there to feed the digester.
    """
    written = log.until(as_of)
    zone = household.zone
    day0 = local_date(_first_reading_d(written, as_of), zone) - timedelta(days=WARM_UP_D)
    edges = local_midnights(day0, (local_date(as_of, zone) - day0).days + 1, zone)
    air = air_temperature(household.site, written.of("ambient_temperature"), posted, as_of, zone=zone)
    log, slips = believed(household, written, air, plan)
    return Record(
        household=household,
        log=log,
        written=written,
        slips=slips,
        air=air,
        as_of_d=as_of,
        day0=day0,
        edges_d=edges,
        air_c=daily_mean(air, edges),
        sun_mj_per_m2_d=extraterrestrial_mj_per_m2_d(household.site.latitude_deg, (edges[:-1] + edges[1:]) / 2.0),
        plan=plan,
    )


def balance(known: Record) -> Balance:
    """Gas burned and received by the log, with the readings that physics forbids set aside."""
    cooking = sound_cooking(known.log)
    cooked = cooked_gas(known.household, cooking, known.air)
    use = gas_use(known.household, known.log, known.air, cooked)
    levels, set_aside = sound_levels(known.household, known.log, known.air, use)
    spans = intervals(known.household, known.log, known.air, use, levels)
    spans = spans.select(spans.start_d >= known.edges_d[0])
    last_sm3, last_d = np.nan, np.nan
    if len(levels):
        last_d = float(levels.time_d[-1])
        gauge = spans.end_sm3[~spans.outlet]
        last_sm3 = float(gauge[-1]) if len(gauge) else _only_level_sm3(known, float(levels.value[-1]), last_d)
    return Balance(
        cooking=cooking,
        cooked=cooked,
        use=use,
        intervals=spans,
        set_aside=(*known.slips, *set_aside),
        last_level_sm3=last_sm3,
        last_level_d=last_d,
    )


def _only_level_sm3(known: Record, level_m3: float, time_d: float) -> float:
    return level_m3 * float(standard_per_wet(known.household, known.air, np.array([time_d]))[0])
