"""The contract's page; it works offline, and nothing on it comes from anywhere else."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from flask import Blueprint, Response, current_app, render_template

from service.api.conditional import answered
from service.api.contract import contract_of
from service.api.fields import dumped
from service.wiring import wiring

HERE = Path(__file__).parent
POLICY = "default-src 'self'; style-src 'self' 'unsafe-inline'; img-src 'self' data:; frame-ancestors 'none'"
MOST_HOUSEHOLDS = 20
LINKS = (
    ("now", "everything at a glance"),
    ("gas-budget?date=tomorrow", "may tomorrow's meals be cooked on gas?"),
    ("storage", "how long does the holder last?"),
    ("backup", "when must the backup come out?"),
    ("venting", "when does the full holder vent, and how much?"),
    ("windows?flame_min=60", "when is there gas for an hour of extra cooking?"),
    ("days", "what was made, burned and vented each day?"),
    ("plan.ics", "the coming days as a calendar"),
)
"""What to look at first, of a household."""
PICTURES = (
    ("forecast.svg", "The coming 14 days: gas in the holder, gas made and cooked with, odds of the backup, venting"),
    ("outlook.svg", "The coming months: gas made and wanted, backup and venting"),
)
TOLD = ("now", "gas-budget?date=tomorrow")
"""What a page tells of a household in one sentence each, as its answers do."""

blueprint = Blueprint(
    "page",
    __name__,
    static_folder=str(HERE / "static"),
    static_url_path="/static",
    template_folder=str(HERE / "templates"),
)


@blueprint.get("/")
def start() -> Response:
    """The way in: the contract's page, and the answers themselves where anybody may see them."""
    return _page("start.html", links=LINKS, pictures=PICTURES, told=TOLD)


@blueprint.get("/docs")
def docs() -> Response:
    """The contract as a page to read and try."""
    return _page("docs.html")


def _page(template: str, **values: Any) -> Response:
    """A page that may name the households where anybody may see them, and keeps a browser to this server."""
    wired = wiring()
    everybody_sees = wired.settings.private and not wired.tokens.any()
    households = wired.homes.names()[:MOST_HOUSEHOLDS] if everybody_sees else []
    response = current_app.make_response(render_template(template, households=households, **values))
    response.headers["Content-Security-Policy"] = POLICY
    return response


@blueprint.get("/openapi.json")
def contract() -> Response:
    """The contract as OpenAPI 3.1."""
    return answered(dumped(contract_of(current_app.extensions["kettlecast.api"])))
