"""Forecasts as they were issued: listed, one by one, and compared with those before."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any, Protocol

from models.errors import Inconsistent
from service.documents import zone_of
from service.usecases.changes import changes_answer, told_from
from service.usecases.history import History
from service.usecases.issued import Issued
from service.usecases.situation import Homes

FIGURES: Mapping[str, tuple[str, ...]] = {
    "date": ("date",),
    "budget_m3": ("budget_m3", "tomorrow_budget_m3"),
    "budget_q10_m3": ("budget_q10_m3", "tomorrow_budget_q10_m3"),
    "need_m3": ("need_m3", "tomorrow_need_m3"),
    "covered": ("covered", "tomorrow_covered"),
    "holder_m3": ("holder_m3",),
    "days_left": ("days_left",),
    "first_backup_date": ("first_backup_date", "next_backup_date"),
    "summary": ("summary",),
}
"""The main figures of a forecast, and what they are called in the answers that have them."""
DATES = ("date", "first_backup_date")
CHANGES = "changes"


class Shelf(Protocol):
    """Where forecasts are kept as issued."""

    def get(self, name: str, forecast_id: int) -> Issued:
        """One forecast."""

    def page(
        self, name: str, *, limit: int = 100, before: int | None = None, kind: str | None = None
    ) -> Sequence[Issued]:
        """Forecasts of one kind or any, newest first, those with a smaller id than `before`."""

    def find(self, name: str, key: str) -> Issued | None:
        """What was kept under a key, or none."""

    def latest(self, name: str, beginning: str, *, before: int | None = None) -> Issued | None:
        """The one issued last among those whose key begins so; `before` that of an id."""

    def add(self, name: str, key: str, issued_at: datetime, body: bytes, inputs: dict[str, Any]) -> Issued:
        """Keep something under a key."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """Which forecasts to list."""

    limit: int
    before: int | None = None
    kind: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Compared:
    """Which forecasts to compare, and when that is asked; `since` None: the one before of the same question."""

    forecast_id: int
    since: int | None
    now: datetime


def list_answer(name: str, wanted: Wanted, *, homes: Homes, shelf: Shelf) -> dict[str, Any]:
    """The forecasts issued, newest first, a page of them; and where the next page begins, if there is one."""
    zone = zone_of(homes.get(name).document["time_zone"])
    found = shelf.page(name, limit=wanted.limit + 1, before=wanted.before, kind=wanted.kind)
    listed = found[: wanted.limit]
    return {
        "forecasts": [_entry(one, zone) for one in listed],
        "next_cursor": listed[-1].id if len(found) > wanted.limit else None,
    }


def _entry(issued: Issued, zone: Any) -> dict[str, Any]:
    body = json.loads(issued.body)
    figures: dict[str, Any] = {
        name: next((body[one] for one in names if one in body), None) for name, names in FIGURES.items()
    }
    figures |= {name: figures[name] and date.fromisoformat(figures[name]) for name in DATES}
    return {
        "id": issued.id,
        "kind": issued.inputs["kind"],
        "issued_at": issued.issued_at.astimezone(zone),
        "as_of": datetime.fromisoformat(issued.inputs["as_of"]).astimezone(zone),
        "asked": issued.inputs["asked"],
        "etag": issued.etag,
        "figures": figures,
    }


def changes_since(
    name: str, asked: Compared, *, shelf: Shelf, history: History, render: Callable[[dict[str, Any]], bytes]
) -> bytes:
    """What changed since an earlier forecast, by default the one before of the same question; worked out once."""
    now = shelf.get(name, asked.forecast_id)
    if asked.since is None:
        before = shelf.latest(name, f"{now.key.partition('@')[0]}@", before=now.id)
    elif asked.since < now.id:
        before = shelf.get(name, asked.since)
    else:
        message = f"since is {asked.since}, must be smaller than {now.id}: that of an earlier forecast"
        raise Inconsistent(message, field="since")
    key = f"{CHANGES}?{now.id}-{before.id if before else 0}@"
    kept = shelf.find(name, key)
    if kept is not None:
        return kept.body
    earlier = None if before is None else told_from(name, before, history)
    body = render(changes_answer(name, told_from(name, now, history), earlier, history=history))
    return shelf.add(name, key, asked.now, body, {}).body
