"""A reading that was acknowledged is there after the server was killed in the middle of its work, and is there once."""

from __future__ import annotations

import http.client
import os
import random
import signal
import threading
import time
from pathlib import Path
from uuid import UUID

from service.api.examples import DESCRIPTION
from tests.acceptance.serving import WITHIN_S, ask, free_port, named, served, wait_until

ROUNDS = 20
WORKERS_KILLED = 3
MOST_WRITES = 80
CLIENTS = 4
BASE = "/v1/households/home"


class Writer(threading.Thread):
    """A client that puts reading after reading and remembers which were acknowledged, and which were only sent.

    One that is `patient` sends again what was not answered, until it is told to stop.
    """

    def __init__(self, port: int, worker: int, round_: int, *, patient: bool = False) -> None:
        super().__init__()
        self.port, self.worker, self.round, self.patient = port, worker, round_, patient
        self.stopped = threading.Event()
        self.unanswered = 0
        self.sent: dict[str, dict[str, object]] = {}
        self.acknowledged: list[str] = []
        self.answers: set[int] = set()

    def run(self) -> None:
        for k in range(100_000):
            number = (self.round * CLIENTS + self.worker) * 1000 + k
            identity = str(UUID(int=number))
            # A minute of its own for every reading, so that none is another's double.
            moment = time.strftime("%Y-%m-%dT%H:%M:00Z", time.gmtime(1_600_000_000 + 60 * number))
            reading = {"taken_at": moment, "quantity": "feed", "value": float(k), "item": "scraps"}
            self.sent[identity] = reading
            while not self.stopped.is_set():
                try:
                    status, _ = ask(self.port, "PUT", f"{BASE}/readings/{identity}", reading)
                except (OSError, http.client.HTTPException):
                    self.unanswered += 1
                    if not self.patient:
                        return  # killed
                    continue
                self.answers.add(status)
                if status in (200, 201):
                    self.acknowledged.append(identity)
                break
            if self.stopped.is_set():
                return


def everything(port: int) -> list[dict[str, object]]:
    found: list[dict[str, object]] = []
    cursor = ""
    while True:
        _, page = ask(port, "GET", f"{BASE}/readings?limit=10000{cursor}")
        found += page["readings"]
        if page["next_cursor"] is None:
            return found
        cursor = f"&cursor={page['next_cursor']}"


def test_no_acknowledged_reading_is_lost_or_doubled_when_the_server_is_killed(tmp_path: Path) -> None:
    database, chance = tmp_path / "killed.sqlite", random.Random(4)
    acknowledged: set[str] = set()
    sent: dict[str, dict[str, object]] = {}
    for round_ in range(ROUNDS):
        port = free_port()
        with served(database, port) as process:
            if round_ == 0:
                assert ask(port, "PUT", BASE, DESCRIPTION)[0] == 201
            writers = [Writer(port, worker, round_) for worker in range(CLIENTS)]
            for writer in writers:
                writer.start()
            enough, give_up = chance.randint(MOST_WRITES // 10, MOST_WRITES), time.monotonic() + WITHIN_S
            while sum(len(writer.acknowledged) for writer in writers) < enough:
                assert time.monotonic() < give_up, "the server is too slow to be tried"
                time.sleep(0.002)
            os.killpg(process.pid, signal.SIGKILL)
            for writer in writers:
                writer.join(WITHIN_S)
        assert set().union(*(writer.answers for writer in writers)) <= {201}
        for writer in writers:
            acknowledged |= set(writer.acknowledged)
            sent |= writer.sent
    port = free_port()
    with served(database, port):
        log = everything(port)
        # The clients whose answers never came send again, as they would.
        unanswered = sent.keys() - acknowledged
        again = {ask(port, "PUT", f"{BASE}/readings/{one}", sent[one])[0] for one in unanswered}
        in_the_end = everything(port)

    kept = [str(reading["id"]) for reading in log]
    assert len(acknowledged) >= ROUNDS * MOST_WRITES // 10
    assert acknowledged <= set(kept)
    assert len(kept) == len(set(kept))
    assert all(sent[str(reading["id"])]["value"] == reading["value"] for reading in log)
    assert again <= {200, 201}
    assert sorted(str(reading["id"]) for reading in in_the_end) == sorted(sent)


def test_a_worker_and_the_fitting_process_killed_under_load_are_replaced_and_nothing_is_lost(tmp_path: Path) -> None:
    database, port = tmp_path / "killed.sqlite", free_port()
    with served(database, port, workers=2) as process:
        assert ask(port, "PUT", BASE, DESCRIPTION)[0] == 201
        writers = [Writer(port, worker, 0, patient=True) for worker in range(CLIENTS)]
        for writer in writers:
            writer.start()
        reads: set[int] = set()
        wait_until(lambda: len(named(process, "worker")) == 2 and bool(named(process, "fitter")), "not all started")
        killed = named(process, "fitter")
        os.kill(killed[0], signal.SIGKILL)
        for _ in range(WORKERS_KILLED):
            before = sum(len(writer.acknowledged) for writer in writers)
            wait_until(lambda before=before: sum(len(one.acknowledged) for one in writers) > before + 20, "no writes")
            worker = named(process, "worker")[0]
            os.kill(worker, signal.SIGKILL)
            killed.append(worker)
            reads.add(patiently(port, f"{BASE}/now"))
            wait_until(lambda: len(set(named(process, "worker")) - set(killed)) == 2, "the worker was not replaced")
        wait_until(lambda: bool(set(named(process, "fitter")) - set(killed)), "the fitting process was not replaced")
        for writer in writers:
            writer.stopped.set()
        for writer in writers:
            writer.join(WITHIN_S)
        log = everything(port)
        # A fit that is asked for is made by the process that was started again.
        assert ask(port, "POST", f"{BASE}/model/fits", {})[0] == 202
        wait_until(
            lambda: ask(port, "GET", f"{BASE}/model/fits")[1][0]["finished_at"] is not None, "nothing was fitted"
        )

    acknowledged = {one for writer in writers for one in writer.acknowledged}
    kept = [str(reading["id"]) for reading in log]
    assert reads == {200}
    assert set().union(*(writer.answers for writer in writers)) <= {200, 201}
    assert len(acknowledged) > 20 * WORKERS_KILLED
    assert acknowledged <= set(kept)
    assert len(kept) == len(set(kept))


def patiently(port: int, path: str) -> int:
    """The status of an answer, asked for again where the process that would have given it was killed."""
    while True:
        try:
            return ask(port, "GET", path)[0]
        except (OSError, http.client.HTTPException):
            time.sleep(0.01)
