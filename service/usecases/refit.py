"""A new fit of a household's production model; it replaces the old one only if it forecasts no worse."""

from __future__ import annotations

import logging
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Literal, Protocol

from models.errors import ModelError
from models.production.fit import fit
from models.production.record import record
from models.production.skill import HELD_BACK_D, no_worse
from service.usecases.situation import Homes, KeptFit, Logs, Situation, situation

LOGGER = logging.getLogger(__name__)


class Log(Logs, Protocol):
    """Where the log is kept, and what became of it."""

    def withdrawn_since(self, name: str, since: datetime) -> bool:
        """Whether a reading that stood at a moment was corrected or deleted since."""


class MadeFit(KeptFit, Protocol):
    """A fit as stored, with when it was made."""

    @property
    def created_at(self) -> datetime:
        """When."""


class FitShelf(Protocol):
    """Where fits are kept, and new ones put."""

    def newest(self, name: str, until_d: float | None = None) -> MadeFit | None:
        """The newest fit made on no reading later than a moment."""

    def add(self, name: str, document: dict[str, Any], made_as_of_d: float, *, now: datetime) -> int:
        """Keep a fit; its number."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Refit:
    """What came of a fit."""

    outcome: Literal["replaced", "kept", "failed"]
    message: str


def refit(name: str, as_of: datetime, *, homes: Homes, logs: Log, fits: FitShelf, now: datetime) -> Refit:
    """Fit the production model on the readings up to a moment.

    The new fit is kept where there was none, where the old one rests on readings that were corrected or deleted since,
    or where it forecasts the held-back days no worse; a fit that fails leaves the old one in use.
    """
    standing = situation(name, as_of, homes=homes, logs=logs, fits=fits)
    try:
        return _fitted(standing, gated=_rests_on_the_log(standing, logs, fits), fits=fits, now=now)
    except (ModelError, ArithmeticError, ValueError) as error:
        LOGGER.warning("fit of %s failed: %s", name, error)
        return Refit(outcome="failed", message=f"the fit failed and the one before stays in use: {error}")


def _rests_on_the_log(standing: Situation, logs: Log, fits: FitShelf) -> bool:
    """Whether there is a fit, and all it was made on still stands."""
    kept = fits.newest(standing.name, standing.as_of_d)
    return kept is not None and not logs.withdrawn_since(standing.name, kept.created_at)


def _fitted(standing: Situation, *, gated: bool, fits: FitShelf, now: datetime) -> Refit:
    household, log, plan = standing.household, standing.log, standing.plan
    known = record(household, log, standing.posted, standing.as_of_d, plan)
    old = standing.fitted
    if old is not None and gated:
        held_back = record(household, log, standing.posted, standing.as_of_d - HELD_BACK_D, plan)
        if not no_worse(known, standing.posted, candidate=fit(held_back, start=old), old=old):
            return Refit(outcome="kept", message="a new fit forecasts the held-back fortnight worse; the old one stays")
    new = fit(known, start=old)
    fits.add(standing.name, new.to_dict(), standing.as_of_d, now=now)
    return Refit(outcome="replaced", message=f"{new.basis} on {new.intervals} gauge intervals")
