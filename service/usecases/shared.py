"""What one process of a server worked out, for the others: after a change they all need the very same outlook."""

from __future__ import annotations

import fcntl
import logging
import os
import pickle
import sys
import time
import zlib
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO, Any, TypeVar

PLACES = 32  # a household each, while there are fewer: an outlook of 14 days is some 20 MB
OPEN_FILES = Path("/proc/self/fd")
PATIENCE_S = 5.0  # who has waited so long makes it: the process whose turn it is may hang
POLL_S = 0.005
LOGGER = logging.getLogger(__name__)

Made = TypeVar("Made")
Key = tuple[Any, ...]


def files_in_memory() -> tuple[int, ...]:
    """Files without a name, open in this process and in those forked from it, gone with the last of them.

    Empty where the system has no such files.
    """
    if sys.platform != "linux" or not OPEN_FILES.is_dir():
        return ()
    return tuple(os.memfd_create("kettlecast") for _ in range(PLACES))


class Shared:
    """Results by their key in open files, each made by the process that asks first while the others wait.

    The turn is a lock of the system's, which falls with the process that held it. Without files everybody makes
    their own.
    """

    def __init__(self, files: tuple[int, ...] = ()) -> None:
        self._files = files

    @property
    def used(self) -> bool:
        """Whether anything is shared at all."""
        return bool(self._files)

    def get(self, key: Key, make: Callable[[], Made], *, place: object) -> Made:
        """The result under a key, made where it is not there; of one `place` only the latest is kept."""
        if not self._files:
            return make()
        number = self._files[zlib.crc32(repr(place).encode()) % len(self._files)]
        # Opened anew: a lock is another's only through an opening of its own.
        with (OPEN_FILES / str(number)).open("r+b", buffering=0) as file, _turn(file) as mine:
            found: Made | None = _read(file, key) if mine else None
            if found is None:
                found = make()
                if mine:
                    _write(file, key, found)
            return found


@contextmanager
def _turn(file: IO[bytes]) -> Iterator[bool]:
    """Wait for one's turn; false where it does not come."""
    give_up_s = time.monotonic() + PATIENCE_S
    while True:
        try:
            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            if time.monotonic() > give_up_s:
                LOGGER.warning("another process has not come to its end for %.0f s; its work is done again", PATIENCE_S)
                yield False
                return
            time.sleep(POLL_S)
        else:
            yield True
            return


def _read(file: IO[bytes], key: Key) -> Any:
    """What is in a file under a key; None where it is not, or where a process was killed while it wrote."""
    try:
        # Written by this server alone: nobody else reaches a file without a name.
        return pickle.load(file) if pickle.load(file) == key else None
    except (EOFError, pickle.UnpicklingError):
        return None


def _write(file: IO[bytes], key: Key, made: object) -> None:
    """Keep a result; where there is no room for it everybody makes it again."""
    file.seek(0)
    file.truncate()
    try:
        for part in (key, made):
            file.write(pickle.dumps(part, protocol=pickle.HIGHEST_PROTOCOL))
    except OSError as error:
        LOGGER.warning("an outlook cannot be shared: %s", error)
