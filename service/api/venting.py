"""When the full holder vents."""

from __future__ import annotations

from typing import Any

from flask import Response

from service.api.asking import ask
from service.api.contract import Blueprint
from service.api.examples_seasons import VENTING
from service.api.schemas.answers import DaysQuery
from service.api.schemas.venting import Venting
from service.usecases.venting import venting_answer

blueprint = Blueprint(
    "venting", __name__, url_prefix="/v1/households/<string:household>", description="when the full holder vents"
)


@blueprint.get("/venting")
@blueprint.arguments(DaysQuery, location="query")
@blueprint.response(200, Venting, example=VENTING)
def get_venting(query: dict[str, Any], household: str) -> Response:
    """When the full holder vents, how much, what that gas could have cooked, and what it does to the climate."""
    return ask(household, "venting", Venting, venting_answer, as_of=query["as_of"], days=query["days"])
