"""A home so plain that its gas can be reckoned by hand, and logs of a digester that is just as the model thinks."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from models.backup import Backup
from models.burner import Burner, GasFlowRating
from models.calendar import local_midnights, midnight
from models.digester import Digester
from models.gas import GasQuality
from models.holder import GasHolder
from models.household import Household
from models.ledger import standard_per_wet
from models.log import Log, Readings
from models.production.record import Record, record
from models.production.slurry import SlurryFit, base_c
from models.production.substrate import Feature, Kinetics, feature, feeding
from models.site import Site
from models.units import Floats

FIRST = date(2024, 3, 1)
PRIOR = Kinetics(t0_c=3.0, fast_per_d=0.30, slow_per_d=0.018)


def readings(time_d: Floats, value: Floats, item: str = "", meal: str = "") -> Readings:
    """Readings of one quantity."""
    count, nan = len(time_d), np.full(len(time_d), np.nan)
    return Readings(
        time_d=np.asarray(time_d, dtype=float),
        value=np.asarray(value, dtype=float),
        item=np.full(count, item),
        meal=np.full(count, meal),
        flame_fraction=nan,
        water_l=nan,
        from_c=nan,
        id=np.array([f"r{k}" for k in range(count)], dtype=np.str_),
    )


def plain_household() -> Household:
    """One digester, one burner of 0.6 m3/h, a holder of 3 m3 that never fills, UTC."""
    return Household(
        label="plain",
        zone=ZoneInfo("UTC"),
        care_level=0.1,
        site=Site(altitude_m=0.0, latitude_deg=45.0, monthly_mean_c=(6, 7, 10, 13, 17, 21, 24, 23, 20, 15, 10, 7)),
        gas=GasQuality(),
        holder=GasHolder(capacity_m3=3.0, gauge_pa=600.0, relief_pa=981.0, gauge_points=((0.0, 0.0), (100.0, 3.0))),
        digesters=(Digester(name="tank", liquid_m3=0.9, usual_feed_kg_per_d=5.0, usual_water_l_per_d=7.0),),
        burners=(
            Burner(name="ring", rating=GasFlowRating(gas_flow_l_per_h=600.0, methane_fraction=0.6, gauge_pa=600.0)),
        ),
        pans=(),
        backup=Backup(fuel="lpg", on_hand_kg=3.0, lead_d=4, efficiency=0.55),
    )


@pytest.fixture(scope="session")
def plain() -> Household:
    """The plain home."""
    return plain_household()


@dataclass(frozen=True, slots=True, kw_only=True)
class Life:
    """A log and what was really made on each of its days. [sm3]"""

    log: Log
    made_sm3: Floats
    edges_d: Floats

    @property
    def end_d(self) -> float:
        """Midnight at which the log ends. [d]"""
        return float(self.edges_d[-1])


def physics(household: Household, days: int, kinetics: Kinetics, log: Log | None = None) -> tuple[Record, Feature]:
    """What the model's own physics makes of a household without a thermometer."""
    start_d = midnight(FIRST, household.zone)
    log = log or Log(by_quantity={"feed": readings(np.array([start_d + 0.3]), np.array([5.0]))})
    known = record(household, log, None, start_d + days)
    warm = tuple(base_c(SlurryFit(), known.air_c, known.sun_mj_per_m2_d) for _ in household.digesters)
    fed = tuple(feeding(known, index) for index in range(len(household.digesters)))
    return known, feature(known, fed, warm, kinetics)


@pytest.fixture(scope="session")
def live() -> Callable[..., Life]:
    """A household that cooks one dinner a day and looks at its gauge in the evening.

    `level` is made over expected, day by day or alike, `day_spread` its daily spread, `gauge_sd` that of a look as a
    share of the capacity; `burn` the share of each day's gas that is burned, `forget` the odds that a dinner is not
    written down, `burned_ratio` what the flame takes over its rating.
    """

    def build(
        household: Household,
        days: int,
        *,
        seed: int = 0,
        kinetics: Kinetics = PRIOR,
        level: float | Floats = 1.0,
        day_spread: float | Floats = 0.1,
        gauge_sd: float = 0.03,
        burn: float = 1.0,
        forget: float = 0.0,
        burned_ratio: float = 1.0,
    ) -> Life:
        rng = np.random.default_rng(seed)
        edges = local_midnights(FIRST, days, household.zone)
        known, expected = physics(household, days, kinetics)
        made = expected.between(edges[:-1], edges[1:]) * level * (1.0 + day_spread * rng.standard_normal(days))
        room = household.holder.capacity_m3 * standard_per_wet(household, known.air, edges[1:])
        look_d, dinner_d = edges[:-1] + 21.0 / 24.0, edges[:-1] + 19.0 / 24.0
        flow = 0.6 * burned_ratio * standard_per_wet(household, known.air, dinner_d)
        held, look, minutes = 0.4 * room[0], [], []
        for day in range(days):
            held = min(held + made[day] * 19.0 / 24.0, room[day])
            burned = min(burn * made[day] * float(rng.lognormal(0.0, 0.2)), held)
            held -= burned
            minutes.append(60.0 * burned / flow[day])
            held = min(held + made[day] * 2.0 / 24.0, room[day])
            look.append(held)
            held = min(held + made[day] * 3.0 / 24.0, room[day])
        wet = np.array(look) / standard_per_wet(household, known.air, look_d)
        wet += gauge_sd * household.holder.capacity_m3 * rng.standard_normal(days)
        wet = np.clip(wet, 0.0, household.holder.capacity_m3)
        written = rng.random(days) >= forget
        return Life(
            log=Log(
                by_quantity={
                    "holder_level": readings(look_d, wet),
                    "cooking": readings(dinner_d, np.array(minutes), "ring", "dinner").select(written),
                }
            ),
            made_sm3=made,
            edges_d=edges,
        )

    return build


@pytest.fixture
def small_holder(plain: Household) -> Household:
    """The plain home with a holder that often fills."""
    return replace(plain, holder=replace(plain.holder, capacity_m3=0.6, gauge_points=((0.0, 0.0), (100.0, 0.6))))


def tomorrow(life: Life, days: int) -> Floats:
    """Midnights of the days that follow a life. [d]"""
    first = FIRST + timedelta(days=len(life.made_sm3))
    return local_midnights(first, days, ZoneInfo("UTC"))
