"""What changed since an earlier forecast, and why: its inputs exchanged one after another for the later one's."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from typing import Any

from models.changes import ORDER, SETS_OF_PATHS, Share, Why, change_l, shares, steady_budget_m3
from models.errors import ModelError
from models.reckoning import in_words
from service.documents import DocumentError, zone_of
from service.marks import Differences
from service.usecases.history import History, Inputs, PastLog, inputs_from, situation_from
from service.usecases.issued import Issued
from service.usecases.outlook import LONGEST_DAYS, learnt_from, outlooks_from

Answer = dict[str, Any]
NO_READINGS = "At the earlier of the two the gauge had never been read, so there is no budget to compare."
SMALL_L = 0.5
LITRES_PER_M3 = 1000.0
UNCHANGED = Differences(added=0, corrected=0, deleted=0)
WORDS: dict[Why, str] = {
    "time": "the hours that passed",
    "readings": "the readings",
    "weather": "the weather forecast",
    "meals": "the meals",
    "fit": "a new fit",
    "description": "the description",
    "chance": "chance in the sample paths",
}
DOCUMENTS_OF: dict[Why, tuple[str, ...]] = {
    "weather": ("weather",),
    "meals": ("meals", "overrides"),
    "description": ("description",),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """A forecast with what it was made of: the day it tells of, and the budget of that day if it tells one."""

    issued: Issued
    inputs: Inputs

    @property
    def zone(self) -> Any:
        """The household's time zone then."""
        return zone_of(self.inputs.documents["description"]["time_zone"])

    @property
    def day(self) -> date:
        """The day whose budget is compared: the one asked for, else tomorrow."""
        asked = json.loads(self.issued.body).get("date")
        tomorrow = self.inputs.as_of.astimezone(self.zone).date() + timedelta(days=1)
        return date.fromisoformat(asked) if asked else tomorrow

    def budget_m3(self, day: date) -> float | None:
        """The budget of a day as it was issued; None where this told none. [m3]"""
        body = json.loads(self.issued.body)
        found = body.get("budget_m3", body.get("tomorrow_budget_m3"))
        return None if found is None or day != self.day else float(found)


def told_from(name: str, issued: Issued, history: History) -> Told:
    """A forecast with what it was made of."""
    return Told(issued=issued, inputs=inputs_from(name, issued.inputs, history=history))


def changes_answer(name: str, now: Told, before: Told | None, *, history: History) -> Answer:
    """What changed from one forecast to another, in litres of a day's budget."""
    known: Answer = {
        "id": now.issued.id,
        "issued_at": now.issued.issued_at.astimezone(now.zone),
        "date": now.day,
        "changes": [],
        "valid": False,
    }
    if before is None:
        return known | {"reason": "no_forecast_before", "summary": "No forecast was issued before this one."}
    known |= {"before_id": before.issued.id, "before_issued_at": before.issued.issued_at.astimezone(now.zone)}
    if (now.day - before.inputs.as_of.astimezone(now.zone).date()).days > LONGEST_DAYS:
        return known | {"reason": "beyond_horizon", "summary": "The earlier forecast did not reach as far as this day."}
    found = Found(
        was_m3=_budget_m3(name, before.inputs, now.day, history),
        log=history.differences(name, before.inputs.mark, now.inputs.mark),
    )
    found.exchanged += _exchanged(name, now, before, found, history)
    if found.was_m3 is None or found.is_m3 is None:
        return known | {"reason": "no_readings", "summary": NO_READINGS}
    return known | _compared(now, before, found)


@dataclass(slots=True, kw_only=True)
class Found:
    """A budget as it was, and after each exchange of what is not the same; and what became of the log. [m3]"""

    was_m3: float | None
    log: Differences
    exchanged: list[tuple[Why, float | None]] = field(default_factory=list)

    @property
    def is_m3(self) -> float | None:
        """The budget with everything new. [m3]"""
        return self.exchanged[-1][1] if self.exchanged else self.was_m3


def _exchanged(
    name: str, now: Told, before: Told, found: Found, history: History
) -> Iterator[tuple[Why, float | None]]:
    """The budget of the later forecast's day after each exchange."""
    inputs = before.inputs
    for why in ORDER:
        after = exchanged(inputs, now.inputs, why)
        same = found.log == UNCHANGED if why == "readings" else after == inputs
        inputs = after
        if not same:
            yield why, _budget_m3(name, inputs, now.day, history)


def exchanged(inputs: Inputs, new: Inputs, why: Why) -> Inputs:
    """Inputs with one of them exchanged for the new one."""
    if why == "time":
        return replace(inputs, as_of=new.as_of)
    if why == "readings":
        return replace(inputs, mark=new.mark)
    if why == "fit":
        return replace(inputs, fit=new.fit)
    renewed = {name: new.documents[name] for name in DOCUMENTS_OF[why]}
    return replace(inputs, documents={**inputs.documents, **renewed})


def _budget_m3(name: str, inputs: Inputs, day: date, history: History) -> float | None:
    """A day's budget from inputs; None also where they do not go together, such as new meals on burners of old."""
    try:
        standing = situation_from(name, inputs, logs=PastLog(history, inputs.mark))
        ahead = (day - inputs.as_of.astimezone(standing.household.zone).date()).days
        return steady_budget_m3(outlooks_from(learnt_from(standing), max(ahead, 1), sets=SETS_OF_PATHS), day)
    except (ModelError, DocumentError):
        return None


def _compared(now: Told, before: Told, found: Found) -> Answer:
    assert found.was_m3 is not None and found.is_m3 is not None
    before_m3, now_m3 = before.budget_m3(now.day), now.budget_m3(now.day)
    issued = (found.was_m3 if before_m3 is None else before_m3, found.is_m3 if now_m3 is None else now_m3)
    parts = shares(found.exchanged, before_m3=found.was_m3, issued_m3=issued)
    told = [part for part in parts if part.why != "chance" or part.litres]
    return {
        "budget_m3": issued[1],
        "budget_before_m3": issued[0],
        "change_l": change_l(*issued),
        "changes": [
            {"why": one.why, "litres": one.litres, "what": what(one.why, now, before, found.log)} for one in told
        ],
        "valid": True,
        "reason": None,
        "summary": summary(now, before, issued, parts),
    }


def what(why: Why, now: Told, before: Told, log: Differences) -> str:
    """What it was that changed, in a few words."""
    if why == "readings":
        counts = ((log.added, "new"), (log.corrected, "corrected"), (log.deleted, "deleted"))
        return "readings: " + ", ".join(f"{count} {word}" for count, word in counts if count)
    if why == "fit":
        numbers = [None if one.inputs.fit is None else one.inputs.fit.id for one in (now, before)]
        return f"fit {numbers[0]} in place of {numbers[1] or 'none'}"
    if why == "time":
        minutes = (now.inputs.as_of - before.inputs.as_of) / timedelta(minutes=1)
        return f"{minutes:.0f} min passed" if minutes < 60.0 else f"{minutes / 60.0:.1f} hours passed"
    return WORDS[why]


def summary(now: Told, before: Told, issued: tuple[float, float], parts: Sequence[Share]) -> str:
    """What changed in one sentence, with the two weightiest reasons."""
    moved = change_l(*issued)
    since = before.issued.issued_at.astimezone(now.zone)
    said = f"what was said on {in_words(since.date())} at {since:%H:%M}"
    budget = f"{in_words(now.day)}: {LITRES_PER_M3 * issued[1]:.0f} L may be burned"
    causes = (one for one in parts if _weight(one) >= SMALL_L)
    weighty = sorted(causes, key=_weight, reverse=True)
    why = ", ".join(f"{WORDS[one.why]} {one.litres:+.0f} L" for one in weighty[:2])
    if abs(moved) < SMALL_L:
        return f"{budget}, as {said}" + (f" ({why})." if why else ".")
    more = "more" if moved > 0.0 else "less"
    return f"{budget}, {abs(moved):.0f} L {more} than {said}" + (f": {why}." if why else ".")


def _weight(part: Share) -> float:
    return abs(part.litres or 0.0)
