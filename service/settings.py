"""Every setting, declared once and read once.

Each field of `Settings` is read from `KETTLECAST_<FIELD>` at start. An unknown `KETTLECAST_` name is refused: a typing
error that is silently ignored is worse than a server that does not start.
"""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from typing import Any

PREFIX = "KETTLECAST_"


class BadSetting(ValueError):
    """A setting that is unknown or cannot be read; the message names it and what is allowed."""


def _declare(default: Any, unit: str, meaning: str) -> Any:
    return field(default=default, metadata={"unit": unit, "meaning": meaning})


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """How this installation runs."""

    database: str = _declare("kettlecast.sqlite", "path or URL", "SQLite file, or the URL of a database")
    bind: str = _declare("127.0.0.1:8080", "host:port", "address the server listens on")
    workers: int = _declare(2, "processes", "server processes")
    threads: int = _declare(4, "threads", "requests one process answers at a time")
    hosts: str = _declare("", "names, comma separated", "host names served besides the bound one and loopback")
    refit_hour: int = _declare(3, "local hour", "hour of the household's day at which its production model is fitted")
    max_body_mb: int = _declare(200, "MB", "largest request body taken")


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
