"""The real server in processes of its own, for tests that kill them, and a client without a library."""

from __future__ import annotations

import http.client
import json
import multiprocessing
import os
import signal
import socket
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager, suppress
from multiprocessing.process import BaseProcess
from pathlib import Path

from service.server import serve
from service.settings import Settings

WITHIN_S = 60.0
# Every server begins in a process that has imported its libraries and opened nothing: only the imports are saved.
IMPORTED = multiprocessing.get_context("forkserver")
IMPORTED.set_forkserver_preload(["__main__", __name__])


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def ask(
    port: int, method: str, path: str, document: object = None, headers: Mapping[str, str] | None = None
) -> tuple[int, object]:
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=WITHIN_S)
    try:
        body = None if document is None else json.dumps(document)
        connection.request(method, path, body, {"Content-Type": "application/json", **(headers or {})})
        answer = connection.getresponse()
        return answer.status, json.loads(answer.read() or b"null")
    finally:
        connection.close()


def serve_alone(database: Path, port: int, said: Path, workers: int) -> None:
    """The real server, with its processes in a group of their own."""
    os.setsid()
    with said.open("wb") as out:
        os.dup2(out.fileno(), 1)
        os.dup2(out.fileno(), 2)
    serve(Settings(database=str(database), bind=f"127.0.0.1:{port}", workers=workers))


@contextmanager
def served(database: Path, port: int, workers: int = 1) -> Iterator[BaseProcess]:
    """A server that answers; its processes are killed at the end, all at once."""
    said = log_of(database)
    process = IMPORTED.Process(target=serve_alone, args=(database, port, said, workers))
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


def log_of(database: Path) -> Path:
    """The file that holds what the server says."""
    return database.with_suffix(".log")


def children_of(process: BaseProcess) -> dict[int, str]:
    """The processes of a server by their id: `worker`, or `fitter` for the one that fits models."""
    found: dict[int, str] = {}
    for pid in Path(f"/proc/{process.pid}/task/{process.pid}/children").read_text(encoding="ascii").split():
        with suppress(FileNotFoundError, ProcessLookupError):
            told = Path(f"/proc/{pid}/cmdline").read_bytes()
            found[int(pid)] = "fitter" if b"refit" in told else "worker"
    return found


def named(process: BaseProcess, kind: str) -> list[int]:
    """The ids of a server's processes of a kind."""
    return [pid for pid, found in children_of(process).items() if found == kind]


def wait_until(true: Callable[[], bool], what: str, within_s: float = WITHIN_S) -> None:
    """Wait until something has come true; fail where it does not."""
    give_up = time.monotonic() + within_s
    while not true():
        assert time.monotonic() < give_up, what
        time.sleep(0.02)
