"""How good forecasts were is measured once, kept, and told to whoever asks."""

from __future__ import annotations

from datetime import timedelta

from click.testing import CliRunner
from flask import Flask
from flask.testing import FlaskClient

from service.api.schemas.skill import Skill
from service.cli import main
from service.refitting import measure
from service.usecases.skill import summary
from service.wiring import Wiring
from tests.service.api.support import BASE, NOW, Clock, reading


def test_before_it_is_measured_nothing_is_claimed(home: FlaskClient) -> None:
    body = home.get(f"{BASE}/skill").get_json()

    assert set(body) == set(Skill().fields)
    assert (body["valid"], body["reason"], body["leads"]) == (False, "not_measured", [])


def test_a_log_too_thin_to_tell_says_so(home: FlaskClient, wired: Wiring) -> None:
    home.post(f"{BASE}/readings", json=reading("holder_level", 50, "%", NOW - timedelta(days=60)))

    assert measure("home", wired)
    body = home.get(f"{BASE}/skill").get_json()

    assert (body["valid"], body["reason"]) == (False, "no_exact_days")
    assert "nothing to compare" in body["summary"]


def test_skill_is_measured_once_a_week(home: FlaskClient, wired: Wiring, clock: Clock) -> None:
    assert measure("home", wired)
    assert not measure("home", wired)
    clock.now = NOW + timedelta(days=8)
    assert measure("home", wired)


def test_a_backtest_tells_how_good_forecasts_were(lived_in: tuple[Flask, Wiring]) -> None:
    app, wired = lived_in
    arguments = ["--database", wired.settings.database, "backtest", "home", "--days", "24", "--every", "8"]

    printed = CliRunner().invoke(main, [*arguments, "--as-of", NOW.isoformat()])
    body = app.test_client().get(f"{BASE}/skill?days=30").get_json()
    fewer = app.test_client().get(f"{BASE}/skill?days=1").get_json()

    assert printed.exit_code == 0, printed.output
    assert "days ahead" in printed.output
    assert body["valid"]
    assert len(body["leads"]) == 14
    assert body["ranges"][1]["forecasts"] > fewer["ranges"][1]["forecasts"] > 0
    assert body["ranges"][1]["mae_sm3"] > 0.0
    assert body["first_origin"] < body["last_origin"]


def test_the_sentence_tells_worse_from_better(lived_in: tuple[Flask, Wiring]) -> None:
    from models.production.skill import joined, skill

    empty = skill(joined([]), 1, 7)
    figures = {name: getattr(empty, name) for name in empty.__slots__}
    known = {"mae_sm3": 0.08, "within_80": 0.8}

    assert "20 % less" in summary(type(empty)(**{**figures, **known, "to_week_mean": 0.8}))
    assert "20 % more" in summary(type(empty)(**{**figures, **known, "to_week_mean": 1.2}))
