"""Answers as tables for the terminal, the same as any client gets."""

from __future__ import annotations

import json
from datetime import date, timedelta
from functools import partial
from typing import Any

import click
from marshmallow import ValidationError
from rich.box import SIMPLE_HEAD
from rich.table import Table

from models.reckoning import MONTHS, WEEKDAYS
from service.api.asking import tell
from service.api.problems import faults
from service.api.schemas.answers import DateQuery, GasBudget
from service.terminal import figures, short, words
from service.usecases.answers import budget_answer, days_to
from service.usecases.outlook import Question
from service.wiring import Wiring


def budget_table(wired: Wiring, household: str, day: str) -> Table:
    """The gas budget of a day, meal by meal."""
    try:
        which = DateQuery().load({"date": day})["date"]
    except ValidationError as error:
        raise click.BadParameter(next(faults(error.messages)).message) from None
    body = _budget(wired, household, which)
    columns = (words("meal"), short("at"), figures("takes"), figures("odds on gas"), short("verdict"))
    table = Table(*columns, title=body["summary"], caption=_caption(body))
    for meal in body["meals"]:
        table.add_row(
            meal["meal"],
            meal["start"][11:16],
            f"{1000 * meal['need_m3']:.0f} L",
            f"{100 * meal['on_gas_probability']:.0f} %",
            meal["verdict"],
        )
    return table


def days_table(wired: Wiring, household: str, days: int) -> Table | str:
    """The gas budgets of the rest of today and of the days after it, a line each; or why there are none."""
    today = _budget(wired, household, "today")
    if today["budget_m3"] is None:
        return str(today["summary"])
    unit = "kWh" if today["backup_kwh"] is not None else "kg"
    before = (short("day"), *map(figures, ("may\nburn L", "surely\nL", "meals\nL", "odds")))
    after = (words("verdict"), figures(f"backup\n{unit}"), figures("vented\nL"))
    table = Table(*before, *after, box=SIMPLE_HEAD, show_edge=False, padding=(0, 1, 0, 0))
    table.title = f"{household}, as of {today['as_of'][:16].replace('T', ' ')}"
    table.caption = MARKS if today["reason"] is None else f"{MARKS} {REASONS[today['reason']]}"
    first = date.fromisoformat(today["date"])
    for body in (today, *(_budget(wired, household, first + timedelta(days=ahead)) for ahead in range(1, days + 1))):
        if body["budget_m3"] is not None:
            table.add_row(*_day_cells(body, unit))
    return table


MARKS = "Surely: nine times in ten at least. In brackets: nine times in ten at most."
REASONS = {
    "stale": "The last gauge reading is days old; please read it again.",
    "cold_start": "Nothing is learnt of this household yet.",
}
"""What to mind about a table, as an answer's `reason` has it."""


def _budget(wired: Wiring, household: str, which: str | date) -> dict[str, Any]:
    """The budget of a day, as any client is answered."""
    question = Question(
        household=household, kind="gas-budget", asked={"date": which}, days=days_to(which, wired.clock())
    )
    told = tell(question, GasBudget, partial(budget_answer, which=which), wired=wired)
    body: dict[str, Any] = json.loads(told.body)
    return body


def _day_cells(body: dict[str, Any], unit: str) -> tuple[str, ...]:
    day = date.fromisoformat(body["date"])
    backup, most = (body[f"backup_{mark}{unit.lower()}"] for mark in ("", "q90_"))
    return (
        f"{WEEKDAYS[day.weekday()][:3]} {day.day} {MONTHS[day.month][:3]}",
        f"{1000 * body['budget_m3']:.0f}",
        f"{1000 * body['budget_q10_m3']:.0f}",
        f"{1000 * body['need_m3']:.0f}",
        f"{100 * body['cover_probability']:.0f} %" if body["meals"] else "",
        _day_verdict(body),
        f"{backup:.2f} ({most:.2f})",
        f"{1000 * body['vented_m3']:.0f}",
    )


def _day_verdict(body: dict[str, Any]) -> str:
    """Whether the day's meals are covered; else which are not to be counted on."""
    if not body["meals"]:
        return "no meal"
    unsure = [f"{meal['meal']}: {meal['verdict']}" for meal in body["meals"] if meal["verdict"] != "gas"]
    return "gas" if body["covered"] else "\n".join(unsure) or "tight"


def skill_table(answer: dict[str, Any]) -> Table:
    """How good past forecasts were, by range of lead days."""
    names = ("days ahead", "forecasts", "error", "to 7-day\nmean", "to last\nvalue", "in 80 %", "in 95 %")
    table = Table(*map(figures, names))
    table.title = answer["summary"]
    for one in answer.get("ranges", []):
        first, last = one["first_lead_day"], one["last_lead_day"]
        ratios = [one[name] for name in ("to_week_mean", "to_last_value", "within_80", "within_95")]
        error = "-" if one["mae_sm3"] is None else f"{1000 * one['mae_sm3']:.0f} L"
        told = ("-" if ratio is None else f"{ratio:.2f}" for ratio in ratios)
        table.add_row(f"{first}-{last}" if last > first else str(first), str(one["forecasts"]), error, *told)
    return table


def _caption(body: dict[str, Any]) -> str:
    if body["budget_m3"] is None:
        return ""
    budget, least, need = (1000 * body[name] for name in ("budget_m3", "budget_q10_m3", "need_m3"))
    return f"{budget:.0f} L may be burned, {least:.0f} L nine times in ten; the meals take {need:.0f} L"
