"""A kitchen so plain that every figure can be worked by hand: ten litres of dry standard gas a minute, and UTC."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import UTC, date, datetime, time
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from models.burner import Burner, GasFlowRating, GasSupply
from models.calendar import to_days
from models.log import Log, Readings
from models.meals import Meal, Serving
from models.pan import Pan
from models.reckoning import Reckoning
from models.storage import Conditions, Wanted, lay_timeline, run_balance
from models.stove import Burning, Dish, Stove
from models.units import STANDARD_PRESSURE_PA

MIDNIGHT_D = to_days(datetime(2026, 3, 2, tzinfo=UTC))  # a Monday


@pytest.fixture
def stove() -> Stove:
    """Two like burners that take 0.6 sm3/h of dry 60 % gas at 15 °C under the air's standard pressure, and a pan."""
    rating = GasFlowRating(gas_flow_l_per_h=600.0, methane_fraction=0.6, gauge_pa=800.0)
    supply = GasSupply(methane_fraction=0.6, gauge_pa=800.0, atmosphere_pa=STANDARD_PRESSURE_PA, humidity=0.0)
    return Stove(
        burners=(Burner(name="ring", rating=rating), Burner(name="plate", rating=rating)),
        pans=(Pan(name="two litre", mass_kg=0.9),),
        supply=supply,
    )


@pytest.fixture
def dinner() -> Meal:
    """Thirty minutes of flame, 0.3 sm3, every day at seven in the evening."""
    return Meal(
        name="dinner", starts_on=date(2026, 1, 1), at=time(19), rrule="FREQ=DAILY", burner="ring", flame_min=30.0
    )


@pytest.fixture
def at_hour() -> Callable[..., Serving]:
    """A serving at an hour of 2 March 2026 (hours beyond 24 are the days after)."""

    def serving(hour: float, meal: str = "dinner", *, minutes: float = 30.0, planned: bool = True) -> Serving:
        start_d = MIDNIGHT_D + hour / 24.0
        return Serving(
            meal=meal,
            day=date(2026, 3, 2 + int(hour // 24)),
            start_d=start_d,
            end_d=start_d + minutes / 1440.0,
            dishes=(Dish(burner="ring", steps=(Burning(minutes=minutes),)),),
            planned=planned,
        )

    return serving


@pytest.fixture
def reckon() -> Callable[..., Reckoning]:
    """A balance from 2 March 2026, 00:00 UTC, with levels and hourly gas by path; a cubic metre is one of standard gas.

    The gas holds 20 MJ/sm3, the burner takes 0.6 sm3/h, half the heat reaches the pans.
    """

    def reckoning(
        start_sm3: Sequence[float],
        hourly_sm3: Sequence[float],
        servings: Sequence[Serving] = (),
        *,
        need_sm3: float | Sequence[Sequence[float]] = 0.3,
        hours: float = 24.0,
        capacity_sm3: float = 1.0,
        reserve_sm3: float = 0.0,
        care_level: float = 0.1,
    ) -> Reckoning:
        midnights = MIDNIGHT_D + np.arange(0.0, hours / 24.0 + 1e-9)
        timeline = lay_timeline(MIDNIGHT_D, MIDNIGHT_D + hours / 24.0, servings, extra_d=midnights)
        paths, count = len(start_sm3), len(timeline.servings)
        need = np.broadcast_to(np.asarray(need_sm3, dtype=float), (paths, count))
        run = run_balance(
            timeline,
            start_sm3=np.asarray(start_sm3, dtype=float),
            made_sm3=np.asarray(hourly_sm3, dtype=float)[:, None] * np.diff(timeline.edges_d) * 24.0,
            wanted=Wanted(need_sm3=need, cooked=np.ones((paths, count), dtype=bool)),
            conditions=Conditions(capacity_sm3=capacity_sm3, reserve_sm3=reserve_sm3),
        )
        return Reckoning(
            run=run,
            zone=ZoneInfo("UTC"),
            m3_per_sm3=np.ones(len(timeline.edges_d)),
            mj_per_sm3=np.asarray(20.0),
            flame_sm3_per_h=np.asarray(0.6),
            efficiency=np.asarray(0.5),
            care_level=care_level,
        )

    return reckoning


@pytest.fixture
def logged() -> Callable[..., Log]:
    """A log from rows (quantity, hour from 2 March 2026 00:00 UTC, value[, meal])."""

    def build(*rows: tuple[str, float, float] | tuple[str, float, float, str]) -> Log:
        by_quantity = {}
        for quantity in {row[0] for row in rows}:
            mine = sorted((row for row in rows if row[0] == quantity), key=lambda row: row[1])
            nan, empty = np.full(len(mine), np.nan), np.full(len(mine), "", dtype="U16")
            by_quantity[quantity] = Readings(
                time_d=MIDNIGHT_D + np.array([row[1] for row in mine]) / 24.0,
                value=np.array([row[2] for row in mine], dtype=float),
                item=np.full(len(mine), "ring", dtype="U16"),
                meal=np.array([row[3] if len(row) > 3 else "" for row in mine], dtype="U16"),
                flame_fraction=np.ones(len(mine)),
                water_l=nan,
                from_c=nan,
                id=empty,
            )
        return Log(by_quantity=by_quantity)

    return build
