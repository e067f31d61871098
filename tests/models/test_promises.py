"""Laws that every answer keeps: more gas, a larger holder and more care, on balances drawn at random."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from models.backup import Backup, backup_outlook
from models.budget import gas_budget
from models.holder import GasHolder
from models.lasting import storage_outlook
from models.meals import Serving
from models.reckoning import Reckoning
from models.storage import run_balance
from models.venting import venting_outlook

Cook = Callable[..., Serving]
Reckon = Callable[..., Reckoning]
Draw = Callable[..., Reckoning]

PATHS, DAYS = 7, 3
HOLDER, BACKUP = GasHolder(capacity_m3=1.0), Backup(on_hand_kg=0.1, lead_d=1.0)
LAWS = settings(suppress_health_check=[HealthCheck.function_scoped_fixture])  # the fixtures hold no state
LEVELS = {"gas": 2, "tight": 1, "backup": 0}
starts = st.lists(st.floats(0.0, 1.0), min_size=PATHS, max_size=PATHS)
hourly = st.lists(st.floats(0.0, 0.06), min_size=PATHS, max_size=PATHS)
needs = st.lists(st.floats(0.02, 0.6), min_size=2 * DAYS, max_size=2 * DAYS)
lit = st.lists(st.booleans(), min_size=2 * DAYS, max_size=2 * DAYS)


@pytest.fixture
def draw(reckon: Reckon, at_hour: Cook) -> Draw:
    """Three days with lunch and dinner of given needs."""

    def drawn(levels: Sequence[float], made: Sequence[float], need: Sequence[float], **more: float) -> Reckoning:
        meals = [at_hour(24.0 * day + hour) for day in range(DAYS) for hour in (12.0, 19.0)]
        return reckon(levels, made, meals, need_sm3=[need] * len(levels), hours=24.0 * DAYS, **more)

    return drawn


def choosy(told: Reckoning, begun: Sequence[bool]) -> Reckoning:
    """The same days with a cook who lights some flames that will not last, and others not."""
    run = told.run
    often = np.broadcast_to(np.asarray(begun), run.wanted.need_sm3.shape)
    again = run_balance(
        run.timeline,
        start_sm3=run.level_sm3[:, 0],
        made_sm3=run.made_sm3,
        wanted=replace(run.wanted, begun=often),
        conditions=run.conditions,
    )
    return replace(told, run=again)


def horizon_if_none(days: float | None) -> float:
    return np.inf if days is None else days


@LAWS
@given(starts, hourly, needs, lit, st.floats(0.0, 0.5), st.floats(0.0, 0.05))
def test_more_gas_never_gives_fewer_days_whatever_the_cook_does(
    draw: Draw, levels: list[float], made: list[float], need: list[float], begun: list[bool], more: float, faster: float
) -> None:
    poor = choosy(draw(levels, made, need, capacity_sm3=2.0), begun)
    rich = choosy(draw(np.add(levels, more), np.add(made, faster), need, capacity_sm3=2.0), begun)

    few, many = storage_outlook(poor, HOLDER), storage_outlook(rich, HOLDER)
    for name in ("days_left", "days_left_q10", "days_left_q90", "days_left_without_production"):
        assert horizon_if_none(getattr(many, name)) >= horizon_if_none(getattr(few, name)), name
    soon, late = backup_outlook(poor, BACKUP), backup_outlook(rich, BACKUP)
    assert horizon_if_none(late.days_until_backup) >= horizon_if_none(soon.days_until_backup)
    assert late.backup_probability <= soon.backup_probability


@LAWS
@given(starts, hourly, needs, st.floats(0.0, 1.0))
def test_a_larger_holder_never_vents_more_nor_lasts_less(
    draw: Draw, levels: list[float], made: list[float], need: list[float], larger: float
) -> None:
    small, large = (draw(levels, made, need, capacity_sm3=size) for size in (1.0, 1.0 + larger))
    less, more = (venting_outlook(told, methane_fraction=0.6) for told in (large, small))

    for name in ("vented_m3", "vented_q90_m3", "flame_min", "co2e_kg", "venting_probability"):
        assert getattr(less, name) <= getattr(more, name) + 1e-9, name
    assert horizon_if_none(less.first_venting_at_d) >= horizon_if_none(more.first_venting_at_d)
    few, many = (storage_outlook(told, HOLDER).days_left for told in (small, large))
    assert horizon_if_none(many) >= horizon_if_none(few)


@LAWS
@given(starts, hourly, needs, st.tuples(st.floats(0.01, 0.5), st.floats(0.01, 0.5)))
def test_more_care_never_promises_more(
    draw: Draw, levels: list[float], made: list[float], need: list[float], cares: tuple[float, float]
) -> None:
    careful, bold = (draw(levels, made, need, care_level=care) for care in sorted(cares))

    for day in careful.days():
        less, more = (gas_budget(told, day, backup=BACKUP) for told in (careful, bold))
        assert less.covered <= more.covered
        assert less.budget_q10_m3 <= more.budget_q10_m3
        for one, other in zip(less.meals, more.meals, strict=True):
            assert LEVELS[one.verdict] <= LEVELS[other.verdict]
    few, many = (storage_outlook(told, HOLDER).days_left_q10 for told in (careful, bold))
    assert horizon_if_none(few) <= horizon_if_none(many)
    soon, late = (backup_outlook(told, BACKUP) for told in (careful, bold))
    assert {meal.start_d for meal in soon.meals} >= {meal.start_d for meal in late.meals}
    if late.order_by_date is not None:
        assert soon.order_by_date is not None
        assert soon.order_by_date <= late.order_by_date


@LAWS
@given(starts, hourly, needs, lit)
def test_answers_count_every_litre_once(
    draw: Draw, levels: list[float], made: list[float], need: list[float], begun: list[bool]
) -> None:
    run = choosy(draw(levels, made, need, reserve_sm3=0.1), begun).run

    came = run.level_sm3[:, 0] + run.made_sm3.sum(axis=1)
    went = run.burned_sm3.sum(axis=1) + run.vented_sm3.sum(axis=1) + run.leaked_sm3.sum(axis=1) + run.level_sm3[:, -1]
    np.testing.assert_allclose(came, went, atol=1e-12)  # some hundred additions of figures below ten
