"""What really happened: gas made, burned and vented by household day, and what in the log cannot be right."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np

from models.calendar import from_days, local_date, local_midnights, to_days
from models.days import EXACT, MISSING, DayLedger, day_ledger
from models.errors import Inconsistent, OutOfRange
from models.ledger import standard_per_wet
from models.production.record import Record
from models.stove import Stove
from models.units import Floats
from models.warnings import log_warnings, planned_lately
from service.usecases.outlook import Learnt, Places, learnt_from, learnt_now
from service.usecases.set_aside import set_aside_rows
from service.usecases.situation import Situation, situation

USUAL_DAYS, LONGEST_DAYS = 30, 4_000
USUAL_AIR_C = 15.0
COLUMNS = (
    "date",
    "start",
    "end",
    "bound",
    "valid",
    "reason",
    "made_m3",
    "made_error_m3",
    "burned_m3",
    "burned_error_m3",
    "vented_m3",
    "vented_error_m3",
    "sm3_per_m3",
)
"""Columns of a day, in the order of the CSV."""

Row = dict[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class DaysAsked:
    """Which household days are wanted, both ends included, and as they could be told when; None takes the usual."""

    first: date | None = None
    last: date | None = None
    as_of: datetime | None = None


def days_answer(name: str, asked: DaysAsked, *, places: Places, now: datetime) -> dict[str, Any]:
    """The ledger by day, the readings that it had to set aside, and warnings about the log.

    Raises
    ------
    Inconsistent
        `from` after `to`.
    OutOfRange
        More days than are told at once.
    """
    if asked.as_of is not None:
        as_of = asked.as_of.replace(microsecond=0)
        then = situation(name, as_of, homes=places.homes, logs=places.logs, fits=places.fits)
        return _told(asked, learnt_from(then), as_of)
    now = now.replace(microsecond=0)
    return places.told_lately(
        ("days", asked.first, asked.last), name, now, lambda: _told(asked, learnt_now(name, now, places), now)
    )


def _told(asked: DaysAsked, learnt: Learnt, as_of: datetime) -> dict[str, Any]:
    standing, known = learnt.standing, learnt.known
    zone = standing.household.zone
    first, count = _span(asked, local_date(to_days(as_of), zone))
    set_aside = learnt.now.set_aside  # what the model does not believe, the ledger does not either
    believed = known.log.without("holder_level", [reading for reading, _ in set_aside])
    found = day_ledger(known.household, believed, known.air, local_midnights(first, count, zone))
    rows = list(_rows(found, first, known))
    return {
        "as_of": as_of.astimezone(zone),
        "time_zone": zone.key,
        "summary": _summary(found),
        "days": rows,
        "set_aside": set_aside_rows(known.written, set_aside, zone),
        "warnings": list(_warnings(standing, known, zone)),
    }


def _span(asked: DaysAsked, today: date) -> tuple[date, int]:
    last = asked.last or today
    first = asked.first or last - timedelta(days=USUAL_DAYS - 1)
    count = (last - first).days + 1
    if count < 1:
        raise Inconsistent(f"from is {first}, must not be after to, {last}", field="from")
    if count > LONGEST_DAYS:
        raise OutOfRange(f"from is {count} days before to, must be at most {LONGEST_DAYS}", field="from")
    return first, count


def _rows(found: DayLedger, first: date, known: Record) -> Iterator[Row]:
    zone = known.household.zone
    edges = found.edges_d
    per_wet = standard_per_wet(known.household, known.air, (edges[:-1] + edges[1:]) / 2.0)
    moments = [from_days(edge).astimezone(zone) for edge in edges.tolist()]
    columns: Mapping[str, Floats] = {
        "made_m3": found.made_sm3 / per_wet,
        "made_error_m3": found.made_sd_sm3 / per_wet,
        "burned_m3": found.burned_sm3 / per_wet,
        "burned_error_m3": found.burned_sd_sm3 / per_wet,
        "vented_m3": found.vented_sm3 / per_wet,
        "vented_error_m3": found.vented_sd_sm3 / per_wet,
        "sm3_per_m3": per_wet,
    }
    for k, bound in enumerate(found.bound.tolist()):
        yield {
            "date": first + timedelta(days=k),
            "start": moments[k],
            "end": moments[k + 1],
            "bound": bound,
            "valid": bound != MISSING,
            "reason": found.reason[k] or None,
            **{name: float(column[k]) for name, column in columns.items()},
        }


def _summary(found: DayLedger) -> str:
    exact, missing = found.bound == EXACT, int(np.sum(found.bound == MISSING))
    unsure = len(exact) - int(exact.sum()) - missing
    counted = f"{int(exact.sum())} of {len(exact)} days known, {unsure} with gas vented or perhaps, {missing} unknown"
    if not exact.any():
        return f"{counted}."
    return f"{counted}; on the known days {float(np.mean(found.made_sm3[exact])):.2f} sm3 a day was made."


def _warnings(standing: Situation, known: Record, zone: ZoneInfo) -> Iterator[Row]:
    household = standing.household
    stove = Stove(
        burners=household.burners,
        pans=household.pans,
        supply=household.supply(household.gas.methane_fraction, USUAL_AIR_C),
    )
    planned = planned_lately(standing.plan, stove, standing.as_of_d)
    for one in log_warnings(known, planned):
        yield {
            "code": one.code,
            "since": from_days(one.since_d).astimezone(zone),
            "message": one.message,
            "look_first": one.look_first,
        }
