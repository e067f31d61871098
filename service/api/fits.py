"""What the production model has learnt, and the wish for a new fit."""

from __future__ import annotations

from typing import Any

from flask import Response

from service.api.asking import complete, places
from service.api.conditional import answered, said_now
from service.api.contract import Blueprint
from service.api.examples import FIT_REQUEST
from service.api.examples_answers import MODEL
from service.api.fields import dumped
from service.api.schemas.answers import AsOf
from service.api.schemas.fits import FitRequest, FitWish, Model
from service.usecases import fits as usecase
from service.wiring import wiring

blueprint = Blueprint(
    "model",
    __name__,
    url_prefix="/v1/households/<string:household>/model",
    description="what the production model has learnt",
)


@blueprint.get("")
@blueprint.arguments(AsOf, location="query")
@blueprint.response(200, Model, example=MODEL)
def get_model(query: dict[str, Any], household: str) -> Response:
    """The fit in use: parameters with errors and plain meaning, data window, diagnostics, what was set aside."""
    wired = wiring()
    found = usecase.model_answer(household, query["as_of"], places=places(), desk=wired.fits, now=wired.clock())
    return said_now(complete(Model, found))


@blueprint.get("/fits")
@blueprint.response(200, FitRequest(many=True), example=[FIT_REQUEST])
def list_fits(household: str) -> Response:
    """The latest wishes for a fit and what came of them."""
    found = usecase.requested_fits(household, desk=wiring().fits)
    return answered(dumped(FitRequest(many=True).dump(found)))


@blueprint.post("/fits")
@blueprint.arguments(FitWish, required=False, example={})
@blueprint.response(202, FitRequest, example=FIT_REQUEST)
def ask_for_fit(given: dict[str, Any], household: str) -> dict[str, Any]:
    """Ask for a new fit; it is made in the background, and used only if it forecasts no worse."""
    return usecase.ask_for_fit(household, given["as_of"], desk=wiring().fits, now=wiring().clock())
