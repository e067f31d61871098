"""The tables of the terminal say what the answers say, in eighty columns."""

from __future__ import annotations

import io
import re
from collections.abc import Callable, Iterator
from datetime import timedelta
from pathlib import Path

import pytest
from flask.testing import FlaskClient
from rich.console import Console
from rich.table import Table

from service.api.examples import DESCRIPTION, MEAL
from service.app import create_app
from service.settings import Settings
from service.tables import budget_table, days_table
from service.terminal import print_table
from service.wiring import Wiring, wire
from tests.service.api.support import BASE, NOW, Clock, reading


@pytest.fixture
def wired(tmp_path: Path, new_database: Callable[[Path], str]) -> Iterator[Wiring]:
    made = wire(Settings(database=new_database(tmp_path / "test.sqlite")), clock=Clock())
    yield made
    made.database.close()


@pytest.fixture
def client(wired: Wiring) -> FlaskClient:
    found = create_app(wired).test_client()
    found.put(BASE, json=DESCRIPTION)
    found.post(f"{BASE}/meals", json=MEAL)
    return found


def look(client: FlaskClient, level_pct: float, hours_ago: float = 2.0) -> None:
    given = reading("holder_level", level_pct, "%", NOW - timedelta(hours=hours_ago))
    assert client.post(f"{BASE}/readings", json=given).status_code == 201


def printed(table: Table | str) -> list[str]:
    out = io.StringIO()
    Console(file=out, width=80).print(table)
    return out.getvalue().splitlines()


def test_each_day_has_a_line_with_the_figures_of_its_budget(client: FlaskClient, wired: Wiring) -> None:
    look(client, 60)
    lines = printed(days_table(wired, "home", 3))
    days = [line for line in lines if line.startswith(("Wed 25 Nov", "Thu 26 Nov", "Fri 27 Nov", "Sat 28 Nov"))]
    told = client.get(f"{BASE}/gas-budget?date=2026-11-26").get_json()

    assert len(days) == 4
    assert max(len(line) for line in lines) <= 80
    assert days[1].split()[3:8] == [
        f"{1000 * told['budget_m3']:.0f}",
        f"{1000 * told['budget_q10_m3']:.0f}",
        f"{1000 * told['need_m3']:.0f}",
        f"{100 * told['cover_probability']:.0f}",
        "%",
    ]
    assert f"{told['backup_kg']:.2f} ({told['backup_q90_kg']:.2f})" in days[1]
    assert "Nothing is learnt of this household yet." in " ".join(lines)


def test_meals_that_cannot_be_counted_on_are_named(client: FlaskClient, wired: Wiring) -> None:
    look(client, 10)

    assert "dinner: backup" in printed(days_table(wired, "home", 1))[4]


def test_an_electric_backup_and_no_meals(client: FlaskClient, wired: Wiring) -> None:
    electric = DESCRIPTION | {"backup": {"fuel": "induction"}}
    assert client.put(BASE, json=electric, headers={"If-Match": "*"}).status_code == 200
    assert client.delete(f"{BASE}/meals/dinner", headers={"If-Match": "*"}).status_code == 204
    look(client, 60)
    lines = printed(days_table(wired, "home", 1))

    assert "kWh" in lines[2]
    assert "no meal" in lines[4]


def test_an_old_reading_is_said_to_be_old(client: FlaskClient, wired: Wiring) -> None:
    look(client, 60, hours_ago=96.0)

    assert "please read it again" in " ".join(printed(days_table(wired, "home", 1)))


def test_a_gauge_never_read_has_no_days_to_tell(client: FlaskClient, wired: Wiring) -> None:
    text = " ".join(" ".join(printed(days_table(wired, "home", 7))).split())

    assert text == "The gauge was never read, so nobody knows what is in the holder; log a holder_level reading."


LONG_NAME = "grandmotherlysundaybreakfastwithguests"


def spoken(capsys: pytest.CaptureFixture[str], table: Table | str) -> list[str]:
    print_table(table)
    return re.sub(r"\x1b\[[0-9;]*m", "", capsys.readouterr().out).splitlines()


@pytest.mark.parametrize("columns", ["30", "80", "200"])
@pytest.mark.parametrize("on_terminal", ["0", "1"])
def test_no_word_is_cut_short_on_a_terminal_or_in_a_pipe(
    client: FlaskClient,
    wired: Wiring,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    columns: str,
    on_terminal: str,
) -> None:
    monkeypatch.setenv("COLUMNS", columns)
    monkeypatch.setenv("TTY_COMPATIBLE", on_terminal)
    monkeypatch.setenv("NO_COLOR", "1")
    monkeypatch.setenv("TERM", "xterm")
    client.post(f"{BASE}/meals", json=MEAL | {"name": "breakfast", "time": "07:30"})
    client.post(f"{BASE}/meals", json=MEAL | {"name": LONG_NAME, "time": "12:30"})
    look(client, 10)
    week = spoken(capsys, days_table(wired, "home", 7))
    day = spoken(capsys, budget_table(wired, "home", "tomorrow"))

    for lines in (week, day):
        assert not any("\u2026" in line for line in lines)
    told = " ".join(week)
    assert all(word in told for word in ("vented", "verdict", "backup", "breakfast: backup", "dinner: backup"))
    assert LONG_NAME in "".join(line.split("│")[1].strip() for line in day if line.startswith("│"))
    if on_terminal == "1":
        assert max(len(line) for line in (*week, *day)) <= max(80, int(columns))
    else:
        assert f"{LONG_NAME}: backup" in told


def test_a_day_away_has_no_meals_and_no_odds_of_them(client: FlaskClient, wired: Wiring) -> None:
    away = {"from": "2026-11-26", "to": "2026-11-26"}
    assert client.post(f"{BASE}/overrides", json=away).status_code == 201
    look(client, 60)
    (line,) = (line for line in printed(days_table(wired, "home", 2)) if line.startswith("Thu 26 Nov"))

    assert "no meal" in line
    assert "%" not in line
