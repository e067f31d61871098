"""The forecast as a series."""

from __future__ import annotations

import json
from typing import Any

from flask import Response

from models.outlook import Outlook
from service.api.asking import Answering, ask, tell
from service.api.conditional import answered
from service.api.contract import Blueprint
from service.api.csv_rows import csv_of
from service.api.examples_answers import FORECAST
from service.api.examples_seasons import FORECAST_CSV
from service.api.pictures import PICTURE, picture
from service.api.schemas.answers import Forecast, ForecastQuery
from service.pictures import forecast_figure
from service.usecases.outlook import Moment, Question, Told
from service.usecases.series import series_answer
from service.wiring import wiring

blueprint = Blueprint(
    "forecast", __name__, url_prefix="/v1/households/<string:household>", description="the forecast as a series"
)


def _answer(query: dict[str, Any]) -> Answering:
    def answer(outlook: Outlook, moment: Moment, _: bytes | None) -> dict[str, Any]:
        return series_answer(outlook, moment, step=query["step"], levels=query["levels"]) | {"layout": query["layout"]}

    return answer


def _asked(query: dict[str, Any]) -> dict[str, Any]:
    return {name: query[name] for name in ("step", "levels", "layout")}


def _told(query: dict[str, Any], household: str) -> Told:
    """The answer that CSV and pictures are made of: the very one that `/forecast` gives as rows."""
    rows, days = query | {"layout": "rows"}, query["days"]
    question = Question(household=household, kind="forecast", asked=_asked(rows), as_of=query["as_of"], days=days)
    return tell(question, Forecast, _answer(rows), wired=wiring())


@blueprint.get("/forecast")
@blueprint.arguments(ForecastQuery, location="query")
@blueprint.response(200, Forecast, example=FORECAST)
def get_forecast(query: dict[str, Any], household: str) -> Response:
    """Gas made, meals, holder, venting and backup by day (the rest of today first) or hour, with quantiles."""
    asked = _asked(query)
    return ask(household, "forecast", Forecast, _answer(query), as_of=query["as_of"], days=query["days"], **asked)


@blueprint.get("/forecast.csv")
@blueprint.arguments(ForecastQuery, location="query")
@blueprint.response(200, {"type": "string"}, content_type="text/csv", example=FORECAST_CSV)
def get_forecast_csv(query: dict[str, Any], household: str) -> Response:
    """The points of the forecast as CSV, one a line whatever the layout; what is not known is an empty cell."""
    told = _told(query, household)
    rows = json.loads(told.body)["points"]
    return answered(csv_of(list(rows[0]), rows), valid_until=told.valid_until, media_type="text/csv")


@blueprint.get("/forecast.svg")
@blueprint.arguments(ForecastQuery, location="query")
@blueprint.response(200, PICTURE, content_type="image/svg+xml")
def get_forecast_svg(query: dict[str, Any], household: str) -> Response:
    """The forecast drawn, for pages and print: holder, gas made and meals, odds of the backup, venting."""
    return picture(_told(query, household), household, forecast_figure, "svg")


@blueprint.get("/forecast.png")
@blueprint.arguments(ForecastQuery, location="query")
@blueprint.response(200, PICTURE, content_type="image/png")
def get_forecast_png(query: dict[str, Any], household: str) -> Response:
    """The forecast drawn, for what shows no SVG: holder, gas made and meals, odds of the backup, venting."""
    return picture(_told(query, household), household, forecast_figure, "png")
