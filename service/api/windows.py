"""When extra cooking fits."""

from __future__ import annotations

from functools import partial
from typing import Any

from flask import Response

from service.api.asking import ask
from service.api.contract import Blueprint
from service.api.examples_seasons import WINDOWS
from service.api.schemas.windows import Windows, WindowsQuery
from service.usecases.windows import WindowsAsked, days_to_see, windows_answer
from service.wiring import wiring

blueprint = Blueprint(
    "windows", __name__, url_prefix="/v1/households/<string:household>", description="when extra cooking fits"
)


@blueprint.get("/windows")
@blueprint.arguments(WindowsQuery, location="query")
@blueprint.response(200, Windows, example=WINDOWS)
def get_windows(query: dict[str, Any], household: str) -> Response:
    """The soonest and the surest time for so many minutes of extra flame, such as for jam or a long stew."""
    as_of = query.pop("as_of")
    asked = WindowsAsked(**query)
    days = days_to_see(asked, as_of or wiring().clock())
    named = {
        "flame_min": asked.flame_min,
        "burner": asked.burner,
        "from": asked.first and asked.first.isoformat(),
        "to": asked.last and asked.last.isoformat(),
        "hours": asked.hours_text,
    }
    answer = partial(windows_answer, asked=asked)
    return ask(household, "windows", Windows, answer, as_of=as_of, days=days, **named)
