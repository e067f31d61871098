"""How fast an answer is given again: the product and a bare Flask route, turn about under the same gunicorn.

.venv/bin/python -m tests.benchmarks.rate [--seconds 2] [--rounds 6]

Two workers of four threads each, eight connections kept alive, from two processes that do nothing but send and count.
Both servers run all the time and are asked in turn for a short while, so that whatever else the machine does hits both.
The product is `kettlecast serve` as it comes, request log and all; the bare route gives the same bytes back and logs
nothing. Prints requests a second and the ratio; ends with 1 below 0.6.
"""

from __future__ import annotations

import argparse
import multiprocessing
import os
import selectors
import socket
import statistics
import subprocess
import sys
import tempfile
import time
import urllib.request
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path

from flask import Flask
from rich.console import Console

from service.demo.show import BASE, NAME, move_in
from service.demo.world import demo_world
from service.refitting import refit_now
from service.settings import Settings
from service.wiring import wire

PATHS = (f"{BASE}/gas-budget", f"{BASE}/now")
WORKERS, THREADS = 2, 4
PROCESSES, CONNECTIONS = 2, 4
LEAST = 0.6
BODY = "RATE_BODY"
PATIENCE_S = 60.0


def bare() -> Flask:
    """One route that gives the same bytes each time."""
    app = Flask("bare")
    body = Path(os.environ[BODY]).read_bytes()

    @app.get("/", defaults={"path": ""})
    @app.get("/<path:path>")
    def answer(path: str) -> object:
        return app.response_class(body, mimetype="application/json")

    return app


def free_port() -> int:
    """A port that nobody listens on."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def product(port: int, database: str) -> list[str]:
    """The command that serves the product as anybody would, request log and all."""
    return [sys.executable, "-m", "service.cli", "--database", database, "serve", "--bind", f"127.0.0.1:{port}"]


def bare_route(port: int) -> list[str]:
    """The command that serves the bare route; it logs no requests."""
    options = ["-k", "gthread", "-w", str(WORKERS), "--threads", str(THREADS), "--no-control-socket"]
    where = ["-b", f"127.0.0.1:{port}", "--log-level", "error"]
    return [sys.executable, "-m", "gunicorn", *options, *where, "tests.benchmarks.rate:bare()"]


@contextmanager
def served(command: list[str], port: int, **environment: str) -> Iterator[int]:
    """Port of what a command serves until the end of the block."""
    server = subprocess.Popen(command, env={**os.environ, **environment}, stderr=subprocess.DEVNULL)
    try:
        wait_for(port)
        yield port
    finally:
        server.terminate()
        server.wait()


def wait_for(port: int) -> None:
    """Return once something answers on a port."""
    until = time.monotonic() + PATIENCE_S
    while time.monotonic() < until:
        try:
            socket.create_connection(("127.0.0.1", port), timeout=1.0).close()
        except OSError:
            time.sleep(0.1)
        else:
            return
    raise TimeoutError(f"nothing answers on port {port}")


def connected(port: int, request: bytes) -> tuple[socket.socket, int]:
    """A connection on which the answer was given once, and how many bytes that is."""
    link = socket.create_connection(("127.0.0.1", port))
    link.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
    link.sendall(request)
    got = b""
    while b"\r\n\r\n" not in got:
        got += link.recv(65_536)
    head, _, body = got.partition(b"\r\n\r\n")
    assert head.startswith(b"HTTP/1.1 200 "), head
    length = next(int(line[15:]) for line in head.lower().split(b"\r\n") if line.startswith(b"content-length:"))
    while len(body) < length:
        body += link.recv(65_536)
    return link, len(head) + 4 + length


def ask(port: int, path: str, seconds: float, counted: multiprocessing.Queue[int]) -> None:
    """Ask for one path on a few connections for a while, and count the answers."""
    request = f"GET {path} HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\n\r\n".encode()
    selector, count = selectors.DefaultSelector(), 0
    for _ in range(CONNECTIONS):
        link, size = connected(port, request)
        selector.register(link, selectors.EVENT_READ, [size, size])
        link.sendall(request)
    until = time.monotonic() + seconds
    while time.monotonic() < until:
        for key, _ in selector.select(timeout=1.0):
            link, state = key.fileobj, key.data
            assert isinstance(link, socket.socket)
            state[0] -= len(link.recv(65_536))
            if state[0] <= 0:
                assert state[0] == 0, "an answer of another length"
                state[0], count = state[1], count + 1
                link.sendall(request)
    counted.put(count)


def rate(port: int, path: str, seconds: float) -> float:
    """Answers a second on all connections."""
    counted: multiprocessing.Queue[int] = multiprocessing.Queue()
    started = [
        multiprocessing.Process(target=ask, args=(port, path, seconds, counted), daemon=True) for _ in range(PROCESSES)
    ]
    for one in started:
        one.start()
    total = sum(counted.get(timeout=seconds + PATIENCE_S) for _ in started)
    for one in started:
        one.join()
    return total / seconds


def settle(folder: str) -> str:
    """The demonstration's household in a database of its own."""
    database = str(Path(folder) / "demo.sqlite")
    wired = wire(Settings(database=database))
    move_in(demo_world(wired.clock()), wired, Console(quiet=True))
    refit_now(NAME, wired.clock(), wired)
    wired.database.close()
    return database


def compare(path: str, database: str, folder: str, options: argparse.Namespace) -> float:
    """Both rates for one path, and their ratio."""
    with ExitStack() as running:
        port = free_port()
        asked = running.enter_context(served(product(port, database), port))
        with urllib.request.urlopen(f"http://127.0.0.1:{asked}{path}") as answer:
            body = Path(folder) / "body.json"
            body.write_bytes(answer.read())
        port = free_port()
        plain = running.enter_context(served(bare_route(port), port, **{BODY: str(body)}))
        pairs = []
        for _ in range(options.rounds):
            pairs.append((rate(asked, path, options.seconds), rate(plain, path, options.seconds)))
    ours, theirs = (statistics.median(side) for side in zip(*pairs, strict=True))
    ratio = statistics.median(one / other for one, other in pairs)
    print(f"{path}: {ours:.0f}/s, bare route {theirs:.0f}/s, ratio {ratio:.2f} ({len(body.read_bytes())} bytes)")
    return ratio


def main() -> int:
    """Compare every path."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--seconds", type=float, default=2.0, help="how long each is asked at a time")
    parser.add_argument("--rounds", type=int, default=6, help="how many times in turn")
    options = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="kettlecast-rate-") as folder:
        database = settle(folder)
        ratios = [compare(path, database, folder, options) for path in PATHS]
    return 0 if min(ratios) >= LEAST else 1


if __name__ == "__main__":
    raise SystemExit(main())
