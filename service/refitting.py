"""The one background process that fits models: daily, and when asked; it never holds up an answer."""

from __future__ import annotations

import logging
import os
import signal
import time
from datetime import datetime, timedelta
from functools import partial
from types import FrameType

from models.calendar import from_days, to_days
from service.background import tried
from service.documents import zone_of
from service.store.fits import FitRequest
from service.usecases import skill
from service.usecases.refit import Refit, refit
from service.wiring import Wiring

LOGGER = logging.getLogger(__name__)
POLL_S = 2.0
MEASURED_D = 7
KEPT_LOG_D = 30  # a log with no reading for longer is a thing of the past
KEPT_ANSWERS_D = 400  # a year and a month: this winter's answers beside last winter's


def refit_now(name: str, as_of: datetime, wired: Wiring) -> Refit:
    """Fit one household's model on the readings up to a moment, which is now at the latest."""
    now = wired.clock()
    return refit(name, min(as_of, now), homes=wired.homes, logs=wired.logs, fits=wired.fits, now=now)


def answer_requests(wired: Wiring) -> int:
    """Fit what was asked for; how many requests were answered, well or badly."""
    waiting = wired.fits.pending()
    for request in waiting:
        tried(partial(_answer, request, wired))
    return len(waiting)


def _answer(request: FitRequest, wired: Wiring) -> None:
    outcome = tried(partial(_asked, request, wired))
    if isinstance(outcome, Exception):
        outcome = Refit(outcome="failed", message=f"no fit was made and the one before stays in use: {outcome}")
    wired.fits.finish(request.id, outcome.outcome, outcome.message, now=wired.clock())
    LOGGER.info("%s: %s (%s)", request.household, outcome.outcome, outcome.message)


def _asked(request: FitRequest, wired: Wiring) -> Refit:
    as_of = wired.clock() if request.as_of_d is None else from_days(request.as_of_d)
    return refit_now(request.household, as_of, wired)


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
    zone = zone_of(wired.homes.get(name).document["time_zone"])
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


def tidy(name: str, wired: Wiring) -> None:
    """Drop answers issued long ago with what they were made of; a measurement is kept until the next."""
    measured = wired.forecasts.latest(name, skill.KIND)
    before = wired.clock() - timedelta(days=KEPT_ANSWERS_D)
    wired.forecasts.prune(name, before, but=None if measured is None else measured.id)
    wired.history.prune(name, before)


def daily(name: str, wired: Wiring) -> None:
    """Make the day's fit of a household where it is due, and measure how good its forecasts were."""
    if due(name, wired):
        wired.fits.request(name, now=wired.clock())
        answer_requests(wired)
        measure(name, wired)


def look_after(wired: Wiring, *, tidying: bool) -> None:
    """Go once through the households and the requests; what goes wrong with one leaves the others as they are."""
    for name in wired.homes.names():
        if tidying:
            tried(partial(tidy, name, wired))
        tried(partial(daily, name, wired))
    answer_requests(wired)


class _Stopped(BaseException):
    """Raised by the signal to end, in the middle of whatever is done: a transaction is rolled back, a fit left."""


def _stop(_: int, __: FrameType | None) -> None:
    raise _Stopped


def watch(wired: Wiring, *, parent: int | None = None) -> None:
    """Answer requests and make the daily fits until told to stop, or until the process `parent` is gone."""
    try:
        signal.signal(signal.SIGTERM, _stop)
        signal.signal(signal.SIGINT, _stop)
        LOGGER.info("the fitting process looks after the households")
        tidied: datetime | None = None
        while parent in (None, os.getppid()):
            now = wired.clock()
            tidying = tidied is None or now - tidied >= timedelta(days=1)
            tidied = now if tidying else tidied
            tried(partial(look_after, wired, tidying=tidying))
            time.sleep(POLL_S)
    except _Stopped:
        LOGGER.info("the fitting process was told to stop")
