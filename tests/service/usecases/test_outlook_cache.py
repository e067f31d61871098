"""The outlooks a process keeps: the latest few, each made once."""

from __future__ import annotations

from typing import Any, cast

from models.outlook import Outlook
from service.usecases.outlook import OutlookCache


def made(name: str, log: list[str]) -> Any:
    def make() -> Outlook:
        log.append(name)
        return cast("Outlook", name)

    return make


def test_an_outlook_is_made_once_and_the_oldest_is_dropped() -> None:
    cache, log = OutlookCache(size=2), list[str]()

    for name in ("a", "b", "a", "c", "a", "b"):
        cache.get((name,), made(name, log))

    assert log == ["a", "b", "c", "b"]
