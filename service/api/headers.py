"""What every answer tells a browser: keep to this server, and which pages elsewhere may read it."""

from __future__ import annotations

from flask import Flask, Response, request

from service.wiring import wiring

ALWAYS = {
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
    "Content-Security-Policy": "default-src 'none'; frame-ancestors 'none'",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Cache-Control": "no-store",
}
"""Set where an answer does not say otherwise itself."""
ALLOWED = {
    "Access-Control-Allow-Methods": "GET, HEAD, POST, PUT, DELETE",
    "Access-Control-Allow-Headers": "Authorization, Content-Type, If-Match, If-None-Match",
    "Access-Control-Max-Age": "600",
}
SHOWN = "ETag, Location, Retry-After, Content-Disposition"


def _named_origin() -> str | None:
    """The origin of the page that asks, if the settings name it."""
    origin = request.headers.get("Origin")
    return origin if origin in wiring().settings.named_origins else None


def preflight() -> Response | None:
    """The answer to a browser that asks whether a page of a named origin may ask."""
    if request.method == "OPTIONS" and _named_origin() and "Access-Control-Request-Method" in request.headers:
        return Response(status=204, headers=ALLOWED)
    return None


def complete(response: Response) -> Response:
    """An answer with the headers that it lacks."""
    for name, value in ALWAYS.items():
        response.headers.setdefault(name, value)
    if wiring().settings.named_origins:
        response.vary.add("Origin")
    if origin := _named_origin():
        response.headers["Access-Control-Allow-Origin"] = origin
        response.headers["Access-Control-Expose-Headers"] = SHOWN
        response.headers["Cross-Origin-Resource-Policy"] = "cross-origin"
    return response


def register(app: Flask) -> None:
    """Complete every answer of this app."""
    app.before_request(preflight)
    app.after_request(complete)
