"""Everything one household's answers are computed from, as it stood at one moment."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from typing import Any, Protocol

import numpy as np

from models.calendar import midnight, to_days
from models.calibration import burners_as_tested
from models.holder import GasHolder
from models.household import Household
from models.log import Log
from models.meals import MealPlan
from models.production.values import FittedProduction
from models.quality import gas_quality
from models.temperature import PostedWeather, air_temperature
from service.documents import household_from, meal_plan_from

TESTS = ("methane", "carbon_dioxide", "boil_test")
"""Readings that tell of the gas or a burner itself."""


class Kept(Protocol):
    """A stored document."""

    @property
    def document(self) -> dict[str, Any]:
        """The document, as the contract writes it."""


class Documents(Protocol):
    """Where descriptions, schedules and posted weather are read."""

    def get(self, name: str) -> Kept:
        """The description; refused where there is none."""

    def meals(self, name: str) -> list[dict[str, Any]]:
        """Every meal."""

    def overrides(self, name: str) -> list[dict[str, Any]]:
        """Every one-off change."""

    def weather(self, name: str) -> Any:
        """The daily forecast last posted."""


class Homes(Documents, Protocol):
    """Where they are kept."""

    def version(self, name: str) -> int | None:
        """Grows with every write to the household; None where there is none."""


class Logs(Protocol):
    """Where the log is kept."""

    def log(self, name: str, holder: GasHolder | None, until_d: float | None = None) -> Log:
        """The log in columns, up to a moment."""


class KeptFit(Protocol):
    """A fit as stored."""

    @property
    def id(self) -> int:
        """Its number."""

    @property
    def fit(self) -> dict[str, Any]:
        """The fit as plain JSON."""


class Fits(Protocol):
    """Where fits are kept."""

    def newest(self, name: str, until_d: float | None = None) -> KeptFit | None:
        """The newest fit made on no reading later than a moment."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Situation:
    """A household with its schedule, log, posted weather and newest fit at `as_of_d`. [d]"""

    name: str
    household: Household
    plan: MealPlan
    log: Log
    posted: PostedWeather | None
    fitted: FittedProduction | None
    fit_id: int | None
    as_of_d: float


def posted_weather(days: Sequence[Mapping[str, Any]] | None, household: Household) -> PostedWeather | None:
    """The posted daily forecast on the household's own days."""
    if not days:
        return None
    dates = [date.fromisoformat(str(day["date"])) for day in days]
    columns = {
        name: np.array([np.nan if day.get(name) is None else float(day[name]) for day in days])
        for name in ("mean_c", "min_c", "max_c")
    }
    return PostedWeather(
        start_d=np.array([midnight(one, household.zone) for one in dates]),
        end_d=np.array([midnight(one + timedelta(days=1), household.zone) for one in dates]),
        **columns,
    )


def with_bottle(described: Household, document: Mapping[str, Any], log: Log) -> Household:
    """The household with what is left of its backup fuel, where it says when it last looked."""
    backup, looked_at = described.backup, (document.get("backup") or {}).get("on_hand_at")
    if backup.on_hand_kg is None or looked_at is None:
        return described
    used = log.of("backup_used").between(to_days(datetime.fromisoformat(looked_at)), np.inf)
    left_kg = max(backup.on_hand_kg - float(used.value.sum()), 0.0)
    return replace(described, backup=replace(backup, on_hand_kg=left_kg))


def as_tested(described: Household, log: Log, posted: PostedWeather | None, as_of_d: float) -> Household:
    """The household with its gas and burners as its own tests have them, in place of what it says of them."""
    if not any(len(log.of(test)) for test in TESTS):
        return described
    household = replace(described, gas=gas_quality(described.gas, log, as_of_d))
    ambient = log.of("ambient_temperature")
    air = air_temperature(household.site, ambient, posted, as_of_d, zone=household.zone)
    return replace(household, burners=burners_as_tested(household, log, air=air))


def situation(name: str, as_of: datetime, *, homes: Documents, logs: Logs, fits: Fits) -> Situation:
    """A household as it stood at a moment: readings taken up to then, and the newest fit made on none later."""
    document = homes.get(name).document
    described = household_from(document)
    as_of_d = to_days(as_of)
    log = logs.log(name, described.holder, as_of_d)
    posted = posted_weather(homes.weather(name), described)
    household = as_tested(with_bottle(described, document, log), log, posted, as_of_d)
    kept = fits.newest(name, as_of_d)
    meals = homes.meals(name)
    known = {meal["name"] for meal in meals}
    # A change outlives the meal it was made for; it then changes nothing.
    changes = [one for one in homes.overrides(name) if "meal" not in one or one["meal"] in known]
    return Situation(
        name=name,
        household=household,
        plan=meal_plan_from(meals, changes, household.zone),
        log=log,
        posted=posted,
        fitted=FittedProduction.from_dict(kept.fit) if kept else None,
        fit_id=kept.id if kept else None,
        as_of_d=as_of_d,
    )
