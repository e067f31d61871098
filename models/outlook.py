"""From a household's record to everything its answers are read off: gas to come, meals to cook, the holder between."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import timedelta

import numpy as np

from models.burner import gas_flow_sm3_per_h
from models.calendar import local_date, local_midnights
from models.gas import net_mj_per_sm3
from models.habits import demand, learn_habits, unplanned_servings
from models.household import Household
from models.ledger import cooked_gas, gas_use, sound_cooking, standard_per_wet, used_between
from models.meals import MealPlan, servings
from models.production.forecast import ProductionPaths, sample_paths
from models.production.record import Record
from models.production.values import ProductionState
from models.reckoning import Reckoning
from models.storage import Conditions, Timeline, Wanted, lay_timeline, run_balance, spread
from models.stove import Stove, Use, planned_use
from models.temperature import at
from models.units import Floats

NEAR_DAYS, NEAR_PATHS = 14, 1000
FAR_PATHS = 400
METHANE_RANGE = (0.30, 0.85)


@dataclass(frozen=True, slots=True, kw_only=True)
class Outlook:
    """What is expected of one household from `as_of_d` on, over `days` whole days after today.

    `told` is the balance, None where the gauge was never read.
    `made` are the sample paths of gas made between `day_edges_d`; `day_m3_per_sm3` (days,) turns it into wet volume and
    `mj_per_sm3` (paths,) into heat.
    """

    household: Household
    as_of_d: float
    days: int
    basis: str
    last_level_d: float | None
    made: ProductionPaths
    day_edges_d: Floats
    day_m3_per_sm3: Floats
    mj_per_sm3: Floats
    timeline: Timeline
    wanted: Wanted
    told: Reckoning | None


def day_edges(household: Household, as_of_d: float, days: int) -> Floats:
    """Now, the coming midnight, and the household's midnights after it, shape (days + 2,). [d]"""
    tomorrow = local_date(as_of_d, household.zone) + timedelta(days=1)
    midnights = local_midnights(tomorrow, days, household.zone)
    return np.append(as_of_d, midnights)


def look_ahead(known: Record, state: ProductionState, plan: MealPlan, days: int, *, seed: int) -> Outlook:
    """Sample paths of the gas to come and of the meals, and the holder walked through both.

    Parameters
    ----------
    known : Record
        The household and its log up to now.
    state : ProductionState
        Where production stands.
    plan : MealPlan
    days : int
        Whole days after today to look at, 1 to 90.
    seed : int
        Same seed, same draws: an answer moves only when what it is made of does.
    """
    household = known.household
    rng = np.random.default_rng(seed)
    paths = NEAR_PATHS if days <= NEAR_DAYS else FAR_PATHS
    edges = day_edges(household, known.as_of_d, days)
    made = sample_paths(state, edges_d=edges, paths=paths, rng=rng)
    gas = household.gas
    methane = np.clip(gas.methane_fraction + gas.methane_sd * rng.standard_normal(paths), *METHANE_RANGE)
    kitchen = _kitchen(known, plan, edges, methane, rng)
    return Outlook(
        household=household,
        as_of_d=known.as_of_d,
        days=days,
        basis=state.basis,
        last_level_d=made.level_time_d if np.isfinite(made.level_time_d) else None,
        made=made,
        day_edges_d=edges,
        day_m3_per_sm3=1.0 / standard_per_wet(household, known.air, (edges[:-1] + edges[1:]) / 2.0),
        mj_per_sm3=net_mj_per_sm3(methane, gas.hydrogen_sulfide_ppm),
        timeline=kitchen.timeline,
        wanted=kitchen.wanted,
        told=_reckoning(known, made, edges, kitchen),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Kitchen:
    """The coming servings on their timeline, what they want, and the gas they burn by path."""

    timeline: Timeline
    wanted: Wanted
    efficiency: Floats
    mj_per_sm3: Floats
    flame_sm3_per_h: Floats


def _kitchen(known: Record, plan: MealPlan, edges: Floats, methane: Floats, rng: np.random.Generator) -> _Kitchen:
    household, start_d = known.household, known.as_of_d
    usual = Stove(
        burners=household.burners,
        pans=household.pans,
        supply=household.supply(household.gas.methane_fraction, float(at(known.air, start_d))),
    )
    habits = learn_habits(plan, known.log, usual, holder=household.holder, as_of_d=start_d)
    today, days = local_date(start_d, household.zone), len(edges) - 1
    coming = (*servings(plan, today, days, usual), *unplanned_servings(habits, today, days, household.zone))
    coming = tuple(sorted(coming, key=lambda serving: (serving.start_d, serving.meal)))
    timeline = lay_timeline(start_d, float(edges[-1]), coming, extra_d=edges)
    starts_d = np.array([serving.start_d for serving in timeline.servings])
    temperature_c = at(known.air, starts_d)
    stove = replace(usual, supply=household.supply(methane[:, None], temperature_c[None, :]))
    use = planned_use(timeline.servings, stove)
    return _Kitchen(
        timeline=timeline,
        wanted=demand(timeline.servings, use, habits, paths=len(methane), rng=rng),
        efficiency=_efficiency(use, household),
        mj_per_sm3=net_mj_per_sm3(methane, household.gas.hydrogen_sulfide_ppm),
        flame_sm3_per_h=gas_flow_sm3_per_h(
            household.burners[0], household.supply(methane, float(at(known.air, start_d)))
        ),
    )


def _efficiency(use: Use, household: Household) -> Floats:
    """Share of the gas's heat that reaches the pans, by serving; the first burner's where nothing is planned."""
    planned, useful = use.mj.mean(axis=0), use.useful_mj.mean(axis=0)
    usual = np.full(planned.shape, household.burners[0].efficiency)
    return np.asarray(np.divide(useful, planned, out=usual, where=planned > 0.0))


def _reckoning(known: Record, made: ProductionPaths, edges: Floats, kitchen: _Kitchen) -> Reckoning | None:
    """The balance from the last look at the gauge on; None where there was none."""
    if not np.isfinite(made.level_time_d):
        return None
    household, grid = known.household, kitchen.timeline.edges_d
    per_wet = standard_per_wet(household, known.air, grid)
    capacity = household.holder.capacity_m3 * per_wet
    since = np.array([made.level_time_d, known.as_of_d])
    cooked = cooked_gas(household, sound_cooking(known.log), known.air)
    used = float(used_between(gas_use(household, known.log, known.air, cooked), since)[0])
    run = run_balance(
        kitchen.timeline,
        start_sm3=np.clip(made.level_sm3 + made.made_before_sm3 - used, 0.0, capacity[0]),
        made_sm3=spread(made.made_sm3, edges_d=edges, onto_d=grid),
        wanted=kitchen.wanted,
        conditions=Conditions(capacity_sm3=capacity[1:], reserve_sm3=household.holder.reserve_m3 * per_wet[:-1]),
    )
    return Reckoning(
        run=run,
        zone=household.zone,
        m3_per_sm3=1.0 / per_wet,
        mj_per_sm3=kitchen.mj_per_sm3,
        flame_sm3_per_h=kitchen.flame_sm3_per_h,
        efficiency=kitchen.efficiency,
        care_level=household.care_level,
    )
