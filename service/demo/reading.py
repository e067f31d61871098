"""An invented household in the models' own terms, for tests and studies that need no database."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from models.calendar import SECONDS_PER_DAY, to_days
from models.household import Household
from models.log import Log
from models.meals import MealPlan
from service.demo.world import World
from service.documents import household_from, meal_plan_from
from service.store.columns import columns_of


def household_of(world: World) -> Household:
    """The household as it describes itself."""
    return household_from(world.description)


def plan_of(world: World) -> MealPlan:
    """Its weekly schedule with the absences."""
    return meal_plan_from(world.meals, world.overrides, household_of(world).zone)


def log_of(world: World) -> Log:
    """Its whole log in columns; a reading's id is the number of its row."""
    rows: list[tuple[Any, ...]] = []
    for number, row in enumerate(world.readings):
        taken_s = round(to_days(datetime.fromisoformat(row["taken_at"])) * SECONDS_PER_DAY)
        flame_pct = float(row["flame_pct"] or 100.0)
        value, unit = float(row["value"]), row["unit"]
        said = (row["item"], row["meal"], flame_pct, None, None, str(number), False)
        rows.append((row["quantity"], taken_s, value, unit, *said))
    rows.sort(key=lambda row: row[:2])
    return columns_of(rows, household_of(world).holder)
