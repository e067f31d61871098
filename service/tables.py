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


def _caption(body: dict[str, Any]) -> str:
    if body["budget_m3"] is None:
        return ""
    budget, least, need = (1000 * body[name] for name in ("budget_m3", "budget_q10_m3", "need_m3"))
    return f"{budget:.0f} L may be burned, {least:.0f} L nine times in ten; the meals take {need:.0f} L"
