"""Every setting, declared once and read once.

Each field of `Settings` is read from `KETTLECAST_<FIELD>` at start. An unknown `KETTLECAST_` name is refused: a typing
error that is silently ignored is worse than a server that does not start.
"""

from __future__ import annotations

import os
import re
from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from typing import Any

PREFIX = "KETTLECAST_"
LOOPBACK_HOST = "127.0.0.1"
LOOPBACK = ("localhost", LOOPBACK_HOST, "[::1]")
"""Hosts that nobody but this machine reaches."""
PORT = re.compile(r":?(?P<port>[0-9]{1,5})")
ADDRESS = re.compile(r"(?P<host>[A-Za-z0-9.-]+|\[[0-9A-Fa-f:.]+\]):(?P<port>[0-9]{1,5})")
LEVELS = ("debug", "info", "warning", "error")
ORIGIN = re.compile(r"https?://[A-Za-z0-9.:\[\]-]+")
HIGHEST_PORT = 65_535


class BadSetting(ValueError):
    """A setting that is unknown or cannot be read; the message names it and what is allowed."""


def _declare(
    default: Any,
    unit: str,
    meaning: str,
    *,
    between: tuple[int, int] | None = None,
    one_of: tuple[str, ...] = (),
    secret: bool = False,
) -> Any:
    about = {"unit": unit, "meaning": meaning, "between": between, "one_of": one_of}
    return field(default=default, repr=not secret, metadata=about)


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """How this installation runs."""

    database: str = _declare("kettlecast.sqlite", "path or URL", "SQLite file, or the URL of a database")
    bind: str = _declare(
        "127.0.0.1:8080", "host:port", "address the server listens on, or a port of this machine alone"
    )
    workers: int = _declare(2, "processes", "server processes", between=(1, 64))
    threads: int = _declare(8, "threads", "requests one process answers at a time", between=(1, 64))
    hosts: str = _declare("", "names, comma separated", "host names served besides the bound one and loopback")
    origins: str = _declare("", "origins, comma separated", "pages elsewhere that may read and write, by their origin")
    refit_hour: int = _declare(
        3, "local hour", "hour of the household's day at which its production model is fitted", between=(0, 23)
    )
    log_level: str = _declare("info", "word", "what is told on standard error, from what gravity on", one_of=LEVELS)
    max_body_mb: int = _declare(200, "MB", "largest request body taken", between=(1, 10_000))
    mqtt_user: str = _declare("", "name", "user that `kettlecast publish` is to the broker")
    mqtt_password: str = _declare("", "text", "that user's password", secret=True)

    def __post_init__(self) -> None:
        alone = PORT.fullmatch(self.bind)
        if alone is not None:
            object.__setattr__(self, "bind", f"{LOOPBACK_HOST}:{alone['port']}")
        address = ADDRESS.fullmatch(self.bind)
        if address is None or int(address["port"]) > HIGHEST_PORT:
            raise BadSetting(
                f"bind is {self.bind!r}, must be host:port, such as 127.0.0.1:8080 or [::1]:8080, or a port"
            )
        strange = [one for one in self.named_origins if not ORIGIN.fullmatch(one)]
        if strange:
            raise BadSetting(
                f"origins holds {strange[0]!r}, must be such as https://hub.example or http://10.0.0.5:8123"
            )
        for one in fields(self):
            value, between, words = getattr(self, one.name), one.metadata["between"], one.metadata["one_of"]
            if between is not None and not between[0] <= value <= between[1]:
                raise BadSetting(
                    f"{one.name} is {value}, must be {between[0]} to {between[1]} [{one.metadata['unit']}]"
                )
            if words and value not in words:
                raise BadSetting(f"{one.name} is {value!r}, must be one of {', '.join(words)}")

    @property
    def host(self) -> str:
        """The host the server listens on, without the port."""
        return self.bind.rsplit(":", 1)[0].lower()

    @property
    def private(self) -> bool:
        """Whether nobody but this machine reaches the server."""
        return self.host in LOOPBACK

    @property
    def served_hosts(self) -> frozenset[str]:
        """Every host name that requests may name, in lower case."""
        return frozenset((*LOOPBACK, self.host)) | self.named_hosts

    @property
    def named_hosts(self) -> frozenset[str]:
        """The host names given by name."""
        return frozenset(name.strip().lower() for name in self.hosts.split(",") if name.strip())

    @property
    def named_origins(self) -> frozenset[str]:
        """The origins, such as `https://hub.example`, whose pages may read and write."""
        return frozenset(origin.strip().rstrip("/") for origin in self.origins.split(",") if origin.strip())


def read_settings(environment: Mapping[str, str] | None = None) -> Settings:
    """Settings from the environment, or from a mapping given in its place.

    Raises
    ------
    BadSetting
        An unknown `KETTLECAST_` name, or a value of the wrong type.
    """
    source = os.environ if environment is None else environment
    declared = {f"{PREFIX}{one.name.upper()}": one for one in fields(Settings)}
    given = {name: value for name, value in source.items() if name.startswith(PREFIX)}
    unknown = sorted(set(given) - set(declared))
    if unknown:
        raise BadSetting(f"{', '.join(unknown)} is no setting; the settings are {', '.join(sorted(declared))}")
    values: dict[str, Any] = {}
    for name, text in given.items():
        one = declared[name]
        try:
            values[one.name] = int(text) if isinstance(one.default, int) else text
        except ValueError:
            raise BadSetting(f"{name} is {text!r}, must be a whole number [{one.metadata['unit']}]") from None
    return Settings(**values)


def environment_of(settings: Settings) -> dict[str, str]:
    """The environment of a process of this installation that is to run under the same settings."""
    kept = {name: value for name, value in os.environ.items() if not name.startswith(PREFIX)}
    return kept | {f"{PREFIX}{one.name.upper()}": str(getattr(settings, one.name)) for one in fields(Settings)}
