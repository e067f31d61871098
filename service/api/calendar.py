"""The coming days for a calendar to subscribe to."""

from __future__ import annotations

import json
from functools import partial
from typing import Any

from flask import Response

from models.outlook import Outlook
from service.api.asking import places
from service.api.conditional import answered
from service.api.contract import Blueprint
from service.api.examples_calendar import CALENDAR
from service.api.fields import dumped, text
from service.api.ical import to_ical
from service.api.schemas.answers import DaysQuery
from service.usecases.calendar import calendar_answer
from service.usecases.outlook import Moment, Question, issue
from service.wiring import wiring

blueprint = Blueprint(
    "calendar",
    __name__,
    url_prefix="/v1/households/<string:household>",
    description="the coming days for a calendar to subscribe to",
)


class CalendarQuery(DaysQuery):
    """How far the calendar looks, and what opens it."""

    key = text("opens this calendar and nothing else; made by `kettlecast calendar-key`", load_default=None)


@blueprint.get("/plan.ics")
@blueprint.arguments(CalendarQuery, location="query")
@blueprint.response(200, {"type": "string"}, content_type="text/calendar", example=CALENDAR)
def get_plan_ics(query: dict[str, Any], household: str) -> Response:
    """Meals on gas or on the backup, days on which the holder vents, when to order fuel (RFC 5545, RFC 7986).

    Nothing recurs; an event keeps its UID, and its SEQUENCE rises when its time or summary changes.
    """
    answer = partial(calendar_answer, household=household)

    def render(outlook: Outlook, moment: Moment, before: bytes | None) -> bytes:
        return dumped(answer(outlook, moment, before))

    question = Question(household=household, kind="plan.ics", as_of=query["as_of"], days=query["days"])
    told = issue(question, places=places(), now=wiring().clock(), render=render)
    calendar = to_ical(json.loads(told.body))
    return answered(calendar, valid_until=told.valid_until, media_type="text/calendar")
