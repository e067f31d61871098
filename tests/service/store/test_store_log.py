"""Readings: what is kept, what is corrected, and the columns the models read."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

import numpy as np
import pytest

from models.calendar import SECONDS_PER_DAY
from models.holder import GasHolder
from service.readings import Filter, Reading
from service.store.errors import Conflict, NotFound, PreconditionFailed
from service.store.household import HouseholdStore
from service.store.logbook import LogStore

NOON_S = 1_764_072_000  # 2025-11-25T12:00Z
ID = "4be2e06b-6d52-4e0b-9c8c-3a86ad3a4a52"
OTHER = "0f0c2f4e-0f6b-4f5e-9d0a-2d4c8d1b7a11"


def level(value: float, unit: str = "%", taken_s: int = NOON_S, **more: object) -> Reading:
    return Reading(taken_s=taken_s, quantity="holder_level", value=value, unit=unit, recorded_s=NOON_S + 60, **more)


def cooking(value: float, taken_s: int = NOON_S, **more: object) -> Reading:
    given = {"quantity": "cooking", "unit": "min", "item": "ring", "flame_pct": 50.0, "recorded_s": NOON_S} | more
    return Reading(taken_s=taken_s, value=value, **given)


def test_levels_become_wet_volume_whatever_unit_they_were_noted_in(logs: LogStore) -> None:
    holder = GasHolder(capacity_m3=0.9, gauge_points=((0.0, 0.0), (50.0, 0.42), (100.0, 0.9)))
    logs.add("home", [level(50.0), level(0.3, "m3", NOON_S + 10), level(600.0, "L", NOON_S + 20)])

    assert logs.log("home", holder).of("holder_level").value.tolist() == pytest.approx([0.42, 0.3, 0.6])
    # Without a holder a level in per cent says nothing; a volume still does.
    assert logs.log("home", None).of("holder_level").value.tolist() == pytest.approx([0.3, 0.6])


def test_the_log_is_read_in_columns_sorted_by_time(logs: LogStore) -> None:
    logs.add("home", [cooking(20.0, NOON_S + 100, meal="dinner"), cooking(35.0), level(60.0, id=ID)])
    log = logs.log("home", GasHolder(capacity_m3=1.0))
    cooked = log.of("cooking")

    assert cooked.value.tolist() == [35.0, 20.0]
    assert cooked.time_d.tolist() == [NOON_S / SECONDS_PER_DAY, (NOON_S + 100) / SECONDS_PER_DAY]
    assert cooked.flame_fraction.tolist() == [0.5, 0.5]
    assert cooked.meal.tolist() == ["", "dinner"]
    assert cooked.item.tolist() == ["ring", "ring"]
    assert np.isnan(cooked.water_l).all()
    assert log.of("holder_level").id.tolist() == [ID]
    assert log.of("holder_level").sure.tolist() == [False]
    assert len(log.of("feed")) == 0


def test_a_log_as_of_a_moment_holds_what_was_taken_up_to_then(logs: LogStore) -> None:
    logs.add("home", [level(k, taken_s=NOON_S + k) for k in range(5)])
    until_d = (NOON_S + 2) / SECONDS_PER_DAY

    assert len(logs.log("home", GasHolder(capacity_m3=1.0), until_d).of("holder_level")) == 3
    assert logs.last_reading_at("home", until_d=until_d) == datetime.fromisoformat("2025-11-25T12:00:02+00:00")
    assert logs.last_reading_at("home") == datetime.fromisoformat("2025-11-25T12:00:04+00:00")
    assert logs.last_reading_at("home", "cooking") is None


def test_a_reading_of_this_very_second_is_known_whatever_the_second(logs: LogStore) -> None:
    # Every seventh second, as a float count of days, falls a hair short of itself.
    seconds = range(NOON_S, NOON_S + 50)
    logs.add("home", [level(k, taken_s=taken_s) for k, taken_s in enumerate(seconds)])

    for taken_s in seconds:
        assert logs.last_reading_at("home", until_d=taken_s / SECONDS_PER_DAY).timestamp() == taken_s


def test_an_empty_log_is_an_empty_log(logs: LogStore) -> None:
    assert logs.log("home", None).by_quantity == {}
    assert logs.last_reading_at("home") is None
    assert logs.page("home", Filter(), limit=10) == ([], None)
    with pytest.raises(NotFound, match="there is no household 'nowhere'"):
        logs.log("nowhere", None)


def test_the_same_reading_again_changes_nothing(logs: LogStore, homes: HouseholdStore) -> None:
    ((first, outcome),) = logs.add("home", [level(50.0)])
    version = homes.version("home")
    again = [logs.add("home", [level(50.0)])[0], logs.add_one("home", level(50.0)), logs.add_one("home", first)]

    assert outcome == "added"
    assert again == [(first, "unchanged")] * 3
    assert homes.version("home") == version
    assert logs.count("home") == 1


def test_another_value_for_the_same_second_is_a_conflict_and_nothing_of_the_batch_is_kept(logs: LogStore) -> None:
    logs.add("home", [level(50.0, id=ID)])
    with pytest.raises(Conflict, match=f"stands already as 50 %, id {ID}") as refusal:
        logs.add("home", [cooking(20.0), level(51.0)])
    assert refusal.value.field == "1/taken_at"
    with pytest.raises(Conflict, match="stands already with other content") as refusal:
        logs.add_one("home", level(51.0, taken_s=NOON_S + 5, id=ID))
    assert refusal.value.field == "id"
    with pytest.raises(Conflict, match="stands already as 50 %"):
        logs.add_one("home", level(51.0, id=OTHER))

    assert logs.count("home") == 1


def test_readings_of_other_items_at_the_same_second_stand_side_by_side(logs: LogStore) -> None:
    logs.add("home", [cooking(20.0), cooking(30.0, item="hob"), level(50.0)])

    assert logs.count("home") == 3


def test_a_put_may_be_repeated_even_when_the_first_answer_was_lost(logs: LogStore, now: datetime) -> None:
    first, outcome = logs.put("home", level(50.0, id=ID), now=now)
    corrected = replace(first, value=52.0)
    assert logs.put("home", corrected, if_match=first.etag, now=now) == (corrected, "corrected")
    again = logs.put("home", corrected, if_match=first.etag, now=now)

    assert outcome == "added"
    assert again == (corrected, "unchanged")
    assert len(logs.earlier("home", ID)) == 1


def test_a_correction_keeps_what_stood_before(logs: LogStore, now: datetime) -> None:
    first, _ = logs.put("home", level(50.0, id=ID, note="guessed"), now=now)
    logs.put("home", level(45.0, id=ID), now=now)
    logs.put("home", level(46.0, id=ID, taken_s=NOON_S - 60), now=now)

    assert logs.get("home", ID).value == 46.0
    assert [(reading.value, reading.note, until) for reading, until in logs.earlier("home", ID)] == [
        (50.0, "guessed", now),
        (45.0, "", now),
    ]
    assert logs.earlier("home", ID)[0][0] == first
    with pytest.raises(PreconditionFailed):
        logs.put("home", level(99.0, id=ID), if_match=first.etag, now=now)
    with pytest.raises(PreconditionFailed):
        logs.put("home", level(99.0, id=OTHER), if_match=first.etag, now=now)
    with pytest.raises(NotFound):
        logs.earlier("home", OTHER)


def test_a_reading_that_was_made_sure_stays_so_when_it_is_sent_again(logs: LogStore, now: datetime) -> None:
    first, _ = logs.put("home", level(110.0, id=ID), now=now)
    sure, outcome = logs.put("home", replace(first, sure=True), if_match=first.etag, now=now)
    again = logs.add("home", [level(110.0), level(110.0, id=ID)])

    assert outcome == "corrected"
    assert again == [(sure, "unchanged")] * 2
    assert logs.log("home", GasHolder(capacity_m3=1.0)).of("holder_level").sure.tolist() == [True]
    assert [reading.sure for reading, _ in logs.earlier("home", ID)] == [False]
    with pytest.raises(Conflict, match="stands already as 50 %"):
        logs.add("home", [level(50.0, taken_s=NOON_S + 9), level(50.0, taken_s=NOON_S + 9, sure=True)])
    assert logs.put("home", first, now=now)[1] == "corrected"
    assert not logs.get("home", ID).sure


def test_a_correction_may_not_run_into_another_reading(logs: LogStore, now: datetime) -> None:
    logs.add("home", [level(50.0, id=ID), level(60.0, id=OTHER, taken_s=NOON_S + 60)])
    with pytest.raises(Conflict, match=OTHER):
        logs.put("home", level(50.0, id=ID, taken_s=NOON_S + 60), now=now)

    assert logs.get("home", ID).taken_s == NOON_S


def test_a_deletion_can_be_undone(logs: LogStore, homes: HouseholdStore, now: datetime) -> None:
    logs.add("home", [level(50.0, id=ID)])
    version = homes.version("home")
    gone = logs.delete("home", ID, if_match="*", now=now)
    assert logs.count("home") == 0
    assert homes.version("home") == version + 1
    assert logs.page("home", Filter(deleted=True), limit=10)[0] == [gone]
    with pytest.raises(NotFound, match="was deleted at 2025-11-25T08:00:00"):
        logs.get("home", ID)
    with pytest.raises(NotFound):
        logs.delete("home", ID, now=now)
    with pytest.raises(Conflict, match="was deleted; PUT it"):
        logs.add("home", [level(50.0, id=ID)])

    assert logs.undelete("home", ID) == gone
    assert logs.undelete("home", ID) == gone
    assert logs.get("home", ID) == gone
    with pytest.raises(NotFound):
        logs.undelete("home", OTHER)


def test_a_deleted_reading_makes_room_and_comes_back_only_where_there_is_room(logs: LogStore, now: datetime) -> None:
    logs.add("home", [level(50.0, id=ID)])
    logs.delete("home", ID, now=now)
    logs.add("home", [level(55.0, id=OTHER)])
    with pytest.raises(Conflict, match=OTHER):
        logs.undelete("home", ID)
    logs.delete("home", OTHER, now=now)

    assert logs.put("home", level(51.0, id=ID), now=now)[1] == "added"
    assert [reading.value for reading, _ in logs.earlier("home", ID)] == [50.0]


def test_a_list_is_paged_filtered_and_complete(logs: LogStore) -> None:
    logs.add("home", [level(k, taken_s=NOON_S + k // 2, item=str(k % 2)) for k in range(9)] + [cooking(5.0)])
    pages, after = [], None
    while True:
        page, after = logs.page("home", Filter(quantity="holder_level"), limit=4, after=after)
        pages.append([reading.value for reading in page])
        if after is None:
            break

    assert pages == [[0.0, 1.0, 2.0, 3.0], [4.0, 5.0, 6.0, 7.0], [8.0]]
    window = Filter(from_s=NOON_S + 1, to_s=NOON_S + 3, item="1")
    assert [reading.value for reading in logs.page("home", window, limit=10)[0]] == [3.0, 5.0]
