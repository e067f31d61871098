"""The ledger: gas made, burned and vented by household day."""

from __future__ import annotations

from typing import Any

from flask import Response

from service.api.asking import complete, places
from service.api.conditional import answered, said_now
from service.api.contract import Blueprint
from service.api.csv_rows import csv_of
from service.api.examples_days import DAYS, DAYS_CSV
from service.api.schemas.days import Ledger, LedgerQuery
from service.usecases.days import COLUMNS, DaysAsked, days_answer
from service.wiring import wiring

blueprint = Blueprint(
    "days", __name__, url_prefix="/v1/households/<string:household>", description="gas made, burned and vented by day"
)


def _ledger(query: dict[str, Any], household: str) -> dict[str, Any]:
    asked = DaysAsked(first=query["first"], last=query["last"], as_of=query["as_of"])
    return complete(Ledger, days_answer(household, asked, places=places(), now=wiring().clock()))


@blueprint.get("/days")
@blueprint.arguments(LedgerQuery, location="query")
@blueprint.response(200, Ledger, example=DAYS)
def get_days(query: dict[str, Any], household: str) -> Response:
    """Gas made, burned and vented by day, with error and bound, what was set aside, and warnings about the log."""
    return said_now(_ledger(query, household))


@blueprint.get("/days.csv")
@blueprint.arguments(LedgerQuery, location="query")
@blueprint.response(200, {"type": "string"}, content_type="text/csv", example=DAYS_CSV)
def get_days_csv(query: dict[str, Any], household: str) -> Response:
    """The days of the ledger as CSV; what is not known is an empty cell."""
    return answered(csv_of(COLUMNS, _ledger(query, household)["days"]), media_type="text/csv")
