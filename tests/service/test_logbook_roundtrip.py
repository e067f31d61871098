"""Whatever a log holds, its export brings back; whatever bytes an import is given, the log stands."""

from __future__ import annotations

import io
import json
import zipfile
from collections.abc import Iterator
from datetime import UTC, datetime
from itertools import count
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from models.holder import GasHolder
from service.api.examples import DESCRIPTION
from service.documents import DocumentError
from service.ingest.csv_log import Options
from service.readings import LONGEST_NAME, LONGEST_NOTE, METERS, RULES, SHARES, Filter, Reading, ReadingRefused
from service.store.database import Database
from service.store.household import HouseholdStore
from service.store.logbook import LogStore
from service.usecases.export import csv_lines, write_package
from service.usecases.imports import Order, Report, import_csv
from service.usecases.logbook import record

NOW = datetime(2026, 11, 25, 6, 30, tzinfo=UTC)
ITEMS = {"burner": ("ring",), "digester": ("tank",), "meter": METERS}
NAMES = count(1)


class House:
    """Households with their logs, in one file."""

    def __init__(self, database: Database) -> None:
        self.homes, self.logs = HouseholdStore(database), LogStore(database)

    def describe(self, zone: str = "Europe/Lisbon") -> str:
        name = f"home {next(NAMES)}"
        self.homes.put(name, DESCRIPTION | {"time_zone": zone})
        return name

    def all(self, name: str) -> list[Reading]:
        readings, more = self.logs.page(name, Filter(), limit=10_000)
        assert more is None
        return sorted(readings, key=lambda one: one.id)

    def send(self, name: str, body: bytes, **order: Any) -> Report:
        stores = {"homes": self.homes, "imports": self.logs.imports, "now": NOW}
        return import_csv(name, io.BytesIO(body), Order(**order), **stores)


@pytest.fixture(scope="module")
def house(tmp_path_factory: pytest.TempPathFactory) -> Iterator[House]:
    database = Database(str(tmp_path_factory.mktemp("house") / "house.sqlite"))
    database.migrate()
    yield House(database)
    database.close()


def texts(longest: int, alphabet: str | None = None) -> st.SearchStrategy[str]:
    allowed = st.characters(exclude_categories=("Cc", "Cs"))
    return st.text(allowed if alphabet is None else st.sampled_from(alphabet), max_size=longest)


@st.composite
def told(draw: st.DrawFn) -> dict[str, Any]:
    """A reading as a client may send it."""
    quantity = draw(st.sampled_from(sorted(RULES)))
    rule = RULES[quantity]
    unit = draw(st.sampled_from(sorted(rule.ranges)))
    seconds = draw(
        st.integers(min_value=1_600_000_000, max_value=1_600_000_600) | st.integers(631_152_000, 1_764_000_000)
    )
    reading = {
        "taken_at": datetime.fromtimestamp(seconds, UTC),
        "quantity": quantity,
        "unit": unit,
        "value": draw(st.floats(*rule.ranges[unit])),
        "note": draw(texts(LONGEST_NOTE // 10) | texts(8, 'a",;\n =')),
    }
    if rule.item in ITEMS:
        reading["item"] = draw(st.sampled_from(ITEMS[rule.item]))
    else:
        reading["item"] = draw(texts(LONGEST_NAME // 10))
    reading |= {name: draw(st.floats(*limits)) for name, limits in rule.fields.items()}
    if quantity in ("cooking", "backup_used"):
        reading["meal"] = draw(texts(LONGEST_NAME // 10))
    if draw(st.booleans()):
        reading["sure"] = draw(st.booleans())
    if quantity in SHARES and 0.0 < reading["value"] <= 1.0:
        reading["sure"] = True  # else it is taken for a fraction, and refused
    return reading


@settings(max_examples=120, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(told(), max_size=12), st.sampled_from(["Europe/Lisbon", "Asia/Kathmandu", "America/St_Johns"]))
def test_export_and_import_into_an_empty_log_give_the_same_log(
    house: House, given: list[dict[str, Any]], zone: str
) -> None:
    name, copy = house.describe(zone), house.describe(zone)
    moments = {(one["quantity"], one["item"].strip(), one["taken_at"]): one for one in given}
    stores = {"homes": house.homes, "logs": house.logs, "now": NOW}
    record(name, list(moments.values()), **stores)
    body = "".join(csv_lines(name, **stores)).encode()
    report = house.send(copy, body)
    again = house.send(copy, body)

    assert report.counts.added == again.counts.unchanged == len(moments)
    assert house.all(copy) == house.all(name)
    holder = GasHolder(capacity_m3=0.9)
    first, second = house.logs.log(name, holder), house.logs.log(copy, holder)
    assert first.by_quantity.keys() == second.by_quantity.keys()
    for quantity, columns in first.by_quantity.items():
        for column in ("time_d", "value", "item", "meal", "flame_fraction", "water_l", "from_c", "id", "sure"):
            np.testing.assert_array_equal(getattr(columns, column), getattr(second.of(quantity), column))


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    st.binary(max_size=300)
    | st.binary(max_size=120).map(lambda tail: b"taken_at,quantity,value\n2025-11-20T08:00,feed,3\n" + tail),
    st.booleans(),
    st.booleans(),
)
def test_whatever_bytes_are_sent_the_log_stands_or_grows_by_what_is_reported(
    house: House, body: bytes, dry_run: bool, partial: bool
) -> None:
    name = house.describe()
    house.send(name, b"taken_at,quantity,value\n2025-11-19T08:00,feed,2\n")
    before = house.all(name)
    try:
        report = house.send(name, body, dry_run=dry_run, partial=partial)
    except (DocumentError, ReadingRefused) as refused:
        assert str(refused)
        assert house.all(name) == before
    else:
        kept = 0 if dry_run else report.counts.added
        assert len(house.all(name)) == len(before) + kept
        assert all(reading in house.all(name) for reading in before)


def test_a_package_is_described_field_by_field(house: House) -> None:
    name = house.describe()
    house.send(name, b"date,scraps\n2025-11-19,2\n", options=Options(columns={"date": "date", "scraps": "feed"}))
    out = io.BytesIO()
    write_package(name, csv_lines(name, homes=house.homes, logs=house.logs, now=NOW), out, NOW)
    with zipfile.ZipFile(out) as package:
        described = json.loads(package.read("datapackage.json"))

    (resource,) = described["resources"]
    assert described["created"] == "2026-11-25T06:30:00+00:00"
    assert all(field["description"] for field in resource["schema"]["fields"])
    assert resource["schema"]["primaryKey"] == "id"


def test_progress_is_told_up_to_the_whole_file(house: House, tmp_path: Path) -> None:
    lines = "".join(f"2025-{1 + k // 672:02d}-{1 + k // 24 % 28:02d}T{k % 24:02d}:00Z,feed,{k}\n" for k in range(6000))
    path = tmp_path / "log.csv"
    path.write_text("taken_at,quantity,value\n" + lines, encoding="utf-8")
    seen: list[int] = []
    with path.open("rb") as body:
        stores = {"homes": house.homes, "imports": house.logs.imports, "now": NOW}
        report = import_csv(house.describe(), body, Order(), **stores, progress=seen.append)

    assert report.summary == "6000 added, 0 unchanged, 0 in conflict, 0 refused"
    assert len(seen) == 2
    assert seen[0] < seen[1] == path.stat().st_size
