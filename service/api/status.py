"""Whether the service lives and can answer."""

from __future__ import annotations

from service.api.contract import Blueprint
from service.api.fields import Schema, text
from service.wiring import wiring

blueprint = Blueprint("status", __name__, url_prefix="/health", description="whether the service lives and can answer")


class Health(Schema):
    """One word."""

    state = text("what was found", one_of=("alive", "ready"))


@blueprint.get("/live")
@blueprint.response(200, Health, example={"state": "alive"})
def live() -> dict[str, str]:
    """The process answers."""
    return {"state": "alive"}


@blueprint.get("/ready")
@blueprint.response(200, Health, example={"state": "ready"})
@blueprint.alt_response(503, "SERVICE_UNAVAILABLE")
def ready() -> dict[str, str]:
    """The process answers and reaches its database; where it does not: 503."""
    wired = wiring()
    with wired.database.reached():
        wired.homes.names()
    return {"state": "ready"}
