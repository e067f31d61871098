"""The other fuel in the house: how much of it the meals will take, when first, and when to order more."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

import numpy as np

from models.errors import Inconsistent, within
from models.fuels import fuel, fuel_needed
from models.reckoning import Reckoning, coming, is_sure, quantile
from models.units import Bools, Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class Backup:
    """A backup fuel.

    `on_hand_kg` is what the bottle or the pile holds: None where nobody knows, and for electricity. `lead_d` is how
    long a new bottle takes to come, `efficiency` the share of its heat that reaches the pan.
    """

    fuel: str = "lpg"
    on_hand_kg: float | None = None
    lead_d: float = 0.0
    efficiency: float = 0.55

    def __post_init__(self) -> None:
        fuel(self.fuel)
        within("lead_d", self.lead_d, 0.0, 365.0)
        within("efficiency", self.efficiency, 0.02, 1.0)
        if self.on_hand_kg is not None:
            within("on_hand_kg", self.on_hand_kg, 0.0, 100_000.0)
            if self.unit == "kWh":
                raise Inconsistent("on_hand_kg must be left out for electricity, which is not kept", field="on_hand_kg")

    @property
    def unit(self) -> str:
        """Unit its amounts are told in, kg or kWh."""
        return fuel(self.fuel).unit


@dataclass(frozen=True, slots=True, kw_only=True)
class BackupMeal:
    """One planned meal that gas may not carry: the odds of it, and the useful heat it then lacks (median)."""

    meal: str
    start_d: float
    probability: float
    heat_mj: float


@dataclass(frozen=True, slots=True, kw_only=True)
class BackupOutlook:
    """When the backup is needed, how much of it, and whether the bottle lasts; amounts in `unit`.

    `first_backup_date`, `first_backup_meal` and `days_until_backup` are of one meal: the first by which, more likely
    than not, one has needed the backup. None stands for "not within the horizon", or for a bottle of which nothing is
    known. No mark is the median over paths, dates included; `_q10` is the early one. `order_by_date` counts back from
    the day on which the bottle is empty in the care level's bad case, and is never before today.
    """

    first_backup_date: date | None
    first_backup_meal: str | None
    days_until_backup: float | None
    backup_probability: float
    first_backup_date_q10: date | None
    fuel: str
    unit: str
    backup: float
    backup_q90: float
    on_hand_kg: float | None
    bottle_empty_date: date | None
    order_by_date: date | None
    meals: tuple[BackupMeal, ...]
    horizon_d: float
    summary: str


def lacking_mj(told: Reckoning) -> Floats:
    """Heat missing in the pans where gas fell short, shape (paths, servings). [MJ]"""
    net_mj = np.broadcast_to(told.mj_per_sm3, len(told.run.shortfall_sm3))[:, None]
    return np.asarray(told.run.shortfall_sm3 * net_mj * told.efficiency)


LEAST_ODDS = 0.005  # smaller ones are none
LEAST_AMOUNT = 0.01  # kg or kWh; nobody weighs less
USUAL_CARE = 0.1


def backup_amount(told: Reckoning, backup: Backup) -> Floats:
    """Fuel that brings the missing heat to the pans, shape (paths, servings). [kg or kWh]"""
    return fuel_needed(backup.fuel, lacking_mj(told), efficiency=backup.efficiency)


def backup_outlook(told: Reckoning, backup: Backup) -> BackupOutlook:
    """Outlook on the backup fuel over the whole balance.

    Parameters
    ----------
    told : Reckoning
    backup : Backup

    Returns
    -------
    BackupOutlook
    """
    times_d, total = backup_times_d(told, backup), backup_amount(told, backup).sum(axis=1)
    first_d, now_d = times_d["lacks"], float(told.edges_d[0])
    median_d = told.when_d("lacks", first_d, 0.5)
    empty_d, order_d = _bottle(told, backup, times_d)
    probability = float(np.isfinite(first_d).mean())
    meal, needed = _meal_at(told, median_d), quantile(total, 0.9)
    return BackupOutlook(
        first_backup_date=told.day_of(median_d),
        first_backup_meal=meal,
        days_until_backup=None if median_d is None else median_d - now_d,
        backup_probability=probability,
        first_backup_date_q10=told.day_of(told.when_d("lacks", first_d, 0.1)),
        fuel=backup.fuel,
        unit=backup.unit,
        backup=quantile(total, 0.5),
        backup_q90=needed,
        on_hand_kg=backup.on_hand_kg,
        bottle_empty_date=told.day_of(empty_d),
        order_by_date=told.day_of(order_d),
        meals=_meals(told),
        horizon_d=float(told.edges_d[-1]) - now_d,
        summary=_first_need(told, meal, median_d, probability) + _stock(told, backup, needed, order_d),
    )


def backup_times_d(told: Reckoning, backup: Backup) -> dict[str, Floats]:
    """When the backup first matters, by path, infinite where it does not, shape (paths,) each. [d]

    `lacks`: a planned meal is cooked that gas does not carry whole; `bottle`: what is on hand is used up, left out
    where nobody knows what that is.
    """
    times_d = {"lacks": told.lacks_d()}
    if backup.on_hand_kg is not None:
        used = np.cumsum(backup_amount(told, backup), axis=1)
        times_d["bottle"] = told.first_time_d(used > backup.on_hand_kg, told.starts_d())
    return times_d


def _bottle(told: Reckoning, backup: Backup, times_d: Mapping[str, Floats]) -> tuple[float | None, float | None]:
    """When the bottle is empty in the care level's bad case, and when to order by. [d]"""
    if "bottle" not in times_d:
        return None, None
    empty_d = told.when_d("bottle", times_d["bottle"], told.care_level)
    return empty_d, None if empty_d is None else max(empty_d - backup.lead_d, float(told.edges_d[0]))


def _meal_at(told: Reckoning, start_d: float | None) -> str | None:
    """The planned meal that starts at a time; of several the one that lacks gas most often."""
    odds, servings = told.lacks().mean(axis=0).tolist(), told.run.timeline.servings
    at_once = [index for index, one in enumerate(servings) if one.planned and one.start_d == start_d]
    return servings[max(at_once, key=odds.__getitem__)].meal if at_once else None


def may_lack(told: Reckoning) -> Bools:
    """Which planned meals' odds of lacking gas exceed the care level, shape (servings,); holds to what was said."""
    odds = told.lacks().mean(axis=0)
    found = []
    for serving, probability in zip(told.run.timeline.servings, odds.tolist(), strict=True):
        said = told.before.lacks.get(serving.key) if serving.planned else None
        found.append(not is_sure(1.0 - probability, told.care_level, before=None if said is None else not said))
    return np.array(found, dtype=bool)


def _meals(told: Reckoning) -> tuple[BackupMeal, ...]:
    """Planned meals that may lack gas."""
    lacks, heat = told.lacks(), lacking_mj(told)
    return tuple(
        BackupMeal(
            meal=told.run.timeline.servings[index].meal,
            start_d=told.run.timeline.servings[index].start_d,
            probability=float(lacks[:, index].mean()),
            heat_mj=quantile(heat[lacks[:, index], index], 0.5),
        )
        for index in np.flatnonzero(may_lack(told)).tolist()
    )


def _first_need(told: Reckoning, meal: str | None, median_d: float | None, probability: float) -> str:
    days = coming(told.edges_d[-1] - told.edges_d[0])
    if not told.planned().any():
        return f"No meal is planned in {days}"
    if meal is None or median_d is None:
        odds = f"; odds of needing it {probability:.0%}" if probability >= LEAST_ODDS else ""
        return f"No backup is likely to be needed in {days}{odds}"
    return f"The backup is likely needed by {meal[:40]} on {told.plain_date(median_d)}"


def _stock(told: Reckoning, backup: Backup, needed: float, order_d: float | None) -> str:
    """What to keep and whether to order; why, where the backup is not likely to be needed at all."""
    need = _to_keep(told, backup, needed)
    if backup.on_hand_kg is None:
        return f"{need}."
    stock = f"the {backup.on_hand_kg:g} kg in the house" if backup.on_hand_kg >= LEAST_AMOUNT else ""
    if order_d is None:
        days = coming(told.edges_d[-1] - told.edges_d[0])
        return f"{need}; {f'{stock} will last {days}' if stock else 'none is in the house'}."
    order = f"{need}; order by {told.plain_date(order_d)}"
    if told.when_d("lacks", told.lacks_d(), 0.5) is not None or not told.planned().any():
        return f"{order}."
    often = "one time in ten" if told.care_level == USUAL_CARE else f"with odds of {told.care_level:.0%}"
    return f"{order}: {often} {f'{stock} will not last' if stock else 'some is needed, and none is in the house'}."


def _to_keep(told: Reckoning, backup: Backup, needed: float) -> str:
    other = "" if told.planned().any() else " for the usual cooking"
    if needed <= 0.0:
        return ""
    if needed < LEAST_AMOUNT:
        return f"; next to nothing is needed{other}"
    return f"; keep {_amount(needed)} {backup.unit} ready{other}"


def _amount(amount: float) -> str:
    """An amount as one weighs it: to two digits, and no finer than needed where there are more."""
    return f"{amount:.2g}" if amount < 9.95 else f"{amount:.0f}"
