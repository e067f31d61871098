"""When extra cooking fits: the soonest and the surest time for so many minutes of flame within allowed hours."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import Any

import numpy as np

from models.burner import Burner
from models.calendar import from_days, midnight, to_days
from models.errors import Inconsistent
from models.outlook import Outlook
from models.reckoning import quantile
from models.stove import Stove
from models.windows import SECOND_D, Extra, cooking_windows
from service.usecases.outlook import LONGEST_DAYS, USUAL_DAYS, Moment
from service.usecases.stamp import plain, stamp

USUAL_SPAN = timedelta(days=7)
OVER = "That time is over; leave out from and to, and ask from now on."
BEYOND = f"That is beyond what can be forecast; ask for a time within {LONGEST_DAYS} days."

When = date | datetime | None
"""A day of the household, a moment, or the usual."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WindowsAsked:
    """Extra cooking: how long, on which burner (None: the first), from when to when, within which hours of a day."""

    flame_min: float
    burner: str | None = None
    first: When = None
    last: When = None
    hours: tuple[time, time] = (time(6), time(22))

    def __post_init__(self) -> None:
        earliest, latest = (60.0 * one.hour + one.minute + one.second / 60.0 for one in self.hours)
        if self.flame_min > latest - earliest + 1e-9:
            raise Inconsistent(
                f"flame_min is {self.flame_min:g}, must be at most the {latest - earliest:.0f} min of hours",
                field="flame_min",
            )

    @property
    def hours_text(self) -> str:
        """The hours as they are asked for: 24:00 is the end of a day."""
        earliest, latest = self.hours
        return f"{earliest:%H:%M}-{'24:00' if latest == time.max else f'{latest:%H:%M}'}"


def days_to_see(asked: WindowsAsked, as_of: datetime) -> int:
    """How many days ahead to look to see the whole of what is asked, as far as anything is seen."""
    last = asked.last or (asked.first + USUAL_SPAN if asked.first else as_of)
    # One day more, because what is burned must not be missing the day after; and one for a zone ahead of the clock's.
    ahead = (date(last.year, last.month, last.day) - as_of.date()).days + 2
    return min(ahead, LONGEST_DAYS) if ahead > USUAL_DAYS else USUAL_DAYS


def windows_answer(outlook: Outlook, moment: Moment, _: bytes | None = None, *, asked: WindowsAsked) -> dict[str, Any]:
    """The best times for extra cooking.

    Raises
    ------
    Inconsistent
        A burner that the household lacks; `from` after `to`.
    """
    burner = _burner(outlook, asked.burner)
    first_d, last_d = _span_d(outlook, asked)
    known = _echo(outlook, asked, burner, (first_d, last_d))
    if asked.last is not None and last_d < outlook.as_of_d:
        return known | stamp(outlook, moment, OVER, reason="beyond_horizon")
    if first_d > float(outlook.day_edges_d[-1]):
        return known | stamp(outlook, moment, BEYOND, reason="beyond_horizon")
    if outlook.told is None:
        return known | stamp(outlook, moment, "")
    flow = outlook.flame_sm3_per_h(burner)
    extra = Extra(
        flame_min=asked.flame_min,
        flame_sm3_per_h=flow,
        from_d=first_d,
        to_d=last_d,
        earliest=asked.hours[0],
        latest=asked.hours[1],
        burner=burner.name,
    )
    found = cooking_windows(outlook.told, extra)
    gas_sm3 = asked.flame_min / 60.0 * flow
    taken = {
        "gas_m3": quantile(gas_sm3, 0.5) * float(outlook.told.m3_per_sm3[0]),
        "gas_mj": quantile(gas_sm3 * outlook.mj_per_sm3, 0.5),
    }
    values: dict[str, Any] = plain(found, outlook.household.zone)
    return known | taken | values | stamp(outlook, moment, found.summary)


def _burner(outlook: Outlook, name: str | None) -> Burner:
    stove = Stove(burners=outlook.household.burners, supply=outlook.supply)
    return stove.burner(name or stove.burners[0].name)


def _span_d(outlook: Outlook, asked: WindowsAsked) -> tuple[float, float]:
    """Moments between which the cooking is to begin; of a day named as the last, all of it. [d]"""
    zone, now_d = outlook.household.zone, outlook.as_of_d
    first_d = now_d if asked.first is None else _moment_d(asked.first, outlook)
    usual_d = max(first_d, now_d) + USUAL_SPAN.days
    last_d = usual_d if asked.last is None else _moment_d(asked.last, outlook)
    if asked.last is not None and not isinstance(asked.last, datetime):
        last_d = midnight(asked.last + timedelta(days=1), zone) - SECOND_D
    if asked.first is not None and first_d > last_d:
        raise Inconsistent(f"from is {asked.first}, must not be after to, {asked.last}", field="from")
    return first_d, last_d


def _moment_d(when: date, outlook: Outlook) -> float:
    return to_days(when) if isinstance(when, datetime) else midnight(when, outlook.household.zone)


def _echo(outlook: Outlook, asked: WindowsAsked, burner: Burner, span_d: tuple[float, float]) -> dict[str, Any]:
    """What was asked, as it was understood; the span as far as anything is seen of it."""
    zone = outlook.household.zone
    seen_d = np.clip(span_d, outlook.as_of_d, float(outlook.day_edges_d[-1]))
    first, last = (from_days(one).astimezone(zone) for one in seen_d.tolist())
    return {
        "flame_min": asked.flame_min,
        "burner": burner.name,
        "hours": asked.hours_text,
        "first": first,
        "last": last,
        "horizon_d": outlook.horizon_d,
        "windows": [],
    }
