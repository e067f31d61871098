"""What is checked before any resource is reached: host, body length, content type and token."""

from __future__ import annotations

import hashlib

from flask import Flask, Response, request

from service.api.fields import NAME_RULE, is_name
from service.api.problems import Fault, problem
from service.wiring import wiring

READING = ("GET", "HEAD", "OPTIONS", "TRACE")
TAKEN = ("application/json", "text/csv", "application/octet-stream")
OPEN = ("page", "status")
"""Blueprints that anybody may see: the contract and its page are no secret, nor is whether the service lives."""
COMPUTED = ("/v1/boil-time", "/v1/gas-quality")
"""What is posted and yet only read: nothing is kept."""
NAMED = ("household", "meal", "override")
"""Parts of a path that are names of the household's own."""
CHALLENGE = {"WWW-Authenticate": 'Bearer realm="kettlecast"'}
NO_TOKEN = "this server can be reached from elsewhere and no token is in force; make one with: kettlecast token add"


def token_hash(token: str) -> str:
    """The form in which a token is stored."""
    return hashlib.sha256(token.encode()).hexdigest()


def _host() -> Response | None:
    # A page elsewhere must not reach a loopback server by pointing a name of its own at it.
    name = request.host.rsplit(":", 1)[0] if not request.host.endswith("]") else request.host
    if name.lower() in wiring().settings.served_hosts:
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
    if request.blueprint in OPEN:
        return None
    tokens = wiring().tokens
    if not tokens.any():
        # The last token of a server that others reach may be revoked while it runs: that opens it to nobody.
        return None if wiring().settings.private else problem(401, NO_TOKEN, headers=CHALLENGE)
    scheme, _, token = request.headers.get("Authorization", "").partition(" ")
    if scheme.lower() != "bearer" or not token:
        return problem(401, "send a token: Authorization: Bearer ...", headers=CHALLENGE)
    found = tokens.find(token_hash(token))
    if found is None:
        return problem(401, "the token is not known, or was revoked", headers=CHALLENGE)
    asked = (request.view_args or {}).get("household")
    if asked and found.household not in (None, asked):
        return problem(403, f"the token is not for household {asked!r}")
    if request.method not in READING and request.path not in COMPUTED and found.scope != "write":
        return problem(403, "the token may read, not write; make one with: kettlecast token add --write")
    return None


def _names() -> Response | None:
    for kind in NAMED:
        given = (request.view_args or {}).get(kind)
        if given is not None and not is_name(given):
            fault = Fault(pointer=f"/{kind}", code="name", message=f"{kind} must be {NAME_RULE}")
            return problem(400, f"{fault.message}; the path holds another", kind="invalid-fields", errors=[fault])
    return None


def check() -> Response | None:
    """The first objection to a request, or none."""
    return _host() or _body() or _token() or _names()


def register(app: Flask) -> None:
    """Check every request of this app."""
    app.before_request(check)
