"""The weekly schedule of meals and its one-off changes."""

from __future__ import annotations

import uuid
from typing import Any

from flask import Response

from service.api.conditional import answered, if_match
from service.api.contract import Blueprint
from service.api.examples import MEAL, OVERRIDE
from service.api.fields import dumped
from service.api.schemas.description import Meal, NamedMeal, Override
from service.usecases import household as usecase
from service.wiring import wiring

blueprint = Blueprint(
    "meals",
    __name__,
    url_prefix="/v1/households/<string:household>",
    description="the schedule and its one-off changes",
)


@blueprint.get("/meals")
@blueprint.response(200, Meal(many=True), example=[MEAL])
def list_meals(household: str) -> Response:
    """Every meal of the schedule."""
    return answered(dumped(wiring().homes.meals(household)))


@blueprint.post("/meals")
@blueprint.arguments(Meal, example=MEAL)
@blueprint.response(201, Meal, example=MEAL)
def add_meal(given: dict[str, Any], household: str) -> tuple[Response, int]:
    """Add a meal; a name that is taken is a conflict."""
    document = Meal().dump(given)
    stored = usecase.add_meal(household, document, homes=wiring().homes)
    return answered(dumped(stored.document), etag=stored.etag), 201


@blueprint.get("/meals/<string:meal>")
@blueprint.response(200, Meal, example=MEAL)
def get_meal(household: str, meal: str) -> Response:
    """One meal."""
    stored = wiring().homes.get_meal(household, meal)
    return answered(dumped(stored.document), etag=stored.etag)


@blueprint.put("/meals/<string:meal>")
@blueprint.if_match(required=False)
@blueprint.arguments(NamedMeal, example=MEAL)
@blueprint.response(200, Meal, example=MEAL)
@blueprint.alt_response(201, schema=Meal, description="Created")
def put_meal(given: dict[str, Any], household: str, meal: str) -> tuple[Response, int]:
    """Add a meal or replace it (If-Match with the ETag of what is replaced)."""
    document = Meal().dump(given) | {"name": meal}
    stored, created = usecase.plan_meal(household, document, homes=wiring().homes, if_match=if_match())
    return answered(dumped(stored.document), etag=stored.etag), 201 if created else 200


@blueprint.delete("/meals/<string:meal>")
@blueprint.if_match(required=True)
@blueprint.response(204)
def delete_meal(household: str, meal: str) -> tuple[str, int]:
    """Take a meal off the schedule (If-Match needed)."""
    wiring().homes.delete_meal(household, meal, if_match=if_match())
    return "", 204


@blueprint.get("/overrides")
@blueprint.response(200, Override(many=True), example=[OVERRIDE])
def list_overrides(household: str) -> Response:
    """Every one-off change."""
    return answered(dumped(wiring().homes.overrides(household)))


@blueprint.post("/overrides")
@blueprint.arguments(Override, example=OVERRIDE)
@blueprint.response(201, Override, example=OVERRIDE)
@blueprint.alt_response(200, schema=Override, description="It stood already")
def add_override(given: dict[str, Any], household: str) -> tuple[Response, int]:
    """Change one meal of one day (guests, a roast, skipped), or be away for some days."""
    document = Override().dump(given)
    override = document.get("id") or str(uuid.uuid4())
    stored, created = usecase.change_meals(household, override, document, homes=wiring().homes)
    return answered(dumped(stored.document), etag=stored.etag), 201 if created else 200


@blueprint.get("/overrides/<string:override>")
@blueprint.response(200, Override, example=OVERRIDE)
def get_override(household: str, override: str) -> Response:
    """One one-off change."""
    stored = wiring().homes.get_override(household, override)
    return answered(dumped(stored.document), etag=stored.etag)


@blueprint.put("/overrides/<string:override>")
@blueprint.arguments(Override, example=OVERRIDE)
@blueprint.response(200, Override, example=OVERRIDE)
@blueprint.alt_response(201, schema=Override, description="Created")
def put_override(given: dict[str, Any], household: str, override: str) -> tuple[Response, int]:
    """Make a one-off change, or replace it; safe to repeat."""
    stored, created = usecase.change_meals(household, override, Override().dump(given), homes=wiring().homes)
    return answered(dumped(stored.document), etag=stored.etag), 201 if created else 200


@blueprint.delete("/overrides/<string:override>")
@blueprint.response(204)
def delete_override(household: str, override: str) -> tuple[str, int]:
    """Take a one-off change back."""
    wiring().homes.delete_override(household, override)
    return "", 204
