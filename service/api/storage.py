"""How long the holder lasts, and when the backup is needed."""

from __future__ import annotations

from typing import Any

from flask import Response

from service.api.asking import ask
from service.api.contract import Blueprint
from service.api.examples_answers import BACKUP, STORAGE
from service.api.schemas.answers import BackupNeed, DaysQuery, StorageOutlook
from service.usecases.answers import backup_answer, storage_answer

blueprint = Blueprint(
    "storage",
    __name__,
    url_prefix="/v1/households/<string:household>",
    description="how long the holder lasts, and when the backup is needed",
)


@blueprint.get("/storage")
@blueprint.arguments(DaysQuery, location="query")
@blueprint.response(200, StorageOutlook, example=STORAGE)
def get_storage(query: dict[str, Any], household: str) -> Response:
    """How full the holder is, how long it lasts with and without new gas, when it is empty and when full."""
    return ask(household, "storage", StorageOutlook, storage_answer, as_of=query["as_of"], days=query["days"])


@blueprint.get("/backup")
@blueprint.arguments(DaysQuery, location="query")
@blueprint.response(200, BackupNeed, example=BACKUP)
def get_backup(query: dict[str, Any], household: str) -> Response:
    """When the backup is needed, for which meals, how much of it, and whether the bottle lasts."""
    return ask(household, "backup", BackupNeed, backup_answer, as_of=query["as_of"], days=query["days"])
