"""The one table of what a reading may say."""

from __future__ import annotations

from dataclasses import replace
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from models.log import QUANTITIES
from service.readings import RULES, Reading, ReadingRefused, Scope, reading_from

SCOPE = Scope(zone=ZoneInfo("Europe/Lisbon"), burners=("ring",), digesters=("tank", "barrel"), now_s=1_764_072_000)
MORE = {"boil_test": {"water_l": 2.0, "from_c": 15.0}, "gas_meter": {"item": "stove"}}


def made(quantity: str, value: float, **more: Any) -> Reading:
    return reading_from({"taken_s": SCOPE.now_s - 86_400, "quantity": quantity, "value": value, **more}, SCOPE)


def complaints(quantity: str, value: float, **more: Any) -> dict[str, str]:
    with pytest.raises(ReadingRefused) as refused:
        made(quantity, value, **more)
    return {one.field: one.message for one in refused.value.complaints}


def test_the_rules_cover_every_quantity_of_the_models_in_the_same_units() -> None:
    assert {name: tuple(rule.ranges) for name, rule in RULES.items()} == dict(QUANTITIES)


@pytest.mark.parametrize(("quantity", "unit"), [(name, unit) for name, units in QUANTITIES.items() for unit in units])
def test_each_quantity_is_taken_up_to_both_ends_of_its_range_and_refused_beyond(quantity: str, unit: str) -> None:
    low, high = RULES[quantity].ranges[unit]
    more = MORE.get(quantity, {})

    assert made(quantity, low, unit=unit, **more).value == low
    assert made(quantity, high, unit=unit, **more).value == high
    for beyond in (low - 0.01, high + 1.0, float("inf"), float("nan")):
        assert f"must be {low:g} to {high:g} {unit}" in complaints(quantity, beyond, unit=unit, **more)["value"]


def test_a_unit_may_be_left_out_only_where_there_is_one() -> None:
    assert made("feed", 3.0).unit == "kg"
    assert "must be one of %, m3, L" in complaints("holder_level", 50.0)["unit"]
    assert "must be kg or kWh" in complaints("backup_used", 1.0, unit="m3")["unit"]


def test_cooking_is_at_full_flame_on_the_only_burner_unless_said_otherwise() -> None:
    cooked = made("cooking", 20.0)

    assert (cooked.item, cooked.flame_pct) == ("ring", 100.0)
    assert made("cooking", 20.0, flame_pct=40.0, meal=" tea ").meal == "tea"
    assert made("cooking", 20.0, flame_pct=2.0).flame_pct == 2.0  # as low as a meal's
    assert "must be 2 to 100" in complaints("cooking", 20.0, flame_pct=1.9)["flame_pct"]


def test_an_item_must_be_described_where_it_names_a_thing_of_the_household() -> None:
    assert made("digester_temperature", 24.0).item == ""
    assert made("feed", 3.0, item="whatever").item == "whatever"
    assert (
        "must be a digester that is described: tank, barrel" in complaints("digester_temperature", 9, item="x")["item"]
    )
    assert "outlet, stove" in complaints("gas_meter", 9.0)["item"]


def test_a_field_without_meaning_is_refused_rather_than_dropped() -> None:
    found = complaints("feed", 3.0, flame_pct=50.0, water_l=1.0, meal="dinner")

    assert set(found) == {"flame_pct", "water_l", "meal"}
    assert set(complaints("boil_test", 12.0)) == {"water_l", "from_c"}


def test_every_complaint_is_made_at_once() -> None:
    found = complaints(
        "holder_level", -1.0, unit="%", taken_s=SCOPE.now_s + 7200, id="mine", note="a\x00", item="x" * 101
    )

    assert set(found) == {"value", "taken_at", "id", "note", "item"}
    assert "120 minutes in the future" in found["taken_at"]


def test_a_clock_a_few_minutes_ahead_is_forgiven() -> None:
    assert made("feed", 3.0, taken_s=SCOPE.now_s + 600).taken_s == SCOPE.now_s + 600


@pytest.mark.parametrize(
    ("lit_min", "minutes", "ahead"), [(0, 60, 0), (-20, 35, 0), (0, 61, 61), (-20, 350, 330), (5, 56, 61)]
)
def test_a_flame_may_burn_on_for_an_hour_and_not_longer(lit_min: int, minutes: float, ahead: int) -> None:
    """A cook may write a meal down when she lights the flame; ten times the minutes, or a wrong hour, is refused."""
    lit_s = SCOPE.now_s + 60 * lit_min
    if not ahead:
        assert made("cooking", minutes, taken_s=lit_s).value == minutes
        return
    for certain in (False, True):
        assert complaints("cooking", minutes, taken_s=lit_s, sure=certain) == {
            "value": f"value is {minutes} min, so the flame goes out {ahead} minutes in the future; "
            "check the minutes and that taken_at is when it was lit, or log it once it is out"
        }


def test_of_a_flame_that_is_not_lit_yet_only_its_time_is_complained_of() -> None:
    assert set(complaints("cooking", 300.0, taken_s=SCOPE.now_s + 601)) == {"taken_at"}
    assert made("boil_test", 300.0, taken_s=SCOPE.now_s, water_l=2.0, from_c=15.0).value == 300.0


def test_a_reading_may_not_be_older_than_the_digester_but_the_air_may() -> None:
    started = replace(SCOPE, earliest_s=1_756_681_200)  # 2025-09-01, 00:00 in Lisbon
    given = {"quantity": "feed", "value": 3.0, "taken_s": started.earliest_s}
    air = {"quantity": "ambient_temperature", "value": 21.0, "taken_s": started.earliest_s - 1}

    assert reading_from(given, started).taken_s == started.earliest_s
    assert reading_from(air, started).value == 21.0
    with pytest.raises(ReadingRefused, match="before the digester was started, 2025-09-01; check it, or started_on"):
        reading_from(given | {"taken_s": started.earliest_s - 1}, started)
    with pytest.raises(ReadingRefused, match="before the digester can have existed"):
        reading_from(air | {"taken_s": 0}, started)


def test_an_id_is_kept_in_one_spelling() -> None:
    assert made("feed", 3.0, id="4BE2E06B6D524E0B9C8C3A86AD3A4A52").id == "4be2e06b-6d52-4e0b-9c8c-3a86ad3a4a52"


def test_a_reading_that_is_not_called_sure_takes_no_certainty_back() -> None:
    plain, sure = made("holder_level", 95.0, unit="%"), made("holder_level", 95.0, unit="%", sure=True)

    assert plain.repeats(sure)
    assert not sure.repeats(plain)
    assert not made("holder_level", 59.0, unit="%").repeats(sure)


def test_texts_are_trimmed_and_keep_their_lines() -> None:
    assert made("feed", 3.0, note=" peel\r\nand bread ").note == "peel\nand bread"
    assert set(complaints("feed", 3.0, item="two\nlines")) == {"item"}


@pytest.mark.parametrize(("ahead_s", "said"), [(1_800, "30 minutes"), (10_800, "3 hours"), (29 * 86_400, "29 days")])
def test_how_far_in_the_future_is_said_as_people_say_it(ahead_s: int, said: str) -> None:
    assert f"taken_at is {said} in the future" in complaints("feed", 3.0, taken_s=SCOPE.now_s + ahead_s)["taken_at"]
