"""Builds the Flask app: registers, and decides nothing."""

from __future__ import annotations

import json
from typing import Any

from flask import Flask
from flask.json.provider import DefaultJSONProvider

from service.api import (
    boiling,
    budget,
    calendar,
    days,
    fits,
    forecast,
    forecasts,
    guard,
    headers,
    household,
    logbook,
    meals,
    metrics,
    outlook,
    problems,
    skill,
    status,
    storage,
    units,
    venting,
    windows,
)
from service.api.contract import TITLE, VERSION, Api, FormsPlugin, ReadingId
from service.api.remembering import Memory
from service.web import page
from service.wiring import Wiring

BYTES_PER_MB = 1_000_000
RESOURCES = (
    household,
    meals,
    logbook,
    budget,
    storage,
    venting,
    windows,
    forecast,
    outlook,
    forecasts,
    days,
    calendar,
    boiling,
    units,
    fits,
    skill,
    status,
    metrics,
)


class StrictJson(DefaultJSONProvider):
    """JSON without NaN: a figure that is not known must have become null before it gets here."""

    sort_keys = False

    def dumps(self, obj: Any, **kwargs: Any) -> str:
        """One JSON text, refused where it would hold NaN or infinity."""
        return json.dumps(obj, allow_nan=False, **{"separators": (",", ":"), **kwargs})


class App(Flask):
    """A Flask app that answers the very same request from memory."""

    def __init__(self, memory: Memory) -> None:
        super().__init__("kettlecast", static_folder=None)
        self._memory = memory

    def wsgi_app(self, environ: Any, start_response: Any) -> Any:
        """Answer one request."""
        return self._memory.serve(environ, start_response, otherwise=super().wsgi_app)


def create_app(wiring: Wiring) -> Flask:
    """An app that answers from the stores of `wiring`."""
    app = App(Memory(wiring))
    app.json = StrictJson(app)
    app.url_map.strict_slashes = True
    app.url_map.converters["reading"] = ReadingId
    app.config.update(
        API_TITLE=TITLE,
        API_VERSION=VERSION,
        OPENAPI_VERSION="3.1.0",
        MAX_CONTENT_LENGTH=wiring.settings.max_body_mb * BYTES_PER_MB,
    )
    app.extensions["kettlecast"] = wiring
    headers.register(app)
    guard.register(app)
    problems.register(app)
    info = {"description": INTRODUCTION, "license": {"name": "MIT"}}
    api = Api(app, spec_kwargs={"info": info, "marshmallow_plugin": FormsPlugin()})
    for resource in RESOURCES:
        api.register_blueprint(resource.blueprint)
    app.extensions["kettlecast.api"] = api
    app.register_blueprint(page.blueprint)
    return app


INTRODUCTION = (
    "Forecasts a home digester's gas, the meals it can cook and the backup fuel to keep in the house. "
    "`_m3` is wet gas as the gauge shows it, `_sm3` dry gas at 15 °C and 101.325 kPa, `_mj` net heat. "
    "q10 is the 0.1 quantile: nine times in ten at least this much. "
    "Gas burns and suffocates: for anything that smells, leaks or needs work on an appliance, "
    "close the valve, air the room and ask a licensed gas fitter; local codes come first."
)
