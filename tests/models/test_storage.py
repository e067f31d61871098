"""The holder walked through time: conservation on random paths, worked hours, and the laws of more and larger."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from models.errors import Inconsistent, OutOfRange
from models.meals import Serving
from models.reckoning import Reckoning
from models.storage import Conditions, StorageRun, Timeline, Wanted, lay_timeline, run_balance, spread

Cook = Callable[..., Serving]
Reckon = Callable[..., Reckoning]
PATHS, HOURS = 3, 30


def cooks() -> st.SearchStrategy[list[Serving]]:
    def serving(hour: float, minutes: float) -> Serving:
        return Serving(meal="dinner", day=date(2026, 3, 2), start_d=hour / 24.0, end_d=hour / 24.0 + minutes / 1440.0)

    return st.lists(st.builds(serving, st.floats(0.0, HOURS - 0.01), st.floats(0.0, 300.0)), max_size=6).map(
        lambda found: sorted(found, key=lambda one: one.start_d)
    )


def amounts(*shape: int, most: float = 0.5) -> st.SearchStrategy[np.ndarray]:
    return hnp.arrays(float, shape, elements=st.floats(0.0, most))


@st.composite
def balances(draw: st.DrawFn, *, choosy: bool = True) -> dict[str, object]:
    """Everything `run_balance` is given, at random: odd grids, full and empty holders, leaks, a changing capacity.

    A cook who is `choosy` may leave a serving to the backup that gas will not carry whole.
    """
    timeline = lay_timeline(0.0, HOURS / 24.0, draw(cooks()))
    steps, servings = timeline.steps, len(timeline.servings)
    return {
        "timeline": timeline,
        "start_sm3": draw(amounts(PATHS, most=2.0)),
        "made_sm3": draw(amounts(PATHS, steps, most=0.1)),
        "wanted": Wanted(
            need_sm3=draw(amounts(PATHS, servings)),
            cooked=draw(hnp.arrays(bool, (PATHS, servings))),
            begun=draw(st.none() | hnp.arrays(bool, (PATHS, servings))) if choosy else None,
        ),
        "conditions": Conditions(
            capacity_sm3=draw(hnp.arrays(float, (steps,), elements=st.floats(0.5, 1.0))),
            reserve_sm3=draw(st.floats(0.0, 0.3)),
            leaked_sm3=draw(amounts(steps, most=0.02)),
        ),
    }


def walk(given_: dict[str, object]) -> StorageRun:
    return run_balance(given_["timeline"], **{name: value for name, value in given_.items() if name != "timeline"})


@given(balances())
def test_no_gas_is_lost_or_invented(given_: dict[str, object]) -> None:
    run = walk(given_)

    came = run.level_sm3[:, 0] + run.made_sm3.sum(axis=1)
    went = run.burned_sm3.sum(axis=1) + run.vented_sm3.sum(axis=1) + run.leaked_sm3.sum(axis=1) + run.level_sm3[:, -1]
    np.testing.assert_allclose(came, went, rtol=0.0, atol=1e-12)  # some hundred additions of figures below ten


@given(balances())
def test_every_amount_keeps_to_its_bounds(given_: dict[str, object]) -> None:
    run, wanted, conditions = walk(given_), given_["wanted"], given_["conditions"]
    need = np.where(wanted.cooked, wanted.need_sm3, 0.0)

    for amount in (run.level_sm3, run.burned_sm3, run.vented_sm3, run.leaked_sm3, run.shortfall_sm3):
        assert (amount >= 0.0).all()
    assert (run.level_sm3[:, 1:] <= conditions.capacity_sm3).all()
    assert (run.leaked_sm3 <= conditions.leaked_sm3).all()
    np.testing.assert_allclose(run.burned_sm3 + run.shortfall_sm3, need, atol=1e-15)


@given(balances())
def test_nothing_is_burned_below_the_reserve(given_: dict[str, object]) -> None:
    run, conditions = walk(given_), given_["conditions"]
    burned = np.zeros_like(run.made_sm3)
    np.add.at(burned, (slice(None), run.timeline.step_of), run.burned_sm3)

    below = run.level_sm3[:, 1:] < conditions.reserve_sm3 - 1e-12
    assert (burned[below] == 0.0).all()


@given(balances(choosy=False))
def test_gas_is_cooked_with_before_it_is_vented(given_: dict[str, object]) -> None:
    run, conditions = walk(given_), given_["conditions"]
    venting = run.vented_sm3 > 0.0

    capacity = np.broadcast_to(conditions.capacity_sm3, venting.shape)
    np.testing.assert_array_equal(run.level_sm3[:, 1:][venting], capacity[venting])
    roomy = capacity >= conditions.reserve_sm3 + 1e-9
    short = np.zeros_like(venting)
    np.logical_or.at(short, (slice(None), run.timeline.step_of), run.shortfall_sm3 > 1e-12)
    assert not (short & venting & roomy).any()


@given(balances(choosy=False), st.floats(0.0, 0.05))
def test_more_gas_never_carries_fewer_meals_of_a_first_evening(given_: dict[str, object], more: float) -> None:
    poor, rich = walk(given_), walk(given_ | {"made_sm3": given_["made_sm3"] + more})

    def first_failure(run: StorageRun) -> np.ndarray:
        fails = ~run.on_gas
        return np.where(fails.any(axis=1), fails.argmax(axis=1) if fails.shape[1] else 0, fails.shape[1])

    assert (rich.level_sm3 >= poor.level_sm3 - 1e-12).all()
    assert (rich.usable_sm3() >= poor.usable_sm3() - 1e-12).all()
    assert (first_failure(rich) >= first_failure(poor)).all()


@given(balances(choosy=False), st.floats(0.0, 1.0))
def test_a_larger_holder_never_vents_more(given_: dict[str, object], more: float) -> None:
    conditions = given_["conditions"]
    larger = replace(conditions, capacity_sm3=conditions.capacity_sm3 + more)
    small, large = walk(given_), walk(given_ | {"conditions": larger})

    assert (large.vented_sm3.sum(axis=1) <= small.vented_sm3.sum(axis=1) + 1e-12).all()
    assert (large.level_sm3 >= small.level_sm3 - 1e-12).all()


@given(balances())
def test_paths_do_not_touch_one_another(given_: dict[str, object]) -> None:
    together, wanted = walk(given_), given_["wanted"]
    begun = None if wanted.begun is None else wanted.begun[1:2]
    alone = walk(
        given_
        | {
            "start_sm3": given_["start_sm3"][1:2],
            "made_sm3": given_["made_sm3"][1:2],
            "wanted": Wanted(need_sm3=wanted.need_sm3[1:2], cooked=wanted.cooked[1:2], begun=begun),
        }
    )

    np.testing.assert_array_equal(alone.level_sm3[0], together.level_sm3[1])
    np.testing.assert_array_equal(alone.vented_sm3[0], together.vented_sm3[1])


def test_a_meal_that_the_gas_carries_exactly_is_on_gas(reckon: Reckon, at_hour: Cook) -> None:
    run = reckon([0.3, 0.2999], [0.0, 0.0], [at_hour(19.0)]).run

    assert run.on_gas[:, 0].tolist() == [True, False]
    assert run.burned_sm3[:, 0] == pytest.approx([0.3, 0.2999])
    assert run.shortfall_sm3[:, 0] == pytest.approx([0.0, 0.0001])


def test_gas_made_during_the_meal_counts_for_it(reckon: Reckon, at_hour: Cook) -> None:
    run = reckon([0.28], [0.04], [at_hour(0.0)]).run  # half an hour of flame, in which 0.02 is made

    assert run.on_gas.tolist() == [[True]]
    assert run.level_sm3[0, 1] == pytest.approx(0.0)


def test_meals_at_the_same_hour_share_what_there_is_in_order(reckon: Reckon, at_hour: Cook) -> None:
    run = reckon([0.4], [0.0], [at_hour(19.0), at_hour(19.0, "bath")]).run

    assert run.burned_sm3[0] == pytest.approx([0.3, 0.1])
    assert run.on_gas.tolist() == [[True, False]]


def test_a_meal_that_is_not_cooked_burns_nothing_and_could_still_be_on_gas(reckon: Reckon, at_hour: Cook) -> None:
    told = reckon([0.5], [0.0], [at_hour(12.0), at_hour(19.0)])
    wanted = Wanted(need_sm3=np.full((1, 2), 0.3), cooked=np.array([[False, True]]))
    run = run_balance(
        told.run.timeline,
        start_sm3=0.5,
        made_sm3=told.run.made_sm3,
        wanted=wanted,
        conditions=told.run.conditions,
    )

    assert run.burned_sm3[0] == pytest.approx([0.0, 0.3])
    assert run.shortfall_sm3[0] == pytest.approx([0.0, 0.0])
    assert run.on_gas.tolist() == [[True, True]]


def test_a_serving_that_is_not_begun_leaves_the_gas_to_the_next(reckon: Reckon, at_hour: Cook) -> None:
    told = reckon([0.25], [0.0], [at_hour(12.0), at_hour(19.0)], need_sm3=[[0.3, 0.2]])
    wanted = replace(told.run.wanted, begun=np.array([[False, False]]))
    run = run_balance(
        told.run.timeline, start_sm3=0.25, made_sm3=told.run.made_sm3, wanted=wanted, conditions=told.run.conditions
    )

    assert told.run.burned_sm3[0] == pytest.approx([0.25, 0.0])
    assert run.burned_sm3[0] == pytest.approx([0.0, 0.2])
    assert run.shortfall_sm3[0] == pytest.approx([0.3, 0.0])
    assert run.on_gas.tolist() == [[False, True]]


def test_an_empty_holder_leaks_no_more_than_it_has() -> None:
    timeline = lay_timeline(0.0, 4 / 24.0, ())
    run = run_balance(
        timeline,
        start_sm3=0.25,
        made_sm3=np.zeros((1, 4)),
        wanted=Wanted(need_sm3=np.empty((1, 0)), cooked=np.empty((1, 0), dtype=bool)),
        conditions=Conditions(capacity_sm3=1.0, reserve_sm3=0.2, leaked_sm3=0.1),
    )

    assert run.leaked_sm3[0] == pytest.approx([0.1, 0.1, 0.05, 0.0])
    assert run.level_sm3[0] == pytest.approx([0.25, 0.15, 0.05, 0.0, 0.0])
    assert run.usable_sm3()[0] == pytest.approx([0.05, 0.0, 0.0, 0.0, 0.0])


def test_a_warming_holder_vents_what_no_longer_fits() -> None:
    timeline = lay_timeline(0.0, 3 / 24.0, ())
    run = run_balance(
        timeline,
        start_sm3=1.0,
        made_sm3=np.zeros((1, 3)),
        wanted=Wanted(need_sm3=np.empty((1, 0)), cooked=np.empty((1, 0), dtype=bool)),
        conditions=Conditions(capacity_sm3=np.array([1.0, 0.9, 1.0])),
    )

    assert run.vented_sm3[0] == pytest.approx([0.0, 0.1, 0.0])
    assert run.level_sm3[0] == pytest.approx([1.0, 1.0, 0.9, 0.9])


def test_without_production_only_what_is_there_is_burned(reckon: Reckon, at_hour: Cook) -> None:
    run = reckon([0.5], [0.05], [at_hour(12.0), at_hour(19.0)]).run

    idle = run.without_production()
    assert run.on_gas.tolist() == [[True, True]]
    assert idle.on_gas.tolist() == [[True, False]]
    assert idle.level_sm3[0, -1] == pytest.approx(0.0)


def test_a_timeline_has_hours_meals_and_midnights(at_hour: Cook) -> None:
    dinner = at_hour(19.25)
    start_d = dinner.start_d - 19.25 / 24.0
    timeline = lay_timeline(start_d + 18.5 / 24.0, start_d + 21.0 / 24.0, [dinner], extra_d=[start_d + 20.5 / 24.0])

    hours = (timeline.edges_d - start_d) * 24.0
    assert hours == pytest.approx([18.5, 19.0, 19.25, 19.75, 20.0, 20.5, 21.0], abs=1e-6)
    assert timeline.step_of.tolist() == [2]


def test_a_timeline_of_long_steps_keeps_meals_and_midnights(at_hour: Cook) -> None:
    dinner = at_hour(19.0)
    start_d = dinner.start_d - 19.0 / 24.0
    timeline = lay_timeline(start_d, start_d + 1.0, [dinner], extra_d=[start_d + 0.9], step_h=6)

    hours = (timeline.edges_d - start_d) * 24.0
    assert hours == pytest.approx([0.0, 6.0, 12.0, 18.0, 19.0, 19.5, 21.6, 24.0], abs=1e-3)


def test_servings_outside_the_span_are_left_out(at_hour: Cook) -> None:
    early, inside, late = at_hour(1.0), at_hour(2.0), at_hour(3.0)
    timeline = lay_timeline(inside.start_d, late.start_d, [early, inside, late])

    assert timeline.servings == (inside,)
    assert timeline.step_of.tolist() == [0]


@given(cooks(), st.floats(0.0, 3.0), st.floats(0.01, 40.0))
def test_edges_rise_and_every_serving_starts_on_one(found: list[Serving], start_h: float, length_h: float) -> None:
    timeline = lay_timeline(start_h / 24.0, (start_h + length_h) / 24.0, found)

    assert (np.diff(timeline.edges_d) > 0.0).all()
    for serving, step in zip(timeline.servings, timeline.step_of, strict=True):
        assert timeline.edges_d[step] == pytest.approx(serving.start_d, abs=1.0 / 86_400.0)


@given(amounts(2, 3, most=5.0))
def test_spreading_keeps_every_amount(amount: np.ndarray) -> None:
    fine = np.array([0.0, 0.1, 0.7, 1.0, 1.5, 2.0, 2.2, 3.0])
    found = spread(amount, edges_d=np.arange(4.0), onto_d=fine)

    np.testing.assert_allclose(found[:, :3].sum(axis=1), amount[:, 0], atol=1e-12)
    np.testing.assert_allclose(found[:, 3:5].sum(axis=1), amount[:, 1], atol=1e-12)
    np.testing.assert_allclose(found[:, 5:], amount[:, 2:] * np.array([0.2, 0.8]), atol=1e-12)


def test_nothing_is_spread_outside_what_is_known() -> None:
    found = spread(np.array([[1.0]]), edges_d=np.array([1.0, 2.0]), onto_d=np.array([0.0, 1.0, 1.5, 3.0]))

    assert found == pytest.approx(np.array([[0.0, 0.5, 0.5]]))


def test_shapes_that_do_not_belong_together_are_refused(at_hour: Cook) -> None:
    dinner = at_hour(19.0)
    timeline = lay_timeline(dinner.start_d, dinner.end_d, [dinner])
    conditions = Conditions(capacity_sm3=1.0)
    wanted = Wanted(need_sm3=np.zeros((2, 1)), cooked=np.ones((2, 1), dtype=bool))

    with pytest.raises(Inconsistent, match="must fit 1 steps and 1 servings"):
        run_balance(timeline, start_sm3=0.0, made_sm3=np.zeros((2, 5)), wanted=wanted, conditions=conditions)
    with pytest.raises(Inconsistent, match="must fit 1 steps and 1 servings"):
        run_balance(timeline, start_sm3=0.0, made_sm3=np.zeros((3, 1)), wanted=wanted, conditions=conditions)


@pytest.mark.parametrize("wrong", [{"capacity_sm3": 0.0}, {"reserve_sm3": -0.1}, {"leaked_sm3": -0.1}])
def test_conditions_refuse_what_cannot_be(wrong: dict[str, float]) -> None:
    with pytest.raises(OutOfRange, match="must be"):
        Conditions(**{"capacity_sm3": 1.0} | wrong)


def test_a_timeline_counts_its_steps() -> None:
    assert Timeline(edges_d=np.arange(4.0), servings=(), step_of=np.array([], dtype=int)).steps == 3
