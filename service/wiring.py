"""What a request may reach: settings, stores, the cache of outlooks, and the clock (the only reader of system time)."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime

from flask import current_app

from service.settings import Settings
from service.store.database import Database
from service.store.fits import FitStore
from service.store.forecasts import ForecastStore
from service.store.history import HistoryStore
from service.store.household import HouseholdStore
from service.store.keys import KeyStore
from service.store.logbook import LogStore
from service.store.tokens import TokenStore
from service.usecases.outlook import AnswerCache, OutlookCache
from service.usecases.shared import Shared

Clock = Callable[[], datetime]


def system_clock() -> datetime:
    """The time now, in UTC."""
    return datetime.now(UTC)


@dataclass(frozen=True, slots=True, kw_only=True)
class Wiring:
    """Everything the entry points hand to the use cases."""

    settings: Settings
    database: Database
    homes: HouseholdStore
    logs: LogStore
    fits: FitStore
    forecasts: ForecastStore
    history: HistoryStore
    tokens: TokenStore
    keys: KeyStore
    clock: Clock = system_clock
    outlooks: OutlookCache = field(default_factory=OutlookCache)
    answers: AnswerCache = field(default_factory=AnswerCache)
    shared: Shared = field(default_factory=Shared)


def wire(settings: Settings, *, clock: Clock = system_clock, shared: Shared | None = None) -> Wiring:
    """Stores on one database, migrated to the present schema; `shared` is what the processes of a server share."""
    database = Database(settings.database)
    database.migrate()
    return Wiring(
        settings=settings,
        database=database,
        homes=HouseholdStore(database),
        logs=LogStore(database),
        fits=FitStore(database),
        forecasts=ForecastStore(database),
        history=HistoryStore(database),
        tokens=TokenStore(database),
        keys=KeyStore(database),
        clock=clock,
        shared=shared or Shared(),
    )


def wiring() -> Wiring:
    """The wiring of the app that answers the present request."""
    found: Wiring = current_app.extensions["kettlecast"]
    return found
