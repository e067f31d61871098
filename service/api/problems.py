"""Errors as RFC 9457 problems: one table, and nothing else in the service turns an exception into an answer."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import asdict, dataclass
from http import HTTPStatus
from typing import Any
from urllib.parse import quote

from flask import Flask, Response, current_app, request
from marshmallow import ValidationError
from werkzeug.exceptions import HTTPException
from werkzeug.exceptions import NotFound as NoRoute

from models.errors import FitFailed, Inconsistent, ModelError, NotEnoughReadings, OutOfRange
from service.api.shortening import LONGEST_INSTANCE, MOST_FAULTS, shortened
from service.documents import DocumentError
from service.readings import ReadingRefused
from service.retelling import retold
from service.store.errors import (
    Busy,
    Conflict,
    NotFound,
    PreconditionFailed,
    PreconditionMissing,
    StoreError,
    Unreachable,
)
from service.usecases.household import TakenError
from service.usecases.imports import ImportConflict

STATUS: dict[type[Exception], HTTPStatus] = {
    OutOfRange: HTTPStatus.UNPROCESSABLE_ENTITY,
    Inconsistent: HTTPStatus.UNPROCESSABLE_ENTITY,
    TakenError: HTTPStatus.CONFLICT,
    DocumentError: HTTPStatus.UNPROCESSABLE_ENTITY,
    ReadingRefused: HTTPStatus.UNPROCESSABLE_ENTITY,
    ImportConflict: HTTPStatus.CONFLICT,
    NotEnoughReadings: HTTPStatus.CONFLICT,
    FitFailed: HTTPStatus.SERVICE_UNAVAILABLE,
    Busy: HTTPStatus.SERVICE_UNAVAILABLE,
    Unreachable: HTTPStatus.SERVICE_UNAVAILABLE,
    NotFound: HTTPStatus.NOT_FOUND,
    Conflict: HTTPStatus.CONFLICT,
    PreconditionFailed: HTTPStatus.PRECONDITION_FAILED,
    PreconditionMissing: HTTPStatus.PRECONDITION_REQUIRED,
}
"""What each refusal of a lower layer answers with."""

RETRY_AFTER_S = 60
CODE = re.compile(r"([a-z_]+)\|")
SECRET = re.compile(rb"((?:^|&)key=)[^&]*")
"""The key of a calendar: a problem may be kept in a log, where it has no business."""
NO_SUCH_PATH = "there is nothing at this path; /docs lists the paths that there are"
KEPT_HEADERS = ("Allow", "WWW-Authenticate", "Retry-After", "Content-Range")


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """One thing wrong with a request: where (JSON pointer), a code for scripts, a sentence for people."""

    pointer: str
    code: str
    message: str


def problem(
    status: int,
    detail: str,
    *,
    kind: str | None = None,
    errors: list[Fault] | None = None,
    headers: Mapping[str, str] | None = None,
) -> Response:
    """A problem+json answer; `kind` names the problem type, else the status does.

    Faults beyond the first hundred are left out: who mends those sees the next.
    """
    phrase = HTTPStatus(status).phrase
    body = {
        "type": f"/problems/{kind or phrase.lower().replace(' ', '-')}",
        "title": phrase,
        "status": int(status),
        "detail": shortened(detail),
        "instance": _instance(),
        "errors": [_plain(fault) for fault in (errors or [])[:MOST_FAULTS]],
    }
    response = current_app.response_class(current_app.json.dumps(body), status=status)
    response.content_type = "application/problem+json"
    response.headers["Cache-Control"] = "no-store"
    response.headers.update(headers or {})
    return response


def _plain(fault: Fault) -> dict[str, str]:
    return {name: shortened(value) for name, value in asdict(fault).items()}


def _instance() -> str:
    """Path and query asked for, without the key it may hold; the query is percent-encoded already."""
    query = SECRET.sub(rb"\1...", request.query_string)
    query_text = quote(query, safe="/?&=:,+%")
    return (quote(request.path, safe="/:,+") + (f"?{query_text}" if query_text else ""))[:LONGEST_INSTANCE]


def faults(messages: object, pointer: str = "", name: str = "") -> Iterator[Fault]:
    """Marshmallow's nested messages, flattened to one fault each; a place in a list is named by the list."""
    if isinstance(messages, Mapping):
        for key, nested in messages.items():
            if key == "_schema":
                yield from faults(nested, pointer, name)
                continue
            step = str(key).replace("~", "~0").replace("/", "~1")
            yield from faults(nested, f"{pointer}/{step}", f"{name}[{key}]" if isinstance(key, int) else str(key))
    elif isinstance(messages, list):
        for nested in messages:
            yield from faults(nested, pointer, name)
    else:
        told = str(messages)
        coded = CODE.match(told)  # what was sent may hold such a bar as well, further on
        code, message = (coded[1], told[coded.end() :]) if coded else ("invalid", told)
        yield Fault(pointer=pointer, code=code, message=f"{name or 'the body'} {message}")


def _invalid(error: ValidationError) -> Response:
    messages: Any = error.messages
    if isinstance(messages, dict) and set(messages) <= {"json", "query", "path", "headers"}:
        messages = [nested for nested in messages.values()]
    found = list(faults(messages))
    detail = (
        found[0].message
        if len(found) == 1
        else f"{len(found)} fields need mending: " + "; ".join(fault.message for fault in found[:3])
    )
    return problem(HTTPStatus.BAD_REQUEST, detail, kind="invalid-fields", errors=found)


def _refused(error: Exception) -> Response:
    status = next(STATUS[kind] for kind in type(error).__mro__ if kind in STATUS)
    kind = "".join(f"-{c.lower()}" if c.isupper() else c for c in type(error).__name__).lstrip("-")
    message, field = retold(error) if isinstance(error, ModelError) else (str(error), getattr(error, "field", None))
    pointer = getattr(error, "pointer", None) or (f"/{field}" if field else None)
    found = [Fault(pointer=pointer, code=kind, message=message)] if pointer else []
    if isinstance(error, ReadingRefused):
        found = [Fault(pointer=f"/{one.field}", code=one.code, message=one.message) for one in error.complaints]
    if status is HTTPStatus.SERVICE_UNAVAILABLE:
        return problem(status, message, kind=kind, errors=found, headers={"Retry-After": str(RETRY_AFTER_S)})
    return problem(status, message, kind=kind, errors=found)


def _http(error: HTTPException) -> Response:
    data = getattr(error, "data", None)
    if data and isinstance(data.get("exc"), ValidationError):
        return _invalid(data["exc"])
    if data and "messages" in data:
        return _invalid(ValidationError(data["messages"]))
    kept = error.get_response().headers
    headers = {name: kept[name] for name in KEPT_HEADERS if name in kept}
    told = (
        NO_SUCH_PATH if isinstance(error, NoRoute) and error.description == NoRoute.description else error.description
    )
    return problem(error.code or HTTPStatus.INTERNAL_SERVER_ERROR, told or "", headers=headers)


def register(app: Flask) -> None:
    """Answer every error of this app as a problem."""
    app.register_error_handler(HTTPException, _http)
    app.register_error_handler(ValidationError, _invalid)
    for kind in (ModelError, DocumentError, ReadingRefused, StoreError):
        app.register_error_handler(kind, _refused)
