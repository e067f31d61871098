"""Serves the app with gunicorn: a few processes of a few threads, and one process that fits models behind them."""

from __future__ import annotations

import json
import logging
import os
import socket
import subprocess
import sys
import time
from collections.abc import Callable

from flask import Flask
from gunicorn import util
from gunicorn.app.base import BaseApplication
from gunicorn.arbiter import Arbiter
from gunicorn.util import write_nonblock

from service.api.shortening import shortened
from service.app import create_app
from service.listening import refuse_taken
from service.logs import ServerLog, configure
from service.preparing import keep_prepared
from service.settings import Settings, environment_of
from service.usecases.shared import Shared, files_in_memory
from service.wiring import wire

LOGGER = logging.getLogger(__name__)
PATIENCE_S = 10.0
RESTART_S = 5.0


class NotSafe(RuntimeError):
    """A server that would answer anybody; the message says what to do first."""


class Fitter:
    """The process that fits models: started, started again where it died, and ended with the server."""

    def __init__(self, settings: Settings) -> None:
        self._settings = settings
        self._process: subprocess.Popen[bytes] | None = None
        self._started_s = 0.0

    def keep(self) -> None:
        """Start it where it does not run, though not over and over."""
        if self._process is not None:
            if self._process.poll() is None or time.monotonic() < self._started_s + RESTART_S:
                return
            LOGGER.warning("the fitting process had died and is started again")
        command = [sys.executable, "-m", "service.cli", "refit", "--watch", "--parent", str(os.getpid())]
        self._process = subprocess.Popen(command, env=environment_of(self._settings))
        self._started_s = time.monotonic()

    def ask_to_stop(self) -> None:
        """Ask it to end, without waiting for it."""
        if self._process is not None:
            self._process.terminate()

    def end(self) -> None:
        """End it."""
        if self._process is not None:
            end(self._process)


def write_problem(client: socket.socket, status: int, reason: str, message: str) -> None:
    """Answer what is no HTTP request, or one too long to be read, as every other error is answered."""
    kind = reason.lower().replace(" ", "-")
    problem = {"type": f"/problems/{kind}", "title": reason, "status": status, "detail": shortened(message)}
    body = json.dumps({**problem, "instance": "/", "errors": []}).encode()
    head = (
        f"HTTP/1.1 {status} {reason}\r\nConnection: close\r\nContent-Type: application/problem+json\r\n"
        f"Cache-Control: no-store\r\nX-Content-Type-Options: nosniff\r\nContent-Length: {len(body)}\r\n\r\n"
    )
    write_nonblock(client, head.encode("latin-1") + body)


class _Supervisor(Arbiter):
    """gunicorn's own supervisor, which also looks after the process that fits."""

    app: _Server

    def manage_workers(self) -> None:
        """Every second: as many workers as there should be, and one that fits."""
        super().manage_workers()
        self.app.fitter.keep()

    def stop(self, graceful: bool = True) -> None:
        """Let requests in flight finish, and end what is being fitted meanwhile."""
        self.app.fitter.ask_to_stop()
        super().stop(graceful)


class _Server(BaseApplication):
    def __init__(self, settings: Settings) -> None:
        self.settings = settings
        self.shared = Shared(files_in_memory())
        self.fitter = Fitter(settings)
        super().__init__()

    def load_config(self) -> None:
        for name, value in {
            "bind": self.settings.bind,
            "workers": self.settings.workers,
            "threads": self.settings.threads,
            "worker_class": "gthread",
            "timeout": 120,
            "graceful_timeout": int(PATIENCE_S),
            "control_socket_disable": True,
            "limit_request_line": 8190,
            "logger_class": ServerLog,
            "loglevel": self.settings.log_level,
            "proc_name": "kettlecast",
            "post_worker_init": lambda worker: keep_prepared(worker.wsgi.extensions["kettlecast"]),
            "on_exit": lambda _: self.fitter.end(),
        }.items():
            self.cfg.set(name, value)

    def load(self) -> Flask:
        util.write_error = write_problem  # gunicorn's own would be a page
        # Each process opens its own connections; the libraries are imported before the fork and shared.
        return create_app(wire(self.settings, shared=self.shared))

    def run(self) -> None:
        """Serve until stopped."""
        _Supervisor(self).run()


def end(process: subprocess.Popen[bytes], *, patience_s: float = PATIENCE_S) -> None:
    """End a process: ask it, and kill it where it does not listen. A fit cut short leaves the one before in use."""
    process.terminate()
    try:
        process.wait(timeout=patience_s)
    except subprocess.TimeoutExpired:
        process.kill()
        process.wait()


def serve(settings: Settings, *, announce: Callable[[str], None] = lambda _: None) -> None:
    """Serve until stopped; `announce` is told where, once it is safe to.

    Raises
    ------
    NotSafe
        Where the address is reachable from elsewhere and no access token was made.
    BadSetting
        Where something else listens on the address.
    """
    wired = wire(settings)
    if not settings.private and not wired.tokens.any():
        raise NotSafe(
            f"{settings.host} can be reached from elsewhere; first make a token: kettlecast token make --write"
        )
    wired.database.close()
    refuse_taken(settings.bind)
    announce(f"Kettlecast listens on http://{settings.bind} (the contract: /docs); stop with Ctrl-C")
    configure(settings.log_level)
    _Server(settings).run()
