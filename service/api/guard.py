"""What is checked before any resource is reached: host, origin, body length, content type, token, names and query."""

from __future__ import annotations

import hashlib
import re

from flask import Flask, Response, current_app, g, request

from service.api.naming import NAME_RULE, NAMED, is_name
from service.api.problems import Fault, problem
from service.wiring import wiring

READING = ("GET", "HEAD", "OPTIONS", "TRACE")
TAKEN = ("application/json", "text/csv", "application/octet-stream")
OPEN = ("page", "status")
"""Blueprints that anybody may see: the contract and its page are no secret, nor is whether the service lives."""
COMPUTED = ("/v1/boil-time", "/v1/gas-quality")
"""What is posted and yet only read: nothing is kept."""
MOST_JSON_BYTES = 8_000_000
KEYED = "calendar"
"""The blueprint that a calendar key opens: calendar clients can send no header, so their address holds the secret."""
HOST_OF = re.compile(r"^https?://|:[0-9]+$")
"""What stands around the host of an origin."""
NO_KEY = "send the key of this calendar: ?key=...; make one with: kettlecast calendar-key HOUSEHOLD"
CHALLENGE = {"WWW-Authenticate": 'Bearer realm="kettlecast"'}
NO_TOKEN = "this server can be reached from elsewhere and no token is in force; make one with: kettlecast token make"


def token_hash(token: str) -> str:
    """The form in which a token is stored."""
    return hashlib.sha256(token.encode()).hexdigest()


def _host() -> Response | None:
    # A page elsewhere must not reach a loopback server by pointing a name of its own at it.
    name = request.host.rsplit(":", 1)[0] if not request.host.endswith("]") else request.host
    if name.lower() in wiring().settings.served_hosts:
        return None
    return problem(421, f"host {name!r} is not served here; name it in KETTLECAST_HOSTS", kind="host-not-served")


def _origin() -> Response | None:
    # A page elsewhere must not write here either: browsers say where a page that writes comes from.
    origin = request.headers.get("Origin")
    settings = wiring().settings
    if origin is None or request.method in READING or request.path in COMPUTED:
        return None
    ours = {f"{scheme}://{request.host}" for scheme in ("http", "https")}
    if origin in ours | settings.named_origins or HOST_OF.sub("", origin) in settings.named_hosts:
        return None
    return problem(403, f"pages of {origin!r} may not write here; name it in KETTLECAST_ORIGINS", kind="origin")


def _body() -> Response | None:
    if request.method in READING or request.method == "DELETE":
        return None
    if request.headers.get("Content-Encoding", "identity").lower() != "identity":
        return problem(415, "send the body as it is, without Content-Encoding")
    if request.content_length is None and "Transfer-Encoding" in request.headers:
        return problem(411, "send a Content-Length; a body in chunks could be cut short unnoticed")
    if request.content_length and request.mimetype not in TAKEN:
        return problem(415, f"content type {request.mimetype or 'none'!r} is not taken; send one of {', '.join(TAKEN)}")
    if request.content_length and request.mimetype == "application/json" and request.content_length > MOST_JSON_BYTES:
        return problem(413, f"a JSON body may have {MOST_JSON_BYTES:,} bytes; a longer log is imported as CSV")
    return None


def _key(household: str, key: str) -> Response | None:
    opens = wiring().keys.household(token_hash(key))
    if opens is None:
        return problem(401, "the key is not known, or was revoked", headers=CHALLENGE)
    return None if opens == household else problem(403, f"the key is not for household {household!r}")


def _without_tokens() -> Response | None:
    """What stands in the way where no token is in force."""
    if not wiring().settings.private:
        # The last token of a server that others reach may be revoked while it runs: that opens it to nobody.
        return problem(401, NO_TOKEN, headers=CHALLENGE)
    locked = request.blueprint == KEYED and wiring().keys.any((request.view_args or {})["household"])
    return problem(401, NO_KEY, headers=CHALLENGE) if locked else None


def _token() -> Response | None:
    if request.blueprint in OPEN:
        return None
    if request.blueprint == KEYED and "key" in request.args:
        return _key((request.view_args or {})["household"], request.args["key"])
    tokens = wiring().tokens
    if not tokens.any():
        return _without_tokens()
    scheme, _, token = request.headers.get("Authorization", "").partition(" ")
    if scheme.lower() != "bearer" or not token:
        return problem(401, "send a token: Authorization: Bearer ...", headers=CHALLENGE)
    found = tokens.find(token_hash(token))
    if found is None:
        return problem(401, "the token is not known, or was revoked", headers=CHALLENGE)
    g.household = found.household
    asked = (request.view_args or {}).get("household")
    if asked and found.household not in (None, asked):
        return problem(403, f"the token is not for household {asked!r}")
    if request.method not in READING and request.path not in COMPUTED and found.scope != "write":
        return problem(403, "the token may read, not write; make one with: kettlecast token make --write")
    return None


def _names() -> Response | None:
    for kind in NAMED:
        given = (request.view_args or {}).get(kind)
        if given is not None and not is_name(given):
            fault = Fault(pointer=f"/{kind}", code="name", message=f"{kind} must be {NAME_RULE}")
            return problem(400, f"{fault.message}; the path holds another", kind="invalid-fields", errors=[fault])
    return None


def _query() -> Response | None:
    """What an operation that asks nothing is asked all the same; the others refuse by their schema."""
    if not request.args or request.endpoint is None or request.blueprint == "page":
        return None
    documented = getattr(current_app.view_functions[request.endpoint], "_apidoc", {}).get("arguments", {})
    if any(one["in"] == "query" for one in documented.get("parameters", [])):
        return None
    name = next(iter(request.args))
    fault = Fault(
        pointer=f"/{name}", code="unknown", message=f"{name} is no query parameter here; this path takes none"
    )
    return problem(400, fault.message, kind="invalid-fields", errors=[fault])


def opened() -> str | None:
    """The one household that the request's token opens; None where it may see every household."""
    found: str | None = g.get("household")
    return found


def check() -> Response | None:
    """The first objection to a request, or none."""
    return _host() or _origin() or _body() or _token() or _names() or _query()


def register(app: Flask) -> None:
    """Check every request of this app."""
    app.before_request(check)
