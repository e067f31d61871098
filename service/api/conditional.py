"""Answers as stored bytes with a strong ETag; a client that has them already gets 304."""

from __future__ import annotations

import hashlib
import re
from datetime import datetime
from http import HTTPStatus
from typing import Any

from flask import Response, current_app, request
from werkzeug.exceptions import BadRequest

from service.api.fields import dumped
from service.wiring import wiring

ANY = "*"
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
        age_s = age_within(valid_until, wiring().clock())
        request.environ[HOLDS_UNTIL] = valid_until
    held = request.if_none_match.contains_weak(tag)
    response = current_app.response_class(b"" if held else body, mimetype=media_type)
    if held:
        response.status_code = HTTPStatus.NOT_MODIFIED
        response.headers.pop("Content-Type", None)
    response.set_etag(tag)
    response.headers["Cache-Control"] = cache_control(age_s)
    return response


def age_within(valid_until: datetime, now: datetime) -> int:
    """How long caches may keep an answer that holds until a moment. [s]"""
    return max(0, min(MAX_AGE_S, int((valid_until - now).total_seconds())))


def cache_control(age_s: int) -> str:
    """What caches are told of an answer that they may keep for so long."""
    return f"private, max-age={age_s}"


def said_now(document: dict[str, Any]) -> Response:
    """A document that says the same until the log does: its `as_of` alone makes no new version of it."""
    timeless = {name: value for name, value in document.items() if name != "as_of"}
    return answered(dumped(document), etag=etag_of(dumped(timeless)))


def if_match() -> str | None:
    """The ETags of which a client wants to replace whichever stands, with spaces between; `*`; or none sent."""
    header = request.headers.get("If-Match")
    if header is not None and not header.strip():
        raise BadRequest("If-Match is empty; send the ETag of what is replaced, or leave the header out")
    if header is None:
        return None
    if request.if_match.star_tag:
        return ANY
    # A weak tag never matches here (RFC 9110, 13.1.1), and no tag of ours is a star or holds a space.
    return " ".join(tag for tag in request.if_match if tag != ANY and not re.search(r"\s", tag))
