"""How much gas may be burned: now, tomorrow, any day within the horizon."""

from __future__ import annotations

from functools import partial
from typing import Any

from flask import Response

from service.api.asking import ask
from service.api.contract import Blueprint
from service.api.examples_answers import BUDGET, NOW
from service.api.schemas.answers import AsOf, DateQuery, GasBudget, Now
from service.usecases.answers import budget_answer, days_to, now_answer
from service.usecases.outlook import Question
from service.wiring import wiring

blueprint = Blueprint(
    "budget", __name__, url_prefix="/v1/households/<string:household>", description="how much gas may be burned"
)


def now_question(household: str) -> Question:
    """What `/now` asks."""
    return Question(household=household, kind="now")


@blueprint.get("/now")
@blueprint.arguments(AsOf, location="query")
@blueprint.response(200, Now, example=NOW)
def get_now(query: dict[str, Any], household: str) -> Response:
    """Everything a wall display or a home-automation poll asks, flat."""
    return ask(household, "now", Now, now_answer, as_of=query["as_of"])


@blueprint.get("/gas-budget")
@blueprint.arguments(DateQuery, location="query")
@blueprint.response(200, GasBudget, example=BUDGET)
def get_gas_budget(query: dict[str, Any], household: str) -> Response:
    """How much may be burned on a day, what its meals take, and whether that is enough."""
    which, as_of = query["date"], query["as_of"]
    days = days_to(which, as_of or wiring().clock())
    answer = partial(budget_answer, which=which)
    return ask(household, "gas-budget", GasBudget, answer, as_of=as_of, days=days, date=which)
