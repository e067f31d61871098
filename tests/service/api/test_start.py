"""The way in: links to the contract, and to answers only where anybody may see them."""

from __future__ import annotations

import re

from flask.testing import FlaskClient

from service.api.examples import DESCRIPTION
from service.api.guard import token_hash
from service.wiring import Wiring
from tests.service.api.support import NOW


def test_every_link_of_the_start_leads_somewhere(home: FlaskClient) -> None:
    assert home.put("/v1/households/d'été", json=DESCRIPTION).status_code == 201
    links = re.findall(r'(?:href|src)="(/[^"]*)"', home.get("/").get_data(as_text=True))

    assert "/docs" in links and "/v1/households/home/now" in links
    for link in links:
        with home.get(link) as answer:
            assert answer.status_code == 200, link


def test_once_a_token_is_made_no_household_is_named(home: FlaskClient, wired: Wiring) -> None:
    assert 'data-household="home"' in home.get("/docs").get_data(as_text=True)
    wired.tokens.add(None, "read", token_hash("r"), now=NOW)

    for path in ("/", "/docs"):
        text = home.get(path).get_data(as_text=True)
        assert "households/home" not in text and "data-household" not in text
