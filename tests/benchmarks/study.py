"""How well production is foretold on invented households, against what a user could take instead.

    OMP_NUM_THREADS=1 .venv/bin/python tests/benchmarks/study.py --seeds 2001 2024 --out study.md
        [--classics | --wrong-priors]

Every household is drawn by its seed; from each of several moments, with logs of 90 days to three years, the coming 90
days are foretold with and without knowing their weather. Then once more with two to four weeks of log, and with none.
What came is known from the invented truth. `--classics` adds automatic exponential smoothing, ARIMA and theta on the
ledger's daily series (`pip install '.[study]'`); they take about a minute more per household. `--wrong-priors` starts
the model from beliefs that are far off (1.0 instead of 0.62 m3 of gas from a kilogram, decay from 9 instead of 3 °C on)
and looks at logs of 60 days and more.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager, nullcontext
from dataclasses import dataclass, field, replace
from datetime import date
from importlib.metadata import version
from pathlib import Path
from typing import Any
from unittest.mock import patch

import numpy as np
from scipy.stats import norm

from models.calendar import local_midnights, midnight
from models.days import day_ledger
from models.digester import MIXED_SCRAPS, Feedstock, feedstock, named_feedstock
from models.log import Log
from models.production.fit import fit, state
from models.production.forecast import sample_paths
from models.production.parameters import PRIORS
from models.production.record import Record, balance, record
from models.temperature import PostedWeather
from models.units import Floats
from service.demo.reading import household_of, log_of, plan_of
from service.demo.world import World, draw_world

DAYS = 1096
AHEAD = 90
LEVELS = np.array([0.025, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 0.975])
NINE = slice(1, 10)
PATHS = 500
COLUMNS = {"next day": slice(0, 1), "1-7 d": slice(0, 7), "8-14 d": slice(7, 14), "15-90 d": slice(14, 90)}
Forecaster = Callable[[Floats], Floats]


@dataclass(slots=True)
class Case:
    """One household at one moment: what came, and what each forecast said; all as shares of its mean day."""

    came: Floats
    quantiles: dict[str, Floats] = field(default_factory=dict)
    points: dict[str, Floats] = field(default_factory=dict)
    fit_s: float = 0.0


def week_mean(known: Record) -> float:
    """Mean of the last seven days' balances that were not full; of all that there are where none is. [sm3/d]"""
    spans = balance(known).intervals
    days = np.minimum(spans.end_d, known.as_of_d) - np.maximum(spans.start_d, known.as_of_d - 7.0)
    open_end = ~spans.outlet & ~spans.ends_full & ~spans.vented
    for keep in (open_end & (days > 0.0), ~spans.outlet & (days > 0.0), open_end, ~spans.outlet):
        if keep.any():
            weight = np.maximum(days[keep], 1e-3)
            rate = spans.made_sm3[keep] / (spans.end_d - spans.start_d)[keep]
            return max(float(rate @ weight / weight.sum()), 0.0)
    return 0.0


def daily_series(known: Record, first: date, days: int) -> Floats:
    """The ledger's gas by day with gaps bridged, as one would hand it to a time series package. [sm3]"""
    edges = local_midnights(first, days, known.household.zone)
    made = day_ledger(known.household, known.log, known.air, edges).made_sm3
    seen = np.flatnonzero(np.isfinite(made))
    return np.interp(np.arange(days), seen, made[seen]) if len(seen) else np.zeros(days)


def seasonal_naive(series: Floats) -> Floats:
    """The last week over and over."""
    return np.resize(series[-7:], AHEAD)


def classics() -> dict[str, Forecaster]:
    """Automatic models of a well known package, weekly season."""
    from statsforecast.models import AutoARIMA, AutoETS, AutoTheta

    def of(kind: Any) -> Forecaster:
        return lambda series: np.asarray(kind(season_length=7).forecast(y=series, h=AHEAD)["mean"], dtype=float)

    return {"AutoETS": of(AutoETS), "AutoARIMA": of(AutoARIMA), "theta": of(AutoTheta)}


def told(known: Record, posted: PostedWeather | None, log: Log, edges: Floats, fitted: Any) -> Floats:
    """Quantiles of each coming day, (levels, days). [sm3]"""
    seeing = known if posted is None else record(known.household, log, posted, known.as_of_d, known.plan)
    paths = sample_paths(state(seeing, fitted), edges_d=edges, paths=PATHS, rng=np.random.default_rng(1))
    return np.quantile(paths.made_sm3, LEVELS, axis=0)


def cases(world: World, seed: int, lengths: Floats, others: dict[str, Forecaster]) -> Iterator[Case]:
    """Forecasts of one household from moments drawn by the seed, with logs of the given lengths [d]."""
    household, whole = household_of(world), log_of(world)
    made, days = world.truth["made_sm3"].to_numpy(), list(world.truth.index)
    scale, rng = float(made.mean()), np.random.default_rng(seed)
    for length in lengths.astype(int).tolist():
        now = int(rng.integers(max(length, 1), len(made) - AHEAD))
        as_of = midnight(days[now], household.zone)
        start = midnight(days[now - length], household.zone)
        log = Log(by_quantity={name: some.between(start, as_of) for name, some in whole.by_quantity.items()})
        edges = local_midnights(days[now], AHEAD, household.zone)
        air = world.truth["air_mean_c"].to_numpy()[now : now + AHEAD]
        posted = PostedWeather(start_d=edges[:-1], end_d=edges[1:], mean_c=air)
        known = record(household, log, None, as_of, plan_of(world).begun_by(days[now]))
        case = Case(came=made[now : now + AHEAD] / scale)
        begun = time.perf_counter()
        fitted = fit(known) if length else None
        case.fit_s = time.perf_counter() - begun
        for name, weather in (("weather unknown", None), ("weather known", posted)):
            case.quantiles[name] = told(known, weather, log, edges, fitted) / scale
        usual = sum(one.usual_feed_kg_per_d for one in household.digesters)
        vs, gas = MIXED_SCRAPS.volatile_solids_fraction, MIXED_SCRAPS.gas_sm3_per_kg_vs
        case.points["usual feed"] = np.full(AHEAD, usual * vs * gas / scale)
        if length:
            series = daily_series(known, days[now - length], length) / scale
            case.points["7-day mean"] = np.full(AHEAD, week_mean(known) / scale)
            case.points |= {name: forecast(series) for name, forecast in others.items()}
        yield case


def pinball(came: Floats, quantiles: Floats) -> float:
    """Mean over nine quantiles. Shapes (cases, days) and (9, cases, days)."""
    off, level = came - quantiles, LEVELS[NINE, None, None]
    return float(np.maximum(level * off, (level - 1.0) * off).mean())


def naive_pinball(came: Floats, point: Floats) -> float:
    """Pinball loss of a naive forecast with normal intervals of whatever width would have been best for it."""
    offsets = norm.ppf(LEVELS[NINE])[:, None, None]
    return min(pinball(came, point + width * offsets) for width in np.linspace(0.02, 1.5, 75))


def table(found: list[Case], against: str, names: list[str]) -> list[str]:
    """Lines of a table: errors of every forecast over those of a naive one, with coverage and bias."""
    came = np.array([case.came for case in found])
    naive = np.array([case.points[against] for case in found])
    lines = ["| | " + " | ".join(COLUMNS) + " |", "|---|" + "--:|" * len(COLUMNS)]
    for name in names:
        point = np.array([case.points[name] for case in found])
        ratios = [np.abs(came - point)[:, c].mean() / np.abs(came - naive)[:, c].mean() for c in COLUMNS.values()]
        lines.append(f"| {name}, error | " + " | ".join(f"{ratio:.2f}" for ratio in ratios) + " |")
    for name in found[0].quantiles:
        told_all = np.array([case.quantiles[name] for case in found]).transpose(1, 0, 2)
        rows: dict[str, list[str]] = {key: [] for key in ("error", "pinball", "80 % holds", "95 % holds", "bias")}
        for column in COLUMNS.values():
            y, b, q = came[:, column], naive[:, column], told_all[:, :, column]
            rows["error"].append(f"{np.abs(y - q[5]).mean() / np.abs(y - b).mean():.2f}")
            rows["pinball"].append(f"{pinball(y, q[NINE]) / naive_pinball(y, b):.2f}")
            rows["80 % holds"].append(f"{100 * np.mean((y >= q[1]) & (y <= q[9])):.0f}")
            rows["95 % holds"].append(f"{100 * np.mean((y >= q[0]) & (y <= q[10])):.0f}")
            rows["bias"].append(f"{(q[5] - y).mean() / y.mean():+.2f}")
        lines += [f"| this model, {name}, {key} | " + " | ".join(cells) + " |" for key, cells in rows.items()]
    return lines


def _richer(stock: Feedstock | None) -> Feedstock | None:
    return stock and replace(stock, gas_sm3_per_kg_vs=stock.gas_sm3_per_kg_vs / 0.62)


@contextmanager
def wrong_priors() -> Iterator[None]:
    """Feed believed to give 1.0 instead of 0.62 m3/kg, and decay to stop at 9 instead of 3 °C."""
    priors = (replace(PRIORS[0], centre=9.0), *PRIORS[1:])
    substrate = "models.production.substrate"
    with ExitStack() as patched:
        for module in ("models.production.parameters", "models.production.values"):
            patched.enter_context(patch(f"{module}.PRIORS", priors))
        patched.enter_context(patch(f"{substrate}.feedstock", lambda name: _richer(feedstock(name))))
        patched.enter_context(patch(f"{substrate}.named_feedstock", lambda name: _richer(named_feedstock(name))))
        yield


def sixty_days_on(rng: np.random.Generator, moments: int) -> dict[str, Floats]:
    """Lengths of log from sixty days on. [d]"""
    long = np.exp(rng.uniform(np.log(60.0), np.log(DAYS - AHEAD - 1.0), moments))
    return {"60 days": np.array([60.0]), "60 days to three years of log": long}


def parts(rng: np.random.Generator, moments: int) -> dict[str, Floats]:
    """Lengths of log for each part of the study. [d]"""
    long = np.exp(rng.uniform(np.log(90.0), np.log(DAYS - AHEAD - 1.0), moments))
    return {
        "90 days to three years of log": long,
        "14 to 30 days": rng.integers(14, 31, moments),
        "no log": np.zeros(2),
    }


Parts = Callable[[np.random.Generator, int], dict[str, Floats]]


def study(seeds: tuple[int, int], moments: int, lengths_of: Parts, others: dict[str, Forecaster]) -> list[str]:
    """The whole study, as the lines of a report."""
    first, last = seeds
    found: dict[str, list[Case]] = {}
    for seed in range(first, last + 1):
        world = draw_world(seed, days=DAYS)
        for name, lengths in lengths_of(np.random.default_rng(seed), moments).items():
            found.setdefault(name, []).extend(cases(world, seed, np.asarray(lengths, dtype=float), others))
        sys.stderr.write(f"household {seed}\n")
    libraries = ", ".join(f"{name} {version(name)}" for name in ("numpy", "scipy", "statsmodels"))
    lines = [
        f"Households {first} to {last}; Python {sys.version.split()[0]}, {libraries}. Ratios are to the mean absolute",
        "error of the naive forecast named first, or to its pinball loss with normal intervals of the best width.",
    ]
    for name, some in found.items():
        naive = "7-day mean" if name != "no log" else "usual feed"
        named = [naive, *(others if name != "no log" else ())]
        taken = f"{len(some)} forecasts; a fit took {np.mean([case.fit_s for case in some]):.2f} s"
        lines += ["", f"**{name}** ({taken})", "", *table(some, naive, named)]
    return lines


def main() -> None:
    """Run the study and write its report."""
    arguments = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    arguments.add_argument("--seeds", type=int, nargs=2, default=(2001, 2024), metavar=("FIRST", "LAST"))
    arguments.add_argument("--moments", type=int, default=6, help="moments for each household and part")
    arguments.add_argument("--out", type=Path, required=True, help="Markdown file to write")
    which = arguments.add_mutually_exclusive_group()
    which.add_argument("--classics", action="store_true", help="add AutoETS, AutoARIMA and theta")
    which.add_argument("--wrong-priors", action="store_true", help="start the model from beliefs that are far off")
    given = arguments.parse_args()
    others: dict[str, Forecaster] = {"seasonal naive": seasonal_naive} | (classics() if given.classics else {})
    with wrong_priors() if given.wrong_priors else nullcontext():
        lengths_of = sixty_days_on if given.wrong_priors else parts
        lines = study(tuple(given.seeds), given.moments, lengths_of, others)
    given.out.write_text("\n".join(lines) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
