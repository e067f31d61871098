"""Pictures: what is drawn is what is answered, named, with units, and the same bytes each time."""

from __future__ import annotations

import io
import json
from datetime import datetime, timedelta
from itertools import pairwise
from typing import Any
from xml.etree import ElementTree

import pytest
from flask import Flask
from flask.testing import FlaskClient
from PIL import Image

from service.api.examples import DESCRIPTION
from service.pictures import Frame, drawn, forecast_figure, outlook_figure
from service.wiring import Wiring
from tests.service.api.support import BASE, NOW, Clock, reading

FRAME = Frame(label="An invented cottage", capacity_m3=0.9)
SVG_TEXT = "{http://www.w3.org/2000/svg}text"
AXES = {
    "forecast": ("in the holder [m³]", "heat each day [MJ]", "odds of backup [%]", "vented [m³]"),
    "outlook": ("gas each month [m³]", "backup: LPG [kg]", "vented [m³]"),
}


def asker(lived_in: tuple[Flask, Wiring]) -> FlaskClient:
    return lived_in[0].test_client()


def document(client: FlaskClient, path: str) -> dict[str, Any]:
    body: dict[str, Any] = client.get(f"{BASE}/{path}").get_json()
    return body


def texts(body: bytes) -> list[str]:
    """Everything written in an SVG."""
    return ["".join(element.itertext()) for element in ElementTree.fromstring(body).iter(SVG_TEXT)]


@pytest.mark.parametrize("path", ["forecast", "forecast.png?step=hour&days=2", "forecast.png?days=60", "outlook"])
def test_a_png_is_a_picture_with_ink_on_white(lived_in: tuple[Flask, Wiring], path: str) -> None:
    answer = asker(lived_in).get(f"{BASE}/{path if '.' in path else path + '.png'}")
    image = Image.open(io.BytesIO(answer.get_data())).convert("RGB")
    inked = sum(1 for pixel in image.resize((99, 99)).get_flattened_data() if min(pixel) < 200)

    assert (answer.status_code, answer.headers["Content-Type"]) == (200, "image/png")
    assert image.size == (990, 990)
    assert {image.getpixel((x, y)) for x in (0, 989) for y in (0, 989)} == {(255, 255, 255)}
    assert 100 < inked < 8_000


@pytest.mark.parametrize("path", AXES)
def test_an_svg_names_the_household_the_moment_and_every_axis(lived_in: tuple[Flask, Wiring], path: str) -> None:
    client = asker(lived_in)
    answer = client.get(f"{BASE}/{path}.svg")
    written = texts(answer.get_data())
    label = client.get(BASE).get_json()["label"]

    assert answer.headers["Content-Type"] == "image/svg+xml; charset=utf-8"
    assert set(AXES[path]) <= set(written)
    assert any(line.startswith(label[:40]) and "25 November 2026" in line for line in written)
    assert document(client, path)["summary"][:60] in " ".join(written)


@pytest.mark.parametrize("path", AXES)
def test_an_svg_is_as_wide_as_there_is_room(lived_in: tuple[Flask, Wiring], path: str) -> None:
    root = ElementTree.fromstring(asker(lived_in).get(f"{BASE}/{path}.svg").get_data())

    assert (root.get("width"), root.get("height"), root.get("viewBox")) == ("100%", None, "0 0 648 648")


@pytest.mark.parametrize("name", ["forecast.svg", "forecast.png", "outlook.svg", "outlook.png"])
def test_the_same_answer_is_the_same_picture(lived_in: tuple[Flask, Wiring], name: str) -> None:
    client = asker(lived_in)
    first = client.get(f"{BASE}/{name}")
    drawn.cache_clear()
    second = client.get(f"{BASE}/{name}")
    again = client.get(f"{BASE}/{name}", headers={"If-None-Match": first.headers["ETag"]})

    assert first.get_data() == second.get_data()
    assert b"2026-11-25T" not in first.get_data()  # when it was drawn is nobody's business
    assert (again.status_code, again.get_data()) == (304, b"")


def test_what_is_drawn_is_what_is_answered(lived_in: tuple[Flask, Wiring]) -> None:
    told = document(asker(lived_in), "forecast")
    holder, heat, odds, vented = forecast_figure(told, FRAME).axes
    points = told["points"]

    assert holder.lines[0].get_ydata() == pytest.approx([point["holder_end_q50_m3"] for point in points])
    assert list(holder.lines[1].get_ydata()) == [0.9, 0.9]
    made, need = (line.get_ydata()[:-1] for line in heat.lines)
    assert made == pytest.approx([point["production_q50_mj"] for point in points])
    assert need == pytest.approx([point["need_q50_mj"] for point in points])
    assert [bar.get_height() for bar in odds.patches] == pytest.approx(
        [100.0 * point["backup_probability"] for point in points]
    )
    heights = [bar.get_height() for bar in vented.patches]
    assert heights[: len(points)] == pytest.approx([point["vented_q90_m3"] for point in points])
    assert heights[len(points) :] == pytest.approx([point["vented_q50_m3"] for point in points])


def test_months_are_drawn_as_answered(lived_in: tuple[Flask, Wiring]) -> None:
    told = document(asker(lived_in), "outlook?months=3")
    gas, backup, vented = outlook_figure(told, FRAME).axes
    months = told["months"]

    for axes, names in ((gas, ("production_m3", "need_m3")), (backup, ("backup_kg",)), (vented, ("vented_m3",))):
        expected = [month[name] for name in names for month in months]
        assert [bar.get_height() for bar in axes.patches] == pytest.approx(expected)
    assert [label.get_text() for label in vented.get_xticklabels()] == [
        "Nov\n2026\n(rest)",
        "Dec\n2026",
        "Jan\n2027",
        "Feb\n2027",
    ]


@pytest.mark.parametrize(("days", "step"), [(1, "hour"), (3, "hour"), (14, "day"), (90, "day")])
def test_names_of_days_keep_apart(lived_in: tuple[Flask, Wiring], days: int, step: str) -> None:
    figure = forecast_figure(document(asker(lived_in), f"forecast?days={days}&step={step}"), FRAME)
    figure.draw_without_rendering()
    boxes = [label.get_window_extent() for label in figure.axes[-1].get_xticklabels()]

    assert 4 <= len(boxes) <= 17
    assert all(left.x1 < right.x0 for left, right in pairwise(boxes))


def test_what_is_not_known_is_said_in_the_picture(home: FlaskClient) -> None:
    for name in ("forecast", "outlook"):
        written = texts(home.get(f"{BASE}/{name}.svg").get_data())

        assert written.count("not known: the gauge was never read") >= 2
        assert any(line.startswith("The gauge was never read") for line in written)


def test_what_is_not_likely_is_said_in_the_picture(home: FlaskClient) -> None:
    home.delete(f"{BASE}/meals/dinner", headers={"If-Match": "*"})
    home.post(f"{BASE}/readings", json=reading("holder_level", 10, "%", NOW - timedelta(hours=1)))
    written = texts(home.get(f"{BASE}/forecast.svg?days=1").get_data())

    assert written.count("none likely") == 2


@pytest.mark.parametrize("label", ["$x_1$ & <b>me</b> \\frac", "a\nlane", "word " * 40, "a" * 190, "खाना 茶"])
def test_any_label_can_be_drawn(client: FlaskClient, label: str) -> None:
    assert client.put(BASE, json=DESCRIPTION | {"label": label}).status_code == 201
    written = texts(client.get(f"{BASE}/forecast.svg?days=1").get_data())

    assert any(line.startswith(" ".join(label.split())[:20]) for line in written)
    assert all(len(line) < 130 for line in written)


def test_a_household_without_a_label_goes_by_its_name(client: FlaskClient) -> None:
    bare = {name: part for name, part in DESCRIPTION.items() if name != "label"}
    assert client.put(BASE, json=bare).status_code == 201

    assert any(line.startswith("home: ") for line in texts(client.get(f"{BASE}/outlook.svg?months=1").get_data()))


def test_days_of_a_changing_clock_stand_where_they_begin(home: FlaskClient, clock: Clock) -> None:
    clock.now = datetime.fromisoformat("2026-10-24T08:00:00+00:00")  # the clock goes back on the 25th
    told = document(home, "forecast?days=3")
    axes = forecast_figure(told, FRAME).axes[-1]
    midnights = [datetime.fromisoformat(point["start"]).timestamp() / 86_400 for point in told["points"][1:]]

    assert axes.get_xticks()[:3] == pytest.approx(midnights)


def test_a_browser_may_use_a_pictures_own_styles_and_nothing_else(home: FlaskClient) -> None:
    policy = home.get(f"{BASE}/forecast.svg?days=1").headers["Content-Security-Policy"]

    assert policy == "default-src 'none'; style-src 'unsafe-inline'; frame-ancestors 'none'"


def test_a_picture_is_drawn_once_for_one_answer(lived_in: tuple[Flask, Wiring]) -> None:
    drawn.cache_clear()
    body = json.dumps(document(asker(lived_in), "outlook?months=1")).encode()
    first, second = (drawn(body, FRAME, outlook_figure, "svg") for _ in range(2))

    assert first is second
