"""The contract's page; it works offline, and nothing on it comes from anywhere else."""

from __future__ import annotations

from pathlib import Path

from flask import Blueprint, Response, current_app, redirect, render_template
from werkzeug.wrappers import Response as BaseResponse

from service.api.conditional import answered
from service.api.contract import contract_of
from service.api.fields import dumped

HERE = Path(__file__).parent
POLICY = "default-src 'self'; style-src 'self' 'unsafe-inline'; img-src 'self' data:; frame-ancestors 'none'"

blueprint = Blueprint(
    "page",
    __name__,
    static_folder=str(HERE / "static"),
    static_url_path="/static",
    template_folder=str(HERE / "templates"),
)


@blueprint.get("/")
def start() -> BaseResponse:
    """The way in: the contract's page."""
    return redirect("/docs")


@blueprint.get("/docs")
def docs() -> Response:
    """The contract as a page to read and try."""
    response = current_app.make_response(render_template("docs.html"))
    response.headers["Content-Security-Policy"] = POLICY
    return response


@blueprint.get("/openapi.json")
def contract() -> Response:
    """The contract as OpenAPI 3.1."""
    return answered(dumped(contract_of(current_app.extensions["kettlecast.api"])))
