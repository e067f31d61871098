"""The demonstration, read as a cook: figures that a household with a 0.9 m3 holder would recognise."""

from __future__ import annotations

import io
from datetime import datetime, timedelta
from typing import Any

import numpy as np
from flask.testing import FlaskClient
from rich.console import Console

from service.demo.show import BASE, QUESTIONS, answer
from service.settings import Settings


def ask(client: FlaskClient, path: str) -> dict[str, Any]:
    found = client.get(f"{BASE}/{path}")
    assert found.status_code == 200, found.get_data(as_text=True)
    body: dict[str, Any] = found.get_json()
    return body


def budgets(client: FlaskClient, first: datetime) -> list[dict[str, Any]]:
    """Tomorrow's budget on six mornings, five days apart."""
    mornings = (first + timedelta(days=5 * k) for k in range(6))
    return [ask(client, f"gas-budget?date=tomorrow&as_of={one.strftime('%Y-%m-%dT%H:%M:%SZ')}") for one in mornings]


def test_winter_budgets_are_below_summers(demo_client: FlaskClient, demo_now: datetime) -> None:
    winter = budgets(demo_client, demo_now.replace(month=1, day=2))
    summer = budgets(demo_client, demo_now.replace(month=7, day=2))

    assert np.mean([day["budget_m3"] for day in winter]) < 0.75 * np.mean([day["budget_m3"] for day in summer])
    assert np.mean([day["cover_probability"] for day in winter]) < np.mean([day["cover_probability"] for day in summer])


def test_the_holder_lasts_days_and_dinner_takes_some_hundred_litres(
    demo_client: FlaskClient, demo_now: datetime
) -> None:
    as_of = (demo_now - timedelta(days=7)).strftime("%Y-%m-%dT%H:%M:%SZ")
    storage = ask(demo_client, f"storage?as_of={as_of}")
    dinner = [meal for meal in ask(demo_client, f"gas-budget?as_of={as_of}")["meals"] if meal["meal"] == "dinner"]

    assert 0.0 <= storage["holder_m3"] <= storage["capacity_m3"] == 0.9
    assert 0.0 < storage["days_left_without_production"] < 7.0
    assert 0.1 < dinner[0]["need_m3"] < 0.5


def test_five_answers_are_printed_with_their_addresses(demo_client: FlaskClient) -> None:
    out = io.StringIO()

    answer(demo_client.application, Settings(), Console(file=out, width=200))

    printed = out.getvalue()
    assert all(question in printed and path in printed for question, path in QUESTIONS)
    assert "/docs" in printed
