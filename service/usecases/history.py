"""What a forecast was made of: a household's documents, its log and its fit as they stood, to answer from once more."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from datetime import datetime
from typing import Any, Protocol

from models.calendar import to_days
from models.holder import GasHolder
from models.log import Log
from service.marks import Differences, Mark
from service.usecases.situation import Fits, Homes, Kept, KeptFit, Logs, Situation, situation


class History(Protocol):
    """Where the past of households is kept."""

    def keep(self, name: str, documents: Mapping[str, Any], *, now: datetime) -> dict[str, str]:
        """Keep documents; the hash of each by the name given to it."""

    def document(self, name: str, hashed: str) -> Any:
        """A document by its hash."""

    def mark(self, name: str, *, now: datetime) -> Mark:
        """How far the log has come."""

    def log(self, name: str, holder: GasHolder | None, until_d: float, *, stood: Mark) -> Log:
        """The log as it stood at a mark, up to a moment."""

    def differences(self, name: str, first: Mark, last: Mark) -> Differences:
        """What became of the log between two marks."""

    def fit(self, name: str, fit_id: int) -> KeptFit:
        """A fit by its number."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Inputs:
    """Everything a forecast is made of: the moment, the log up to a mark, the documents by name, the fit."""

    as_of: datetime
    mark: Mark
    documents: Mapping[str, Any]
    fit: KeptFit | None


def inputs_now(name: str, as_of: datetime, now: datetime, *, homes: Homes, fits: Fits, history: History) -> Inputs:
    """What a forecast that is issued now is made of."""
    return Inputs(
        as_of=as_of,
        mark=history.mark(name, now=now),
        documents={
            "description": homes.get(name).document,
            "meals": homes.meals(name),
            "overrides": homes.overrides(name),
            "weather": homes.weather(name),
        },
        fit=fits.newest(name, to_days(as_of)),
    )


def inputs_document(name: str, inputs: Inputs, now: datetime, *, history: History) -> dict[str, Any]:
    """As plain JSON, the documents by their hash; they are kept."""
    return {
        "as_of": inputs.as_of.isoformat(),
        "mark": asdict(inputs.mark),
        "documents": history.keep(name, inputs.documents, now=now),
        "fit": None if inputs.fit is None else inputs.fit.id,
    }


def inputs_from(name: str, document: Mapping[str, Any], *, history: History) -> Inputs:
    """What `inputs_document` wrote."""
    fit = document["fit"]
    return Inputs(
        as_of=datetime.fromisoformat(document["as_of"]),
        mark=Mark(**document["mark"]),
        documents={given: history.document(name, hashed) for given, hashed in document["documents"].items()},
        fit=None if fit is None else history.fit(name, fit),
    )


def situation_from(name: str, inputs: Inputs, *, logs: Logs) -> Situation:
    """The household as inputs have it; a log that may run on past the moment is cut there."""
    return situation(name, inputs.as_of, homes=_Documents(inputs.documents), logs=logs, fits=_OneFit(inputs.fit))


@dataclass(frozen=True, slots=True)
class PastLog:
    """The log as it stood at a mark."""

    history: History
    mark: Mark

    def log(self, name: str, holder: GasHolder | None, until_d: float | None = None) -> Log:
        """Up to a moment."""
        return self.history.log(name, holder, float("inf") if until_d is None else until_d, stood=self.mark)


@dataclass(frozen=True, slots=True)
class _Description:
    document: dict[str, Any]


@dataclass(frozen=True, slots=True)
class _Documents:
    """A household of which these are the documents."""

    by_name: Mapping[str, Any]

    def get(self, name: str) -> Kept:
        return _Description(self.by_name["description"])

    def meals(self, name: str) -> list[dict[str, Any]]:
        return list(self.by_name["meals"])

    def overrides(self, name: str) -> list[dict[str, Any]]:
        return list(self.by_name["overrides"])

    def weather(self, name: str) -> Any:
        return self.by_name["weather"]


@dataclass(frozen=True, slots=True)
class _OneFit:
    """The only fit there is."""

    kept: KeptFit | None

    def newest(self, name: str, until_d: float | None = None) -> KeptFit | None:
        return self.kept
