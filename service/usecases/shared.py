"""What one process of a server worked out, for the others: after a change they all need the very same outlook."""

from __future__ import annotations

import fcntl
import os
import pickle
import sys
import zlib
from collections.abc import Callable
from pathlib import Path
from typing import IO, Any, TypeVar

PLACES = 8  # an outlook of 14 days is some 20 MB: so many are kept at most
OPEN_FILES = Path("/proc/self/fd")

Made = TypeVar("Made")
Key = tuple[Any, ...]


def files_in_memory() -> tuple[int, ...]:
    """Files without a name, open in this process and in those forked from it, gone with the last of them.

    None where the system has no such files.
    """
    if sys.platform != "linux" or not OPEN_FILES.is_dir():
        return ()
    return tuple(os.memfd_create("kettlecast") for _ in range(PLACES))


class Shared:
    """Results by their key in open files, each made by the process that asks first while the others wait.

    The turn is a lock of the system's, which falls with the process that holds it. Without files everybody makes
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
        with (OPEN_FILES / str(number)).open("r+b") as file:
            fcntl.flock(file, fcntl.LOCK_EX)
            kept = _read(file)
            if kept is not None and kept[0] == key:
                found: Made = kept[1]
                return found
            made = make()
            _write(file, (key, made))
            return made


def _read(file: IO[bytes]) -> tuple[Key, Any] | None:
    """What is in a file; None where nothing is, or where a process was killed while it wrote."""
    try:
        # Written by this server alone: nobody else reaches a file without a name.
        found: tuple[Key, Any] = pickle.load(file)
    except (EOFError, pickle.UnpicklingError):
        return None
    return found


def _write(file: IO[bytes], what: tuple[Key, Any]) -> None:
    file.seek(0)
    file.truncate()
    pickle.dump(what, file, protocol=pickle.HIGHEST_PROTOCOL)
