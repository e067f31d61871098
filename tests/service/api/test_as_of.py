"""An answer as of another moment is the one that would have been given then: always the same, and kept nowhere."""

from __future__ import annotations

from datetime import timedelta

import pytest
from flask.testing import FlaskClient

from service.wiring import Wiring
from tests.service.api.support import BASE, NOW, Clock, reading, strict

THEN = NOW - timedelta(days=3, minutes=7)


@pytest.mark.parametrize(
    "path", ["now?", "gas-budget?", "storage?", "backup?", "forecast?days=3&", "boil-time?water_l=2&"]
)
def test_an_answer_as_of_then_is_the_same_whenever_it_is_asked(
    home: FlaskClient, clock: Clock, wired: Wiring, path: str
) -> None:
    for hours in range(1, 200, 24):
        home.post(f"{BASE}/readings", json=reading("holder_level", 50, "%", NOW - timedelta(hours=hours)))
    url = f"{BASE}/{path}as_of={THEN.strftime('%Y-%m-%dT%H:%M:%SZ')}"
    first = home.get(url)
    clock.now = NOW + timedelta(days=2)
    home.post(f"{BASE}/readings", json=reading("holder_level", 80, "%", NOW))  # later than then
    again = home.get(url)
    held = home.get(url, headers={"If-None-Match": first.headers["ETag"]})

    assert first.status_code == 200
    assert strict(first.get_data(as_text=True))["issued_at"] == strict(first.get_data(as_text=True))["as_of"]
    assert again.get_data() == first.get_data()
    assert again.headers["ETag"] == first.headers["ETag"]
    assert (held.status_code, held.get_data()) == (304, b"")
    assert wired.forecasts.page("home") == []


def test_an_answer_of_now_is_kept(home: FlaskClient, wired: Wiring) -> None:
    home.get(f"{BASE}/now")
    home.get(f"{BASE}/now")

    assert len(wired.forecasts.page("home")) == 1
