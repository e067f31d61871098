"""What a household cooks and when: dishes, meals, the changes to them, and the servings they come to."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from typing import TypeAlias
from zoneinfo import ZoneInfo

from models.calendar import to_days
from models.errors import Inconsistent, within
from models.schedule import parse_rule, rule_dates
from models.stove import Burning, Dish, Stove, cooking_min
from models.units import MINUTES_PER_DAY

UNPLANNED = "unplanned"
LOGGED = "logged"
"""Names that servings outside the plan go by: tea that may be made, and cooking that the log tells of."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Meal:
    """A recurring meal: either minutes of flame on one burner, or dishes.

    `starts_on`, `exdates` and `rdates` are the household's own dates, `at` its clock time; without a rule the meal is
    cooked on `starts_on` and `rdates` alone. `movable` lets the planner serve it at another hour.
    """

    name: str
    starts_on: date
    at: time
    rrule: str | None = None
    exdates: tuple[date, ...] = ()
    rdates: tuple[date, ...] = ()
    burner: str | None = None
    flame_min: float | None = None
    flame_fraction: float = 1.0
    dishes: tuple[Dish, ...] = ()
    movable: bool = False

    def __post_init__(self) -> None:
        if self.name in ("", UNPLANNED, LOGGED):
            raise Inconsistent(f"name is {self.name!r}, must be a word of the household's own", field="name")
        if self.rrule is not None:
            parse_rule(self.rrule)
        by_flame = self.burner is not None and self.flame_min is not None
        if by_flame == bool(self.dishes) or (self.burner is None) != (self.flame_min is None):
            raise Inconsistent("dishes must be given, or burner with flame_min, and not both", field="dishes")
        _ = self.courses

    @property
    def courses(self) -> tuple[Dish, ...]:
        """The meal as dishes, however it was described."""
        if self.burner is None or self.flame_min is None:
            return self.dishes
        return (Dish(burner=self.burner, steps=(Burning(minutes=self.flame_min, flame_fraction=self.flame_fraction),)),)

    def dates(self, first: date, last: date, zone: ZoneInfo) -> list[date]:
        """Days between two dates, both included, on which the meal is planned."""
        days = set(self.rdates)
        if self.rrule is None:
            days.add(self.starts_on)
        else:
            rule = parse_rule(self.rrule)
            days |= set(rule_dates(rule, starts_on=self.starts_on, at=self.at, zone=zone, between=(first, last)))
        return sorted(day for day in days - set(self.exdates) if first <= day <= last)


@dataclass(frozen=True, slots=True, kw_only=True)
class Override:
    """One day's change to one meal: so many times the usual (guests, a roast), or skipped with a factor of 0."""

    meal: str
    day: date
    factor: float

    def __post_init__(self) -> None:
        within("factor", self.factor, 0.0, 20.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Absence:
    """Days away, the first and the last included: no meal is cooked, and no digester fed but as the log says."""

    first: date
    last: date

    def __post_init__(self) -> None:
        if self.last < self.first:
            raise Inconsistent(f"to is {self.last}, must not be before from, {self.first}", field="to")


Change: TypeAlias = Override | Absence


@dataclass(frozen=True, slots=True, kw_only=True)
class MealPlan:
    """A household's schedule and the one-off changes to it; of two overrides of one meal on one day the later holds."""

    zone: ZoneInfo
    meals: tuple[Meal, ...] = ()
    changes: tuple[Change, ...] = ()

    def __post_init__(self) -> None:
        names = [meal.name for meal in self.meals]
        for name in names:
            if names.count(name) > 1:
                raise Inconsistent(f"name {name!r} is given twice, must be told apart by name", field="name")
        for change in self.changes:
            if isinstance(change, Override) and change.meal not in names:
                raise Inconsistent(
                    f"meal is {change.meal!r}, must be one of {', '.join(names) or 'the meals, and there is none'}",
                    field="meal",
                )

    def away(self, day: date) -> bool:
        """Whether nobody is at home on a day."""
        return any(isinstance(one, Absence) and one.first <= day <= one.last for one in self.changes)

    def begun_by(self, day: date) -> MealPlan:
        """The plan without the absences that begin after a day: nobody need have told of them yet."""
        begun = tuple(one for one in self.changes if not isinstance(one, Absence) or one.first <= day)
        return replace(self, changes=begun)


@dataclass(frozen=True, slots=True, kw_only=True)
class Serving:
    """One meal on one day. `factor` multiplies what its dishes use; `planned` is false for use outside the plan.

    `part` is how much of it falls into the time looked at: less than 1 where it had begun before. `overstated` is how
    many times its gas was written down, where those minutes cannot be right, else 1. One `missed` is not in the log,
    though a later meal is.
    """

    meal: str
    day: date
    start_d: float
    end_d: float
    factor: float = 1.0
    dishes: tuple[Dish, ...] = ()
    movable: bool = False
    planned: bool = True
    part: float = 1.0
    overstated: float = 1.0
    missed: bool = False

    @property
    def key(self) -> tuple[str, float]:
        """What tells it from every other: several meals may begin at one moment."""
        return self.meal, self.start_d


def servings(plan: MealPlan, first: date, days: int, stove: Stove) -> tuple[Serving, ...]:
    """Lay a meal plan out over days.

    Parameters
    ----------
    plan : MealPlan
    first : date
        The household's first day.
    days : int
        Number of days, from 0.
    stove : Stove
        Burners, pans and gas, which decide how long dishes take.

    Returns
    -------
    tuple of Serving, sorted by start; skipped meals and days away are left out.

    Raises
    ------
    Inconsistent
        Where a dish names a burner or pan that the stove lacks.

    Notes
    -----
    A clock time that a spring change leaves out is read with the offset before it, one that occurs twice in autumn is
    the first, as RFC 5545 has it.
    """
    last = first + timedelta(days=days - 1)
    found: list[Serving] = []
    for meal in plan.meals:
        dishes = meal.courses
        usual_d = cooking_min(dishes, stove) / MINUTES_PER_DAY
        for day in meal.dates(first, last, plan.zone):
            factor = 0.0 if plan.away(day) else _factor(plan.changes, meal.name, day)
            if factor > 0.0:
                start_d = to_days(datetime.combine(day, meal.at, tzinfo=plan.zone))
                found.append(
                    Serving(
                        meal=meal.name,
                        day=day,
                        start_d=start_d,
                        end_d=start_d + factor * usual_d,
                        factor=factor,
                        dishes=dishes,
                        movable=meal.movable,
                    )
                )
    return tuple(sorted(found, key=lambda serving: (serving.start_d, serving.meal)))


def _factor(changes: Sequence[Change], meal: str, day: date) -> float:
    factor = 1.0
    for change in changes:
        if isinstance(change, Override) and change.meal == meal and change.day == day:
            factor = change.factor
    return factor
