"""An app on a database of its own, with a clock that stands still, and a household that has lived in it for a while."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterator
from datetime import timedelta
from pathlib import Path

import pytest
from flask import Flask
from flask.testing import FlaskClient

from service.api.examples import DESCRIPTION, MEAL
from service.app import create_app
from service.demo.world import World, draw_world, to_csv
from service.refitting import refit_now
from service.settings import Settings
from service.wiring import Wiring, wire
from tests.service.api.support import BASE, NOW, Clock

KEPT = ("", "/meals", "/overrides", "/readings", "/weather", "/model/fits")


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def wired(tmp_path: Path, clock: Clock, new_database: Callable[[Path], str]) -> Iterator[Wiring]:
    made = wire(Settings(database=new_database(tmp_path / "test.sqlite")), clock=clock)
    yield made
    made.database.close()


@pytest.fixture
def app(wired: Wiring) -> Flask:
    return create_app(wired)


@pytest.fixture
def client(app: Flask) -> FlaskClient:
    return app.test_client()


@pytest.fixture
def home(client: FlaskClient) -> FlaskClient:
    """A client of a household that is described and cooks dinner, and has logged nothing yet."""
    assert client.put(BASE, json=DESCRIPTION).status_code == 201
    assert client.post(f"{BASE}/meals", json=MEAL).status_code == 201
    return client


@pytest.fixture(scope="session")
def vacant(tmp_path_factory: pytest.TempPathFactory, new_database: Callable[[Path], str]) -> Iterator[FlaskClient]:
    """A client that many tests share, where nothing is kept: for what is only reckoned, and for what is refused."""
    made = wire(Settings(database=new_database(tmp_path_factory.mktemp("vacant") / "vacant.sqlite")), clock=Clock())
    client = create_app(made).test_client()
    yield client
    assert made.homes.names() == []
    made.database.close()


@pytest.fixture(scope="session")
def settled(tmp_path_factory: pytest.TempPathFactory, new_database: Callable[[Path], str]) -> Iterator[FlaskClient]:
    """A client of a household like `home` that many tests share: for questions, and for what is refused."""
    made = wire(Settings(database=new_database(tmp_path_factory.mktemp("settled") / "settled.sqlite")), clock=Clock())
    client = create_app(made).test_client()
    assert client.put(BASE, json=DESCRIPTION).status_code == 201
    assert client.post(f"{BASE}/meals", json=MEAL).status_code == 201
    before = [client.get(f"{BASE}{kept}").get_json() for kept in KEPT]
    yield client
    assert [client.get(f"{BASE}{kept}").get_json() for kept in KEPT] == before
    made.database.close()


@pytest.fixture(scope="session")
def world() -> World:
    return draw_world(11, days=150, end=NOW.date() - timedelta(days=1))


@pytest.fixture(scope="session")
def lived_in(tmp_path_factory: pytest.TempPathFactory, world: World) -> Iterator[tuple[Flask, Wiring]]:
    """An app with a household that kept its log for 150 days and was fitted; read only."""
    made = wire(Settings(database=str(tmp_path_factory.mktemp("lived") / "lived.sqlite")), clock=Clock())
    app = create_app(made)
    client = app.test_client()
    assert client.put(BASE, json=world.description).status_code == 201
    for meal in world.meals:
        assert client.post(f"{BASE}/meals", json=meal).status_code == 201
    for change in world.overrides:
        assert client.post(f"{BASE}/overrides", json=change).status_code == 201
    body = to_csv(world.readings).encode()
    assert sum(1 for _ in csv.reader(io.StringIO(body.decode()))) > 300
    answer = client.post(f"{BASE}/readings/imports", data=body, content_type="text/csv")
    assert answer.status_code in (200, 201), answer.get_data(as_text=True)[:500]
    assert refit_now("home", NOW, made).outcome == "replaced"
    yield app, made
    made.database.close()
