"""The coming seasons: gas, need, backup and venting by calendar month, and how far that may be trusted."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from models.backup import backup_outlook
from models.calendar import from_days, local_date, to_days
from models.outlook import Outlook
from models.reckoning import MONTHS
from models.seasons import Amount, Season, days_of_months, month_edges, seasons
from service.usecases.outlook import Moment
from service.usecases.situation import Homes
from service.usecases.stamp import stamp

Values = dict[str, Any]

LEARNT_D = 92.0
"""Months that begin within a season's length still feel the digester as it stands now."""
TRUST = {
    "prior": (
        "Nothing is learnt of this household yet: every month rests on what digesters of its kind usually make, on the "
        "usual weather, the usual feed and the planned meals. Log gauge and cooking, and it becomes your own."
    ),
    "blended": (
        "The first weeks rest on the log, which still says little, and on the weather posted; beyond about three "
        "months it is the season, the usual feed and the usual meals: a year like others, not this one in particular."
    ),
    "fitted": (
        "The first weeks rest on the log and the weather posted; beyond about three months it is the season, the usual "
        "feed and the usual meals: a year like others, not this one in particular."
    ),
}
"""What to make of the months, by what the forecast rests on."""
LEAST_FUEL = 0.05  # kg or kWh that are worth a word
LEAST_M3 = 0.05
IN_WORDS = {"lpg": "LPG", "electric": "electricity", "induction": "electricity", "wood_stove": "wood"}
"""Backup fuels whose names are no words of a sentence."""
MARKS = ("q10_", "", "q90_")
UNITS = {
    "production": ("m3", "mj"),
    "need": ("m3", "mj"),
    "on_gas": ("pct",),
    "backup": ("kg", "kwh", "meals"),
    "vented": ("m3", "mj"),
}
RANGES = tuple(f"{name}_{mark}{unit}" for name, units in UNITS.items() for unit in units for mark in MARKS)
"""Figures of a span that are told with their range."""


def days_to_end(name: str, months: int, as_of: datetime, *, homes: Homes) -> int:
    """How many days ahead to look to see the end of so many whole months after this one.

    Raises
    ------
    NotFound
        A household that there is not.
    """
    zone = ZoneInfo(homes.get(name).document["time_zone"])
    return days_of_months(to_days(as_of), months, zone)


def months_answer(outlook: Outlook, moment: Moment, _: bytes | None = None, *, months: int) -> Values:
    """The rest of this month and the whole months after it, and all of them together."""
    household = outlook.household
    edges = month_edges(outlook.as_of_d, months, household.zone)
    found, whole = seasons(outlook, edges)
    known: Values = {
        "fuel": household.backup.fuel,
        "on_hand_kg": household.backup.on_hand_kg,
        "trust": TRUST[outlook.basis],
        "months": [_month(one, outlook) for one in found],
        "total": _values(whole, outlook),
        "horizon_d": outlook.horizon_d,
    }
    if outlook.told is None:
        return known | stamp(outlook, moment, "")
    bottle = backup_outlook(outlook.told, household.backup)
    return known | {
        "bottle_empty_date": bottle.bottle_empty_date,
        "order_by_date": bottle.order_by_date,
        **stamp(outlook, moment, _summary(found, whole, outlook)),
    }


def _month(one: Season, outlook: Outlook) -> Values:
    first = local_date(one.start_d, outlook.household.zone)
    near = one.start_d - outlook.as_of_d < LEARNT_D
    return {
        "month": f"{first:%Y-%m}",
        "complete": one.start_d > outlook.as_of_d,
        "rests_on": "prior" if outlook.basis == "prior" else ("log" if near else "season"),
        **_values(one, outlook),
    }


def _values(one: Season, outlook: Outlook) -> Values:
    """A span under the contract's names."""
    zone, balance = outlook.household.zone, one.balance
    values = {
        **dict.fromkeys((*RANGES, "backup_probability", "venting_probability")),
        "start": from_days(one.start_d).astimezone(zone),
        "end": from_days(one.end_d).astimezone(zone),
        "slurry_c": one.slurry_c,
        **_spread("production", "m3", one.made_m3),
        **_spread("production", "mj", one.made_mj),
    }
    if balance is None:
        return values
    return values | {
        **_spread("need", "m3", balance.need_m3),
        **_spread("need", "mj", balance.need_mj),
        **_spread("on_gas", "pct", balance.on_gas_fraction, 100.0),
        **_spread("backup", outlook.household.backup.unit.lower(), balance.backup),
        **_spread("backup", "meals", balance.backup_meals),
        "backup_probability": balance.backup_probability,
        **_spread("vented", "m3", balance.vented_m3),
        **_spread("vented", "mj", balance.vented_mj),
        "venting_probability": balance.venting_probability,
    }


def _spread(name: str, unit: str, amount: Amount | None, times: float = 1.0) -> Values:
    if amount is None:
        return {}
    figures = (amount.q10, amount.q50, amount.q90)
    return {f"{name}_{mark}{unit}": times * figure for mark, figure in zip(MARKS, figures, strict=True)}


def _summary(found: Sequence[Season], whole: Season, outlook: Outlook) -> str:
    last = local_date(whole.end_d - 0.5, outlook.household.zone)
    return f"To the end of {MONTHS[last.month]} {last.year} {_fuel(found, whole, outlook)}; {_waste(found, outlook)}."


def _fuel(found: Sequence[Season], whole: Season, outlook: Outlook) -> str:
    """What the meals take besides gas, and when most of it."""
    backup, need = outlook.household.backup, _amount(whole, "backup")
    if _amount(whole, "need_m3").q90 <= 0.0:
        return "no meal is planned"
    if need.q90 < LEAST_FUEL:
        return "gas carries the meals, nine times in ten without any backup"
    worst = max(found, key=lambda one: _amount(one, "backup").q50)
    most = f", most in {_name(worst, outlook)}" if len(found) > 1 and _amount(worst, "backup").q50 > 0.0 else ""
    range_ = f"{need.q10:.2g} to {need.q90:.2g}"
    name = IN_WORDS.get(backup.fuel, backup.fuel)
    return f"the meals take about {need.q50:.2g} {backup.unit} of {name} besides gas ({range_}){most}"


def _waste(found: Sequence[Season], outlook: Outlook) -> str:
    worst = max(found, key=lambda one: _amount(one, "vented_m3").q50)
    if _amount(worst, "vented_m3").q50 < LEAST_M3:
        return "little gas is likely to be vented"
    return f"the full holder vents most in {_name(worst, outlook)}"


def _amount(one: Season, name: str) -> Amount:
    amount: Amount = getattr(one.balance, name)
    return amount


def _name(one: Season, outlook: Outlook) -> str:
    return MONTHS[local_date(one.start_d, outlook.household.zone).month]
