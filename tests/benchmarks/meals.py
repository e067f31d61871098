"""How well it is foretold which meals gas will carry, on invented households, against a spreadsheet's rule.

    OMP_NUM_THREADS=1 .venv/bin/python tests/benchmarks/meals.py --seeds 3100 3123 --out meals.md

Every household is drawn by its seed; from midnights with logs of 90 days to three years, the meals of the coming 14
days are foretold from the log alone, or with their weather posted (`--weather-known`). What came is known from the
invented truth: a meal was on gas where the gas in the holder carried it whole, also where the cook misjudged the bag
and left it to the backup. The invented cooks burn the holder empty, so no reserve is kept here. The spreadsheet's rule
adds the mean gas of the last seven days to the last reading, up to what the holder takes; a meal is on gas where that
level holds its mean use of the last 28 days, which is then taken off.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from datetime import date, tzinfo
from pathlib import Path

import numpy as np
from study import AHEAD, DAYS, parts, week_mean

from models.calendar import local_date, midnight
from models.ledger import standard_per_wet
from models.log import Log
from models.meals import MealPlan, servings
from models.outlook import look_ahead
from models.production.fit import fit, state
from models.production.record import Record, balance, record
from models.reckoning import Reckoning, time_quantile
from models.stove import Stove, planned_use
from models.temperature import PostedWeather
from models.units import Floats
from service.demo.reading import household_of, log_of, plan_of
from service.demo.world import World, draw_world
from service.usecases.situation import as_tested

MEAL_DAYS = 14
USE_DAYS = 28.0
BINS = 10
LEADS = {"first day": (0.0, 1.0), "days 2-4": (1.0, 4.0), "days 5-14": (4.0, 14.0)}


Came = dict[tuple[str, date], tuple[float, bool]]


@dataclass(slots=True)
class Found:
    """Meals that were wanted, (meals,) each, and first days without gas, (moments,) each, counted up to 14."""

    household: list[int] = field(default_factory=list)
    lead_d: list[float] = field(default_factory=list)
    said: list[float] = field(default_factory=list)
    sheet: list[float] = field(default_factory=list)
    came: list[float] = field(default_factory=list)
    first_said: list[float] = field(default_factory=list)
    first_sheet: list[float] = field(default_factory=list)
    first_came: list[float] = field(default_factory=list)


def what_came(world: World, as_of_d: float) -> Came:
    """Meals wanted in the coming days by name and day: when, and whether gas carried them."""
    zone = household_of(world).zone
    meals = world.kitchen[world.kitchen["meal"] != ""]
    coming = meals[(meals["start_d"] >= as_of_d) & (meals["start_d"] < as_of_d + MEAL_DAYS)]
    return {
        (str(one.meal), local_date(float(one.start_d), zone)): (float(one.start_d) - as_of_d, bool(one.carried))
        for one in coming.itertuples()
    }


def mean_share(known: Record, plan: MealPlan, stove: Stove) -> float:
    """What the meals of the last 28 days took by the log, over what they were planned to take."""
    start_d = max(known.as_of_d - USE_DAYS, float(known.log.of("holder_level").time_d[0]))
    days = round(known.as_of_d - start_d)
    past = servings(plan, local_date(known.as_of_d - days, known.household.zone), days, stove)
    use = balance(known).use
    return float(use.used_sm3[use.start_d >= start_d].sum()) / max(float(planned_use(past, stove).sm3.sum()), 1e-6)


def spreadsheet(known: Record, plan: MealPlan, told: Reckoning) -> Floats:
    """1 where the rule puts a serving on gas, else 0, shape (servings,)."""
    found, household = balance(known), known.household
    made_per_d, level, now_d = week_mean(known), found.last_level_sm3, found.last_level_d
    per_wet = float(standard_per_wet(household, known.air, np.array([known.as_of_d]))[0])
    usual = household.supply(household.gas.methane_fraction, 15.0)
    stove = Stove(burners=household.burners, pans=household.pans, supply=usual)
    planned = planned_use(told.run.timeline.servings, stove).sm3[0]
    level -= float(found.use.used_sm3[found.use.start_d >= now_d].sum())
    mean_use, on_gas = planned * mean_share(known, plan, stove), []
    for use, start in zip(mean_use.tolist(), told.starts_d().tolist(), strict=True):
        level, now_d = min(level + made_per_d * (start - now_d), household.holder.capacity_m3 * per_wet), start
        on_gas.append(float(level >= use))
        level -= use * on_gas[-1]
    return np.array(on_gas)


def weather_of(world: World, zone: tzinfo, first: int) -> PostedWeather:
    """The true weather of the coming days, as one would post it."""
    days, air = list(world.truth.index), world.truth["air_mean_c"].to_numpy()
    edges = np.array([midnight(day, zone) for day in days[first : first + MEAL_DAYS + 1]])
    return PostedWeather(start_d=edges[:-1], end_d=edges[1:], mean_c=air[first : first + MEAL_DAYS])


def compare(world: World, seed: int, asked: argparse.Namespace, found: Found) -> None:
    """Foretell one household's meals from several moments."""
    described, whole, days = household_of(world), log_of(world), list(world.truth.index)
    described = replace(described, holder=replace(described.holder, reserve_m3=0.0))
    rng = np.random.default_rng(seed)
    for length in parts(rng, asked.moments)["90 days to three years of log"].astype(int).tolist():
        now = int(rng.integers(length, DAYS - AHEAD))
        as_of, start = (midnight(days[day], described.zone) for day in (now, now - length))
        log = Log(by_quantity={name: some.between(start, as_of) for name, some in whole.by_quantity.items()})
        household = as_tested(described, log, None, as_of)
        plan, posted = plan_of(world), weather_of(world, household.zone, now) if asked.weather_known else None
        fitted = fit(record(household, log, None, as_of, plan))
        known = record(household, log, posted, as_of, plan)
        told = look_ahead(known, state(known, fitted), plan, MEAL_DAYS - 1, seed=seed).told
        if told is not None:
            score(known, told, what_came(world, as_of), spreadsheet(known, plan, told), found)
            found.household += [seed] * (len(found.came) - len(found.household))


def score(known: Record, told: Reckoning, came: Came, sheet: Floats, found: Found) -> None:
    """Set what was said of each meal, here and by the spreadsheet, beside what came."""
    said = told.run.on_gas.mean(axis=0)
    for index, serving in enumerate(told.run.timeline.servings):
        if (serving.meal, serving.day) in came:
            found.lead_d.append(serving.start_d - known.as_of_d)
            found.said.append(float(said[index]))
            found.sheet.append(float(sheet[index]))
            found.came.append(float(came[serving.meal, serving.day][1]))
    starts_d = told.starts_d() - known.as_of_d
    first = time_quantile(told.first_time_d(told.lacks(), starts_d), 0.5)
    by_sheet = starts_d[told.planned() & (sheet == 0.0)]
    found.first_said.append(MEAL_DAYS if first is None else first)
    found.first_sheet.append(float(by_sheet[0]) if len(by_sheet) else MEAL_DAYS)
    found.first_came.append(min((lead_d for lead_d, on_gas in came.values() if not on_gas), default=MEAL_DAYS))


def reliability(said: Floats, came: Floats) -> Iterator[tuple[int, int, float, float]]:
    """For each tenth that was said: its number, how many meals, the mean said and the share that came."""
    tenth = np.minimum((said * BINS).astype(int), BINS - 1)
    for number in np.unique(tenth).tolist():
        mine = tenth == number
        yield number, int(mine.sum()), float(said[mine].mean()), float(came[mine].mean())


def report(found: Found, first: int, last: int) -> list[str]:
    """The findings, as lines of Markdown."""
    said, sheet, came, lead_d = (np.array(one) for one in (found.said, found.sheet, found.came, found.lead_d))
    brier, of_sheet = (said - came) ** 2, float(np.mean((sheet - came) ** 2))
    tenths = list(reliability(said, came))
    off = sum(count * abs(mean - share) for _, count, mean, share in tenths) / len(said)
    late, sheet_late = (
        float(np.mean(np.abs(np.array(some) - np.array(found.first_came))))
        for some in (found.first_said, found.first_sheet)
    )
    owner = np.array(found.household)
    each = np.array([[brier[owner == one].sum(), (owner == one).sum()] for one in np.unique(owner)])
    drawn = each[np.random.default_rng(1).integers(0, len(each), (2000, len(each)))].sum(axis=1)
    within = "".join(
        f", {name} {brier[(lead_d >= low) & (lead_d < high)].mean():.3f}" for name, (low, high) in LEADS.items()
    )
    spread = np.std(drawn[:, 0] / drawn[:, 1])
    return [
        f"Households {first} to {last}: {len(said)} meals from {len(found.first_said)} moments,",
        f"{came.mean():.0%} of them on gas. Another draw of as many households moves the Brier score by {spread:.3f}.",
        f"By lead{within}.",
        "",
        "| | Kettlecast | spreadsheet | ratio |",
        "|---|--:|--:|--:|",
        f"| meal on gas, 14 days, Brier | {brier.mean():.3f} | {of_sheet:.3f} | {brier.mean() / of_sheet:.2f} |",
        f"| first backup day, days off | {late:.2f} | {sheet_late:.2f} | {late / sheet_late:.2f} |",
        f"| calibration error | {off:.3f} | | |",
        "",
        "| said | meals | mean said | came |",
        "|---|--:|--:|--:|",
        *(f"| {10 * k}-{10 * k + 10} % | {count} | {mean:.0%} | {share:.0%} |" for k, count, mean, share in tenths),
    ]


def main() -> None:
    """Run the comparison and write its report."""
    arguments = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    arguments.add_argument("--seeds", type=int, nargs=2, default=(3100, 3123), metavar=("FIRST", "LAST"))
    arguments.add_argument("--moments", type=int, default=6, help="moments for each household")
    arguments.add_argument("--weather-known", action="store_true", help="post the weather of the coming days")
    arguments.add_argument("--out", type=Path, required=True, help="Markdown file to write")
    given, found = arguments.parse_args(), Found()
    for seed in range(given.seeds[0], given.seeds[1] + 1):
        compare(draw_world(seed, days=DAYS), seed, given, found)
        sys.stderr.write(f"household {seed}\n")
    given.out.write_text("\n".join(report(found, *given.seeds)) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
