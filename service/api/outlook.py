"""The coming seasons by month."""

from __future__ import annotations

import json
from functools import partial
from typing import Any

from flask import Response

from service.api.asking import Answering, ask, places, tell
from service.api.conditional import answered
from service.api.contract import Blueprint
from service.api.csv_rows import csv_of
from service.api.examples_seasons import OUTLOOK, OUTLOOK_CSV
from service.api.pictures import PICTURE, picture
from service.api.schemas.outlook import Outlook, OutlookMonth, OutlookQuery
from service.pictures import outlook_figure
from service.usecases.outlook import Question, Told
from service.usecases.seasons import days_to_end, months_answer
from service.wiring import wiring

blueprint = Blueprint(
    "outlook", __name__, url_prefix="/v1/households/<string:household>", description="the coming seasons by month"
)


def _days(query: dict[str, Any], household: str) -> int:
    return days_to_end(household, query["months"], query["as_of"] or wiring().clock(), homes=places().homes)


def _answer(query: dict[str, Any]) -> Answering:
    return partial(months_answer, months=query["months"])


def _told(query: dict[str, Any], household: str) -> Told:
    """The answer that CSV and pictures are made of: the very one that `/outlook` gives."""
    days, asked = _days(query, household), {"months": query["months"]}
    question = Question(household=household, kind="outlook", asked=asked, as_of=query["as_of"], days=days)
    return tell(question, Outlook, _answer(query), wired=wiring())


@blueprint.get("/outlook")
@blueprint.arguments(OutlookQuery, location="query")
@blueprint.response(200, Outlook, example=OUTLOOK)
def get_outlook(query: dict[str, Any], household: str) -> Response:
    """Gas made and wanted, backup and venting of the coming months, with ranges, and how far to trust them."""
    days, months = _days(query, household), query["months"]
    return ask(household, "outlook", Outlook, _answer(query), as_of=query["as_of"], days=days, months=months)


@blueprint.get("/outlook.csv")
@blueprint.arguments(OutlookQuery, location="query")
@blueprint.response(200, {"type": "string"}, content_type="text/csv", example=OUTLOOK_CSV)
def get_outlook_csv(query: dict[str, Any], household: str) -> Response:
    """The months of the outlook as CSV; what is not known is an empty cell."""
    told = _told(query, household)
    body = csv_of(list(OutlookMonth().fields), json.loads(told.body)["months"])
    return answered(body, valid_until=told.valid_until, media_type="text/csv")


@blueprint.get("/outlook.svg")
@blueprint.arguments(OutlookQuery, location="query")
@blueprint.response(200, PICTURE, content_type="image/svg+xml")
def get_outlook_svg(query: dict[str, Any], household: str) -> Response:
    """The months drawn, for pages and print: gas made and wanted, backup, venting."""
    return picture(_told(query, household), household, outlook_figure, "svg")


@blueprint.get("/outlook.png")
@blueprint.arguments(OutlookQuery, location="query")
@blueprint.response(200, PICTURE, content_type="image/png")
def get_outlook_png(query: dict[str, Any], household: str) -> Response:
    """The months drawn, for what shows no SVG: gas made and wanted, backup, venting."""
    return picture(_told(query, household), household, outlook_figure, "png")
