"""The very same request again: its answer from memory, as long as nothing at all was written in between.

What a request is refused or answered by is in the request, in the database and in the clock. So the answer to the same
request, header by header, holds until something is written to the database or its hour is over; nothing else is asked.
"""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from service.api.conditional import HOLDS_UNTIL, MAX_AGE_S, age_within, cache_control
from service.wiring import Wiring

KEPT_ANSWERS = 128
LONGEST_KEPT = 65_536  # bytes; a longer answer is read from the store each time

Environ = dict[str, Any]
Start = Callable[..., Callable[[bytes], object]]
Serve = Callable[[Environ, Start], Iterable[bytes]]
Asked = tuple[str, str, frozenset[tuple[str, str]]]
"""Path, query and all headers, as they were sent."""


@dataclass(frozen=True, slots=True)
class Remembered:
    """An answer as it was sent, and how long it may be sent again."""

    status: str
    headers: list[tuple[str, str]]
    body: bytes
    until: datetime

    def headers_at(self, now: datetime) -> list[tuple[str, str]]:
        """The headers as they are sent now: in the last minute caches are told to keep it for less and less."""
        age_s = age_within(self.until, now)
        if age_s == MAX_AGE_S:
            return self.headers
        others = [header for header in self.headers if header[0] != "Cache-Control"]
        return [*others, ("Cache-Control", cache_control(age_s))]


class _Own(threading.local):
    """What one thread remembers: answers given while the database stood at `mark`."""

    def __init__(self) -> None:
        self.mark: object = None
        self.answers: OrderedDict[Asked, Remembered] = OrderedDict()


class Memory:
    """Answers given while the database stood as it stands; each thread has its own, as it has its own connection."""

    def __init__(self, wired: Wiring) -> None:
        self._wired = wired
        self._own = _Own()

    def serve(self, environ: Environ, start: Start, *, otherwise: Serve) -> Iterable[bytes]:
        """Answer a request from memory, or `otherwise`, and remember that answer if it says how long it holds."""
        own, mark = self._own, self._wired.database.mark() if environ["REQUEST_METHOD"] == "GET" else None
        if mark is None:
            return otherwise(environ, start)
        if mark != own.mark:
            own.answers.clear()
            own.mark = mark
        asked = _asked(environ)
        found, now = own.answers.get(asked), self._wired.clock()
        if found is None or now >= found.until:
            return self._answered(asked, environ, start, otherwise)
        start(found.status, found.headers_at(now))
        return (found.body,)

    def _answered(self, asked: Asked, environ: Environ, start: Start, otherwise: Serve) -> Iterable[bytes]:
        sent: list[Any] = []

        def listen(status: str, headers: list[tuple[str, str]], *error: Any) -> Callable[[bytes], object]:
            sent[:] = (status, list(headers))
            return start(status, headers, *error)

        body = otherwise(environ, listen)
        until = environ.get(HOLDS_UNTIL)
        if until is None or self._wired.clock() >= until:
            return body
        whole = b"".join(body)
        getattr(body, "close", lambda: None)()
        if len(whole) <= LONGEST_KEPT:
            self._own.answers[asked] = Remembered(sent[0], sent[1], whole, until)
            while len(self._own.answers) > KEPT_ANSWERS:
                self._own.answers.popitem(last=False)
        return (whole,)


def _asked(environ: Environ) -> Asked:
    headers = frozenset(item for item in environ.items() if item[0].startswith("HTTP_"))
    return environ["PATH_INFO"], environ["QUERY_STRING"], headers
