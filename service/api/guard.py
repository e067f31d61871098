"""What is checked before any resource is reached: host, body length, content type and token."""

from __future__ import annotations

import hashlib

from flask import Flask, Response, request

from service.api.problems import problem
from service.wiring import wiring

READING = ("GET", "HEAD", "OPTIONS")
TAKEN = ("application/json", "text/csv", "application/octet-stream")
LOOPBACK = ("localhost", "127.0.0.1", "[::1]")
OPEN_PATHS = ("/health/live", "/health/ready")


def token_hash(token: str) -> str:
    """The form in which a token is stored."""
    return hashlib.sha256(token.encode()).hexdigest()


def _host() -> Response | None:
    # A page elsewhere must not reach a loopback server by pointing a name of its own at it.
    settings = wiring().settings
    served = {*LOOPBACK, settings.bind.rsplit(":", 1)[0], *filter(None, settings.hosts.split(","))}
    name = request.host.rsplit(":", 1)[0] if not request.host.endswith("]") else request.host
    if name in served:
        return None
    return problem(421, f"host {name!r} is not served here; name it in KETTLECAST_HOSTS", kind="host-not-served")


def _body() -> Response | None:
    if request.method in READING or request.method == "DELETE":
        return None
    if request.content_length is None and "Transfer-Encoding" in request.headers:
        return problem(411, "send a Content-Length; a body in chunks could be cut short unnoticed")
    if request.content_length and request.mimetype not in TAKEN:
        return problem(415, f"content type {request.mimetype or 'none'!r} is not taken; send one of {', '.join(TAKEN)}")
    return None


def _token() -> Response | None:
    tokens = wiring().tokens
    if request.path in OPEN_PATHS or not tokens.any():
        return None
    scheme, _, token = request.headers.get("Authorization", "").partition(" ")
    challenge = {"WWW-Authenticate": 'Bearer realm="kettlecast"'}
    if scheme.lower() != "bearer" or not token:
        return problem(401, "send a token: Authorization: Bearer ...", headers=challenge)
    found = tokens.find(token_hash(token))
    if found is None:
        return problem(401, "the token is not known, or was revoked", headers=challenge)
    asked = (request.view_args or {}).get("household")
    if asked and found.household not in (None, asked):
        return problem(403, f"the token is not for household {asked!r}")
    if request.method not in READING and found.scope != "write":
        return problem(403, "the token may read, not write; make one with: kettlecast token add --write")
    return None


def check() -> Response | None:
    """The first objection to a request, or none."""
    return _host() or _body() or _token()


def register(app: Flask) -> None:
    """Check every request of this app."""
    app.before_request(check)
