"""A household's figures for a time-series store, read off the answer that any poll gets; nothing is fitted for it."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from models.calendar import SECONDS_PER_DAY, to_days
from models.errors import ModelError
from service.documents import DocumentError
from service.usecases.situation import Fits

Answer = Mapping[str, Any]
Now = Callable[[str], Answer]
"""From a household's name to what `/now` answers."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Gauge:
    """One figure of a household: its name ends in its base unit; `answered` is what it is in the answer, and `per`
    how many base units one of the answer's is."""

    name: str
    unit: str
    help: str
    answered: str = ""
    per: float = 1.0


READ_OFF = (
    Gauge(name="forecast_valid", unit="", help="1 where the figures may be acted on, else 0", answered="valid"),
    Gauge(name="level_ratio", unit="ratio", help="level the gauge would show", answered="level_pct", per=0.01),
    Gauge(
        name="usable_heat_joules",
        unit="joules",
        help="net heat of the gas above the reserve",
        answered="usable_mj",
        per=1e6,
    ),
    Gauge(
        name="tomorrow_budget_cubic_meters",
        unit="cubic_meters",
        help="wet gas that may be burned tomorrow",
        answered="tomorrow_budget_m3",
    ),
    Gauge(
        name="tomorrow_budget_q10_cubic_meters",
        unit="cubic_meters",
        help="the same, nine times in ten at least this much",
        answered="tomorrow_budget_q10_m3",
    ),
    Gauge(
        name="tomorrow_need_cubic_meters",
        unit="cubic_meters",
        help="wet gas that tomorrow's meals take",
        answered="tomorrow_need_m3",
    ),
    Gauge(
        name="tomorrow_cover_ratio",
        unit="ratio",
        help="odds that gas carries all of tomorrow's meals",
        answered="tomorrow_cover_probability",
    ),
    Gauge(
        name="holder_lasts_seconds",
        unit="seconds",
        help="time to the first meal the holder cannot carry whole; absent: beyond the horizon of 14 days",
        answered="days_left",
        per=SECONDS_PER_DAY,
    ),
    Gauge(
        name="backup_needed_in_seconds",
        unit="seconds",
        help="time to the first meal that likely needs the backup; absent: beyond the horizon of 14 days",
        answered="days_until_backup",
        per=SECONDS_PER_DAY,
    ),
    Gauge(name="signs", unit="", help="warnings the log gives", answered="signs_count"),
)
READING_AGE = Gauge(name="reading_age_seconds", unit="seconds", help="time since the gauge was last read")
FIT_AGE = Gauge(
    name="fit_age_seconds", unit="seconds", help="time since the readings that the fit in use was made on; absent: none"
)
GAUGES = (*READ_OFF, READING_AGE, FIT_AGE)


def figures(
    names: Iterable[str], *, ask: Now, fits: Fits, now: datetime
) -> list[tuple[Gauge, list[tuple[str, float]]]]:
    """Every gauge with its value by household; a value that is not known is left out."""
    found = {name: _of(name, ask, fits, now) for name in names}
    return [
        (gauge, [(name, values[gauge.name]) for name, values in found.items() if gauge.name in values])
        for gauge in GAUGES
    ]


def _of(name: str, ask: Now, fits: Fits, now: datetime) -> dict[str, float]:
    try:
        answer = ask(name)
    except (ModelError, DocumentError):
        # One household whose description cannot be computed with must not hide the figures of the others.
        return {"forecast_valid": 0.0}
    values = {
        gauge.name: round(gauge.per * float(answer[gauge.answered]), 6)
        for gauge in READ_OFF
        if answer[gauge.answered] is not None
    }
    if answer["last_reading_at"] is not None:
        values[READING_AGE.name] = (now - datetime.fromisoformat(answer["last_reading_at"])).total_seconds()
    kept = fits.newest(name, to_days(now))
    if kept is not None:
        values[FIT_AGE.name] = SECONDS_PER_DAY * (to_days(now) - float(kept.fit["made_as_of_d"]))
    return values
