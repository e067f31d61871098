"""One question each: read an outlook, give back plain values under the contract's names."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from typing import Any

from models.backup import backup_outlook
from models.budget import gas_budget
from models.calendar import local_date
from models.lasting import storage_outlook
from models.outlook import Outlook
from models.venting import venting_outlook
from service.usecases.outlook import LONGEST_DAYS, USUAL_DAYS, Moment
from service.usecases.stamp import plain, stamp

Answer = dict[str, Any]

BEYOND = "That day is beyond what can be forecast; ask for one within 90 days."
OVER = "That day is over: /days tells what became of it, and as_of= gives the answer as it was then."


def day_of(which: str | date, today: date) -> date:
    """The day a caller means by `today`, `tomorrow` or a date."""
    if isinstance(which, date):
        return which
    return today + timedelta(days=which == "tomorrow")


def days_to(which: str | date, as_of: datetime) -> int:
    """How many days ahead to look to see a day; the usual number where it is nearer, or beyond all seeing."""
    ahead = (which - as_of.date()).days + 1 if isinstance(which, date) else 0
    return ahead if USUAL_DAYS < ahead <= LONGEST_DAYS else USUAL_DAYS


def _in_unit(values: Answer, unit: str) -> Answer:
    """The values with `backup` and `backup_q90` under the name of their unit."""
    amounts = ("backup", "backup_q90")
    named = {f"{name}_{unit.lower()}": values[name] for name in amounts}
    return {name: value for name, value in values.items() if name not in amounts} | named


def budget_answer(outlook: Outlook, moment: Moment, _: bytes | None = None, *, which: str | date) -> Answer:
    """How much may be burned on a day, what the meals take, and whether it is enough."""
    household = outlook.household
    today = local_date(outlook.as_of_d, household.zone)
    day = day_of(which, today)
    blank = {"date": day, "reserve_m3": household.holder.reserve_m3, "meals": []}
    if not today <= day <= today + timedelta(days=outlook.days):
        return stamp(outlook, moment, OVER if day < today else BEYOND, reason="beyond_horizon") | blank
    if outlook.told is None:
        return stamp(outlook, moment, "") | blank
    budget = gas_budget(outlook.told, day, backup=household.backup)
    values = _in_unit(plain(budget, household.zone), household.backup.unit)
    return values | stamp(outlook, moment, budget.summary)


def storage_answer(outlook: Outlook, moment: Moment, _: bytes | None = None) -> Answer:
    """How full the holder is and how long it lasts."""
    if outlook.told is None:
        known: Answer = {"capacity_m3": outlook.household.holder.capacity_m3, "horizon_d": outlook.horizon_d}
        return stamp(outlook, moment, "") | known | {"assumed_meals": []}
    found = storage_outlook(outlook.told, outlook.household.holder)
    values: Answer = plain(found, outlook.household.zone)
    return values | stamp(outlook, moment, found.summary, found.shorter)


def backup_answer(outlook: Outlook, moment: Moment, _: bytes | None = None) -> Answer:
    """When the backup is needed, for what, and how much of it."""
    backup = outlook.household.backup
    known: Answer = {"fuel": backup.fuel, "on_hand_kg": backup.on_hand_kg, "horizon_d": outlook.horizon_d, "meals": []}
    if outlook.told is None:
        return stamp(outlook, moment, "") | known
    found = backup_outlook(outlook.told, backup)
    values = _in_unit(plain(found, outlook.household.zone), found.unit)
    return values | stamp(outlook, moment, found.summary)


def now_answer(outlook: Outlook, moment: Moment, _: bytes | None = None) -> Answer:
    """Everything a wall display asks, flat."""
    household, told = outlook.household, outlook.told
    if told is None:
        return stamp(outlook, moment, "") | {"assumed_meals_count": 0, "signs_count": len(outlook.warnings)}
    storage = storage_outlook(told, household.holder)
    tomorrow = local_date(outlook.as_of_d, household.zone) + timedelta(days=1)
    budget = gas_budget(told, tomorrow, backup=household.backup)
    backup = backup_outlook(told, household.backup)
    venting_d = venting_outlook(told, methane_fraction=household.gas.methane_fraction).first_venting_at_d
    both = f"{storage.summary.rstrip('.')}. {budget.summary}"
    return stamp(outlook, moment, both, storage.summary, storage.shorter) | {
        "level_pct": storage.level_pct,
        "holder_m3": storage.holder_m3,
        "usable_m3": storage.usable_m3,
        "usable_mj": storage.usable_mj,
        "flame_min": storage.flame_min,
        "tomorrow_budget_m3": budget.budget_m3,
        "tomorrow_budget_q10_m3": budget.budget_q10_m3,
        "tomorrow_flame_min": budget.flame_min,
        "tomorrow_need_m3": budget.need_m3,
        "tomorrow_cover_probability": budget.cover_probability,
        "tomorrow_covered": budget.covered,
        "days_left": storage.days_left,
        "next_backup_date": backup.first_backup_date,
        "next_backup_meal": backup.first_backup_meal,
        "days_until_backup": backup.days_until_backup,
        "order_by_date": backup.order_by_date,
        "next_venting_date": None if venting_d is None else local_date(venting_d, household.zone),
        "assumed_meals_count": len(storage.assumed_meals),
        "signs_count": len(outlook.warnings),
    }
