"""What no field takes, wherever it stands: years beyond all calendars, halves of characters, names that are none."""

from __future__ import annotations

import unicodedata
from datetime import datetime, timedelta
from typing import Any
from urllib.parse import quote

import jsonschema_rs
import pytest
from flask.testing import FlaskClient

from service.api.examples import DESCRIPTION, MEAL, WEATHER
from service.api.naming import LONGEST_NAME, NAME, is_name
from tests.service.api.support import BASE, NOW, Clock, faults, reading

FAR = ("0001-01-01T00:00:00+14:00", "1989-12-31T23:59:59+00:00", "2201-01-01T00:00:00+00:00", "9999-12-31T23:59:59Z")
ASKED = (
    "now", "gas-budget", "storage", "backup", "venting", "windows?flame_min=30", "forecast", "forecast.csv",
    "forecast.png", "outlook?months=1", "outlook.csv", "outlook.svg", "days", "days.csv", "model",
    "boil-time?water_l=2",
)  # fmt: skip


@pytest.mark.parametrize("as_of", FAR)
@pytest.mark.parametrize("path", ASKED)
def test_a_moment_beyond_all_calendars_is_refused(settled: FlaskClient, path: str, as_of: str) -> None:
    answer = settled.get(f"{BASE}/{path}{'&' if '?' in path else '?'}as_of={quote(as_of)}")

    assert answer.status_code == 400
    assert "must be in the years 1990 to 2200" in faults(answer)["/as_of"]


@pytest.mark.parametrize(
    "path",
    ["now", "gas-budget", "storage", "venting", "windows?flame_min=30", "forecast", "forecast.svg", "outlook",
     "outlook.png?months=1", "days", "model"],
)  # fmt: skip
@pytest.mark.parametrize("as_of", ["1990-01-01T00:00:00+14:00", "2200-12-31T23:59:59-12:00"])
def test_the_first_and_the_last_moment_taken_are_answered(
    home: FlaskClient, clock: Clock, path: str, as_of: str
) -> None:
    home.post(f"{BASE}/readings", json=reading("holder_level", 50, "%", NOW))
    clock.now = max(NOW, datetime.fromisoformat(as_of))  # nobody asks as of what is still to come

    assert home.get(f"{BASE}/{path}{'&' if '?' in path else '?'}as_of={quote(as_of)}").status_code == 200


@pytest.mark.parametrize("path", (*ASKED, "plan.ics", "forecast.svg", "outlook.png"))
def test_a_moment_that_is_still_to_come_is_refused(settled: FlaskClient, path: str) -> None:
    url = f"{BASE}/{path}{'&' if '?' in path else '?'}as_of="
    ahead = settled.get(url + quote((NOW + timedelta(seconds=61)).isoformat()))

    assert ahead.status_code == 400
    assert faults(ahead)["/as_of"] == (
        "as_of is 2026-11-25T06:31:01+00:00, later than now, 2026-11-25T06:30:00+00:00; check the date and the offset, "
        "or leave it out for now"
    )


@pytest.mark.parametrize("ahead_s", [0, 60])
def test_a_clock_that_runs_a_little_ahead_is_borne_with(settled: FlaskClient, ahead_s: int) -> None:
    as_of = quote((NOW + timedelta(seconds=ahead_s)).isoformat())

    assert settled.get(f"{BASE}/now?as_of={as_of}").status_code == 200


def test_no_fit_is_wished_for_as_of_what_is_still_to_come(settled: FlaskClient) -> None:
    answer = settled.post(f"{BASE}/model/fits", json={"as_of": (NOW + timedelta(hours=1)).isoformat()})

    assert answer.status_code == 400
    assert "later than now" in faults(answer)["/as_of"]


@pytest.mark.parametrize(
    ("method", "path", "document", "pointer"),
    [
        ("POST", "model/fits", {"as_of": FAR[0]}, "/as_of"),
        ("PUT", "weather", [WEATHER[0] | {"date": "9999-12-31"}], "/0/date"),
        ("POST", "meals", MEAL | {"name": "tea", "starts_on": "0001-01-01"}, "/starts_on"),
        ("POST", "meals", MEAL | {"name": "tea", "exdates": ["9999-12-31"]}, "/exdates/0"),
        ("POST", "overrides", {"from": "2026-01-01", "to": "9999-12-31"}, "/to"),
        ("POST", "readings", reading("holder_level", 50, "%", NOW) | {"taken_at": FAR[3]}, "/taken_at"),
        ("GET", "days?from=9999-12-01", None, "/from"),
        ("GET", "gas-budget?date=9999-12-31", None, "/date"),
        ("GET", f"readings?to={quote(FAR[2])}", None, "/to"),
    ],
)
def test_a_date_beyond_all_calendars_is_refused(
    settled: FlaskClient, method: str, path: str, document: Any, pointer: str
) -> None:
    answer = settled.open(f"{BASE}/{path}", method=method, json=document)

    assert answer.status_code == 400
    assert "must be in the years 1990 to 2200" in faults(answer)[pointer]


def test_a_rule_that_ends_before_all_calendars_is_refused(settled: FlaskClient) -> None:
    answer = settled.post(f"{BASE}/meals", json=MEAL | {"name": "tea", "rrule": "FREQ=DAILY;UNTIL=00010101T000000Z"})

    assert answer.status_code == 422
    assert "must be in the years 1990 to 2200" in faults(answer)["/rrule"]


@pytest.mark.parametrize("cursor", ["99999999999999999999999.1", "1.99999999999999999999", "-1.1", "1.", "²3.1"])
def test_a_place_beyond_all_logs_is_refused(settled: FlaskClient, cursor: str) -> None:
    answer = settled.get(f"{BASE}/readings", query_string={"cursor": cursor})

    assert answer.status_code == 422
    assert "must be a next_cursor" in faults(answer)["/cursor"]


@pytest.mark.parametrize("label", ["half \ud800 a letter", "a bell \x07", "\x00"])
def test_a_text_nobody_can_read_is_refused(vacant: FlaskClient, label: str) -> None:
    answer = vacant.put(BASE, json=DESCRIPTION | {"label": label})

    assert answer.status_code == 400
    assert "control character" in faults(answer)["/label"]


def test_a_text_of_two_lines_is_taken(client: FlaskClient) -> None:
    assert client.put(BASE, json=DESCRIPTION | {"label": "the cottage\nby the lane"}).status_code == 201


@pytest.mark.parametrize(
    ("path", "pointer"),
    [
        (f"/v1/households/{'a' * 3000}", "/household"),
        ("/v1/households/home%00", "/household"),
        ("/v1/households/home%0A", "/household"),
        ("/v1/households/..", "/household"),
        ("/v1/households/%20home", "/household"),
        (f"{BASE}/meals/%3Cscript%3E", "/meal"),
        (f"{BASE}/meals/..", "/meal"),
        (f"{BASE}/overrides/{'a' * 65}", "/override"),
        (f"{BASE}/overrides/_out", "/override"),
    ],
)
@pytest.mark.parametrize("method", ["GET", "PUT", "DELETE"])
def test_a_path_with_a_name_that_is_none_is_refused(settled: FlaskClient, method: str, path: str, pointer: str) -> None:
    answer = settled.open(path, method=method, json={})

    assert answer.status_code == 400
    assert "must be 1 to 64 letters" in faults(answer)[pointer]


@pytest.mark.parametrize("name", ["<script>", "dinner\n", "a" * 65, "", ".."])
def test_a_meal_and_a_change_go_by_names(settled: FlaskClient, name: str) -> None:
    meal = settled.post(f"{BASE}/meals", json=MEAL | {"name": name})
    named = settled.put(f"{BASE}/meals/tea", json=MEAL | {"name": name})
    change = settled.post(f"{BASE}/overrides", json={"id": name, "date": "2026-11-26", "meal": "dinner", "skip": True})

    assert [one.status_code for one in (meal, named, change)] == [400] * 3
    assert all("must be 1 to 64 letters" in faults(one)[at] for one, at in ((meal, "/name"), (change, "/id")))


@pytest.mark.parametrize("name", ["home", "Grandma's 2nd", "çay", "c\u0327ay", "खाना", "茶", "7", "a_b-c.d", "a" * 64])
def test_names_of_every_script_are_names(name: str) -> None:
    assert is_name(name)


@pytest.mark.parametrize(
    "name",
    ["🍲", "a😀", "日本、", "a／b", "ａ！", "\u0301a", "\u093fa", "𐐷", "a\u200b", "ｱ｡", "a\ud800", "खाना।", "غداء،"],
)
def test_pictures_and_signs_of_other_scripts_and_marks_without_a_letter_are_none(
    settled: FlaskClient, name: str
) -> None:
    answer = settled.post(f"{BASE}/meals", json=MEAL | {"name": name})

    assert answer.status_code == 400
    assert "must be 1 to 64 letters" in faults(answer)["/name"]


def test_the_contract_takes_for_a_name_what_the_server_does() -> None:
    taken = jsonschema_rs.validator_for({"type": "string", **NAME}).is_valid
    characters = [chr(code) for code in (*range(0xD800), *range(0xE000, 0x30000), *range(0xE0000, 0x110000, 97))]
    tried = [text for c in characters for text in (c, f"a{c}")] + ["", *("a" * n for n in (1, 64, 65)), "茶" * 65]

    assert LONGEST_NAME == 64
    assert [text for text in tried if taken(text) != is_name(text)] == []


def test_letters_and_digits_make_a_name_and_signs_do_not() -> None:
    """By the Unicode Character Database, that of version 3.2 beside the newest: what both say does not change."""
    known = [chr(code) for code in range(0x30000) if unicodedata.ucd_3_2_0.category(chr(code)) != "Cn"]
    kinds = {c: unicodedata.category(c) for c in known}
    plain = [c for c in known if c < "\U00010000"]
    letters = [c for c in plain if kinds[c] in ("Lu", "Ll", "Lt", "Lm", "Lo", "Nd")]
    marks = [c for c in plain if kinds[c] in ("Mn", "Mc")]
    signs = [c for c in known if kinds[c][0] in "PSZC"]
    pictures_and_rare_scripts = [c for c in known if c >= "\U00010000"]

    assert len(letters) > 40_000 and len(marks) > 500 and len(signs) > 8_000
    assert [c for c in letters if not is_name(c)] == []
    assert [c for c in marks if is_name(c) or not is_name(f"a{c}")] == []
    assert [c for c in signs if is_name(c)] == []
    assert [c for c in signs if is_name(f"a{c}")] == [" ", "'", "-", ".", "_"]
    assert [c for c in pictures_and_rare_scripts if is_name(c) or is_name(f"a{c}")] == []
