"""Households: descriptions, meals, one-off changes and posted weather, each a document with its ETag."""

from __future__ import annotations

import json
from typing import Any

from sqlalchemy import ColumnElement, Connection, and_, delete, insert, select, update

from service.store.database import Database
from service.store.errors import NotFound
from service.store.rows import StoredDocument, changed, check_etag, dumped, etag_of, household_id
from service.store.tables import document, household

MEAL, OVERRIDE, WEATHER = "meal", "override", "weather"
FIRST_VERSION_BIT = 32


class HouseholdStore:
    """Descriptions and schedules. Each method is one transaction; unknown names raise `NotFound`."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def names(self) -> list[str]:
        """Every household, by name."""
        with self._database.read() as connection:
            return list(connection.execute(select(household.c.name).order_by(household.c.name)).scalars())

    def version(self, name: str) -> int | None:
        """A number that grows with every write to the household's description, meals, weather, log or fits.

        None where there is no such household. A household deleted and described again never repeats one.
        """
        row = self._database.peek("SELECT version FROM household WHERE name = :name", {"name": name})
        return None if row is None else int(row[0])

    def get(self, name: str) -> StoredDocument:
        """The description."""
        with self._database.read() as connection:
            household_id(connection, name)
            row = connection.execute(
                select(household.c.document, household.c.etag).where(household.c.name == name)
            ).one()
            return StoredDocument(document=json.loads(row.document), etag=row.etag)

    def put(self, name: str, given: dict[str, Any], *, if_match: str | None = None) -> tuple[StoredDocument, bool]:
        """Keep a description; True where it is the household's first.

        Raises
        ------
        PreconditionMissing, PreconditionFailed
            The household exists and `if_match` is missing, or not its ETag (`*` matches any).
        """
        text = dumped(given)
        tag = etag_of(text)
        with self._database.write() as connection:
            standing = select(household.c.etag).where(household.c.name == name).with_for_update()
            stored = connection.execute(standing).scalar()
            if if_match is not None or stored != tag:  # to say the same again changes nothing
                check_etag(stored, if_match)
            values = {"document": text, "etag": tag}
            if stored is None:
                _create(connection, name, values)
            elif stored != tag:
                connection.execute(
                    update(household).where(household.c.id == changed(connection, name)).values(**values)
                )
        return StoredDocument(document=given, etag=tag), stored is None

    def delete(self, name: str, *, if_match: str | None) -> None:
        """Delete the household with its log and everything else it holds."""
        with self._database.write() as connection:
            found = household_id(connection, name, hold=True)
            stored = connection.execute(select(household.c.etag).where(household.c.id == found)).scalar_one()
            check_etag(stored, if_match, to="delete")
            connection.execute(delete(household).where(household.c.id == found))

    def meals(self, name: str) -> list[dict[str, Any]]:
        """The recurring meals, in the order in which they were first described."""
        return self._all(name, MEAL)

    def get_meal(self, name: str, meal: str) -> StoredDocument:
        """One meal."""
        return self._get(name, MEAL, meal)

    def put_meal(
        self, name: str, meal: str, given: dict[str, Any], *, if_match: str | None = None
    ) -> tuple[StoredDocument, bool]:
        """Keep a meal; True where it is new. An existing one needs its ETag in `if_match`."""
        with self._database.write() as connection:
            return _put(connection, changed(connection, name), (MEAL, meal), given, if_match)

    def delete_meal(self, name: str, meal: str, *, if_match: str | None) -> None:
        """Delete a meal."""
        self._delete(name, MEAL, meal, if_match)

    def overrides(self, name: str) -> list[dict[str, Any]]:
        """The one-off changes, in the order in which they were first made; each with its `id`."""
        return self._all(name, OVERRIDE)

    def get_override(self, name: str, override: str) -> StoredDocument:
        """One one-off change."""
        return self._get(name, OVERRIDE, override)

    def put_override(
        self, name: str, override: str, given: dict[str, Any], *, if_match: str | None = None
    ) -> tuple[StoredDocument, bool]:
        """Keep a one-off change; True where it is new. Without `if_match` it replaces whatever stands there."""
        with self._database.write() as connection:
            owner = changed(connection, name)
            known = _find(connection, owner, OVERRIDE, override) is not None
            return _put(connection, owner, (OVERRIDE, override), given, if_match or ("*" if known else None))

    def delete_override(self, name: str, override: str, *, if_match: str | None = "*") -> None:
        """Delete a one-off change."""
        self._delete(name, OVERRIDE, override, if_match)

    def weather(self, name: str) -> Any:
        """The posted weather document, or None."""
        with self._database.read() as connection:
            found = _find(connection, household_id(connection, name), WEATHER, "")
            return None if found is None else found.document

    def put_weather(self, name: str, given: Any) -> None:
        """Keep the posted weather in place of the one before."""
        with self._database.write() as connection:
            owner = changed(connection, name)
            known = _find(connection, owner, WEATHER, "") is not None
            _put(connection, owner, (WEATHER, ""), given, "*" if known else None)

    def _all(self, name: str, kind: str) -> list[dict[str, Any]]:
        with self._database.read() as connection:
            owner = household_id(connection, name)
            chosen = and_(document.c.household_id == owner, document.c.kind == kind)
            texts = connection.execute(select(document.c.document).where(chosen).order_by(document.c.id)).scalars()
            return [json.loads(text) for text in texts]

    def _get(self, name: str, kind: str, key: str) -> StoredDocument:
        with self._database.read() as connection:
            return _known(connection, household_id(connection, name), kind, key)

    def _delete(self, name: str, kind: str, key: str, if_match: str | None) -> None:
        with self._database.write() as connection:
            owner = changed(connection, name)
            check_etag(_known(connection, owner, kind, key).etag, if_match, to="delete")
            connection.execute(delete(document).where(_one(owner, kind, key)))


def _create(connection: Connection, name: str, values: dict[str, Any]) -> None:
    created = connection.execute(insert(household).values(name=name, version=0, **values).returning(household.c.id))
    first = created.scalar_one()
    connection.execute(update(household).where(household.c.id == first).values(version=first << FIRST_VERSION_BIT))


def _one(owner: int, kind: str, key: str) -> ColumnElement[bool]:
    return and_(document.c.household_id == owner, document.c.kind == kind, document.c.key == key)


def _find(connection: Connection, owner: int, kind: str, key: str) -> StoredDocument | None:
    row = connection.execute(select(document.c.document, document.c.etag).where(_one(owner, kind, key))).first()
    return None if row is None else StoredDocument(document=json.loads(row.document), etag=row.etag)


def _known(connection: Connection, owner: int, kind: str, key: str) -> StoredDocument:
    found = _find(connection, owner, kind, key)
    if found is None:
        raise NotFound(f"there is no {kind} {key!r}")
    return found


def _put(
    connection: Connection, owner: int, place: tuple[str, str], given: dict[str, Any], if_match: str | None
) -> tuple[StoredDocument, bool]:
    kind, key = place
    found = _find(connection, owner, kind, key)
    check_etag(None if found is None else found.etag, if_match)
    text = dumped(given)
    values = {"document": text, "etag": etag_of(text)}
    if found is None:
        connection.execute(insert(document).values(household_id=owner, kind=kind, key=key, **values))
    else:
        connection.execute(update(document).where(_one(owner, kind, key)).values(**values))
    return StoredDocument(document=given, etag=values["etag"]), found is None
