"""Feed and slurry temperatures that no digester of the description can have had: slips of the pen, set aside."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from models.household import Household
from models.ledger import SetAside
from models.log import Log, Readings
from models.units import Bools

ABSURD_FEED = 8.0  # times the usual and the typical
FEWEST_FEEDS = 5  # entries before the log, not the description, says what is typical
SLURRY_C = (-5.0, 70.0)
TOO_MUCH_FEED = "many times what this digester is fed; look at the unit (kg) and the decimal point"
NO_SLURRY = "no slurry is so cold or so hot; look at the figure and the unit (Cel)"


@dataclass(frozen=True, slots=True, kw_only=True)
class _Check:
    """What of a quantity is not believed, and why."""

    quantity: str
    out: Bools
    why: str


def plausible(household: Household, log: Log) -> tuple[Log, SetAside]:
    """The log without what cannot have been fed or measured, and that with the reason.

    Notes
    -----
    More feed than eight times the usual, and than eight times what is typical of a log of at least five entries, is not
    believed unless whoever wrote it is sure; so are slurry temperatures outside -5 to 70 °C, sure or not.
    """
    feed, slurry = log.of("feed"), log.of("digester_temperature")
    checks = (
        _Check(quantity="feed", out=_too_much(household, feed), why=TOO_MUCH_FEED),
        _Check(
            quantity="digester_temperature",
            out=~((slurry.value > SLURRY_C[0]) & (slurry.value < SLURRY_C[1])),
            why=NO_SLURRY,
        ),
    )
    told = [one for one in checks if one.out.any()]
    if not told:
        return log, ()
    kept = {one.quantity: log.of(one.quantity).select(~one.out) for one in told}
    slips = tuple((reading, one.why) for one in told for reading in log.of(one.quantity).id[one.out].tolist())
    return Log(by_quantity={**log.by_quantity, **kept}), slips


def _too_much(household: Household, feed: Readings) -> Bools:
    usual_kg = sum(one.usual_feed_kg_per_d for one in household.digesters)
    positive = feed.value[feed.value > 0.0]
    typical_kg = float(np.median(positive)) if len(positive) >= FEWEST_FEEDS else 0.0
    limit_kg = ABSURD_FEED * max(usual_kg, typical_kg)
    if limit_kg <= 0.0:
        return np.zeros(len(feed), dtype=bool)
    return np.asarray(~(feed.value <= limit_kg) & ~feed.sure)
