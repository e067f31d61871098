"""Answers as tables for the terminal, the same as any client gets."""

from __future__ import annotations

import json
from functools import partial
from typing import Any

import click
from marshmallow import ValidationError
from rich.table import Table

from service.api.asking import tell
from service.api.problems import faults
from service.api.schemas.answers import DateQuery, GasBudget
from service.usecases.answers import budget_answer, days_to
from service.usecases.outlook import Question
from service.wiring import Wiring


def budget_table(wired: Wiring, household: str, day: str) -> Table:
    """The gas budget of a day, meal by meal."""
    try:
        which = DateQuery().load({"date": day})["date"]
    except ValidationError as error:
        raise click.BadParameter(next(faults(error.messages)).message) from None
    days = days_to(which, wired.clock())
    question = Question(household=household, kind="gas-budget", asked={"date": which}, days=days)
    told = tell(question, GasBudget, partial(budget_answer, which=which), wired=wired)
    body: dict[str, Any] = json.loads(told.body)
    table = Table("meal", "at", "takes", "odds on gas", "verdict", title=body["summary"], caption=_caption(body))
    for meal in body["meals"]:
        table.add_row(
            meal["meal"],
            meal["start"][11:16],
            f"{1000 * meal['need_m3']:.0f} L",
            f"{100 * meal['on_gas_probability']:.0f} %",
            meal["verdict"],
        )
    return table


def skill_table(answer: dict[str, Any]) -> Table:
    """How good past forecasts were, by range of lead days."""
    table = Table("days ahead", "forecasts", "error", "to 7-day mean", "to last value", "in 80 %", "in 95 %")
    table.title = answer["summary"]
    for one in answer.get("ranges", []):
        first, last = one["first_lead_day"], one["last_lead_day"]
        figures = [one[name] for name in ("to_week_mean", "to_last_value", "within_80", "within_95")]
        error = "-" if one["mae_sm3"] is None else f"{1000 * one['mae_sm3']:.0f} L"
        told = ("-" if figure is None else f"{figure:.2f}" for figure in figures)
        table.add_row(f"{first}-{last}" if last > first else str(first), str(one["forecasts"]), error, *told)
    return table


def _caption(body: dict[str, Any]) -> str:
    if body["budget_m3"] is None:
        return ""
    budget, least, need = (1000 * body[name] for name in ("budget_m3", "budget_q10_m3", "need_m3"))
    return f"{budget:.0f} L may be burned, {least:.0f} L nine times in ten; the meals take {need:.0f} L"
