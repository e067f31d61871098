"""Many clients reading and writing at once against the real server: how long an answer takes, and whether all is kept.

    .venv/bin/python -m tests.benchmarks.load --seconds 60

Serves the demonstration's log under several households with two workers. Of the clients of a household one is a sensor
that puts a reading every `--write-every` seconds, the others ask in turn what displays, hubs and phones ask. Every
request has its time; one that is late because the answer before it took long counts from the time it was due, so that
nothing slow hides behind itself. Meanwhile the background process makes each household's first fit of the day. Ends
with 1 where an answer had a status from 400, where an acknowledged reading is not in the log, or where the 99th
percentile of all reads is beyond the limit. The first answer after a reading, and at a new hour, is worked out: it is
told apart by the time at which it was issued.
"""

from __future__ import annotations

import argparse
import http.client
import io
import json
import multiprocessing
import random
import sys
import tempfile
import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from threading import Thread
from uuid import UUID

import numpy as np
from rich.console import Console
from rich.table import Table

from service.demo.world import demo_world, to_csv
from service.refitting import refit_now
from service.settings import Settings
from service.usecases import household as describing
from service.usecases import imports
from service.wiring import Wiring, system_clock, wire
from tests.acceptance.serving import ask, free_port, served

ASKED = ("now", "gas-budget?date=tomorrow", "storage", "backup", "forecast?days=14", "readings?limit=50", "model", "")
WARM_S = 10.0
CHANGED = ("now", "gas-budget", "storage", "backup", "forecast")
"""What is issued anew after a change; a reading changes nothing else."""


@dataclass
class Notes:
    """What one client saw: seconds by kind of request, statuses, and the readings that were acknowledged."""

    took_s: dict[str, list[float]] = field(default_factory=dict)
    statuses: list[int] = field(default_factory=list)
    kept: list[tuple[str, str]] = field(default_factory=list)

    def note(self, kind: str, took_s: float, status: int) -> None:
        self.took_s.setdefault(kind, []).append(took_s)
        self.statuses.append(status)


@dataclass(frozen=True)
class Plan:
    """What a client is to do."""

    port: int
    number: int
    household: str
    writes: bool
    every_s: float
    until_s: float


def names(count: int) -> list[str]:
    return [f"home {k}" for k in range(count)]


def move_all_in(wired: Wiring, count: int) -> None:
    """The demonstration's household under several names, each with its log and its fit."""
    now = wired.clock()
    world = demo_world(now)
    body = to_csv(world.readings).encode()
    for name in names(count):
        describing.describe(name, world.description, homes=wired.homes, if_match=None, now=now)
        for meal in world.meals:
            describing.plan_meal(name, meal, homes=wired.homes, if_match=None)
        order = imports.Order()
        imports.import_csv(name, io.BytesIO(body), order, homes=wired.homes, imports=wired.logs.imports, now=now)
        refit_now(name, now, wired)


def requests_of(plan: Plan, chance: random.Random) -> Iterator[tuple[str, str, str, dict[str, object] | None]]:
    """What a client sends, one after another: kind, method, path, document."""
    base = "/v1/households/" + plan.household.replace(" ", "%20")
    turn = chance.randrange(len(ASKED))
    for k in range(1_000_000):
        if plan.writes:
            identity = str(UUID(int=plan.number * 1_000_000 + k))
            taken = datetime.now(UTC).isoformat()
            reading = {"taken_at": taken, "quantity": "ambient_temperature", "value": float(k % 30), "unit": "Cel"}
            yield "write", "PUT", f"{base}/readings/{identity}", reading
        else:
            asked = ASKED[(turn + k) % len(ASKED)]
            kind = "issued anew" if asked.partition("?")[0] in CHANGED else "other"
            yield kind, "GET", f"{base}/{asked}".rstrip("/"), None


def live(plan: Plan, notes: Notes) -> None:
    """One client, until its time is over."""
    chance = random.Random(plan.number)
    connection = http.client.HTTPConnection("127.0.0.1", plan.port, timeout=60)
    due_s = time.time() + chance.random() * plan.every_s
    for kind, method, path, document in requests_of(plan, chance):
        if due_s > plan.until_s:
            return
        time.sleep(max(0.0, due_s - time.time()))
        started_s = time.time()
        body = None if document is None else json.dumps(document)
        if plan.writes:
            connection.close()  # a sensor that sleeps between two readings
        connection.request(method, path, body, {"Content-Type": "application/json"})
        answer = connection.getresponse()
        told = answer.read()
        ended_s = time.time()
        if kind == "issued anew" and issued_s(told) < int(started_s):
            kind = "stood already"
        notes.note(kind, ended_s - due_s, answer.status)
        if method == "PUT" and answer.status in (200, 201):
            notes.kept.append((plan.household, path.rsplit("/", 1)[-1]))
        due_s += plan.every_s


def issued_s(told: bytes) -> float:
    """When an answer was issued; long ago for what is none."""
    return datetime.fromisoformat(json.loads(told).get("issued_at", "1970-01-01T00:00:00+00:00")).timestamp()


def together(plans: list[Plan], out: multiprocessing.Queue[Notes]) -> None:
    """Some clients in threads of one process."""
    notes = [Notes() for _ in plans]
    threads = [Thread(target=live, args=(plan, one)) for plan, one in zip(plans, notes, strict=True)]
    for thread in threads:
        thread.start()
    for thread, one in zip(threads, notes, strict=True):
        thread.join()
        out.put(one)


def load(port: int, asked: argparse.Namespace) -> list[Notes]:
    """What every client saw."""
    until_s = time.time() + asked.seconds
    homes, out = names(asked.households), multiprocessing.Queue()
    plans = [
        Plan(port, number, homes[number % len(homes)], writes, every_s, until_s)
        for number in range(asked.clients)
        for writes in [number < len(homes)]
        for every_s in [asked.write_every if writes else asked.read_every]
    ]
    groups = [multiprocessing.Process(target=together, args=(plans[k::4], out)) for k in range(4)]
    for group in groups:
        group.start()
    seen = [out.get() for _ in plans]
    for group in groups:
        group.join()
    return seen


def replace_seconds(asked: argparse.Namespace, seconds: float) -> argparse.Namespace:
    """The same for another time."""
    return argparse.Namespace(**{**vars(asked), "seconds": seconds})


def lost(port: int, seen: list[Notes]) -> list[tuple[str, str]]:
    """Readings that were acknowledged and are not in the log."""
    kept = [one for notes in seen for one in notes.kept]
    return [
        (name, reading)
        for name, reading in kept
        if ask(port, "GET", f"/v1/households/{name.replace(' ', '%20')}/readings/{reading}")[0] != 200
    ]


def told(seen: list[Notes]) -> tuple[Table, float]:
    """The figures as a table, and the 99th percentile of all reads. [s]"""
    table = Table("requests", "number", "p50 ms", "p90 ms", "p99 ms", "longest ms")
    kinds = ("stood already", "issued anew", "other", "write")
    taken = {kind: np.array([s for notes in seen for s in notes.took_s.get(kind, [])]) for kind in kinds}
    taken["all reads"] = np.concatenate([taken[kind] for kind in kinds[:3]])
    for kind, seconds in taken.items():
        if len(seconds):
            figures = [f"{1000.0 * value:.0f}" for value in (*np.quantile(seconds, [0.5, 0.9, 0.99]), seconds.max())]
            table.add_row(kind, str(len(seconds)), *figures)
    return table, float(np.quantile(taken["all reads"], 0.99))


def main() -> None:
    """Measure and judge."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--clients", type=int, default=32)
    parser.add_argument("--households", type=int, default=4)
    parser.add_argument("--seconds", type=float, default=60.0)
    parser.add_argument("--read-every", type=float, default=0.5, help="seconds between two questions of a client")
    parser.add_argument("--write-every", type=float, default=60.0, help="seconds between two readings of a sensor")
    parser.add_argument("--limit-ms", type=float, default=250.0)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        database, port = Path(folder) / "load.sqlite", free_port()
        wired = wire(Settings(database=str(database)), clock=system_clock)
        move_all_in(wired, asked.households)
        wired.database.close()
        with served(database, port, workers=2):
            load(port, replace_seconds(asked, WARM_S))
            seen = load(port, asked)
            missing = lost(port, seen)
    table, p99_s = told(seen)
    failed = [status for notes in seen for status in notes.statuses if status >= 400]
    console = Console()
    console.print(table)
    console.print(f"failed: {len(failed)} {sorted(set(failed))}; acknowledged readings lost: {len(missing)}")
    sys.exit(1 if failed or missing or 1000.0 * p99_s > asked.limit_ms else 0)


if __name__ == "__main__":
    main()
