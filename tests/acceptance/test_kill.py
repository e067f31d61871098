"""A reading that was acknowledged is there after the server was killed in the middle of its work, and is there once."""

from __future__ import annotations

import http.client
import json
import multiprocessing
import os
import random
import signal
import socket
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from multiprocessing.process import BaseProcess
from pathlib import Path
from uuid import UUID

from service.api.examples import DESCRIPTION
from service.server import serve
from service.settings import Settings

ROUNDS = 20
MOST_WRITES = 80
CLIENTS = 4
BASE = "/v1/households/home"
WITHIN_S = 60.0
# Every server begins in a process that has imported its libraries and opened nothing: only the imports are saved.
IMPORTED = multiprocessing.get_context("forkserver")
IMPORTED.set_forkserver_preload(["__main__", __name__])


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def ask(port: int, method: str, path: str, document: object = None) -> tuple[int, object]:
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=10)
    try:
        body = None if document is None else json.dumps(document)
        connection.request(method, path, body, {"Content-Type": "application/json"})
        answer = connection.getresponse()
        return answer.status, json.loads(answer.read() or b"null")
    finally:
        connection.close()


def serve_alone(database: Path, port: int, said: Path) -> None:
    """The real server, with its processes in a group of their own."""
    os.setsid()
    with said.open("wb") as out:
        os.dup2(out.fileno(), 1)
        os.dup2(out.fileno(), 2)
    serve(Settings(database=str(database), bind=f"127.0.0.1:{port}", workers=1))


@contextmanager
def served(database: Path, port: int) -> Iterator[BaseProcess]:
    """A server that answers; its processes are killed at the end, all at once."""
    said = database.with_suffix(".log")
    process = IMPORTED.Process(target=serve_alone, args=(database, port, said))
    process.start()
    try:
        give_up = time.monotonic() + WITHIN_S
        while True:
            try:
                if ask(port, "GET", "/health/live")[0] == 200:
                    break
            except OSError:
                pass
            assert process.is_alive(), said.read_text(encoding="utf-8")
            assert time.monotonic() < give_up, "the server did not answer"
            time.sleep(0.02)
        yield process
    finally:
        with suppress(ProcessLookupError):
            os.killpg(process.pid, signal.SIGKILL)
        process.join()


class Writer(threading.Thread):
    """A client that puts reading after reading and remembers which were acknowledged, and which were only sent."""

    def __init__(self, port: int, worker: int, round_: int) -> None:
        super().__init__()
        self.port, self.worker, self.round = port, worker, round_
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
            try:
                status, _ = ask(self.port, "PUT", f"{BASE}/readings/{identity}", reading)
            except (OSError, http.client.HTTPException):
                return  # killed
            self.answers.add(status)
            if status == 201:
                self.acknowledged.append(identity)


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
