"""The days of fixtures/scenarios once more, as a household would ask: described, scheduled, read and answered in JSON.

A household that feeds nothing makes no gas, so days worked without new gas can be asked of the whole program. Meals
still vary as a plan without a log leaves open: each file says in `asked` which of its figures hold all the same.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from flask.testing import FlaskClient

from models.calendar import from_days, midnight
from service.api.examples import DESCRIPTION
from service.app import create_app
from service.settings import Settings
from service.wiring import wire
from tests.acceptance.scenarios import SCENARIOS, given_by
from tests.service.api.support import BASE, Clock, reading

ASKED = [pytest.param(given, id=path.stem) for path in SCENARIOS if "asked" in (given := given_by(path))]
DINNER_KG = 0.3 * 20.4 * 0.94 / 46.0  # of LPG as good as a dinner: 0.3 m3 of wet gas at 15 °C, both at 55 %
WARMTH = 0.05  # of a volume: the bag's gas swells and shrinks by as much over a day's swing of the air
ROUNDING_D = 0.005  # days are told to two digits


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def client(tmp_path: Path, clock: Clock, new_database: Callable[[Path], str]) -> Iterator[FlaskClient]:
    wired = wire(Settings(database=new_database(tmp_path / "scenario.sqlite")), clock=clock)
    yield create_app(wired).test_client()
    wired.database.close()


def described(given: dict[str, Any]) -> dict[str, Any]:
    holder, bottle = given["holder"], given["backup"].get("on_hand_dinners")
    rating = {"gas_flow_l_per_h": 600, "methane_pct": 60, "gauge_kpa": 0.8}
    backup = {"fuel": "lpg", "lead_d": given["backup"].get("lead_d", 0), "efficiency_pct": 55}
    return DESCRIPTION | {
        "time_zone": given["zone"],
        "site": {"altitude_m": 0, "latitude_deg": 41.2, "monthly_mean_c": [15] * 12},
        "gas": {"methane_pct": 60},
        "holder": {
            "capacity_m3": holder["capacity_m3"],
            "reserve_m3": holder.get("reserve_m3", 0.0),
            "gauge_kpa": 0.8,
            "level_error_pct": 0.1,
        },
        "digesters": [{"name": "tank", "liquid_m3": 0.85, "usual_feed_kg_per_d": 0.0}],
        "burners": [{"name": name, "rating": rating, "efficiency_pct": 55} for name in ("ring", "plate")],
        "backup": backup if bottle is None else backup | {"on_hand_kg": bottle * DINNER_KG},
    }


def meal(given: dict[str, Any]) -> dict[str, Any]:
    told = {"name": given["name"], "time": given["time"], "starts_on": "2026-01-01"}
    told["rrule"] = given.get("rrule", "FREQ=DAILY")
    if "flame_min" in given:
        return told | {"burner": "ring", "flame_min": given["flame_min"]}
    return told | {
        "dishes": [{"burner": one["burner"], "steps": [{"fry_min": one["fry_min"]}]} for one in given["dishes"]]
    }


def settle(client: FlaskClient, clock: Clock, given: dict[str, Any]) -> None:
    """The household at the first midnight, with one look at the gauge."""
    clock.now = from_days(midnight(given["first"], ZoneInfo(given["zone"])))
    assert client.put(BASE, json=described(given)).status_code == 201
    for one in given["meals"]:
        assert client.post(f"{BASE}/meals", json=meal(one)).status_code == 201
    for change in given["changes"]:
        plain = {name: str(value) if isinstance(value, date) else value for name, value in change.items()}
        assert client.post(f"{BASE}/overrides", json=plain).status_code == 201
    look = reading("holder_level", given["holder"]["start_m3"], "m3", clock.now)
    assert client.post(f"{BASE}/readings", json=[look]).status_code == 201


def answers(client: FlaskClient, given: dict[str, Any]) -> tuple[list[dict[str, Any]], dict[str, Any], dict[str, Any]]:
    """The budgets of the days, the storage and the backup."""

    def asked(question: str) -> Any:
        answer = client.get(f"{BASE}/{question}")
        assert answer.status_code == 200, answer.get_data(as_text=True)
        return answer.get_json()

    days = [given["first"] + timedelta(days=k) for k in range(given["days"])]
    budgets = [asked(f"gas-budget?date={day}") for day in days]
    return budgets, asked("storage?days=14"), asked("backup?days=14")


FOUND: dict[str, Callable[[list[dict[str, Any]], dict[str, Any], dict[str, Any]], Any]] = {
    "meal_starts": lambda budgets, *_: [moment(one["start"]) for day in budgets for one in day["meals"]],
    "hours": lambda budgets, *_: (moment(budgets[0]["end"]) - moment(budgets[0]["start"])) / timedelta(hours=1),
    "covered": lambda budgets, *_: budgets[0]["covered"],
    "verdicts": lambda budgets, *_: [one["verdict"] for one in budgets[0]["meals"]],
    "budget_m3": lambda budgets, *_: pytest.approx(budgets[0]["budget_m3"], rel=WARMTH),
    "usable_m3": lambda _, storage, __: pytest.approx(storage["usable_m3"], rel=WARMTH),
    "then_m3": lambda _, storage, __: pytest.approx(storage["holder_m3"], rel=WARMTH),
    "assumed_meals": lambda _, storage, __: [one["meal"] for one in storage["assumed_meals"]],
    "days_left": lambda _, storage, __: pytest.approx(storage["days_left"], abs=ROUNDING_D),
    "first_backup_date": lambda *all_: date.fromisoformat(all_[2]["first_backup_date"]),
    "first_backup_meal": lambda *all_: all_[2]["first_backup_meal"],
    "bottle_empty_date": lambda *all_: date.fromisoformat(all_[2]["bottle_empty_date"]),
    "order_by_date": lambda *all_: date.fromisoformat(all_[2]["order_by_date"]),
}


def moment(stamp: str) -> datetime:
    return datetime.fromisoformat(stamp)


def as_expected(value: Any) -> Any:
    if isinstance(value, list):
        return [as_expected(one) for one in value]
    return moment(value) if isinstance(value, str) and "T" in value else value


@pytest.mark.parametrize("given", ASKED)
def test_the_program_answers_as_worked_by_hand(given: dict[str, Any], client: FlaskClient, clock: Clock) -> None:
    settle(client, clock, given)
    clock.now += timedelta(hours=given["asked_at_h"])

    told = answers(client, given)
    for name in given["asked"]:
        assert FOUND[name](*told) == as_expected(given["expect"][name]), name


def test_every_kind_of_day_is_asked() -> None:
    assert len(ASKED) >= 10
