"""The coming days as a calendar: meals on gas or on the backup, days on which the holder vents, when to order fuel."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from dataclasses import asdict, dataclass
from datetime import date, timedelta
from typing import Any
from uuid import UUID, uuid5

import numpy as np

from models.backup import LEAST_AMOUNT, Backup, backup_outlook
from models.budget import MealOutlook, meal_outlooks
from models.calendar import from_days, local_date, midnight
from models.meals import Serving
from models.outlook import Outlook
from models.reckoning import Reckoning, Verdict, in_words, is_sure
from models.venting import VentingDay, VentingOutlook, short_between, venting_outlook
from service.usecases.outlook import Moment
from service.usecases.stamp import stamp

NAMESPACE = UUID("6d3b3a0e-3b52-4a53-9d0c-0f2a7a5f9c41")  # any, as long as it stays the same: UIDs are made from it
MORE_LIKELY_THAN_NOT = 0.5
L_PER_M3 = 1000.0
BACKUPS: Mapping[str, str] = {
    "lpg": "bottled gas",
    "propane": "bottled gas",
    "butane": "bottled gas",
    "electric": "the electric plate",
    "induction": "the induction plate",
    "wood": "wood",
    "wood_stove": "the wood stove",
}
"""The backup fuels as a cook calls them."""
MEAL_SUMMARIES: Mapping[Verdict, str] = {
    "gas": "{meal}: on gas",
    "tight": "{meal}: gas may run short, have {backup} ready",
    "backup": "{meal}: on {backup}",
}
VENTING_CAUTION = "Vented gas burns and suffocates: no flame or spark near the relief, and keep the place aired."


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One entry: from a moment to a moment for a meal, from a day to the day after for anything else (ISO 8601).

    Calendars are kept and read again as they were told: with other fields, they need a question of another kind.

    `revised_at` is when what a cook acts on (time or summary) last changed, `modified_at` when anything did.
    """

    uid: str
    category: str
    start: str
    end: str
    summary: str
    description: str
    revised_at: str = ""
    modified_at: str = ""


def calendar_answer(outlook: Outlook, moment: Moment, before: bytes | None, *, household: str) -> dict[str, Any]:
    """The entries of the coming days, each with when it last changed; `before` is the calendar as it was last told."""
    said = json.loads(before) if before else {"entries": []}
    told_before = {one["uid"]: Entry(**one) for one in said["entries"]}
    marks = stamp(outlook, moment, "")
    writer = _Writer(outlook=outlook, household=household, before=told_before)
    issued_at = moment.issued_at.isoformat()
    entries = [_dated(one, told_before.get(one.uid), issued_at) for one in writer.entries(marks)]
    return {
        "issued_at": issued_at,
        "label": outlook.household.label,
        "time_zone": outlook.household.zone.key,
        "entries": [asdict(one) for one in entries],
    }


def _dated(entry: Entry, before: Entry | None, now: str) -> Entry:
    """The entry with the times of its last changes."""
    known = {name: value for name, value in asdict(entry).items() if not name.endswith("_at")}
    acted_on = ("start", "end", "summary")
    same = before is not None and all(getattr(before, name) == known[name] for name in known)
    as_planned = before is not None and all(getattr(before, name) == known[name] for name in acted_on)
    return Entry(
        **known,
        revised_at=before.revised_at if before is not None and as_planned else now,
        modified_at=before.modified_at if before is not None and same else now,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Writer:
    """Puts an outlook into entries; what was said `before` (by UID) holds until the odds pass it by a margin."""

    outlook: Outlook
    household: str
    before: Mapping[str, Entry]

    def entries(self, marks: Mapping[str, Any]) -> list[Entry]:
        """Every entry, in the order of time."""
        found = list(self._certain(self.outlook.told)) if self.outlook.told is not None and marks["valid"] else []
        if marks["reason"] in ("no_readings", "stale"):
            found.append(self._today("Read the gas gauge", marks["summary"]))
        if not found:
            found.append(self._today("Gas: nothing to plan", f"No meal in the next {self.outlook.days} days."))
        return sorted(found, key=lambda one: (one.start, one.uid))

    def _certain(self, told: Reckoning) -> Iterator[Entry]:
        backup = self.outlook.household.backup
        yield from self._meals(told, backup)
        venting = venting_outlook(told, methane_fraction=self.outlook.household.gas.methane_fraction)
        yield from self._venting(told, venting)
        need = backup_outlook(told, backup)
        if need.order_by_date is not None and need.bottle_empty_date is not None:
            yield self._all_day(
                "order",
                need.order_by_date,
                f"Last day to order {BACKUPS[backup.fuel]}",
                f"{_running_out(need.on_hand_kg or 0.0)} on {need.bottle_empty_date:%Y-%m-%d}; "
                f"delivery takes {backup.lead_d:g} days.",
            )

    def _meals(self, told: Reckoning, backup: Backup) -> Iterator[Entry]:
        meals = np.flatnonzero(told.planned())
        servings = [told.run.timeline.servings[index] for index in meals.tolist()]
        for serving, meal in zip(servings, meal_outlooks(told, meals), strict=True):
            yield self._meal(serving, meal, BACKUPS[backup.fuel])

    def _meal(self, serving: Serving, meal: MealOutlook, backup: str) -> Entry:
        name = meal.meal[:1].upper() + meal.meal[1:]
        zone = self.outlook.household.zone
        return Entry(
            uid=self._uid("meal", serving.day, serving.meal),
            category=meal.verdict,
            start=from_days(serving.start_d).astimezone(zone).isoformat(),
            end=from_days(serving.end_d).astimezone(zone).isoformat(),
            summary=MEAL_SUMMARIES[meal.verdict].format(meal=name, backup=backup),
            description=f"Takes about {L_PER_M3 * meal.need_m3:.0f} L of gas; "
            f"the holder carries it whole with odds of {meal.on_gas_probability:.0%}.",
        )

    def _venting(self, told: Reckoning, venting: VentingOutlook) -> Iterator[Entry]:
        """An entry on each day on which the holder likely vents; of days away one on the last day before them."""
        first_d = venting.first_venting_at_d
        first, since_d, told_of = told.day_of(first_d), float(told.edges_d[0]), set[date]()
        for day in venting.days:
            home, start_d = told.at_home_by(day.date), midnight(day.date, told.zone)
            if home is None or home in told_of:
                continue
            before = self._uid("venting", home) in self.before if self.before else None
            if day.date == first or is_sure(day.probability, MORE_LIKELY_THAN_NOT, before=before):
                vents_d = first_d if first_d is not None and day.date == first else start_d
                told_of.add(home)
                yield from self._vented(day, home, short=short_between(told, since_d, vents_d))
                since_d = start_d

    def _vented(self, day: VentingDay, home: date, *, short: bool) -> Iterator[Entry]:
        """What to do about it; nothing is to be done where gas is `short` before one leaves."""
        away = home < day.date
        if away and short:
            return
        what = ", though gas is short before" if short else ": cook more before it does"
        yield self._all_day(
            "venting",
            home,
            f"Holder likely vents{' while you are away: cook more before you leave' if away else what}",
            f"Odds {day.probability:.0%}{f' on {in_words(day.date)}' if away else ''}; "
            f"about {L_PER_M3 * day.vented_m3:.0f} L of gas would be lost. " + VENTING_CAUTION,
        )

    def _today(self, summary: str, description: str) -> Entry:
        today = local_date(self.outlook.as_of_d, self.outlook.household.zone)
        return self._all_day("note", today, summary, description)

    def _all_day(self, kind: str, day: date, summary: str, description: str) -> Entry:
        return Entry(
            uid=self._uid(kind, day),
            category=kind,
            start=day.isoformat(),
            end=(day + timedelta(days=1)).isoformat(),
            summary=summary,
            description=description,
        )

    def _uid(self, kind: str, day: date, meal: str = "") -> str:
        """The same for the same household, kind, meal and day, whenever and wherever it is told."""
        return str(uuid5(NAMESPACE, "\n".join((self.household, kind, meal, day.isoformat()))))


def _running_out(on_hand_kg: float) -> str:
    if on_hand_kg < LEAST_AMOUNT:
        return "None is in the house, and some may be needed"
    return f"{on_hand_kg:g} kg in the house may be used up"
