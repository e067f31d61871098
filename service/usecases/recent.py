"""What was worked out lately, kept in this process for who asks next."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable
from typing import Any, Generic, TypeVar
from weakref import WeakValueDictionary

Made = TypeVar("Made")


class Recent(Generic[Made]):
    """The latest few results by their key; who asks for one that is being made waits for it, and nobody else does."""

    def __init__(self, size: int) -> None:
        self._size = size
        self._lock = threading.Lock()
        self._kept: OrderedDict[tuple[Any, ...], Made] = OrderedDict()
        self._making: WeakValueDictionary[tuple[Any, ...], threading.Lock] = WeakValueDictionary()

    def get(self, key: tuple[Any, ...], make: Callable[[], Made]) -> Made:
        """The result under a key, made where it is not kept."""
        with self._lock:
            making = self._making.setdefault(key, threading.Lock())
        with making:
            found = self._find(key)
            return self._keep(key, make()) if found is None else found

    def _find(self, key: tuple[Any, ...]) -> Made | None:
        with self._lock:
            if key in self._kept:
                self._kept.move_to_end(key)
            return self._kept.get(key)

    def _keep(self, key: tuple[Any, ...], made: Made) -> Made:
        with self._lock:
            self._kept[key] = made
            while len(self._kept) > self._size:
                self._kept.popitem(last=False)
            return made
