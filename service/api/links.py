"""Which operation goes on from the answer of which, and with what of it: told in the contract as links."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any, NamedTuple

Document = dict[str, Any]

IF_MATCH = "If-Match"
KEPT = ("200", "201")
"""Statuses of answers that name what they are about, but for a few operations."""


class Onward(NamedTuple):
    """Where an answer leads: a part of the path, where its value stands, and the operations that take it.

    `statuses` are those of answers that name what they are about; `tagged` says whether their ETag is that one's own.
    """

    part: str
    value: str
    operations: tuple[str, ...]
    statuses: tuple[str, ...] = KEPT
    tagged: bool = True


MEAL, OVERRIDE, READING, IMPORT, FORECAST, HOUSEHOLD = (
    ("get_meal", "put_meal", "delete_meal"),
    ("get_override", "put_override", "delete_override"),
    ("get_reading", "put_reading", "get_history", "delete_reading"),
    ("get_import", "undo_import"),
    ("get_forecast_as_issued", "get_forecast_changes"),
    ("get_description", "put_description", "delete_description"),
)
LINKS: Mapping[str, Onward] = {
    "put_description": Onward("household", "$request.path.household", HOUSEHOLD),
    "add_meal": Onward("meal", "$response.body#/name", MEAL),
    "put_meal": Onward("meal", "$response.body#/name", MEAL),
    "add_override": Onward("override", "$response.body#/id", OVERRIDE),
    "put_override": Onward("override", "$response.body#/id", OVERRIDE),
    "add_readings": Onward("reading_id", "$response.body#/id", READING),
    "put_reading": Onward("reading_id", "$response.body#/id", READING),
    "list_readings": Onward("reading_id", "$response.body#/readings/0/id", READING, tagged=False),
    "list_imports": Onward("import_id", "$response.body#/imports/0/id", IMPORT, tagged=False),
    "import_file": Onward("import_id", "$response.body#/id", IMPORT, statuses=("201",)),
    "list_forecasts": Onward("forecast_id", "$response.body#/forecasts/0/id", FORECAST, tagged=False),
}


def link(document: Document) -> None:
    """Tell in an OpenAPI document, by their ids, which operations go on from an answer."""
    operations = {one["operationId"]: one for one in _operations(document)}
    for name, onward in LINKS.items():
        links = {target: _link(operations[target], onward) for target in onward.operations}
        for status, answer in operations[name]["responses"].items():
            if status in onward.statuses:
                answer["links"] = links


def _link(target: Document, onward: Onward) -> Document:
    parameters = {"path.household": "$request.path.household", f"path.{onward.part}": onward.value}
    if onward.tagged and any(one["name"] == IF_MATCH for one in target.get("parameters", [])):
        parameters[f"header.{IF_MATCH}"] = "$response.header.ETag"
    return {"operationId": target["operationId"], "parameters": parameters, "description": target["summary"]}


def _operations(document: Document) -> Iterator[Document]:
    for item in document["paths"].values():
        yield from (part for part in item.values() if isinstance(part, dict))
