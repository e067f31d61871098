"""The forecast as a series."""

from __future__ import annotations

from typing import Any

from flask import Response

from models.outlook import Outlook
from service.api.asking import ask
from service.api.contract import Blueprint
from service.api.examples_answers import FORECAST
from service.api.schemas.answers import Forecast, ForecastQuery
from service.usecases.outlook import Moment
from service.usecases.series import series_answer

blueprint = Blueprint(
    "forecast", __name__, url_prefix="/v1/households/<string:household>", description="the forecast as a series"
)


@blueprint.get("/forecast")
@blueprint.arguments(ForecastQuery, location="query")
@blueprint.response(200, Forecast, example=FORECAST)
def get_forecast(query: dict[str, Any], household: str) -> Response:
    """Gas made, meals, holder, venting and backup by day (the rest of today first) or hour, with quantiles."""

    def answer(outlook: Outlook, moment: Moment, _: bytes | None) -> dict[str, Any]:
        return series_answer(outlook, moment, step=query["step"], levels=query["levels"]) | {"layout": query["layout"]}

    asked = {"step": query["step"], "levels": query["levels"], "layout": query["layout"]}
    return ask(household, "forecast", Forecast, answer, as_of=query["as_of"], days=query["days"], **asked)
