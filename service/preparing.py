"""A thread of each serving process that has the next hour's outlooks made before anybody asks for them."""

from __future__ import annotations

import threading
import time
from functools import partial

from service.api.asking import places_of
from service.background import tried
from service.usecases.ahead import ending, prepare
from service.wiring import Wiring

POLL_S = 5.0


def prepare_ending(wired: Wiring) -> None:
    """Make what follows the outlooks that soon end; what goes wrong with one leaves the others as they are."""
    places = places_of(wired)
    for name, days in ending(places, wired.clock()):
        tried(partial(prepare, name, days, places=places))


def _watch(wired: Wiring) -> None:
    while True:
        time.sleep(POLL_S)
        prepare_ending(wired)


def keep_prepared(wired: Wiring) -> None:
    """Go on so for as long as the process lives, where there are others to hand an outlook to."""
    if wired.shared.used:
        threading.Thread(target=_watch, args=(wired,), name="next hour", daemon=True).start()
