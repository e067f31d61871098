"""Two days without a look at the gauge: what was said may turn as the hours pass, and does not turn back."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from flask.testing import FlaskClient

from service.app import create_app
from service.demo.show import BASE
from service.settings import Settings
from service.wiring import wire
from tests.service.api.support import Clock

HOURS = 48
DATES = ("first_backup_date", "first_backup_date_q10", "first_backup_meal", "bottle_empty_date", "order_by_date")


@pytest.fixture
def home(demo_database: Path, demo_now: datetime, tmp_path: Path) -> Iterator[tuple[FlaskClient, Clock]]:
    """The demonstration's household in a database of its own, with a clock that can be set."""
    copied = str(shutil.copyfile(demo_database, tmp_path / "copied.sqlite"))
    clock = Clock()
    clock.now = demo_now
    wired = wire(Settings(database=copied), clock=clock)
    yield create_app(wired).test_client(), clock
    wired.database.close()


def said(ask: Callable[[str], Any], day: str) -> dict[str, object]:
    """Everything a cook acts on, by name."""
    now, storage, backup = ask("now"), ask("storage"), ask("backup")
    budget = ask(f"gas-budget?date={day}")
    assert now["next_backup_date"] == backup["first_backup_date"]
    assert now["next_backup_meal"] == backup["first_backup_meal"]
    assert now["days_left"] == storage["days_left"] == now["days_until_backup"] == backup["days_until_backup"]
    if backup["first_backup_date"] is not None:
        first = ask(f"gas-budget?date={backup['first_backup_date']}")
        starts = {meal["meal"]: datetime.fromisoformat(meal["start"]) for meal in first["meals"]}
        until_d = (starts[backup["first_backup_meal"]] - datetime.fromisoformat(backup["as_of"])) / timedelta(days=1)
        assert backup["days_until_backup"] == pytest.approx(until_d, abs=0.0051)  # told in hundredths of a day
    verdicts = {f"{meal['start']} {meal['meal']}": meal["verdict"] for meal in budget["meals"]}
    assert len(verdicts) == 3
    moments = {name: storage[name] and storage[name][:10] for name in ("empty_at", "empty_at_q10", "full_at")}
    dates = {name: backup[name] for name in DATES}
    lists = {f"{meal['start']} listed": True for meal in backup["meals"]}
    return verdicts | moments | dates | lists | {"covered": budget["covered"], "vents": now["next_venting_date"]}


def turned_back(values: list[object]) -> bool:
    """Whether something was said again after something else had been said in its place."""
    runs = [value for place, value in enumerate(values) if place == 0 or value != values[place - 1]]
    return len(runs) > len(set(runs))


def test_what_was_said_does_not_turn_back_as_hours_pass(home: tuple[FlaskClient, Clock], demo_now: datetime) -> None:
    client, clock = home
    day = (demo_now + timedelta(days=3)).date().isoformat()

    def ask(path: str) -> Any:
        return client.get(f"{BASE}/{path}").get_json()

    hourly = []
    for hour in range(HOURS):
        clock.now = demo_now + timedelta(hours=hour)
        hourly.append(said(ask, day))
    names = {name for told in hourly for name in told}
    flapped = [name for name in names if turned_back([told.get(name) for told in hourly])]

    assert flapped == []
    assert len({told["first_backup_date"] for told in hourly}) > 1  # time does tell
