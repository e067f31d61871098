"""A reading that was acknowledged is there after the server was killed in the middle of its work, and is there once."""

from __future__ import annotations

import http.client
import json
import os
import random
import signal
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from uuid import UUID

from service.api.examples import DESCRIPTION

ROUNDS = 20
CLIENTS = 4
BASE = "/v1/households/home"
WITHIN_S = 60.0


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


@contextmanager
def served(database: Path, port: int) -> Iterator[subprocess.Popen[bytes]]:
    """The real server with its processes in a group of their own, which is killed at the end, all at once."""
    command = [sys.executable, "-m", "service.cli", "--database", str(database), "serve", "--bind", f"127.0.0.1:{port}"]
    quiet = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
    process = subprocess.Popen([*command, "--workers", "1"], start_new_session=True, **quiet)
    try:
        give_up = time.monotonic() + WITHIN_S
        while True:
            try:
                if ask(port, "GET", "/health/live")[0] == 200:
                    break
            except OSError:
                pass
            assert process.poll() is None, "the server ended by itself"
            assert time.monotonic() < give_up, "the server did not answer"
            time.sleep(0.05)
        yield process
    finally:
        os.killpg(process.pid, signal.SIGKILL)
        process.wait()


class Writer(threading.Thread):
    """A client that puts reading after reading and remembers which were acknowledged, and which were only sent."""

    def __init__(self, port: int, worker: int, round_: int) -> None:
        super().__init__()
        self.port, self.worker, self.round = port, worker, round_
        self.sent: dict[str, float] = {}
        self.acknowledged: list[str] = []
        self.answers: set[int] = set()

    def run(self) -> None:
        for k in range(100_000):
            number = (self.round * CLIENTS + self.worker) * 1000 + k
            identity = str(UUID(int=number))
            # A minute of its own for every reading, so that none is another's double.
            moment = time.strftime("%Y-%m-%dT%H:%M:00Z", time.gmtime(1_600_000_000 + 60 * number))
            reading = {"taken_at": moment, "quantity": "feed", "value": float(k), "item": "scraps"}
            self.sent[identity] = float(k)
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
    sent: dict[str, float] = {}
    for round_ in range(ROUNDS):
        port = free_port()
        with served(database, port) as process:
            if round_ == 0:
                assert ask(port, "PUT", BASE, DESCRIPTION)[0] == 201
            writers = [Writer(port, worker, round_) for worker in range(CLIENTS)]
            for writer in writers:
                writer.start()
            time.sleep(chance.uniform(0.05, 0.5))
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

    kept = [str(reading["id"]) for reading in log]
    assert len(acknowledged) >= ROUNDS
    assert acknowledged <= set(kept)
    assert len(kept) == len(set(kept))
    assert all(sent[str(reading["id"])] == reading["value"] for reading in log)
