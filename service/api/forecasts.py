"""Forecasts as they were issued: listed, one by one, and what changed between them."""

from __future__ import annotations

from typing import Any

from flask import Response

from service.api.asking import complete
from service.api.conditional import answered
from service.api.contract import Blueprint
from service.api.examples_answers import BUDGET
from service.api.examples_forecasts import CHANGES, PAGE
from service.api.fields import dumped
from service.api.schemas.answers import BackupNeed, Forecast, GasBudget, Now, StorageOutlook
from service.api.schemas.forecasts import ChangesQuery, ForecastChanges, ForecastsPage, ForecastsQuery
from service.usecases.forecasts import Compared, Wanted, changes_since, list_answer
from service.wiring import wiring

KINDS = {"anyOf": [GasBudget, Now, StorageOutlook, BackupNeed, Forecast]}
ONE = "/<int(min=1,max=9007199254740991):forecast_id>"

blueprint = Blueprint(
    "forecasts",
    __name__,
    url_prefix="/v1/households/<string:household>/forecasts",
    description="forecasts as they were issued, and what changed between them",
)


@blueprint.get("")
@blueprint.arguments(ForecastsQuery, location="query")
@blueprint.response(200, ForecastsPage, example=PAGE)
def list_forecasts(query: dict[str, Any], household: str) -> Response:
    """Forecasts as they were issued, newest first; they are kept for 400 days and never change."""
    wired = wiring()
    found = list_answer(household, Wanted(**query), homes=wired.homes, shelf=wired.forecasts)
    return answered(dumped(complete(ForecastsPage, found)))


@blueprint.get(ONE)
@blueprint.response(200, KINDS, example=BUDGET)
def get_forecast_as_issued(household: str, forecast_id: int) -> Response:
    """One forecast, byte for byte as it was issued, with the ETag it had; the document is that of its kind."""
    found = wiring().forecasts.get(household, forecast_id)
    return answered(found.body, etag=found.etag)


@blueprint.get(f"{ONE}/changes")
@blueprint.arguments(ChangesQuery, location="query")
@blueprint.response(200, ForecastChanges, example=CHANGES)
def get_forecast_changes(query: dict[str, Any], household: str, forecast_id: int) -> Response:
    """What changed since the one before of the same question, and why, in litres of the day's budget."""
    wired = wiring()
    asked = Compared(forecast_id=forecast_id, since=query["since"], now=wired.clock())

    def render(values: dict[str, Any]) -> bytes:
        return dumped(complete(ForecastChanges, values))

    return answered(changes_since(household, asked, shelf=wired.forecasts, history=wired.history, render=render))
