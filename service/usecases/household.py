"""What a household says about itself: checked against the models before it is kept."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Any, Protocol

from models.errors import ModelError
from models.household import Household
from models.stove import Stove, refuse_unboiled
from service.documents import DocumentError, change_from, household_from, meal_from, zone_of

Document = dict[str, Any]

USUAL_AIR_C = 15.0
POOR_SD = 2.0
"""Meals must cook on gas so many standard errors poorer than described, or a poor test of it would stop all answers."""
PARTS = {"burner": "/burners", "pan": "/pans"}


class TakenError(DocumentError):
    """A name that something else goes by already."""


class Stored(Protocol):
    """A stored document and its ETag."""

    @property
    def document(self) -> Document:
        """The document, as the contract writes it."""

    @property
    def etag(self) -> str:
        """Its strong ETag."""


class Homes(Protocol):
    """Where descriptions, meals, changes and weather are kept."""

    def get(self, name: str) -> Stored:
        """The description; refused where there is none."""

    def version(self, name: str) -> int | None:
        """Grows with every write to the household; None where there is none."""

    def put(self, name: str, given: Document, *, if_match: str | None = None) -> tuple[Stored, bool]:
        """Keep a description; whether it is the first."""

    def meals(self, name: str) -> list[Document]:
        """Every meal."""

    def put_meal(self, name: str, meal: str, given: Document, *, if_match: str | None = None) -> tuple[Stored, bool]:
        """Keep a meal; whether it is new."""

    def overrides(self, name: str) -> list[Document]:
        """Every one-off change."""

    def put_override(self, name: str, override: str, given: Document) -> tuple[Stored, bool]:
        """Keep a change; whether it is new."""

    def put_weather(self, name: str, given: Any) -> None:
        """Keep the posted forecast in place of the one before."""


def describe(
    name: str, document: Document, *, homes: Homes, if_match: str | None, now: datetime
) -> tuple[Stored, bool]:
    """Keep a household's description, once the models have accepted it and every meal can still be cooked with it.

    Backup fuel that is told without a time is there now; so is another amount told with the time of the one before.

    Raises
    ------
    DocumentError
        A figure outside the physics, figures that contradict one another, or a meal that could no longer be cooked.
    """
    household = household_from(document)
    for meal in homes.meals(name) if homes.version(name) is not None else ():
        try:
            _cookable(meal, household)
        except DocumentError as error:
            message = f"meal {meal['name']!r} could not be cooked any more: {error}; change or delete the meal first"
            raise DocumentError(message, pointer=PARTS.get(error.pointer.rsplit("/", 1)[-1], "")) from error
    before = homes.get(name).document if homes.version(name) is not None else {}
    return homes.put(name, _stock_dated(document, before, now), if_match=if_match)


def _stock_dated(document: Document, before: Document, now: datetime) -> Document:
    """The description with the moment at which the backup fuel was looked at, where an amount is told."""
    told, old = (one.get("backup") or {} for one in (document, before))
    if told.get("on_hand_kg") is None:
        return document
    known = told.get("on_hand_at") is not None
    if known and (told["on_hand_at"] != old.get("on_hand_at") or told["on_hand_kg"] == old.get("on_hand_kg")):
        return document
    return {**document, "backup": {**told, "on_hand_at": now.replace(microsecond=0).isoformat()}}


def plan_meal(name: str, document: Document, *, homes: Homes, if_match: str | None) -> tuple[Stored, bool]:
    """Keep a meal, once its rule can be read and the household can cook it.

    Raises
    ------
    DocumentError
        A rule or figure the models refuse, a burner or pan the household does not have, or a pan that never boils.
    """
    _cookable(document, household_from(homes.get(name).document))
    return homes.put_meal(name, document["name"], document, if_match=if_match)


def _cookable(document: Document, household: Household) -> None:
    """Refuse a meal that this household cannot cook, with the pointer into the meal."""
    gas = household.gas
    methane = max(gas.methane_fraction - POOR_SD * gas.methane_sd, gas.methane_fraction / 2.0)
    stove = Stove(burners=household.burners, pans=household.pans, supply=household.supply(methane, USUAL_AIR_C))
    for place, dish in enumerate(meal_from(document).courses):
        try:
            refuse_unboiled((dish,), stove)
        except ModelError as error:
            pointer = f"/dishes/{place}" if document.get("dishes") else ""
            raise DocumentError(str(error), pointer=f"{pointer}/{error.field}" if error.field else pointer) from error


def _known(name: str, names: Sequence[str], pointer: str) -> None:
    if name not in names:
        field = pointer.rsplit("/", 1)[-1]
        allowed = ", ".join(names) or f"the {field}s of the description, which names none"
        raise DocumentError(f"{field} is {name!r}, must be one of {allowed}", pointer=pointer)


def add_meal(name: str, document: Document, *, homes: Homes) -> Stored:
    """Keep a meal whose name is not taken.

    Raises
    ------
    DocumentError
        As `plan_meal`, or the name is taken.
    """
    if document["name"] in [meal["name"] for meal in homes.meals(name)]:
        raise TakenError(f"there is a meal {document['name']!r} already; PUT it to replace it", pointer="/name")
    stored, _ = plan_meal(name, document, homes=homes, if_match=None)
    return stored


def change_meals(name: str, override: str, document: Document, *, homes: Homes) -> tuple[Stored, bool]:
    """Keep a one-off change of the schedule.

    Raises
    ------
    DocumentError
        A meal that is not in the schedule, or an absence that ends before it begins.
    """
    change_from(document)
    if "meal" in document:
        _known(document["meal"], [meal["name"] for meal in homes.meals(name)], "/meal")
    return homes.put_override(name, override, document | {"id": override})


def post_weather(name: str, days: list[Document], *, homes: Homes) -> None:
    """Keep the posted daily forecast.

    Raises
    ------
    DocumentError
        The same day twice.
    """
    zone_of(homes.get(name).document["time_zone"])
    dates = [day["date"] for day in days]
    for place, date in enumerate(dates):
        if date in dates[:place]:
            raise DocumentError(f"date {date} is there twice; send each day once", pointer=f"/{place}/date")
    homes.put_weather(name, sorted(days, key=lambda day: str(day["date"])))
