"""What every forecast carries: when it was made, of what, whether it holds, and one plain sentence."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import fields, is_dataclass
from typing import Any, Literal
from zoneinfo import ZoneInfo

from models.calendar import from_days
from models.outlook import Outlook
from models.reckoning import fitting
from service.usecases.outlook import Moment

Reason = Literal["no_readings", "stale", "cold_start", "beyond_horizon"]

OLD_READING_D = 2.0
LOST_READING_D = 14.0
NEVER_READ = "The gauge was never read, so nobody knows what is in the holder; log a holder_level reading."


def stamp(outlook: Outlook, moment: Moment, *summaries: str, reason: Reason | None = None) -> dict[str, Any]:
    """The stamp of an answer; `reason` where the question itself cannot be answered.

    Of `summaries`, the longest before the shortest, the first is told that leaves room for what is to be minded.
    """
    zone = outlook.household.zone
    reason = reason or standing(outlook)
    return {
        "issued_at": moment.issued_at.astimezone(zone),
        "as_of": moment.as_of.astimezone(zone),
        "valid_until": moment.valid_until.astimezone(zone),
        "last_reading_at": None if outlook.last_level_d is None else from_days(outlook.last_level_d).astimezone(zone),
        "time_zone": zone.key,
        "basis": outlook.basis,
        "valid": reason in (None, "cold_start") or (reason == "stale" and age_d(outlook) <= LOST_READING_D),
        "reason": reason,
        "summary": _worded(outlook, reason, summaries),
    }


def age_d(outlook: Outlook) -> float:
    """Days since the last look at the gauge; infinite where there was none."""
    return float("inf") if outlook.last_level_d is None else outlook.as_of_d - outlook.last_level_d


def standing(outlook: Outlook) -> Reason | None:
    """What to mind about every answer from this outlook."""
    if outlook.last_level_d is None:
        return "no_readings"
    if age_d(outlook) > OLD_READING_D:
        return "stale"
    return "cold_start" if outlook.basis == "prior" else None


def _worded(outlook: Outlook, reason: Reason | None, summaries: Sequence[str]) -> str:
    if reason == "no_readings":
        return NEVER_READ
    warning = f"Gauge last read {age_d(outlook):.0f} days ago: read it again." if reason == "stale" else ""
    told = [f"{warning} {one}".strip() for one in summaries]
    return fitting([*told, warning] if warning else told)


def plain(value: object, zone: ZoneInfo) -> Any:
    """A model's answer as plain values: times become time stamps, values dictionaries."""
    if is_dataclass(value) and not isinstance(value, type):
        return dict(_field(one.name, getattr(value, one.name), zone) for one in fields(value))
    if isinstance(value, tuple | list):
        return [plain(one, zone) for one in value]
    return value


MOMENTS: Mapping[str, str] = {
    "start_d": "start",
    "end_d": "end",
    "empty_at_d": "empty_at",
    "empty_at_q10_d": "empty_at_q10",
    "full_at_d": "full_at",
    "full_at_q10_d": "full_at_q10",
    "first_venting_at_d": "first_venting_at",
    "first_venting_at_q10_d": "first_venting_at_q10",
}
"""Fields of the models' answers that are moments, and what the contract calls them."""


def _field(name: str, value: object, zone: ZoneInfo) -> tuple[str, object]:
    if name not in MOMENTS:
        return name, plain(value, zone)
    return MOMENTS[name], None if value is None else from_days(float(str(value))).astimezone(zone)
