"""The sentence of the series: what comes, what is wanted, when the holder is lowest."""

from __future__ import annotations

import re
from datetime import datetime, timedelta
from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient

from models.reckoning import in_words
from service.wiring import Wiring
from tests.service.api.support import BASE, NOW, reading

SENTENCE = re.compile(
    r"In the rest of today and (the next .*?) about "
    r"([0-9.]+) m3 of gas comes \(([0-9.]+) to ([0-9.]+)\) and cooking wants ([0-9.]+) m3 \(([0-9.]+) to ([0-9.]+)\); "
    r"the holder is lowest on (\w+ [0-9]+ \w+), at about ([0-9.]+) m3\."
)


def ask(client: FlaskClient, query: str) -> dict[str, Any]:
    body: dict[str, Any] = client.get(f"{BASE}/forecast?{query}").get_json()
    return body


@pytest.mark.parametrize(("days", "span"), [(1, "the next day"), (14, "the next 14 days"), (90, "the next 90 days")])
def test_it_says_how_much_comes_and_is_wanted(lived_in: tuple[Flask, Wiring], days: int, span: str) -> None:
    told = ask(lived_in[0].test_client(), f"days={days}")
    found = SENTENCE.fullmatch(told["summary"])
    assert found is not None, told["summary"]
    made, low, high, need, least, most = map(float, found.groups()[1:7])

    assert len(told["summary"]) <= 200
    assert found[1] == span
    assert low < made < high
    assert least < need < most
    # The median of a sum is near the sum of medians, where paths lean to neither side.
    assert made == pytest.approx(sum(point["production_q50_m3"] for point in told["points"]), rel=0.1, abs=0.01)


def test_it_names_the_day_on_which_the_holder_is_lowest(lived_in: tuple[Flask, Wiring]) -> None:
    told = ask(lived_in[0].test_client(), "days=14&step=hour")
    found = SENTENCE.fullmatch(told["summary"])
    assert found is not None, told["summary"]
    middle = [point["holder_end_q50_m3"] for point in told["points"]]
    day = next(point for point, level in zip(told["points"], middle, strict=True) if level <= min(middle) + 0.005)

    # It looks at the ends of meals as well, between which and the full hour a little gas is made.
    assert float(found[9]) == pytest.approx(min(middle), abs=0.03)
    assert found[8] == in_words(datetime.fromisoformat(day["start"]).date())


def test_a_look_that_is_old_is_said_first_and_the_ranges_give_way(home: FlaskClient) -> None:
    given = reading("holder_level", 60, "%", NOW - timedelta(days=5))
    assert home.post(f"{BASE}/readings", json=given).status_code == 201
    summary = ask(home, "days=14")["summary"]

    assert summary.startswith("Gauge last read 5 days ago: read it again. In the rest of today and the next 14 days ")
    assert " m3 of gas comes and cooking wants " in summary
    assert "the holder is lowest on" in summary
    assert len(summary) <= 200
