"""From a household's record to everything its answers are read off: gas to come, meals to cook, the holder between."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import timedelta

import numpy as np

from models.burner import Burner, GasSupply, gas_flow_sm3_per_h
from models.calendar import local_date, local_midnights
from models.diary import not_yet_logged
from models.gas import net_mj_per_sm3
from models.habits import Habits, demand, learn_habits, unplanned_servings
from models.household import Household
from models.ledger import metered_use, standard_per_wet
from models.level import JUST_NOW_D, assumed, cooked_since, doubted, level_now, looked_at_d, still_on
from models.log import Log
from models.meals import MealPlan, Serving, servings
from models.production.forecast import ProductionPaths, sample_paths
from models.production.record import Record
from models.production.values import ProductionState
from models.reckoning import Reckoning
from models.seen_log import LogWarning
from models.storage import Conditions, Wanted, lay_timeline, run_balance, spread, starting_between
from models.stove import Stove, Use, planned_use
from models.temperature import AirTemperature, at
from models.units import Floats
from models.warnings import log_warnings, planned_lately

NEAR_DAYS, NEAR_PATHS = 90, 1000
"""Who looks no further is told of the same chances, drawn as far as this: one answer on each day whatever is asked."""
FAR_PATHS = 400
SEASON_STEP_H = 6  # over seasons the holder is looked at at meals and every six hours
METHANE_RANGE = (0.30, 0.85)


@dataclass(frozen=True, slots=True, kw_only=True)
class Outlook:
    """What is expected of one household from `as_of_d` on, over `days` whole days after today.

    `told` is the balance, None where the gauge was never read; `warnings` say what in the log cannot be right.
    `made` are the sample paths of gas made between `day_edges_d`; `day_m3_per_sm3` (days,) turns it into wet volume and
    `mj_per_sm3` (paths,) into heat. `supply` is the gas as it reaches the burners now, its `methane_fraction` (paths,).
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
    supply: GasSupply
    told: Reckoning | None
    warnings: tuple[LogWarning, ...]

    def flame_sm3_per_h(self, burner: Burner) -> Floats:
        """What a burner takes at full flame now, shape (paths,)."""
        return gas_flow_sm3_per_h(burner, self.supply) * self.made.burned_ratio

    @property
    def horizon_d(self) -> float:
        """How far the outlook reaches. [d]"""
        return float(self.day_edges_d[-1]) - self.as_of_d


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
        Whole days after today to look at, 1 and up; beyond 90 in steps of up to six hours.
    seed : int
        Same seed, same draws: an answer moves only when what it is made of does.
    """
    household = known.household
    draws = Draws.seeded(seed)
    paths = NEAR_PATHS if days <= NEAR_DAYS else FAR_PATHS
    edges = day_edges(household, known.as_of_d, days)
    drawn = day_edges(household, known.as_of_d, max(days, NEAR_DAYS))
    made = sample_paths(state, edges_d=drawn, paths=paths, rng=draws.made).first(len(edges) - 1)
    gas = household.gas
    methane = np.clip(gas.methane_fraction + gas.methane_sd * draws.methane.standard_normal(paths), *METHANE_RANGE)
    cook = _cook(known, plan, methane, made.burned_ratio, drawn)
    read = bool(np.isfinite(made.level_time_d))
    return Outlook(
        household=household,
        as_of_d=known.as_of_d,
        days=days,
        basis=state.basis,
        last_level_d=made.level_time_d if read else None,
        made=made,
        day_edges_d=edges,
        day_m3_per_sm3=1.0 / standard_per_wet(household, known.air, (edges[:-1] + edges[1:]) / 2.0),
        mj_per_sm3=net_mj_per_sm3(methane, gas.hydrogen_sulfide_ppm),
        supply=cook.supply(),
        told=_reckoning(known, made, edges, cook, draws) if read else None,
        warnings=log_warnings(known, planned_lately(plan, cook.stove, known.as_of_d)),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Draws:
    """A source of chance for each part of an outlook, so that one that draws more leaves the others as they were."""

    made: np.random.Generator
    methane: np.random.Generator
    since: np.random.Generator
    coming: np.random.Generator

    @classmethod
    def seeded(cls, seed: int) -> Draws:
        """Same seed, same draws."""
        made, methane, since, coming = np.random.default_rng(seed).spawn(4)
        return cls(made=made, methane=methane, since=since, coming=coming)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Cook:
    """The cook as the log shows her, and the gas she burns by path: `methane` and `burned_ratio` (paths,).

    What was made is learnt from what was burned, so a flame that takes more than its rating does so on both sides.
    What is cooked is drawn from the first to the last of the day edges `drawn_d`.
    """

    household: Household
    plan: MealPlan
    air: AirTemperature
    stove: Stove
    habits: Habits
    methane: Floats
    burned_ratio: Floats
    drawn_d: Floats

    def wants(self, asked: Sequence[Serving], rng: np.random.Generator) -> tuple[Use, Wanted]:
        """What servings are planned to take, and what they will, by path."""
        temperature_c = at(self.air, np.array([serving.start_d for serving in asked]))
        stove = replace(self.stove, supply=self.household.supply(self.methane[:, None], temperature_c[None, :]))
        use = planned_use(asked, stove)
        wanted = demand(asked, use, self.habits, paths=len(self.methane), rng=rng)
        return use, replace(wanted, need_sm3=wanted.need_sm3 * self.burned_ratio[:, None])

    def coming(self, log: Log) -> tuple[Serving, ...]:
        """The rest of what is on, planned servings that the log does not tell of already, and usual teas, in order."""
        now_d, end_d, days = float(self.drawn_d[0]), float(self.drawn_d[-1]), len(self.drawn_d) - 1
        first = local_date(now_d, self.plan.zone)
        planned = servings(self.plan, first, days, self.stove)
        asked = (
            *still_on(self.plan, log, self.stove, now_d),
            *not_yet_logged(planned, log.of("cooking"), self.stove),
            *unplanned_servings(self.habits, first, days, self.plan),
        )
        return starting_between(now_d, end_d, sorted(asked, key=lambda serving: (serving.start_d, serving.meal)))

    def supply(self) -> GasSupply:
        """The gas as it reaches the burners now, by path."""
        return self.household.supply(self.methane, self.stove.supply.temperature_c)


def _cook(known: Record, plan: MealPlan, methane: Floats, burned_ratio: Floats, drawn_d: Floats) -> _Cook:
    household = known.household
    air_now_c = float(at(known.air, known.as_of_d))
    stove = Stove(
        burners=household.burners,
        pans=household.pans,
        supply=household.supply(household.gas.methane_fraction, air_now_c),
    )
    metered = metered_use(household, known.log, known.air)
    habits = learn_habits(plan, known.log, stove, holder=household.holder, as_of_d=known.as_of_d, metered=metered)
    return _Cook(
        household=household,
        plan=plan,
        air=known.air,
        stove=stove,
        habits=habits,
        methane=methane,
        burned_ratio=burned_ratio,
        drawn_d=drawn_d,
    )


def _conditions(known: Record, per_wet: Floats) -> Conditions:
    """The holder between edges at which a wet cubic metre holds `per_wet` standard ones."""
    holder = known.household.holder
    return Conditions(capacity_sm3=holder.capacity_m3 * per_wet[1:], reserve_sm3=holder.reserve_m3 * per_wet[:-1])


def _level_sm3(
    known: Record, made: ProductionPaths, cook: _Cook, rng: np.random.Generator
) -> tuple[Floats, tuple[Serving, ...]]:
    """Gas in the holder now, shape (paths,): the last look, rolled forward; and the meals that rests on by habit."""
    now_d = known.as_of_d
    since_d = looked_at_d(made, now_d)
    if now_d - since_d < 2.0 * JUST_NOW_D:
        return np.maximum(made.level_sm3, 0.0), ()
    past = cooked_since(cook.plan, known.log, cook.stove, cook.habits, between_d=(since_d, now_d))
    timeline = lay_timeline(since_d, now_d, past)
    _, wanted = cook.wants(timeline.servings, rng)
    per_wet = standard_per_wet(known.household, known.air, timeline.edges_d)
    conditions = replace(_conditions(known, per_wet), reserve_sm3=0.0)  # what was burned was burned
    level_sm3 = level_now(made, timeline, wanted=wanted, conditions=conditions, rng=rng)
    unsure = doubted(cook.plan, known.log, cook.stove, between_d=(since_d, now_d))
    counted = (*assumed(cook.plan, cook.stove, past), *unsure)
    return level_sm3, tuple(sorted(counted, key=lambda one: one.start_d))


def _reckoning(known: Record, made: ProductionPaths, edges: Floats, cook: _Cook, draws: Draws) -> Reckoning:
    """The holder walked from now to the last edge."""
    household = known.household
    level_sm3, counted = _level_sm3(known, made, cook, draws.since)
    coming = cook.coming(known.log)
    step_h = 1 if len(edges) - 2 <= NEAR_DAYS else SEASON_STEP_H
    timeline = lay_timeline(known.as_of_d, float(edges[-1]), coming, extra_d=edges, step_h=step_h)
    use, wanted = cook.wants(coming, draws.coming)
    use, wanted = use.first(len(timeline.servings)), wanted.first(len(timeline.servings))
    per_wet = standard_per_wet(household, known.air, timeline.edges_d)
    run = run_balance(
        timeline,
        start_sm3=np.minimum(level_sm3, household.holder.capacity_m3 * per_wet[0]),
        made_sm3=spread(made.made_sm3, edges_d=edges, onto_d=timeline.edges_d),
        wanted=wanted,
        conditions=_conditions(known, per_wet),
    )
    told = Reckoning(
        run=run,
        zone=household.zone,
        m3_per_sm3=1.0 / per_wet,
        mj_per_sm3=net_mj_per_sm3(cook.methane, household.gas.hydrogen_sulfide_ppm),
        flame_sm3_per_h=gas_flow_sm3_per_h(household.burners[0], cook.supply()) * cook.burned_ratio,
        efficiency=_efficiency(use, household),
        care_level=household.care_level,
        assumed=counted,
    )
    return replace(told, away=frozenset(day for day in told.days() if cook.plan.away(day)))


def _efficiency(use: Use, household: Household) -> Floats:
    """Share of the gas's heat that reaches the pans, by serving; the first burner's where nothing is planned."""
    planned, useful = use.mj.mean(axis=0), use.useful_mj.mean(axis=0)
    usual = np.full(planned.shape, household.burners[0].efficiency)
    return np.asarray(np.divide(useful, planned, out=usual, where=planned > 0.0))
