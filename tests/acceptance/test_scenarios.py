"""Days a household would recognise, worked by hand in fixtures/scenarios, through meals, balance and answers.

The kitchen is plain on purpose: burners take ten litres of dry standard gas a minute, the gauge shows standard gas,
every path is the same. What a file does not say is the default below.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date, datetime, time
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from models.backup import Backup, BackupOutlook, backup_outlook
from models.budget import GasBudget, gas_budget
from models.burner import Burner, GasFlowRating, GasSupply
from models.calendar import from_days, local_midnights
from models.fuels import fuel
from models.habits import Habits, MealHabit, learn_habits
from models.holder import GasHolder
from models.lasting import StorageOutlook, storage_outlook
from models.level import assumed, cooked_since
from models.log import Log, Readings
from models.meals import Absence, Meal, MealPlan, Override, servings
from models.reckoning import Reckoning
from models.storage import Conditions, StorageRun, Wanted, lay_timeline, run_balance
from models.stove import Burning, Dish, Stove, planned_use
from models.units import STANDARD_PRESSURE_PA
from models.venting import VentingOutlook, venting_outlook
from tests.acceptance.scenarios import SCENARIOS, given_by

DINNER_KG = 0.3 * 20.0 * 0.5 / (0.55 * fuel("lpg").net_mj_per_unit)  # of LPG, for a dinner of 0.3 m3


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """Everything the models say of a scenario."""

    zone: ZoneInfo
    asked_at_d: float
    assumed: list[str]
    run: StorageRun
    budget: GasBudget
    storage: StorageOutlook
    backup: BackupOutlook
    venting: VentingOutlook
    habit: Callable[[], MealHabit]

    def moment(self, time_d: float | None) -> datetime | None:
        return None if time_d is None else from_days(time_d).astimezone(self.zone)


def stove() -> Stove:
    rating = GasFlowRating(gas_flow_l_per_h=600.0, methane_fraction=0.6, gauge_pa=800.0)
    supply = GasSupply(methane_fraction=0.6, gauge_pa=800.0, atmosphere_pa=STANDARD_PRESSURE_PA, humidity=0.0)
    return Stove(burners=tuple(Burner(name=name, rating=rating) for name in ("ring", "plate")), supply=supply)


def meal(given: dict[str, Any]) -> Meal:
    dishes = tuple(
        Dish(burner=dish["burner"], steps=(Burning(minutes=dish["fry_min"]),)) for dish in given.get("dishes", [])
    )
    return Meal(
        name=given["name"],
        starts_on=date(2026, 1, 1),
        at=time.fromisoformat(given["time"]),
        rrule=given.get("rrule", "FREQ=DAILY"),
        burner=None if dishes else "ring",
        flame_min=given.get("flame_min"),
        dishes=dishes,
    )


def change(given: dict[str, Any]) -> Override | Absence:
    if "from" in given:
        return Absence(first=given["from"], last=given["to"])
    return Override(meal=given["meal"], day=given["date"], factor=0.0 if given.get("skip") else given["factor"])


def log_before(midnight_d: float, minutes: list[float]) -> Log:
    """Dinners at seven on the days before the scenario, beside a daily lunch that shows that the log was kept."""
    days = np.arange(-len(minutes), 0.0)
    rows = [(midnight_d + day + 19.0 / 24.0, spent) for day, spent in zip(days, minutes, strict=True) if spent]
    kept = [(midnight_d + day + 6.0 / 24.0, 1.0) for day in days]
    time_d, value = (np.array(column) for column in zip(*sorted(rows + kept), strict=True)) if minutes else ([], [])
    count = len(time_d)
    cooking = Readings(
        time_d=np.asarray(time_d, dtype=float),
        value=np.asarray(value, dtype=float),
        item=np.full(count, "ring"),
        meal=np.full(count, ""),
        flame_fraction=np.ones(count),
        water_l=np.full(count, np.nan),
        from_c=np.full(count, np.nan),
        id=np.full(count, ""),
    )
    return Log(by_quantity={"cooking": cooking})


def balance(given: dict[str, Any], plan: MealPlan, midnights: np.ndarray) -> StorageRun:
    holder = given["holder"]
    timeline = lay_timeline(
        midnights[0], midnights[-1], servings(plan, given["first"], given["days"], stove()), extra_d=midnights
    )
    hours = np.diff(timeline.edges_d) * 24.0
    digesters = given.get("digesters") or [given["production"]]
    of_day_h = (timeline.edges_d[:-1] - midnights[0]) * 24.0 % 24.0
    afternoon = (of_day_h > 11.99) & (of_day_h < 17.99)
    capacity = np.where(afternoon, holder.get("afternoon_capacity_m3", holder["capacity_m3"]), holder["capacity_m3"])
    need = planned_use(timeline.servings, stove()).sm3
    return run_balance(
        timeline,
        start_sm3=holder["start_m3"],
        made_sm3=sum(one["hourly_m3"] for one in digesters) * hours[None, :],
        wanted=Wanted(need_sm3=need, cooked=np.ones(need.shape, dtype=bool)),
        conditions=Conditions(
            capacity_sm3=capacity,
            reserve_sm3=holder.get("reserve_m3", 0.0),
            leaked_sm3=holder.get("leak_m3_per_h", 0.0) * hours,
        ),
    )


def play(given: dict[str, Any]) -> Outcome:
    zone, holder = ZoneInfo(given["zone"]), given["holder"]
    plan = MealPlan(
        zone=zone,
        meals=tuple(meal(one) for one in given["meals"]),
        changes=tuple(change(one) for one in given["changes"]),
    )
    midnights = local_midnights(given["first"], given["days"], zone)
    run = balance(given, plan, midnights)
    told = Reckoning(
        run=run,
        zone=zone,
        m3_per_sm3=np.ones(len(run.timeline.edges_d)),
        mj_per_sm3=np.asarray(20.0),
        flame_sm3_per_h=np.asarray(0.6),
        efficiency=np.asarray(0.5),
    )
    bottle = given["backup"].get("on_hand_dinners")
    backup = Backup(
        on_hand_kg=None if bottle is None else bottle * DINNER_KG, lead_d=given["backup"].get("lead_d", 0.0)
    )
    described = GasHolder(capacity_m3=holder["capacity_m3"], reserve_m3=holder.get("reserve_m3", 0.0))
    log, asked_at_d = log_before(midnights[0], given["log"]), midnights[0] + given["asked_at_h"] / 24.0
    past = cooked_since(plan, log, stove(), Habits(), between_d=(midnights[0], asked_at_d))
    return Outcome(
        zone=zone,
        asked_at_d=asked_at_d,
        assumed=[one.meal for one in assumed(plan, stove(), past)],
        run=run,
        budget=gas_budget(told, given["first"], backup=backup),
        storage=storage_outlook(told, described),
        backup=backup_outlook(told, backup),
        venting=venting_outlook(told, methane_fraction=0.6),
        habit=lambda: learn_habits(plan, log, stove(), holder=described, as_of_d=midnights[0]).of(plan.meals[0].name),
    )


FOUND: dict[str, Callable[[Outcome], Any]] = {
    "vented_m3": lambda out: out.run.vented_sm3.sum(),
    "burned_m3": lambda out: out.run.burned_sm3.sum(),
    "leaked_m3": lambda out: out.run.leaked_sm3.sum(),
    "shortfall_m3": lambda out: out.run.shortfall_sm3.sum(),
    "end_m3": lambda out: out.run.level_sm3[0, -1],
    "then_m3": lambda out: float(np.interp(out.asked_at_d, out.run.timeline.edges_d, out.run.level_sm3[0])),
    "assumed_meals": lambda out: out.assumed,
    "on_gas": lambda out: out.run.on_gas[0].tolist(),
    "hours": lambda out: round((out.run.timeline.edges_d[-1] - out.run.timeline.edges_d[0]) * 24.0),
    "meal_starts": lambda out: [out.moment(one.start_d) for one in out.run.timeline.servings],
    "minutes": lambda out: [round((one.end_d - one.start_d) * 1440.0) for one in out.run.timeline.servings],
    "budget_m3": lambda out: out.budget.budget_m3,
    "need_m3": lambda out: out.budget.need_m3,
    "margin_m3": lambda out: out.budget.margin_q10_m3,
    "covered": lambda out: out.budget.covered,
    "verdicts": lambda out: [one.verdict for one in out.budget.meals],
    "usable_m3": lambda out: out.storage.usable_m3,
    "days_left": lambda out: out.storage.days_left,
    "empty_at": lambda out: out.moment(out.storage.empty_at_d),
    "first_backup_date": lambda out: out.backup.first_backup_date,
    "first_backup_meal": lambda out: out.backup.first_backup_meal,
    "backup_dinners": lambda out: out.backup.backup / DINNER_KG,
    "bottle_empty_date": lambda out: out.backup.bottle_empty_date,
    "order_by_date": lambda out: out.backup.order_by_date,
    "first_venting_at": lambda out: out.moment(out.venting.first_venting_at_d),
    "vented_minutes": lambda out: out.venting.flame_min,
}


def checks(outcome: Outcome, expected: dict[str, Any]) -> Iterator[tuple[str, Any, Any]]:
    """Name, figure found and figure expected; an expectation nobody knows how to check is an error."""
    for name, value in expected.items():
        if name == "habit":
            yield from ((f"habit {key}", getattr(outcome.habit(), key), figure) for key, figure in value.items())
        else:
            yield name, FOUND[name](outcome), value


def as_expected(value: Any) -> Any:
    if isinstance(value, str) and "T" in value:
        return datetime.fromisoformat(value)
    if isinstance(value, list):
        return [as_expected(one) for one in value]
    return pytest.approx(value, abs=2e-6) if isinstance(value, float) else value  # the files give seven digits


@pytest.mark.parametrize("path", SCENARIOS, ids=lambda path: path.stem)
def test_the_day_goes_as_worked_by_hand(path: Path) -> None:
    given = given_by(path)
    outcome = play(given)

    assert given["why"].endswith(".")
    for name, found, expected in checks(outcome, given["expect"]):
        assert found == as_expected(expected), name


@pytest.mark.parametrize("path", SCENARIOS, ids=lambda path: path.stem)
def test_no_gas_is_lost_or_invented_in_any_scenario(path: Path) -> None:
    run = play(given_by(path)).run

    came = run.level_sm3[:, 0] + run.made_sm3.sum(axis=1)
    went = run.burned_sm3.sum(axis=1) + run.vented_sm3.sum(axis=1) + run.leaked_sm3.sum(axis=1) + run.level_sm3[:, -1]
    np.testing.assert_allclose(came, went, atol=1e-12)


def test_there_are_scenarios() -> None:
    assert len(SCENARIOS) >= 15
