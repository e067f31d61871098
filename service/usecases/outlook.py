"""One outlook for every question asked of the same state of a household, and answers kept as they were issued."""

from __future__ import annotations

import threading
import zlib
from collections import OrderedDict
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any, Protocol

from models.outlook import Outlook, look_ahead
from models.production.fit import state
from models.production.record import record
from service.usecases.situation import Fits, Homes, Logs, situation

USUAL_DAYS, LONGEST_DAYS = 14, 90
KEPT_OUTLOOKS = 6


class Issued(Protocol):
    """An answer as it was issued."""

    @property
    def body(self) -> bytes:
        """Its bytes."""

    @property
    def etag(self) -> str:
        """Its strong ETag."""


class Forecasts(Protocol):
    """Where answers are kept as issued."""

    def find(self, name: str, key: str) -> Issued | None:
        """The answer issued under a key, or none."""

    def latest(self, name: str, beginning: str) -> Issued | None:
        """The answer issued last among those whose key begins so, or none."""

    def add(self, name: str, key: str, issued_at: datetime, body: bytes, inputs: dict[str, Any]) -> Issued:
        """Keep an answer; where one stands under the key already, that one is returned."""


class OutlookCache:
    """The latest outlooks of this process; questions that need the same one wait for it rather than make it twice."""

    def __init__(self, size: int = KEPT_OUTLOOKS) -> None:
        self._size = size
        self._lock = threading.Lock()
        self._kept: OrderedDict[tuple[Any, ...], Outlook] = OrderedDict()

    def get(self, key: tuple[Any, ...], make: Callable[[], Outlook]) -> Outlook:
        """The outlook under a key, made where it is not kept."""
        with self._lock:
            if key not in self._kept:
                self._kept[key] = make()
                while len(self._kept) > self._size:
                    self._kept.popitem(last=False)
            self._kept.move_to_end(key)
            return self._kept[key]


@dataclass(frozen=True, slots=True, kw_only=True)
class Places:
    """Where everything an answer is made of is kept."""

    homes: Homes
    logs: Logs
    fits: Fits
    forecasts: Forecasts
    outlooks: OutlookCache


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """One question on one household: `kind` and `asked` tell it from others, `as_of` None asks for now."""

    household: str
    kind: str
    asked: Mapping[str, object] = field(default_factory=dict)
    as_of: datetime | None = None
    days: int = USUAL_DAYS


@dataclass(frozen=True, slots=True, kw_only=True)
class Moment:
    """When a question is asked and what for: `issued_at` is now, `as_of` the moment the answer looks ahead from."""

    issued_at: datetime
    as_of: datetime

    @property
    def valid_until(self) -> datetime:
        """The full hour after `as_of`."""
        return self.as_of.replace(minute=0, second=0, microsecond=0) + timedelta(hours=1)


def issue(
    question: Question, *, places: Places, now: datetime, render: Callable[[Outlook, Moment, bytes | None], bytes]
) -> tuple[Issued, datetime]:
    """The answer to a question, as stored where it was issued before, with the time it holds until.

    An answer stands until the log, the description or the hour changes; `render` turns an outlook into its bytes, given
    those of the answer before, so that a verdict need not flap.

    Raises
    ------
    Whatever the stores and models refuse: an unknown household, a description that contradicts itself.
    """
    now = now.replace(microsecond=0)
    moment = Moment(issued_at=now, as_of=question.as_of or now)
    version = places.homes.version(question.household)
    if version is None:
        places.homes.get(question.household)  # says that there is no such household
    # Now is taken by the hour, another moment to the second.
    hour = moment.valid_until.isoformat() if question.as_of is None else f"as of {moment.as_of.isoformat()}"
    asked = ",".join(f"{name}={value}" for name, value in sorted(question.asked.items()))
    which = f"{question.kind}?{asked}@"
    key = f"{which}{version}/{hour}"
    found = places.forecasts.find(question.household, key)
    if found is None:
        outlook = outlook_of(question, moment, (version, hour), places)
        inputs = {"version": version, "as_of": moment.as_of.isoformat()}
        before = places.forecasts.latest(question.household, which) if question.as_of is None else None
        body = render(outlook, moment, before.body if before else None)
        found = places.forecasts.add(question.household, key, now, body, inputs)
    return found, moment.valid_until


def outlook_of(question: Question, moment: Moment, state_key: tuple[Any, ...], places: Places) -> Outlook:
    """The outlook a question is answered from, shared with the other questions on the same state."""
    name = question.household
    seed = zlib.crc32(name.encode())  # the same draws for every answer, so that answers move only with what is known

    def make() -> Outlook:
        standing = situation(name, moment.as_of, homes=places.homes, logs=places.logs, fits=places.fits)
        known = record(standing.household, standing.log, standing.posted, standing.as_of_d)
        return look_ahead(known, state(known, standing.fitted), standing.plan, question.days, seed=seed)

    return places.outlooks.get((name, *state_key, question.days), make)
