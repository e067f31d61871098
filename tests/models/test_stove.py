"""What dishes take, against arithmetic on the burner's rating and against the physics of the boil."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from models.boiling import Flame, boil, simmer_flame_fraction
from models.burner import Burner, GasFlowRating, GasSupply, gas_flow_sm3_per_h, heat_input_kw
from models.errors import Inconsistent, OutOfRange
from models.gas import net_mj_per_sm3
from models.log import Log
from models.meals import Serving
from models.pan import Kitchen
from models.stove import (
    Boiling,
    Burning,
    Dish,
    Simmering,
    Stove,
    cooking_min,
    gas_of_cooking,
    planned_use,
    refuse_unboiled,
    typical,
)
from models.units import STANDARD_PRESSURE_PA

Cook = Callable[..., Serving]


def on_ring(*steps: Boiling | Simmering | Burning, burner: str = "ring") -> Dish:
    return Dish(burner=burner, pan="two litre", steps=steps)


def with_methane(stove: Stove, methane: object) -> Stove:
    return replace(stove, supply=replace(stove.supply, methane_fraction=methane))


def test_half_an_hour_of_full_flame_takes_half_the_hourly_flow(stove: Stove, at_hour: Cook) -> None:
    use = planned_use([at_hour(19.0)], stove)

    assert use.sm3 == pytest.approx(np.array([[0.3]]))  # 0.6 sm3/h, the rating on the gas it is rated for
    assert use.mj == pytest.approx(0.3 * net_mj_per_sm3(0.6) * np.ones((1, 1)))
    assert use.useful_mj == pytest.approx(0.55 * use.mj)


def test_a_low_flame_and_guests_scale_the_gas(stove: Stove, at_hour: Cook) -> None:
    quiet = replace(at_hour(19.0), dishes=(Dish(burner="ring", steps=(Burning(minutes=30.0, flame_fraction=0.4),)),))

    assert planned_use([quiet, replace(quiet, factor=1.6)], stove).sm3 == pytest.approx(np.array([[0.12, 0.192]]))


def test_water_takes_the_heat_that_boils_it(stove: Stove, at_hour: Cook) -> None:
    serving = replace(at_hour(19.0), dishes=(on_ring(Boiling(water_l=2.0, from_c=15.0)),))
    flame = Flame(heat_input_kw=heat_input_kw(stove.burner("ring"), stove.supply), efficiency=0.55)
    boiled = boil(stove.pan("two litre"), water_l=2.0, from_c=15.0, flame=flame, kitchen=Kitchen())

    assert planned_use([serving], stove).mj[0, 0] == pytest.approx(float(boiled.gas_mj), rel=1e-9)
    assert cooking_min(serving.dishes, stove) == pytest.approx(float(boiled.boil_min))


def test_poorer_gas_takes_more_volume_and_the_same_heat_to_boil(stove: Stove, at_hour: Cook) -> None:
    serving = replace(at_hour(19.0), dishes=(on_ring(Boiling(water_l=2.0)),))

    use = planned_use([serving], with_methane(stove, np.array([[0.5], [0.6], [0.7]])))

    assert use.sm3.shape == (3, 1)
    assert (np.diff(use.sm3[:, 0]) < 0.0).all()
    # An efficiency from a test of a lidded pan holds the losses, so heat does not depend on the pace of the boil.
    np.testing.assert_allclose(use.mj[:, 0], use.mj[1, 0], rtol=1e-9)


def test_a_simmer_burns_the_lowest_flame_that_holds_it(stove: Stove, at_hour: Cook) -> None:
    serving = replace(at_hour(19.0), dishes=(on_ring(Simmering(minutes=60.0)),))
    flame = Flame(heat_input_kw=heat_input_kw(stove.burner("ring"), stove.supply), efficiency=0.55)
    share = float(simmer_flame_fraction(stove.pan("two litre"), flame=flame, kitchen=Kitchen()))

    assert planned_use([serving], stove).sm3[0, 0] == pytest.approx(0.6 * share)
    assert 0.25 <= share < 1.0


def test_two_burners_at_once_take_the_gas_of_both_and_the_time_of_the_longer(stove: Stove, at_hour: Cook) -> None:
    dishes = (
        on_ring(Burning(minutes=20.0)),
        on_ring(Burning(minutes=30.0), burner="plate"),
        on_ring(Burning(minutes=5.0)),
    )

    assert cooking_min(dishes, stove) == pytest.approx(30.0)
    assert planned_use([replace(at_hour(19.0), dishes=dishes)], stove).sm3[0, 0] == pytest.approx(0.55)


def test_gas_may_differ_by_path_and_by_hour(stove: Stove, at_hour: Cook) -> None:
    cold, warm = replace(at_hour(7.0), factor=2.0), at_hour(13.0)
    supply = replace(stove.supply, methane_fraction=np.full((4, 1), 0.6), temperature_c=np.array([0.0, 30.0]))

    use = planned_use([cold, warm, cold][:2], replace(stove, supply=supply))

    expected = [gas_flow_sm3_per_h(stove.burner("ring"), replace(stove.supply, temperature_c=t)) for t in (0.0, 30.0)]
    np.testing.assert_allclose(use.sm3, np.tile([expected[0], 0.5 * expected[1]], (4, 1)), rtol=1e-12)


def test_servings_without_dishes_take_nothing(stove: Stove, at_hour: Cook) -> None:
    assert planned_use([replace(at_hour(16.0), dishes=())], stove).sm3.tolist() == [[0.0]]
    assert planned_use([], stove).sm3.shape == (1, 0)


@given(minutes=st.floats(0.1, 300.0), flame=st.floats(0.02, 1.0), factor=st.floats(0.1, 5.0))
def test_gas_goes_with_minutes_flame_and_factor(minutes: float, flame: float, factor: float) -> None:
    rating = GasFlowRating(gas_flow_l_per_h=600.0, methane_fraction=0.6, gauge_pa=800.0)
    supply = GasSupply(methane_fraction=0.6, gauge_pa=800.0, atmosphere_pa=STANDARD_PRESSURE_PA, humidity=0.0)
    stove = Stove(burners=(Burner(name="ring", rating=rating),), supply=supply)
    dish = Dish(burner="ring", steps=(Burning(minutes=minutes, flame_fraction=flame),))
    serving = Serving(meal="dinner", day=None, start_d=0.0, end_d=0.0, factor=factor, dishes=(dish,))

    assert planned_use([serving], stove).sm3[0, 0] == pytest.approx(0.01 * minutes * flame * factor, abs=1e-12)


def test_logged_minutes_become_gas(stove: Stove, logged: Callable[..., Log]) -> None:
    cooking = logged(("cooking", 7.0, 10.0), ("cooking", 12.0, 30.0), ("cooking", 19.0, 45.0)).of("cooking")
    named = replace(
        cooking, item=np.array(["ring", "", "gone"]), flame_fraction=np.array([1.0, np.nan, 0.4])
    )  # an entry of no burner, or of one no longer described, was on the first

    assert gas_of_cooking(named, stove) == pytest.approx([0.1, 0.3, 0.18])


def test_the_typical_gas_is_the_middle_of_it(stove: Stove) -> None:
    assert typical(with_methane(stove, np.array([[0.5], [0.6], [0.9]]))).supply.methane_fraction == 0.6


def test_a_pan_that_never_boils_is_refused_with_what_to_change(stove: Stove) -> None:
    weak = replace(stove, supply=replace(stove.supply, gauge_pa=0.5))

    with pytest.raises(Inconsistent, match="does not bring 8 L to the boil on this gas, must be a stronger one") as no:
        refuse_unboiled((on_ring(Boiling(water_l=8.0)),), weak)

    assert no.value.field == "burner"
    assert cooking_min((on_ring(Boiling(water_l=8.0)),), weak) == 240.0
    refuse_unboiled((on_ring(Boiling(water_l=8.0)),), stove)


def test_a_pan_that_is_not_there_is_refused_to_fry_in_as_well(stove: Stove) -> None:
    with pytest.raises(Inconsistent, match="pan is 'wok', must be one of two litre") as no:
        refuse_unboiled((replace(on_ring(Burning(minutes=8.0)), pan="wok"),), stove)

    assert no.value.field == "pan"
    refuse_unboiled((replace(on_ring(Burning(minutes=8.0)), pan=None),), stove)


def test_gas_too_poor_to_boil_on_one_path_takes_four_hours_there(stove: Stove, at_hour: Cook) -> None:
    serving = replace(at_hour(19.0), dishes=(on_ring(Boiling(water_l=8.0)),))
    use = planned_use([serving], with_methane(stove, np.array([[0.6], [0.05]])))

    flow = gas_flow_sm3_per_h(stove.burner("ring"), replace(stove.supply, methane_fraction=0.05))
    assert use.sm3[1, 0] == pytest.approx(4.0 * float(flow))


@pytest.mark.parametrize(
    ("dish", "complaint"),
    [
        (Dish(burner="ring", pan="wok", steps=(Boiling(water_l=1.0),)), "pan is 'wok', must be one of two litre"),
        (Dish(burner="oven", steps=(Burning(minutes=1.0),)), "burner is 'oven', must be one of ring, plate"),
    ],
)
def test_what_is_not_in_the_kitchen_is_refused_with_what_is(dish: Dish, complaint: str, stove: Stove) -> None:
    with pytest.raises(Inconsistent, match=complaint):
        cooking_min((dish,), stove)


def test_a_kitchen_without_pans_says_so(stove: Stove) -> None:
    with pytest.raises(Inconsistent, match="the pans of the description, and there is none"):
        cooking_min((on_ring(Simmering(minutes=5.0)),), replace(stove, pans=()))


@pytest.mark.parametrize("steps", [(Boiling(water_l=1.0),), (Burning(minutes=1.0), Simmering(minutes=1.0))])
def test_boiling_and_simmering_need_a_pan(steps: tuple[Boiling, ...]) -> None:
    with pytest.raises(Inconsistent, match="pan is missing"):
        Dish(burner="ring", steps=steps)


def test_a_dish_has_steps() -> None:
    with pytest.raises(Inconsistent, match="steps is empty"):
        Dish(burner="ring", steps=())


@pytest.mark.parametrize(
    ("step", "wrong"),
    [
        (Boiling, {"water_l": 0.01}),
        (Boiling, {"water_l": 101.0}),
        (Boiling, {"water_l": 1.0, "from_c": -1.0}),
        (Boiling, {"water_l": 1.0, "from_c": 101.0}),
        (Simmering, {"minutes": -1.0}),
        (Simmering, {"minutes": 1441.0}),
        (Burning, {"minutes": -1.0}),
        (Burning, {"minutes": 1.0, "flame_fraction": 0.01}),
        (Burning, {"minutes": 1.0, "flame_fraction": 1.01}),
    ],
)
def test_steps_refuse_both_ends_of_their_ranges(step: type, wrong: dict[str, float]) -> None:
    with pytest.raises(OutOfRange, match="must be"):
        step(**wrong)
