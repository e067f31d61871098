"""Serves the app with gunicorn: a few processes of a few threads, and one process that fits models behind them."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable

from flask import Flask
from gunicorn.app.base import BaseApplication
from gunicorn.arbiter import Arbiter

from service.app import create_app
from service.settings import Settings, environment_of
from service.wiring import wire

PATIENCE_S = 10.0


class NotSafe(RuntimeError):
    """A server that would answer anybody; the message says what to do first."""


class _Server(BaseApplication):
    def __init__(self, settings: Settings) -> None:
        self.settings = settings
        self.fitter: subprocess.Popen[bytes] | None = None
        super().__init__()

    def load_config(self) -> None:
        for name, value in {
            "bind": self.settings.bind,
            "workers": self.settings.workers,
            "threads": self.settings.threads,
            "worker_class": "gthread",
            "timeout": 120,
            "graceful_timeout": 10,
            "control_socket_disable": True,
            "accesslog": None,
            "errorlog": "-",
            "loglevel": "warning",
            "proc_name": "kettlecast",
            "when_ready": self._start_fitting,
            "on_exit": self._stop_fitting,
        }.items():
            self.cfg.set(name, value)

    def load(self) -> Flask:
        # Each process opens its own connections; the libraries are imported before the fork and shared.
        return create_app(wire(self.settings))

    def _start_fitting(self, _: Arbiter) -> None:
        command = [sys.executable, "-m", "service.cli", "refit", "--watch", "--parent", str(os.getpid())]
        self.fitter = subprocess.Popen(command, env=environment_of(self.settings))

    def _stop_fitting(self, _: Arbiter) -> None:
        if self.fitter is not None:
            end(self.fitter)


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
    """
    wired = wire(settings)
    if not settings.private and not wired.tokens.any():
        raise NotSafe(
            f"{settings.host} can be reached from elsewhere; first make a token: kettlecast token make --write"
        )
    wired.database.close()
    announce(f"Kettlecast listens on http://{settings.bind} (the contract: /docs); stop with Ctrl-C")
    _Server(settings).run()
