"""Two real daily series through readings of an outlet meter: rolling origins against carrying the last day forward.

    .venv/bin/python tests/benchmarks/real_series.py FOLDER

FOLDER holds `slurry_store_daily.csv` (methane of a slurry store, 2022-2023) and `heated_plant_daily.csv` (biogas of a
plant held at 35 °C, 2020-2021). They are not part of this project; where they are absent this says so and checks
nothing. Site and size are guessed, because neither file tells them.
"""

from __future__ import annotations

import csv
import math
import sys
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np

from models.backup import Backup
from models.burner import Burner, GasFlowRating
from models.calendar import local_midnights, midnight
from models.digester import Digester
from models.gas import GasQuality
from models.holder import GasHolder
from models.household import Household
from models.ledger import standard_per_wet
from models.log import Log, Readings
from models.production.fit import fit, state
from models.production.forecast import sample_paths
from models.production.record import record
from models.site import Site
from models.temperature import air_temperature
from models.units import Floats

UTC = ZoneInfo("UTC")
LEADS = (1, 7)
FIRST_ORIGIN, REFIT_EVERY = 45, 28
LEAST_HELD, MOST_HELD, WORST_NEXT_DAY = 0.70, 0.90, 1.05
NORMAL_PER_STANDARD = 288.15 / 273.15
METHANE = 0.6


@dataclass(frozen=True, slots=True, kw_only=True)
class Series:
    """A real series: day, gas [sm3], slurry [°C] and feed [kg] (NaN unknown), and how its plant is described."""

    name: str
    day: list[date]
    gas_sm3: Floats
    slurry_c: Floats
    feed_kg: Floats
    site: Site
    digester: Digester
    every: int  # days between origins
    season: tuple[str, ...]  # answers that may be given


def column(rows: list[dict[str, str]], name: str) -> Floats:
    """A column of figures, NaN where a cell is empty."""
    return np.array([float(row[name]) if row[name] not in ("", "NA") else math.nan for row in rows])


def rows_of(path: Path) -> list[dict[str, str]]:
    """Rows of a CSV file below its comment lines."""
    with path.open(encoding="utf-8") as lines:
        return list(csv.DictReader(line for line in lines if not line.startswith("#")))


def slurry_store(path: Path) -> Series:
    """A store under a barn: fed all the time, emptied now and then; its own temperatures stand for the site's."""
    rows = rows_of(path)
    return Series(
        name="slurry store",
        day=[date.fromisoformat(row["date"]) for row in rows],
        gas_sm3=column(rows, "methane_nm3_per_day") / METHANE * NORMAL_PER_STANDARD,
        slurry_c=column(rows, "slurry_c"),
        feed_kg=np.full(len(rows), np.nan),
        site=Site(
            altitude_m=50.0, latitude_deg=56.0, monthly_mean_c=(13, 13, 13, 13, 13.5, 15, 18.5, 18, 17, 16, 15.5, 15)
        ),
        digester=Digester(name="store", liquid_m3=20.0, usual_feed_kg_per_d=500.0, feedstock="pig slurry"),
        every=2,
        season=("found", "none found", "log too short to tell"),
    )


def heated_plant(path: Path) -> Series:
    """A municipal plant, scaled to a thousandth."""
    rows = rows_of(path)
    return Series(
        name="heated plant",
        day=[date.fromisoformat(row["date"]) for row in rows],
        gas_sm3=column(rows, "biogas_m3_per_day") / 1000.0,
        slurry_c=column(rows, "digester1_c"),
        feed_kg=column(rows, "feed_total_m3_per_day"),
        site=Site(altitude_m=250.0, latitude_deg=42.0, monthly_mean_c=(-6, -4, 2, 9, 16, 21, 23, 22, 18, 11, 4, -3)),
        digester=Digester(name="plant", liquid_m3=3.6, usual_feed_kg_per_d=90.0),
        every=5,
        season=("none found",),
    )


def home(series: Series) -> Household:
    """The plant as a household with a meter on its outlet."""
    return Household(
        label=series.name,
        zone=UTC,
        care_level=0.1,
        site=series.site,
        gas=GasQuality(),
        holder=GasHolder(capacity_m3=5.0, gauge_pa=600.0, relief_pa=981.0, gauge_points=((0.0, 0.0), (100.0, 5.0))),
        digesters=(series.digester,),
        burners=(
            Burner(name="ring", rating=GasFlowRating(gas_flow_l_per_h=600.0, methane_fraction=0.6, gauge_pa=600.0)),
        ),
        pans=(),
        backup=Backup(fuel="lpg", on_hand_kg=3.0, lead_d=4, efficiency=0.55),
    )


def readings(time_d: Floats, value: Floats, item: str) -> Readings:
    """Readings of one quantity, those that are unknown left out."""
    known = np.isfinite(value)
    count, nan = int(known.sum()), np.full(int(known.sum()), np.nan)
    return Readings(
        time_d=time_d[known],
        value=value[known],
        item=np.full(count, item),
        meal=np.full(count, ""),
        flame_fraction=nan,
        water_l=nan,
        from_c=nan,
        id=np.array([f"{item}{k}" for k in range(count)]),
    )


def meter(household: Household, series: Series) -> Readings:
    """A counter read at every midnight beside a known day; after a gap it was exchanged and starts lower."""
    last = midnight(series.day[-1] + timedelta(days=1), UTC)
    air = air_temperature(household.site, Readings(), None, last)
    made = dict(zip(series.day, series.gas_sm3.tolist(), strict=True))
    time_d, count, counter = [], [], 1e6
    for step in range((series.day[-1] - series.day[0]).days + 2):
        today = series.day[0] + timedelta(days=step)
        before = made.get(today - timedelta(days=1), math.nan)
        if math.isfinite(before):
            noon = np.array([midnight(today, UTC) - 0.5])
            counter += before / float(standard_per_wet(household, air, noon)[0])
        elif math.isfinite(made.get(today, math.nan)):
            counter -= 100.0 * float(np.nanmax(series.gas_sm3))
        else:
            continue
        time_d.append(midnight(today, UTC))
        count.append(counter)
    return readings(np.array(time_d), np.array(count), "outlet")


def log_of(household: Household, series: Series) -> Log:
    """The series as a household would have logged it."""
    start = np.array([midnight(day, UTC) for day in series.day])
    return Log(
        by_quantity={
            "gas_meter": meter(household, series),
            "digester_temperature": readings(start + 0.5, series.slurry_c, series.digester.name),
            "feed": readings(start + 0.4, series.feed_kg, ""),
        }
    )


def rolled(series: Series) -> tuple[dict[int, tuple[float, float, int]], str]:
    """For each lead day the error over that of the last value, the share held and the number; and the season."""
    household = home(series)
    log = log_of(household, series)
    made = dict(zip(series.day, series.gas_sm3.tolist(), strict=True))
    seen: dict[int, list[tuple[float, float, bool]]] = {lead: [] for lead in LEADS}
    fitted, fitted_at = None, -REFIT_EVERY
    for origin in range(FIRST_ORIGIN, len(series.day), series.every):
        today = series.day[origin]
        past = series.gas_sm3[:origin][np.isfinite(series.gas_sm3[:origin])]
        known = record(household, log, None, midnight(today, UTC))
        if origin - fitted_at >= REFIT_EVERY:
            fitted, fitted_at = fit(known), origin
        edges = local_midnights(today, max(LEADS), UTC)
        paths = sample_paths(state(known, fitted), edges_d=edges, paths=400, rng=np.random.default_rng(0)).made_sm3
        for lead in LEADS:
            came = made.get(today + timedelta(days=lead - 1), math.nan)
            if math.isfinite(came):
                low, middle, high = np.quantile(paths[:, lead - 1], [0.1, 0.5, 0.9])
                seen[lead].append((abs(middle - came), abs(past[-1] - came), bool(low <= came <= high)))
    last = fit(record(household, log, None, midnight(series.day[-1] + timedelta(days=1), UTC)))
    told = {}
    for lead, rows in seen.items():
        ours, naive, held = (np.array(part, dtype=float) for part in zip(*rows, strict=True))
        told[lead] = (float(ours.mean() / naive.mean()), float(held.mean()), len(rows))
    return told, str(last.diagnostics["season"])


def main(folder: Path) -> int:
    """Check both series; 0 where all is well or there is nothing to check."""
    failed = 0
    for name, build in (("slurry_store_daily.csv", slurry_store), ("heated_plant_daily.csv", heated_plant)):
        if not (folder / name).exists():
            print(f"NOT RUN: {name} is not in {folder}")
            continue
        series = build(folder / name)
        told, season = rolled(series)
        for lead, (ratio, held, count) in told.items():
            print(f"{series.name}, day {lead}: error {ratio:.2f} of the last value's, 80 % holds {held:.2f} ({count})")
        print(f"{series.name}, season: {season}")
        fine = all(LEAST_HELD <= held <= MOST_HELD for _, held, _ in told.values())
        fine &= told[1][0] <= WORST_NEXT_DAY and season in series.season
        failed += not fine
    return failed


if __name__ == "__main__":
    if len(sys.argv) != 2:
        sys.exit(__doc__)
    sys.exit(main(Path(sys.argv[1])))
