"""Fits of the production model, and requests for one."""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Row, Select, insert, select, update

from service.store.database import Database
from service.store.errors import NotFound
from service.store.rows import changed, dumped, household_id, moment, seconds
from service.store.tables import fit, fit_request, household


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredFit:
    """A fit as its document, the time of the newest reading it may know of, and when it was made."""

    id: int
    fit: dict[str, Any]
    made_as_of_d: float
    created_at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class FitRequest:
    """A wish for a fit. `outcome` is None until it was tried."""

    id: int
    household: str
    as_of_d: float | None
    requested_at: datetime
    finished_at: datetime | None
    outcome: str | None
    message: str | None


class FitStore:
    """Fits are only ever added; the newest that is allowed to be known is the one in use."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def add(self, name: str, document: dict[str, Any], made_as_of_d: float, *, now: datetime) -> int:
        """Keep a fit; its id. The household's version grows."""
        with self._database.write() as connection:
            values = {
                "household_id": changed(connection, name),
                "made_as_of_d": made_as_of_d,
                "created_s": seconds(now),
                "document": dumped(document),
            }
            return int(connection.execute(insert(fit).values(**values).returning(fit.c.id)).scalar_one())

    def newest(self, name: str, until_d: float | None = None) -> StoredFit | None:
        """The fit made on the latest readings, none of them later than `until_d`; or none."""
        found = self.history(name, limit=1, until_d=until_d)
        return found[0] if found else None

    def history(self, name: str, limit: int = 100, *, until_d: float | None = None) -> list[StoredFit]:
        """The fits, newest first."""
        with self._database.read() as connection:
            query = select(fit).where(fit.c.household_id == household_id(connection, name))
            if until_d is not None:
                query = query.where(fit.c.made_as_of_d <= until_d)
            rows = connection.execute(query.order_by(fit.c.made_as_of_d.desc(), fit.c.id.desc()).limit(limit))
            return [
                StoredFit(
                    id=row.id,
                    fit=json.loads(row.document),
                    made_as_of_d=row.made_as_of_d,
                    created_at=moment(row.created_s),
                )
                for row in rows
            ]

    def request(self, name: str, as_of_d: float | None = None, *, now: datetime) -> int:
        """Ask for a fit; the request's id. An unfinished request for the same time is not repeated."""
        with self._database.write() as connection:
            owner = household_id(connection, name)
            same = fit_request.c.as_of_d.is_(None) if as_of_d is None else fit_request.c.as_of_d == as_of_d
            waiting = connection.execute(
                select(fit_request.c.id).where(
                    fit_request.c.household_id == owner, fit_request.c.finished_s.is_(None), same
                )
            ).scalar()
            if waiting is not None:
                return int(waiting)
            values = {"household_id": owner, "as_of_d": as_of_d, "requested_s": seconds(now)}
            return int(
                connection.execute(insert(fit_request).values(**values).returning(fit_request.c.id)).scalar_one()
            )

    def pending(self) -> list[FitRequest]:
        """Unfinished requests of every household, oldest first."""
        with self._database.read() as connection:
            rows = connection.execute(_requests().where(fit_request.c.finished_s.is_(None)).order_by(fit_request.c.id))
            return [_request(row) for row in rows]

    def requests(self, name: str, limit: int = 20) -> list[FitRequest]:
        """A household's latest requests, newest first."""
        with self._database.read() as connection:
            household_id(connection, name)
            query = _requests().where(household.c.name == name).order_by(fit_request.c.id.desc()).limit(limit)
            return [_request(row) for row in connection.execute(query)]

    def finish(self, request_id: int, outcome: str, message: str = "", *, now: datetime) -> None:
        """Say what came of a request (`replaced`, `kept`, `failed`)."""
        with self._database.write() as connection:
            values = {"finished_s": seconds(now), "outcome": outcome, "message": message}
            done = connection.execute(
                update(fit_request)
                .where(fit_request.c.id == request_id)
                .values(**values)
                .returning(fit_request.c.household_id)
            ).scalar()
            if done is None:
                raise NotFound(f"there is no request {request_id} for a fit")


def _requests() -> Select[Any]:
    return select(fit_request, household.c.name).join(household, household.c.id == fit_request.c.household_id)


def _request(row: Row[Any]) -> FitRequest:
    return FitRequest(
        id=row.id,
        household=row.name,
        as_of_d=row.as_of_d,
        requested_at=moment(row.requested_s),
        finished_at=None if row.finished_s is None else moment(row.finished_s),
        outcome=row.outcome,
        message=row.message,
    )
