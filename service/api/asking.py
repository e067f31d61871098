"""What the forecasting resources share: from a query to the bytes of an answer, issued once and kept."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from typing import Any

from flask import Response

from models.outlook import Outlook
from service.api.conditional import answered
from service.api.fields import Schema, dumped
from service.usecases.outlook import USUAL_DAYS, Moment, Places, Question, Told, issue
from service.wiring import Wiring, wiring

Answering = Callable[[Outlook, Moment, bytes | None], dict[str, Any]]
"""From an outlook, the moment and the answer given before to the values of an answer."""


def places_of(wired: Wiring) -> Places:
    """Where a wiring keeps what answers are made of."""
    return Places(
        homes=wired.homes,
        logs=wired.logs,
        fits=wired.fits,
        forecasts=wired.forecasts,
        history=wired.history,
        outlooks=wired.outlooks,
        answers=wired.answers,
        shared=wired.shared,
    )


def places() -> Places:
    """Where this app keeps what answers are made of."""
    return places_of(wiring())


def tell(question: Question, schema: type[Schema], answer: Answering, *, wired: Wiring) -> Told:
    """Answer one question: from the store where it was issued before, else from the household's outlook."""

    def render(outlook: Outlook, moment: Moment, before: bytes | None) -> bytes:
        return dumped(complete(schema, answer(outlook, moment, before)))

    return issue(question, places=places_of(wired), now=wired.clock(), render=render)


def ask(
    household: str,
    kind: str,
    schema: type[Schema],
    answer: Answering,
    *,
    as_of: datetime | None,
    days: int = USUAL_DAYS,
    **asked: object,
) -> Response:
    """Answer one question over HTTP."""
    question = Question(household=household, kind=kind, asked=asked, as_of=as_of, days=days)
    told = tell(question, schema, answer, wired=wiring())
    return answered(told.body, etag=told.etag, valid_until=told.valid_until)


def complete(schema: type[Schema], values: dict[str, Any]) -> dict[str, Any]:
    """A document with every field of its schema: what is not known is null, never missing."""
    fields = schema().fields
    document: dict[str, Any] = schema().dump({name: values.get(name) for name in fields})
    return document
