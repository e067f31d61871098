"""The outlooks of the next hour, made shortly before it begins: at the full hour everybody asks at once."""

from __future__ import annotations

from datetime import datetime, timedelta

from service.usecases.outlook import USUAL_DAYS, Places, full_hour_after, shared_grounds

AHEAD = timedelta(seconds=20)


def ending(places: Places, now: datetime) -> list[tuple[str, int]]:
    """Households and numbers of days that were asked about in this process, and whose outlook soon ends."""
    asked = places.outlooks.asked
    for over in [one for one, until in list(asked.items()) if until <= now]:
        asked.pop(over, None)
    return [one for one, until in list(asked.items()) if until - now <= AHEAD and one[1] <= USUAL_DAYS]


def prepare(name: str, days: int, *, places: Places) -> None:
    """Make the outlook that follows the one in use, as of the moment at which that ends.

    Whatever is written meanwhile makes it void: the first question then finds another state of the household.
    """
    begins = places.outlooks.asked.pop((name, days))
    shared_grounds(name, days, full_hour_after(name, begins, places.homes), now=begins, places=places)
