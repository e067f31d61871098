"""The description of a household and the weather it posts."""

from __future__ import annotations

from typing import Any

from flask import Response

from service.api.conditional import answered, etag_of, if_match
from service.api.contract import Blueprint
from service.api.examples import DESCRIPTION, WEATHER
from service.api.fields import dumped
from service.api.schemas.description import Description, WeatherDay
from service.usecases import household as usecase
from service.wiring import wiring

blueprint = Blueprint(
    "household", __name__, url_prefix="/v1/households/<string:household>", description="the description of a household"
)


@blueprint.get("")
@blueprint.response(200, Description, example=DESCRIPTION)
def get_description(household: str) -> Response:
    """The household's description."""
    stored = wiring().homes.get(household)
    return answered(dumped(stored.document), etag=stored.etag)


@blueprint.put("")
@blueprint.if_match(required=False)
@blueprint.arguments(Description, example=DESCRIPTION)
@blueprint.response(200, Description, example=DESCRIPTION)
@blueprint.alt_response(201, schema=Description, description="Created")
def put_description(given: dict[str, Any], household: str) -> tuple[Response, int]:
    """Describe the household, or replace its description (If-Match with the ETag of what is replaced)."""
    document = Description().dump(given)
    wired = wiring()
    stored, created = usecase.describe(household, document, homes=wired.homes, if_match=if_match(), now=wired.clock())
    return answered(dumped(stored.document), etag=stored.etag), 201 if created else 200


@blueprint.delete("")
@blueprint.if_match(required=True)
@blueprint.response(204)
def delete_description(household: str) -> tuple[str, int]:
    """Delete the household with everything it holds (If-Match needed)."""
    wiring().homes.delete(household, if_match=if_match())
    return "", 204


@blueprint.get("/weather")
@blueprint.response(200, WeatherDay(many=True), example=WEATHER)
def get_weather(household: str) -> Response:
    """The daily weather forecast last posted; an empty list where none was."""
    body = dumped(wiring().homes.weather(household) or [])
    return answered(body, etag=etag_of(body))


@blueprint.put("/weather")
@blueprint.arguments(WeatherDay(many=True), example=WEATHER)
@blueprint.response(200, WeatherDay(many=True), example=WEATHER)
def put_weather(given: list[dict[str, Any]], household: str) -> Response:
    """Post the daily weather forecast; it replaces the one before and is used for the days it names."""
    document = WeatherDay(many=True).dump(given)
    usecase.post_weather(household, document, homes=wiring().homes)
    body = dumped(document)
    return answered(body, etag=etag_of(body))
