"""The calendar: read back by the library that calendars are read with, over a change of the clock, and kept shut."""

from __future__ import annotations

import re
from datetime import UTC, date, datetime, timedelta
from urllib.parse import parse_qs, urlsplit

import pytest
from click.testing import CliRunner, Result
from flask import Flask
from flask.testing import FlaskClient
from icalendar import Calendar, Event

from service.api.examples import DESCRIPTION, MEAL
from service.api.examples_calendar import CALENDAR
from service.api.guard import token_hash
from service.cli import main
from service.wiring import Wiring
from tests.service.api.support import BASE, NOW, Clock, reading

AUTUMN = datetime(2026, 10, 23, 6, 0, tzinfo=UTC)
"""Two days before summer time ends: the last Sunday of October, 01:00 UTC (directive 2000/84/EC, article 3)."""


def subscribed(client: FlaskClient, query: str = "") -> Calendar:
    answer = client.get(f"{BASE}/plan.ics{query}")
    assert answer.status_code == 200, answer.get_data(as_text=True)
    assert answer.content_type == "text/calendar; charset=utf-8"
    return Calendar.from_ical(answer.get_data())


def events(calendar: Calendar, category: str | None = None) -> list[Event]:
    found = calendar.walk("VEVENT")
    return [one for one in found if category in (None, str(one["CATEGORIES"].cats[0]))]


def uids(calendar: Calendar) -> dict[str, Event]:
    return {str(one["UID"]): one for one in calendar.walk("VEVENT")}


@pytest.fixture
def autumn(clock: Clock, home: FlaskClient) -> FlaskClient:
    """The household on an October morning, its holder half full."""
    clock.now = AUTUMN
    assert home.post(f"{BASE}/readings", json=reading("holder_level", 50, "%", AUTUMN)).status_code == 201
    return home


def test_dinner_stays_at_seven_when_the_clocks_change(autumn: FlaskClient) -> None:
    meals = [one for one in events(subscribed(autumn)) if "Dinner" in str(one["SUMMARY"])]
    starts = {one.start.date(): one.start for one in meals}

    assert len(meals) == 15
    assert starts[date(2026, 10, 24)] == datetime(2026, 10, 24, 18, 0, tzinfo=UTC)
    assert starts[date(2026, 10, 25)] == datetime(2026, 10, 25, 19, 0, tzinfo=UTC)
    assert all(one.end - one.start == timedelta(minutes=35) for one in meals)
    assert not any("RRULE" in one for one in meals)


def test_what_every_calendar_needs_is_there(autumn: FlaskClient) -> None:
    calendar = subscribed(autumn)

    assert str(calendar["VERSION"]) == "2.0" and "Kettlecast" in str(calendar["PRODID"])
    assert calendar["REFRESH-INTERVAL"].dt == timedelta(hours=1)
    assert len(uids(calendar)) == len(events(calendar))
    for one in events(calendar):
        assert one["DTSTAMP"].dt == AUTUMN
        assert one["LAST-MODIFIED"].dt <= AUTUMN
        assert one["TRANSP"] == "TRANSPARENT"


def test_every_line_is_folded_and_ended_as_the_standard_asks(autumn: FlaskClient, wired: Wiring) -> None:
    label = "Größe, Höhe; «Küche» \\ Hof: " + "ñ" * 60 + "\nsecond line"
    etag = autumn.get(BASE).headers["ETag"]
    assert autumn.put(BASE, json={**DESCRIPTION, "label": label}, headers={"If-Match": etag}).status_code == 200
    meal = "d'accord - ужин позднего вечера с гостями и чаем"
    assert autumn.post(f"{BASE}/meals", json={**MEAL, "name": meal, "time": "21:30"}).status_code == 201
    raw = autumn.get(f"{BASE}/plan.ics").get_data()
    calendar = Calendar.from_ical(raw)

    lines = raw.split(b"\r\n")
    assert lines[-1] == b"" and b"\n" not in raw.replace(b"\r\n", b"")
    assert max(map(len, lines)) <= 75  # octets, RFC 5545, 3.1
    assert all(line.decode() for line in lines[:-1])  # no character is cut in two
    unfolded = raw.replace(b"\r\n ", b"").decode()
    named = re.search(r"\r\nX-WR-CALNAME:(.*)\r\n", unfolded)
    assert named is not None
    # RFC 5545, 3.3.11: a backslash stands before each of \\ ; , and before the n of a new line.
    meant = re.sub(r"\\([\\;,n])", lambda sign: "\n" if sign[1] == "n" else sign[1], named[1])
    assert meant == f"Gas and meals: {label}"
    assert any(str(one["SUMMARY"]).startswith("D" + meal[1:]) for one in events(calendar))


def test_an_event_keeps_its_uid_and_its_revision_rises_only_with_what_a_cook_acts_on(
    autumn: FlaskClient, clock: Clock
) -> None:
    first = uids(subscribed(autumn))
    clock.now = AUTUMN + timedelta(hours=1)
    second = uids(subscribed(autumn))
    clock.now = AUTUMN + timedelta(hours=2)
    assert autumn.post(f"{BASE}/readings", json=reading("holder_level", 8, "%", clock.now)).status_code == 201
    third = uids(subscribed(autumn))

    dinners = [uid for uid, one in first.items() if "Dinner" in str(one["SUMMARY"])]
    assert set(dinners) <= set(second) and set(dinners) <= set(third)
    assert {str(one["UID"]) for one in subscribed(autumn, "?days=3").walk("VEVENT")} & set(dinners)
    for uid in dinners:
        same = first[uid]["SUMMARY"] == second[uid]["SUMMARY"]
        assert (second[uid]["SEQUENCE"] == first[uid]["SEQUENCE"]) is same
        assert (third[uid]["SEQUENCE"] == second[uid]["SEQUENCE"]) is (third[uid]["SUMMARY"] == second[uid]["SUMMARY"])
        assert third[uid]["SEQUENCE"] >= second[uid]["SEQUENCE"]
        assert (third[uid]["LAST-MODIFIED"].dt == clock.now) is (
            any(third[uid][part] != second[uid][part] for part in ("SUMMARY", "DESCRIPTION"))
        )
    tonight = min(dinners, key=lambda uid: third[uid].start)
    assert (str(first[tonight]["SUMMARY"]), str(third[tonight]["SUMMARY"])) == (
        "Dinner: on gas",
        "Dinner: on bottled gas",
    )
    assert third[tonight]["SEQUENCE"] > first[tonight]["SEQUENCE"]


def test_the_calendar_says_what_the_answers_say(lived_in: tuple[Flask, Wiring]) -> None:
    client = lived_in[0].test_client()
    calendar = subscribed(client)
    backup = client.get(f"{BASE}/backup").get_json()
    budget = client.get(f"{BASE}/gas-budget").get_json()
    told = {one.start: str(one["CATEGORIES"].cats[0]) for one in events(calendar) if isinstance(one.start, datetime)}

    assert [told[datetime.fromisoformat(one["start"])] for one in budget["meals"]] == [
        one["verdict"].upper() for one in budget["meals"]
    ]
    assert [one.start.isoformat() for one in events(calendar, "ORDER")] == [
        one for one in [backup["order_by_date"]] if one
    ]


@pytest.mark.parametrize(
    ("on_hand_kg", "words"),
    [
        (0.05, "0.05 kg in the house may be used up on 2026-"),
        (0.0, "None is in the house, and some may be needed on 20"),
    ],
)
def test_a_full_holder_and_an_empty_bottle_take_whole_days(
    autumn: FlaskClient, clock: Clock, on_hand_kg: float, words: str
) -> None:
    low = {**DESCRIPTION, "backup": {"fuel": "lpg", "on_hand_kg": on_hand_kg, "lead_d": 2}}
    full = {**low, "digesters": [{**DESCRIPTION["digesters"][0], "usual_feed_kg_per_d": 40.0, "liquid_m3": 8.0}]}
    kept = {}
    for name, description, level in (("low", low, 6), ("full", full, 100)):
        clock.now += timedelta(minutes=5)
        etag = autumn.get(BASE).headers["ETag"]
        assert autumn.put(BASE, json=description, headers={"If-Match": etag}).status_code == 200
        assert autumn.post(f"{BASE}/readings", json=reading("holder_level", level, "%", clock.now)).status_code == 201
        kept[name] = subscribed(autumn)

    (order,) = events(kept["low"], "ORDER")
    assert str(order["SUMMARY"]) == "Last day to order bottled gas"
    assert str(order["DESCRIPTION"]).startswith(words)
    assert (type(order.start), order.end - order.start) == (date, timedelta(days=1))
    venting = events(kept["full"], "VENTING")
    assert venting[0].start == date(2026, 10, 23) and len(venting) > 5
    assert all(type(one.start) is date and "no flame or spark" in str(one["DESCRIPTION"]) for one in venting)


@pytest.mark.parametrize(
    ("first", "start", "words"),
    [
        (date(2026, 10, 27), date(2026, 10, 26), "Holder likely vents while you are away: cook more before you leave"),
        (date(2026, 10, 20), None, ""),
    ],
)
def test_nobody_is_told_to_cook_on_days_away(
    autumn: FlaskClient, clock: Clock, first: date, start: date | None, words: str
) -> None:
    back = date(2026, 11, 3)
    gone = {"from": first.isoformat(), "to": (back - timedelta(days=1)).isoformat()}
    assert autumn.post(f"{BASE}/overrides", json=gone).status_code == 201
    ventings = events(subscribed(autumn), "VENTING")
    before = [one for one in ventings if one.start < back]

    assert any(one.start >= back for one in ventings)
    assert [one.start for one in before] == ([start] if start else [])
    assert [str(one["SUMMARY"]) for one in before] == ([words] if start else [])
    assert all("before you leave" not in str(one["SUMMARY"]) for one in ventings if one.start >= back)


def test_nobody_is_told_to_cook_more_before_gas_is_short(autumn: FlaskClient, clock: Clock) -> None:
    feast = {"date": "2026-10-23", "meal": "dinner", "factor": 20}
    skipped = [{"date": f"2026-10-{day}", "meal": "dinner", "skip": True} for day in range(24, 32)]
    gone = {"from": "2026-10-24", "to": "2026-10-31"}
    for change in (feast, *skipped):
        assert autumn.post(f"{BASE}/overrides", json=change).status_code == 201
    at_home = events(subscribed(autumn), "VENTING")
    clock.now += timedelta(minutes=5)
    assert autumn.post(f"{BASE}/overrides", json=gone).status_code == 201
    away = events(subscribed(autumn), "VENTING")

    assert [str(one["SUMMARY"]) for one in at_home][:2] == [
        "Holder likely vents, though gas is short before",
        "Holder likely vents: cook more before it does",
    ]
    assert at_home[0].start < date(2026, 10, 31)
    assert all(one.start >= date(2026, 11, 1) for one in away)


def test_a_gauge_never_read_is_asked_for_and_nothing_is_promised(home: FlaskClient) -> None:
    (only,) = events(subscribed(home))

    assert str(only["SUMMARY"]) == "Read the gas gauge"
    assert only.start == date(2026, 11, 25)


def test_an_old_look_at_the_gauge_is_asked_for_anew(autumn: FlaskClient, clock: Clock) -> None:
    clock.now = AUTUMN + timedelta(days=3)

    assert [str(one["SUMMARY"]) for one in events(subscribed(autumn), "NOTE")] == ["Read the gas gauge"]
    assert len(events(subscribed(autumn))) > 10


def test_a_calendar_is_never_empty(autumn: FlaskClient) -> None:
    # RFC 5545, 3.6: an iCalendar object holds at least one component.
    etag = autumn.get(f"{BASE}/meals/dinner").headers["ETag"]
    assert autumn.delete(f"{BASE}/meals/dinner", headers={"If-Match": etag}).status_code == 204
    (only,) = events(subscribed(autumn, "?days=1"))

    assert str(only["SUMMARY"]) == "Gas: nothing to plan"


def test_it_can_be_asked_as_of_then_and_is_not_sent_twice(autumn: FlaskClient, clock: Clock) -> None:
    first = autumn.get(f"{BASE}/plan.ics")
    again = autumn.get(f"{BASE}/plan.ics", headers={"If-None-Match": first.headers["ETag"]})
    clock.now = AUTUMN + timedelta(days=1)
    then = subscribed(autumn, f"?as_of={AUTUMN:%Y-%m-%dT%H:%M:%SZ}")

    assert again.status_code == 304
    assert all(one["DTSTAMP"].dt == AUTUMN for one in events(then))


def key_of(wired: Wiring, household: str = "home") -> str:
    made = CliRunner().invoke(main, ["--database", wired.settings.database, "calendar-key", household])
    assert made.exit_code == 0, made.output
    address = urlsplit(made.stdout.strip())
    assert address.path == f"/v1/households/{household}/plan.ics"
    return parse_qs(address.query)["key"][0]


def test_without_any_key_or_token_it_is_open_on_this_machine(home: FlaskClient) -> None:
    assert home.get(f"{BASE}/plan.ics").status_code == 200


def test_once_a_key_is_made_it_alone_opens_the_calendar_and_nothing_else(home: FlaskClient, wired: Wiring) -> None:
    key = key_of(wired)
    bare, wrong = home.get(f"{BASE}/plan.ics"), home.get(f"{BASE}/plan.ics?key=guess")

    assert home.get(f"{BASE}/plan.ics?key={key}").status_code == 200
    assert (bare.status_code, wrong.status_code) == (401, 401)
    assert bare.mimetype == wrong.mimetype == "application/problem+json"
    assert "guess" not in wrong.get_data(as_text=True)
    wired.tokens.add(None, "write", token_hash("w"), now=NOW)
    assert home.get(f"{BASE}/plan.ics?key={key}").status_code == 200
    assert home.get(f"{BASE}/plan.ics", headers={"Authorization": "Bearer w"}).status_code == 200
    assert home.get(f"{BASE}/plan.ics").status_code == 401
    assert home.get(f"{BASE}/now?key={key}").status_code == 401


def test_a_key_opens_no_other_household_and_no_more_once_revoked(home: FlaskClient, wired: Wiring) -> None:
    assert home.put("/v1/households/other", json=DESCRIPTION).status_code == 201
    key, other = key_of(wired), key_of(wired, "other")
    refused = home.get(f"{BASE}/plan.ics?key={other}")
    done = CliRunner().invoke(main, ["--database", wired.settings.database, "calendar-key", "home", "--revoke"])

    assert (refused.status_code, refused.mimetype) == (403, "application/problem+json")
    assert other not in refused.get_data(as_text=True)
    assert done.output == "revoked: 1\n"
    assert home.get(f"{BASE}/plan.ics?key={key}").status_code == 401
    assert home.get(f"/v1/households/other/plan.ics?key={other}").status_code == 200


def test_the_address_of_a_calendar_is_where_clients_are_told_to_look(home: FlaskClient, wired: Wiring) -> None:
    def run(*more: str) -> Result:
        return CliRunner().invoke(main, ["--database", wired.settings.database, "calendar-key", "home", *more])

    here, named, wrong = run(), run("--url", "https://kitchen.example/"), run("--url", "kitchen")

    assert here.stdout.startswith("http://127.0.0.1:8080/v1/households/home/plan.ics?key=")
    assert "where the server listens on 127.0.0.1:8080; else say --url" in here.stderr
    assert named.output.startswith("https://kitchen.example/v1/households/home/plan.ics?key=")
    assert wrong.exit_code == 2
    assert "must be as https://kitchen.example:8080" in wrong.output


def test_a_key_of_a_household_that_is_not_there_is_refused(wired: Wiring) -> None:
    made = CliRunner().invoke(main, ["--database", wired.settings.database, "calendar-key", "nobody"])

    assert made.exit_code == 1
    assert "there is no household 'nobody'" in made.output


def test_the_example_is_a_calendar() -> None:
    (only,) = Calendar.from_ical(CALENDAR).walk("VEVENT")

    assert only.end - only.start == timedelta(minutes=35)
