"""Answers as tables for the terminal, asked for as any client would."""

from __future__ import annotations

from typing import Any

import click
from rich.table import Table

from service.app import create_app
from service.wiring import Wiring


def budget_table(wired: Wiring, household: str, day: str) -> Table:
    """The gas budget of a day, meal by meal."""
    answer = create_app(wired).test_client().get(f"/v1/households/{household}/gas-budget", query_string={"date": day})
    body: dict[str, Any] = answer.get_json()
    if answer.status_code != 200:
        raise click.ClickException(body["detail"])
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
