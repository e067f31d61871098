"""How good forecasts were."""

from __future__ import annotations

from typing import Any

from flask import Response

from service.api.asking import complete
from service.api.conditional import answered
from service.api.contract import Blueprint
from service.api.examples_answers import SKILL
from service.api.fields import dumped
from service.api.schemas.skill import Skill, SkillQuery
from service.usecases.skill import skill_answer
from service.wiring import wiring

blueprint = Blueprint(
    "skill", __name__, url_prefix="/v1/households/<string:household>", description="how good forecasts were"
)


@blueprint.get("/skill")
@blueprint.arguments(SkillQuery, location="query")
@blueprint.response(200, Skill, example=SKILL)
def get_skill(query: dict[str, Any], household: str) -> Response:
    """Past forecasts against what came: error by lead day, coverage, against the naive guesses."""
    wired = wiring()
    return answered(
        dumped(complete(Skill, skill_answer(household, query["days"], homes=wired.homes, kept=wired.forecasts)))
    )
