"""One outlook for every question asked of the same state of a household, and answers kept as they were issued."""

from __future__ import annotations

import threading
import zlib
from collections import OrderedDict
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any, Protocol
from weakref import WeakValueDictionary

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
    """The latest outlooks of this process; who asks for one that is being made waits for it, and nobody else does."""

    def __init__(self, size: int = KEPT_OUTLOOKS) -> None:
        self._size = size
        self._lock = threading.Lock()
        self._kept: OrderedDict[tuple[Any, ...], Outlook] = OrderedDict()
        self._making: WeakValueDictionary[tuple[Any, ...], threading.Lock] = WeakValueDictionary()

    def get(self, key: tuple[Any, ...], make: Callable[[], Outlook]) -> Outlook:
        """The outlook under a key, made where it is not kept."""
        with self._lock:
            making = self._making.setdefault(key, threading.Lock())
        with making:
            found = self._find(key)
            return self._keep(key, make()) if found is None else found

    def _find(self, key: tuple[Any, ...]) -> Outlook | None:
        with self._lock:
            if key in self._kept:
                self._kept.move_to_end(key)
            return self._kept.get(key)

    def _keep(self, key: tuple[Any, ...], made: Outlook) -> Outlook:
        with self._lock:
            self._kept[key] = made
            while len(self._kept) > self._size:
                self._kept.popitem(last=False)
            return made


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
    """One question on one household: `kind` and `asked` tell it from others, `as_of` None asks for now.

    `remembers` is the question whose last answer a verdict holds to, where that is another one.
    """

    household: str
    kind: str
    asked: Mapping[str, object] = field(default_factory=dict)
    as_of: datetime | None = None
    days: int = USUAL_DAYS
    remembers: Question | None = None

    @property
    def which(self) -> str:
        """How the keys of its answers begin."""
        asked = ",".join(f"{name}={value}" for name, value in sorted({**self.asked, "days": self.days}.items()))
        return f"{self.kind}?{asked}@"


@dataclass(frozen=True, slots=True, kw_only=True)
class Moment:
    """When a question is asked and what for: `issued_at` is now, `as_of` the moment the answer looks ahead from."""

    issued_at: datetime
    as_of: datetime

    @property
    def valid_until(self) -> datetime:
        """The full hour after `as_of`."""
        return self.as_of.replace(minute=0, second=0, microsecond=0) + timedelta(hours=1)


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """An answer and the time it holds until; `etag` is None where it was not kept."""

    body: bytes
    etag: str | None
    valid_until: datetime


Render = Callable[[Outlook, Moment, bytes | None], bytes]
"""From an outlook, the moment and the answer given before to the bytes of an answer."""


def issue(question: Question, *, places: Places, now: datetime, render: Render) -> Told:
    """The answer to a question, as stored where it was issued before, with the time it holds until.

    An answer stands until the log, the description or the hour changes; `render` turns an outlook into its bytes, given
    those of the answer before, so that a verdict need not flap. An answer as of another moment is the one that would
    have been issued then: it can be worked out again at any time, and is not kept.

    Raises
    ------
    Whatever the stores and models refuse: an unknown household, a description that contradicts itself.
    """
    now = now.replace(microsecond=0)
    version = places.homes.version(question.household)
    if version is None:
        places.homes.get(question.household)  # says that there is no such household
    if question.as_of is not None:
        whole = question.as_of.replace(microsecond=0)  # readings and steps of the balance are whole seconds
        then = Moment(issued_at=whole, as_of=whole)
        outlook = outlook_of(question, then, (version, "as of", whole), places)
        return Told(body=render(outlook, then, None), etag=None, valid_until=then.valid_until)
    moment = Moment(issued_at=now, as_of=now)
    hour = moment.valid_until.isoformat()
    key = f"{question.which}{version}/{hour}"
    found = places.forecasts.find(question.household, key)
    if found is None:
        outlook = outlook_of(question, moment, (version, hour), places)
        before = places.forecasts.latest(question.household, (question.remembers or question).which)
        body = render(outlook, moment, before.body if before else None)
        inputs = {"version": version, "as_of": moment.as_of.isoformat()}
        found = places.forecasts.add(question.household, key, now, body, inputs)
    return Told(body=found.body, etag=found.etag, valid_until=moment.valid_until)


def outlook_of(question: Question, moment: Moment, state_key: tuple[Any, ...], places: Places) -> Outlook:
    """The outlook a question is answered from, shared with the other questions on the same state."""
    name = question.household
    seed = zlib.crc32(name.encode())  # the same draws for every answer, so that answers move only with what is known

    def make() -> Outlook:
        standing = situation(name, moment.as_of, homes=places.homes, logs=places.logs, fits=places.fits)
        known = record(standing.household, standing.log, standing.posted, standing.as_of_d)
        return look_ahead(known, state(known, standing.fitted), standing.plan, question.days, seed=seed)

    return places.outlooks.get((name, *state_key, question.days), make)
