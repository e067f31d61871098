"""The one background process that fits models: daily, and when asked; it never holds up an answer."""

from __future__ import annotations

import logging
import signal
import threading
from datetime import datetime, timedelta
from types import FrameType

from models.calendar import from_days, to_days
from service.documents import household_from
from service.usecases import skill
from service.usecases.refit import Refit, refit
from service.wiring import Wiring

LOGGER = logging.getLogger(__name__)
POLL_S = 2.0
MEASURED_D = 7
KEPT_LOG_D = 30  # a log with no reading for longer is a thing of the past


def refit_now(name: str, as_of: datetime, wired: Wiring) -> Refit:
    """Fit one household's model on the readings up to a moment."""
    return refit(name, as_of, homes=wired.homes, logs=wired.logs, fits=wired.fits, now=wired.clock())


def answer_requests(wired: Wiring) -> int:
    """Fit what was asked for; how many requests were answered."""
    waiting = wired.fits.pending()
    for request in waiting:
        as_of = wired.clock() if request.as_of_d is None else from_days(request.as_of_d)
        outcome = refit_now(request.household, as_of, wired)
        wired.fits.finish(request.id, outcome.outcome, outcome.message, now=wired.clock())
        LOGGER.info("%s: %s (%s)", request.household, outcome.outcome, outcome.message)
    return len(waiting)


def measure(name: str, wired: Wiring) -> bool:
    """Measure how good forecasts were, where that was not done this week; whether it was done now."""
    now = wired.clock()
    before = wired.forecasts.latest(name, skill.KIND)
    if before is not None and now - before.issued_at < timedelta(days=MEASURED_D):
        return False
    errors = skill.backtest(name, skill.Backtest(as_of=now), homes=wired.homes, logs=wired.logs, fits=wired.fits)
    skill.keep_skill(name, errors, kept=wired.forecasts, now=now)
    return True


def due(name: str, wired: Wiring) -> bool:
    """Whether the day's fit of a household is still to be made: its hour has come, and there is something to learn."""
    zone = household_from(wired.homes.get(name).document).zone
    now = wired.clock().astimezone(zone)
    if not _has_news(name, now, wired):
        return False
    hour = now.replace(hour=wired.settings.refit_hour, minute=0, second=0, microsecond=0)
    latest = hour if now >= hour else hour - timedelta(days=1)
    tried = [request.requested_at for request in wired.fits.requests(name, limit=20) if request.as_of_d is None]
    return max(tried, default=datetime.min.replace(tzinfo=latest.tzinfo)) < latest


def _has_news(name: str, now: datetime, wired: Wiring) -> bool:
    """Whether a log that is still being kept holds a reading that the newest fit does not know."""
    last = wired.logs.last_reading_at(name)
    if last is None or now - last > timedelta(days=KEPT_LOG_D):
        return False
    kept = wired.fits.newest(name)
    return kept is None or to_days(last) > kept.made_as_of_d


def watch(wired: Wiring) -> None:
    """Answer requests and make the daily fits until told to stop."""
    stopped = threading.Event()

    def stop(_: int, __: FrameType | None) -> None:
        stopped.set()

    signal.signal(signal.SIGTERM, stop)
    signal.signal(signal.SIGINT, stop)
    while not stopped.wait(POLL_S):
        for name in wired.homes.names():
            if due(name, wired):
                wired.fits.request(name, now=wired.clock())
                answer_requests(wired)
                measure(name, wired)
        answer_requests(wired)
