"""Answers as stored bytes with a strong ETag; a client that has them already gets 304."""

from __future__ import annotations

import hashlib
from datetime import datetime, timedelta
from http import HTTPStatus
from typing import Any

from flask import Response, current_app, request

from service.api.fields import dumped
from service.wiring import wiring

MAX_AGE_S = 60
HOLDS_UNTIL = "kettlecast.holds_until"
"""Where a request says until when its answer may be given again as it is, if nothing is written meanwhile."""


def etag_of(body: bytes) -> str:
    """Strong ETag of a body, without the quotes."""
    return hashlib.sha256(body).hexdigest()[:32]


def answered(
    body: bytes, *, etag: str | None = None, valid_until: datetime | None = None, media_type: str = "application/json"
) -> Response:
    """A body with its ETag, kept by caches for a minute and never past `valid_until`."""
    tag = etag or etag_of(body)
    age_s = MAX_AGE_S
    if valid_until is not None:
        age_s = max(0, min(age_s, int((valid_until - wiring().clock()).total_seconds())))
        # In the last minute caches are told to keep it for less and less.
        request.environ[HOLDS_UNTIL] = valid_until - timedelta(seconds=MAX_AGE_S)
    held = request.if_none_match.contains_weak(tag)
    response = current_app.response_class(b"" if held else body, mimetype=media_type)
    if held:
        response.status_code = HTTPStatus.NOT_MODIFIED
        response.headers.pop("Content-Type", None)
    response.set_etag(tag)
    response.headers["Cache-Control"] = f"private, max-age={age_s}"
    return response


def said_now(document: dict[str, Any]) -> Response:
    """A document that says the same until the log does: its `as_of` alone makes no new version of it."""
    timeless = {name: value for name, value in document.items() if name != "as_of"}
    return answered(dumped(document), etag=etag_of(dumped(timeless)))


def if_match() -> str | None:
    """The ETag a client wants to replace: its value, `*`, or none sent."""
    header = request.headers.get("If-Match")
    # A weak tag never matches here (RFC 9110, 13.1.1): with its prefix kept it is no tag of ours.
    return header.strip().strip('"') if header else None
