"""What the production model has learnt, and the wish for a new fit."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Any, Protocol
from zoneinfo import ZoneInfo

from models.calendar import from_days, to_days
from service.usecases.outlook import Learnt, Places, learnt_from, learnt_now
from service.usecases.set_aside import set_aside_rows
from service.usecases.situation import KeptFit, situation

PLAIN = {
    "prior": "Nothing was learnt from the log yet: the forecast is what digesters of this size and feed usually make.",
    "blended": "The log has begun to correct what digesters of this size and feed usually make.",
    "fitted": "The forecast rests on this household's own log.",
}


class Request(Protocol):
    """A wish for a fit, and what came of it."""

    @property
    def id(self) -> int:
        """Its number."""

    @property
    def as_of_d(self) -> float | None:
        """Moment to fit up to; None: when it is made. [d]"""

    @property
    def requested_at(self) -> datetime:
        """When it was asked for."""

    @property
    def finished_at(self) -> datetime | None:
        """When it was tried; None while it waits."""

    @property
    def outcome(self) -> str | None:
        """`replaced`, `kept` or `failed`."""

    @property
    def message(self) -> str | None:
        """What came of it, in words."""


class FitDesk(Protocol):
    """Where fits are asked for."""

    def request(self, name: str, as_of_d: float | None = None, *, now: datetime) -> int:
        """Ask for a fit; the request's number."""

    def requests(self, name: str, limit: int = 20) -> Sequence[Request]:
        """A household's latest requests, newest first."""

    def newest(self, name: str, until_d: float | None = None) -> KeptFit | None:
        """The newest fit made on no reading later than a moment."""


def model_answer(name: str, as_of: datetime | None, *, places: Places, desk: FitDesk, now: datetime) -> dict[str, Any]:
    """The fit in use: parameters with errors and meaning, data window, diagnostics, what was set aside."""
    if as_of is not None:
        as_of = as_of.replace(microsecond=0)
        then = situation(name, as_of, homes=places.homes, logs=places.logs, fits=places.fits)
        return _told(name, learnt_from(then), as_of, desk) | _lately(name, desk)
    now = now.replace(microsecond=0)
    told = places.told_lately(("model",), name, now, lambda: _told(name, learnt_now(name, now, places), now, desk))
    return told | _lately(name, desk)


def _told(name: str, learnt: Learnt, as_of: datetime, desk: FitDesk) -> dict[str, Any]:
    standing, found = learnt.standing, learnt.now
    kept = desk.newest(name, standing.as_of_d)
    zone = standing.household.zone
    return {
        "basis": found.basis,
        "summary": PLAIN[found.basis],
        "as_of": as_of.astimezone(zone),
        "time_zone": zone.key,
        "fit": None if standing.fitted is None else _fit(kept, standing.fitted.to_dict(), zone),
        "diagnostics": dict(found.diagnostics),
        "set_aside": set_aside_rows(learnt.known.written, found.set_aside, zone),
    }


def _lately(name: str, desk: FitDesk) -> dict[str, Any]:
    """What came of the last wish for a fit; a fit that failed is no new state of the household."""
    last = next((request for request in desk.requests(name) if request.finished_at is not None), None)
    return {
        "last_outcome": None if last is None else last.outcome,
        "last_message": None if last is None else last.message,
    }


def _fit(kept: KeptFit | None, document: dict[str, Any], zone: ZoneInfo) -> dict[str, Any]:
    window = document["window_d"]
    start, end = (None, None) if window is None else (from_days(one).astimezone(zone) for one in window)
    return {
        "id": None if kept is None else kept.id,
        "made_as_of": from_days(document["made_as_of_d"]).astimezone(zone),
        "window_start": start,
        "window_end": end,
        "intervals": document["intervals"],
        "bounds": document["bounds"],
        "parameters": document["parameters"],
        "slurry": document["slurry"],
    }


def ask_for_fit(name: str, as_of: datetime | None, *, desk: FitDesk, now: datetime) -> dict[str, Any]:
    """Ask for a new fit; the background process makes it."""
    number = desk.request(name, None if as_of is None else to_days(as_of), now=now)
    return next(_request(one) for one in desk.requests(name, limit=1000) if one.id == number)


def requested_fits(name: str, *, desk: FitDesk) -> list[dict[str, Any]]:
    """The latest wishes for a fit and what came of them, newest first."""
    return [_request(one) for one in desk.requests(name)]


def _request(one: Request) -> dict[str, Any]:
    return {
        "id": one.id,
        "as_of": None if one.as_of_d is None else from_days(one.as_of_d),
        "requested_at": one.requested_at,
        "finished_at": one.finished_at,
        "outcome": one.outcome or "waiting",
        "message": one.message,
    }
