"""Work that nobody waits for: what goes wrong with a piece of it is logged, and the rest goes on."""

from __future__ import annotations

import logging
from collections.abc import Callable
from typing import TypeVar

LOGGER = logging.getLogger(__name__)
Made = TypeVar("Made")


def tried(work: Callable[[], Made]) -> Made | Exception:
    """What came of a piece of work, or what went wrong."""
    try:
        return work()
    except Exception as error:  # what is wrong with one household must not end the work for all the others
        LOGGER.warning("what runs in the background goes on after: %r", error, exc_info=True)
        return error
