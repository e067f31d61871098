"""How long a pan takes to boil, in a household and anywhere; what a gas is worth."""

from __future__ import annotations

from functools import partial
from typing import Any

from flask import Response

from service.api.asking import ask
from service.api.contract import Blueprint
from service.api.examples_physics import BOIL, BOIL_ASKED, GAS, GAS_ASKED, HOUSEHOLD_BOIL
from service.api.schemas import physics
from service.usecases.boiling import BoilAsked, boil_answer, boil_anywhere
from service.usecases.gas_quality import gas_quality_answer

blueprint = Blueprint("boiling", __name__, url_prefix="/v1", description="boiling, and what a gas is worth")


@blueprint.get("/households/<string:household>/boil-time")
@blueprint.arguments(physics.BoilQuery, location="query")
@blueprint.response(200, physics.HouseholdBoilTime, example=HOUSEHOLD_BOIL)
def get_boil_time(query: dict[str, Any], household: str) -> Response:
    """How long a pan of water takes on today's gas, and how much longer than on undiluted gas."""
    as_of, methane_pct = query.pop("as_of"), query.pop("methane_pct")
    asked = BoilAsked(**query, methane_fraction=None if methane_pct is None else methane_pct / 100.0)
    answer = partial(boil_answer, asked=asked)
    return ask(household, "boil-time", physics.HouseholdBoilTime, answer, as_of=as_of, methane_pct=methane_pct, **query)


@blueprint.post("/boil-time")
@blueprint.arguments(physics.BoilAsked, example=BOIL_ASKED)
@blueprint.response(200, physics.BoilAnywhere, example=BOIL)
def post_boil_time(asked: dict[str, Any]) -> dict[str, Any]:
    """How long a pan of water takes on a burner, with no household."""
    return boil_anywhere(asked)


@blueprint.post("/gas-quality")
@blueprint.arguments(physics.GasAsked, required=False, example=GAS_ASKED)
@blueprint.response(200, physics.GasQuality, example=GAS)
def post_gas_quality(asked: dict[str, Any]) -> dict[str, Any]:
    """Heat, density and Wobbe index of a gas, and what to beware of."""
    return gas_quality_answer(asked)
