"""Venting, windows and seasons, read as a cook and as a script would."""

from __future__ import annotations

import csv
import io
from datetime import datetime, timedelta
from itertools import pairwise
from typing import Any
from urllib.parse import quote

import pytest
from flask import Flask
from flask.testing import FlaskClient

from service.api.examples import DESCRIPTION, MEAL
from service.api.schemas import outlook, venting, windows
from service.wiring import Wiring
from tests.service.api.support import BASE, NOW, Clock, faults, reading, strict

DOCUMENTS: dict[str, type[Any]] = {
    "venting": venting.Venting,
    "windows?flame_min=30": windows.Windows,
    "outlook?months=2": outlook.Outlook,
}
ANY = {"If-Match": "*"}
TAKEN_BY_PROBLEMS = {"type", "title", "status", "detail", "instance"}


def ask(client: FlaskClient, path: str) -> dict[str, Any]:
    answer = client.get(f"{BASE}/{path}")
    assert answer.status_code == 200, answer.get_data(as_text=True)
    body: dict[str, Any] = strict(answer.get_data(as_text=True))
    return body


def names(schema: Any) -> set[str]:
    return {field.data_key or name for name, field in schema().fields.items()}


def asker(lived_in: tuple[Flask, Wiring]) -> FlaskClient:
    return lived_in[0].test_client()


@pytest.mark.parametrize("path", DOCUMENTS)
def test_every_answer_is_stamped_and_whole(lived_in: tuple[Flask, Wiring], path: str) -> None:
    body = ask(asker(lived_in), path)

    assert set(body) == names(DOCUMENTS[path])
    assert not TAKEN_BY_PROBLEMS & set(body)
    assert datetime.fromisoformat(body["as_of"]) == NOW
    assert (body["valid"], body["basis"] in ("blended", "fitted")) == (True, True)
    assert 0 < len(body["summary"]) <= 200


@pytest.mark.parametrize("path", DOCUMENTS)
def test_the_same_question_gets_the_same_bytes(lived_in: tuple[Flask, Wiring], path: str) -> None:
    client = asker(lived_in)
    first, second = client.get(f"{BASE}/{path}"), client.get(f"{BASE}/{path}")

    assert first.get_data() == second.get_data()
    assert first.headers["ETag"] == second.headers["ETag"]
    assert client.get(f"{BASE}/{path}", headers={"If-None-Match": first.headers["ETag"]}).status_code == 304


@pytest.mark.parametrize("path", DOCUMENTS)
def test_a_household_that_logged_nothing_gets_a_reason(settled: FlaskClient, path: str) -> None:
    body = ask(settled, path)

    assert (body["valid"], body["reason"], body["basis"]) == (False, "no_readings", "prior")
    assert set(body) == names(DOCUMENTS[path])
    assert body["last_reading_at"] is None


@pytest.mark.parametrize("path", ["venting", "windows?flame_min=30", "outlook", "outlook.csv", "forecast.csv"])
def test_a_household_that_there_is_not_is_not_found(vacant: FlaskClient, path: str) -> None:
    assert vacant.get(f"/v1/households/nobody/{path}").status_code == 404


def full_and_idle(home: FlaskClient) -> None:
    """A full holder of which nobody cooks."""
    assert home.delete(f"{BASE}/meals/dinner", headers=ANY).status_code == 204
    given = reading("holder_level", 100, "%", NOW - timedelta(hours=1))
    assert home.post(f"{BASE}/readings", json=given).status_code == 201


def test_a_full_holder_of_which_nobody_cooks_vents(home: FlaskClient) -> None:
    full_and_idle(home)
    body = ask(home, "venting?days=7")

    assert body["venting_probability"] > 0.9
    assert [day["date"] for day in body["days"]][:2] == ["2026-11-25", "2026-11-26"]
    assert len(body["days"]) == 8
    assert 0.0 < body["vented_m3"] < body["vented_q90_m3"]
    assert body["useful_mj"] == pytest.approx(0.55 * body["vented_mj"], abs=0.002)
    # A litre from 15 °C to the boil at 140 m takes 4.186 kJ/K over 84.5 K.
    assert body["boiled_l"] == pytest.approx(1e3 * body["useful_mj"] / (4.186 * 84.5), rel=0.01)
    assert body["co2e_kg"] == pytest.approx(27.0 * body["methane_kg"], abs=0.02)
    assert "IPCC AR6" in body["co2e_source"]


def test_venting_comes_with_caution(home: FlaskClient) -> None:
    full_and_idle(home)
    told = " ".join(ask(home, "venting")["cautions"])

    assert "never block" in told
    assert "No flame" in told
    assert "local codes and a licensed gas fitter" in told


def test_gas_that_would_be_vented_is_there_for_extra_cooking_at_once(home: FlaskClient) -> None:
    full_and_idle(home)
    body = ask(home, "windows?flame_min=30")

    assert body["soonest"]["start"] == body["as_of"]
    assert body["soonest"]["sure"] is True
    assert body["soonest"]["saved_m3"] > 0.0
    assert len(body["windows"]) == 5
    assert all("06:00" <= window["start"][11:16] <= "22:00" for window in body["windows"])
    assert body["summary"].startswith("30 min of extra flame can be counted on from Wednesday 25 November")


def test_windows_keep_to_the_span_and_hours_asked_for(home: FlaskClient) -> None:
    full_and_idle(home)
    body = ask(home, "windows?flame_min=45&from=2026-11-27&to=2026-11-28&hours=09:00-11:00&burner=ring")

    starts = sorted(window["start"] for window in body["windows"])
    assert {start[:10] for start in starts} == {"2026-11-27", "2026-11-28"}
    assert {start[11:16] for start in starts} == {"09:00", "10:00"}
    assert (body["from"][:19], body["to"][:19]) == ("2026-11-27T00:00:00", "2026-11-28T23:59:59")
    assert (body["hours"], body["flame_min"], body["burner"]) == ("09:00-11:00", 45.0, "ring")


def test_a_moment_may_be_given_for_a_date_and_midnight_for_the_end(home: FlaskClient) -> None:
    full_and_idle(home)
    first = quote("2026-11-26T01:00:00+01:00")
    body = ask(home, f"windows?flame_min=30&from={first}&to=2026-11-26T02:00:00Z&hours=00:00-24:00")

    assert body["hours"] == "00:00-24:00"
    assert [window["start"][11:16] for window in body["windows"]] == ["00:00", "01:00", "02:00"]


def test_a_time_far_ahead_is_seen_as_far_as_anything_is(home: FlaskClient) -> None:
    full_and_idle(home)

    assert ask(home, "windows?flame_min=30&from=2027-01-20")["soonest"] is not None


@pytest.mark.parametrize(
    ("query", "words"),
    [
        ("to=2026-11-01", "That time is over"),
        ("from=2026-10-01&to=2026-11-01", "That time is over"),
        ("from=2027-10-01", "within 90 days"),
    ],
)
def test_a_time_nobody_can_tell_of_says_why(home: FlaskClient, query: str, words: str) -> None:
    full_and_idle(home)
    body = ask(home, f"windows?flame_min=30&{query}")

    assert (body["valid"], body["reason"], body["soonest"], body["windows"]) == (False, "beyond_horizon", None, [])
    assert words in body["summary"]


@pytest.mark.parametrize(
    ("query", "status", "pointer", "words"),
    [
        ("windows", 400, "/flame_min", "is missing"),
        ("windows?flame_min=0.5", 400, "/flame_min", "must be 1.0 to 1440.0"),
        ("windows?flame_min=30&hours=6-22", 400, "/hours", "such as 06:00-22:00"),
        ("windows?flame_min=30&hours=06:00-25:00", 400, "/hours", "such as 06:00-22:00"),
        ("windows?flame_min=30&hours=06:00-24:30", 400, "/hours", "such as 06:00-22:00"),
        ("windows?flame_min=30&hours=22:00-06:00", 400, "/hours", "must end later on the same day"),
        ("windows?flame_min=30&hours=10:00-10:00", 400, "/hours", "must end later on the same day"),
        ("windows?flame_min=30&from=soon", 400, "/from", "must be a date such as 2026-11-26 or a time stamp"),
        ("windows?flame_min=30&to=2026-11-26T10:00:00", 400, "/to", "has no offset"),
        ("windows?flame_min=30&to=2300-01-01", 400, "/to", "must be in the years 1990 to 2200"),
        ("windows?flame_min=30&to=2300-01-01T00:00:00Z", 400, "/to", "must be in the years 1990 to 2200"),
        ("windows?flame_min=30&from=2026-12-02&to=2026-12-01", 422, "/from", "must not be after to, 2026-12-01"),
        ("windows?flame_min=30&burner=grill", 422, "/burner", "burner is 'grill', must be one of ring"),
        ("windows?flame_min=90&hours=06:00-07:00", 422, "/flame_min", "must be at most the 60 min of hours"),
        ("outlook?months=0", 400, "/months", "must be 1 to 12"),
        ("outlook?months=13", 400, "/months", "must be 1 to 12"),
        ("outlook.csv?months=x", 400, "/months", "whole number"),
        ("venting?days=91", 400, "/days", "must be 1 to 90"),
        ("forecast.csv?step=week", 400, "/step", "must be one of day, hour"),
    ],
)
def test_what_cannot_be_answered_names_what_to_mend(
    settled: FlaskClient, query: str, status: int, pointer: str, words: str
) -> None:
    answer = settled.get(f"{BASE}/{query}")

    assert answer.status_code == status
    assert words in faults(answer)[pointer]


def test_months_follow_one_another_to_the_end_of_the_last(lived_in: tuple[Flask, Wiring]) -> None:
    body = ask(asker(lived_in), "outlook")
    months = body["months"]

    assert len(months) == 13
    assert (months[0]["month"], months[0]["complete"], months[1]["complete"]) == ("2026-11", False, True)
    assert all(one["end"] == other["start"] for one, other in pairwise(months))
    assert (body["total"]["start"], body["total"]["end"]) == (months[0]["start"], months[-1]["end"])
    assert months[-1]["end"][:10] == "2027-12-01"
    assert set(months[0]) == names(outlook.OutlookMonth)
    assert [one["rests_on"] for one in months] == ["log"] * 4 + ["season"] * 9


def test_a_year_has_its_seasons_and_ranges_that_widen(lived_in: tuple[Flask, Wiring]) -> None:
    by_month = {one["month"]: one for one in ask(asker(lived_in), "outlook")["months"]}
    january, july = by_month["2027-01"], by_month["2027-07"]

    assert july["production_m3"] > 1.2 * january["production_m3"]
    assert july["slurry_c"] > january["slurry_c"] + 5.0
    for month in by_month.values():
        for name in ("production_{}m3", "need_{}m3", "on_gas_{}pct", "backup_{}kg", "vented_{}m3"):
            assert month[name.format("q10_")] <= month[name.format("")] <= month[name.format("q90_")]


def test_the_total_is_that_of_whole_paths(lived_in: tuple[Flask, Wiring]) -> None:
    body = ask(asker(lived_in), "outlook")
    months, total = body["months"], body["total"]

    assert sum(one["production_m3"] for one in months) == pytest.approx(total["production_m3"], rel=0.05)
    assert sum(one["production_q90_m3"] for one in months) > total["production_q90_m3"]
    assert sum(one["production_q10_m3"] for one in months) < total["production_q10_m3"]


def test_it_is_said_how_far_the_seasons_may_be_trusted(lived_in: tuple[Flask, Wiring], home: FlaskClient) -> None:
    assert "beyond about three months it is the season" in ask(asker(lived_in), "outlook?months=2")["trust"]
    assert "Nothing is learnt of this household yet" in ask(home, "outlook?months=2")["trust"]


def test_the_gas_to_come_is_told_before_the_gauge_was_ever_read(home: FlaskClient) -> None:
    months = ask(home, "outlook?months=2")["months"]

    assert all(0.0 < one["production_q10_m3"] < one["production_q90_m3"] for one in months)
    assert {one["rests_on"] for one in months} == {"prior"}
    assert all(one["need_m3"] is None and one["backup_kg"] is None and one["vented_m3"] is None for one in months)


def test_a_household_without_meals_needs_no_backup(home: FlaskClient) -> None:
    full_and_idle(home)
    body = ask(home, "outlook?months=1")

    assert (body["total"]["need_m3"], body["total"]["backup_kg"], body["total"]["on_gas_pct"]) == (0.0, 0.0, None)
    assert body["total"]["vented_m3"] > 0.0
    assert "no meal is planned" in body["summary"]


def test_a_cook_with_gas_enough_is_told_so(home: FlaskClient) -> None:
    assert home.put(f"{BASE}/meals/dinner", json=MEAL | {"flame_min": 5}, headers=ANY).status_code == 200
    home.post(f"{BASE}/readings", json=reading("holder_level", 100, "%", NOW - timedelta(hours=1)))
    body = ask(home, "outlook?months=1&as_of=" + quote(NOW.isoformat()))

    assert body["summary"].startswith("To the end of December 2026 gas carries the meals, nine times in ten")


def test_an_electric_backup_is_told_in_kilowatt_hours(client: FlaskClient) -> None:
    client.put(BASE, json=DESCRIPTION | {"backup": {"fuel": "induction"}})
    client.post(f"{BASE}/meals", json=MEAL | {"flame_min": 120})
    client.post(f"{BASE}/readings", json=reading("holder_level", 20, "%", NOW - timedelta(hours=1)))
    body = ask(client, "outlook?months=1")

    assert body["total"]["backup_kwh"] > 0.0
    assert body["total"]["backup_kg"] is None
    assert "kWh of electricity besides gas" in body["summary"]
    assert "little gas is likely to be vented" in body["summary"]


def test_the_month_is_the_households_own_at_the_turn_of_the_year(home: FlaskClient, clock: Clock) -> None:
    clock.now = datetime.fromisoformat("2026-12-31T23:30:00+00:00")
    lisbon = [one["month"] for one in ask(home, "outlook?months=1")["months"]]
    assert home.put(BASE, json=DESCRIPTION | {"time_zone": "Asia/Tokyo"}, headers=ANY).status_code == 200
    tokyo = [one["month"] for one in ask(home, "outlook?months=1")["months"]]

    assert (lisbon, tokyo) == (["2026-12", "2027-01"], ["2027-01", "2027-02"])


def read_csv(client: FlaskClient, path: str) -> tuple[list[dict[str, str]], str]:
    answer = client.get(f"{BASE}/{path}")
    assert answer.status_code == 200
    assert answer.headers["Content-Type"] == "text/csv; charset=utf-8"
    text = answer.get_data(as_text=True)
    return list(csv.DictReader(io.StringIO(text, newline=""), strict=True)), text


@pytest.mark.parametrize(
    ("path", "rows_of"),
    [
        ("forecast{}?days=3", "points"),
        ("forecast{}?days=2&step=hour&levels=0.25", "points"),
        ("outlook{}?months=3", "months"),
        ("days{}?from=2026-11-01", "days"),
    ],
)
def test_csv_holds_what_json_holds(lived_in: tuple[Flask, Wiring], path: str, rows_of: str) -> None:
    client = asker(lived_in)
    rows, text = read_csv(client, path.format(".csv"))
    told = ask(client, path.format(""))[rows_of]

    # RFC 4180: lines end with CRLF, every line has as many fields as the header.
    assert text.endswith("\r\n")
    assert text.count("\n") == text.count("\r\n") == len(told) + 1
    assert [set(row) for row in rows] == [set(row) for row in told]
    for row, expected in zip(rows, told, strict=True):
        for name, value in expected.items():
            plain = {None: "", True: "true", False: "false"}.get(value) if not isinstance(value, float) else None
            assert row[name] == (str(value) if plain is None else plain)


def test_csv_keeps_its_bytes_and_its_etag(lived_in: tuple[Flask, Wiring]) -> None:
    client = asker(lived_in)
    for path in ("forecast.csv", "outlook.csv?months=1"):
        first, second = client.get(f"{BASE}/{path}"), client.get(f"{BASE}/{path}")
        again = client.get(f"{BASE}/{path}", headers={"If-None-Match": first.headers["ETag"]})

        assert first.get_data() == second.get_data()
        assert (again.status_code, again.get_data()) == (304, b"")
        assert first.headers["Cache-Control"].startswith("private, max-age=")


def test_csv_is_rows_whatever_the_layout_asked_for(lived_in: tuple[Flask, Wiring]) -> None:
    client = asker(lived_in)

    assert read_csv(client, "forecast.csv?days=1&layout=columns") == read_csv(client, "forecast.csv?days=1")


def test_what_is_not_known_is_an_empty_cell(home: FlaskClient) -> None:
    rows, _ = read_csv(home, "forecast.csv?days=1")

    assert {row["holder_end_q50_m3"] for row in rows} == {""}
    assert all(float(row["production_q50_m3"]) > 0.0 for row in rows)
