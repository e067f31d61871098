"""Boiling and simmering: published times, the closed form against numerical integration, and pans that never boil."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from iapws import IAPWS97
from scipy.integrate import solve_ivp

from models.boiling import LONGEST_S, Flame, boil, simmer_flame_fraction, warming_s, water_boiled_l
from models.burner import Burner, GasSupply, HeatInputRating, heat_input_kw
from models.errors import Inconsistent, OutOfRange
from models.gas import net_mj_per_sm3
from models.holder import sm3_per_m3
from models.moisture import atmosphere_pa, latent_heat_j_per_kg
from models.pan import SPECIFIC_HEAT_J_PER_KG_K, WATER_J_PER_KG_K, Kitchen, Pan, pan_loss_w

SEA_LEVEL_PA = 101_325.0
KITCHEN = Kitchen()
POT = Pan(name="pot", mass_kg=0.4, material="aluminium")
OPEN_POT = Pan(name="pot", mass_kg=0.4, material="aluminium", lid=False)

useful = st.floats(100.0, 5000.0)
losses = st.floats(0.0, 8.0)
litres = st.floats(0.3, 10.0)
starts = st.floats(0.0, 90.0)
airs = st.floats(-10.0, 45.0)


def lossy(heat_kw: object, loss_w_per_k: float | None) -> Flame:
    return Flame(heat_input_kw=heat_kw, efficiency=1.0, efficiency_from="zero_loss", loss_w_per_k=loss_w_per_k)


def pot(mass_kg: float) -> Pan:
    return Pan(name="pot", mass_kg=mass_kg, material="aluminium")


def methane_burner(heat_kw: float, gauge_pa: float) -> Burner:
    return Burner(name="ring", rating=HeatInputRating(heat_input_kw=heat_kw, gas="G20", gauge_pa=gauge_pa))


def dry(methane: float, gauge_pa: float, air_pa: float = SEA_LEVEL_PA) -> GasSupply:
    return GasSupply(methane_fraction=methane, gauge_pa=gauge_pa, atmosphere_pa=air_pa, humidity=0.0)


def test_times_match_the_published_figures(published, agree) -> None:
    table = published("boiling")
    scale = {"seconds": 60.0, "minutes": 1.0, "kilojoules": 60.0}
    found = [
        scale[row.quantity]
        * boil(
            pot(row.pan_kg), water_l=row.water_kg, from_c=20.0, flame=lossy(row.useful_w / 1e3, row.loss_w_per_k)
        ).boil_min
        for row in table.itertuples()
    ]

    agree(table, found)


def test_the_chain_from_gas_to_pan_matches_the_published_figures(published, agree) -> None:
    table = published("boiling_chain")
    full, weak = (boil(POT, water_l=2, from_c=20, flame=lossy(0.825 * r, 1.25)).boil_min for r in (1.0, 0.70063))
    high_pa = float(atmosphere_pa(3000.0))
    heat = [float(heat_input_kw(methane_burner(2.0, 800.0), dry(1.0, 800.0, air))) for air in (SEA_LEVEL_PA, high_pa)]
    low, high = (
        boil(POT, water_l=2, from_c=20, flame=Flame(heat_input_kw=kw), kitchen=Kitchen(atmosphere_pa=air)).boil_min
        for kw, air in zip(heat, (SEA_LEVEL_PA, high_pa), strict=True)
    )
    starved = Flame(heat_input_kw=heat_input_kw(methane_burner(2.5, 2000.0), dry(0.6, 800.0)))
    litre = boil(pot(0.0), water_l=1, from_c=20, flame=Flame(heat_input_kw=1.5))
    found = {
        "lidded_time_ratio": weak / full,
        "altitude_time_ratio": high / low,
        "starved_useful_w": starved.useful_w(),
        "litres_per_litre": 1e3 * litre.gas_mj / net_mj_per_sm3(0.6),
        "open_pan_loss_w": pan_loss_w(OPEN_POT, 90.0, KITCHEN),
        "latent_kj_per_kg": latent_heat_j_per_kg(100.0) / 1e3,
    }

    agree(table, [found[quantity] for quantity in table["quantity"]])


def test_a_starved_flame_boils_the_lidded_pan_and_never_the_open_one() -> None:
    weak = Flame(heat_input_kw=0.7286, efficiency=0.55, efficiency_from="zero_loss")

    assert not boil(POT, water_l=2, from_c=20, flame=weak).never_boils
    assert boil(OPEN_POT, water_l=2, from_c=20, flame=weak).never_boils


def test_gas_for_a_litre_is_what_practice_prints(published) -> None:
    table = published("cooking_practice").set_index("quantity")
    kitchen_sm3 = sm3_per_m3(28.0, gauge_pa=600.0, atmosphere_pa=SEA_LEVEL_PA)
    boiled = boil(POT, water_l=1.0, from_c=20, flame=Flame(heat_input_kw=2.2))
    gas_l = 1e3 * boiled.gas_mj / net_mj_per_sm3(0.6) / kitchen_sm3

    row = table.loc["litre_to_the_boil_l"]
    assert row.low <= gas_l <= row.high


@settings(deadline=None, max_examples=60)
@given(useful, losses, litres, starts, airs)
def test_the_closed_form_agrees_with_numerical_integration(
    power_w: float, loss: float, water_l: float, from_c: float, air_c: float
) -> None:
    boiled = boil(POT, water_l=water_l, from_c=from_c, flame=lossy(power_w / 1e3, loss), kitchen=Kitchen(air_c=air_c))
    capacity = float(POT.heat_capacity_j_per_k(water_l))

    def reaches(_: float, warm: np.ndarray) -> float:
        return float(warm[0] - boiled.boiling_point_c)

    reaches.terminal = True
    longest_s = LONGEST_S if boiled.never_boils else 60.6 * float(boiled.boil_min) + 1.0
    walked = solve_ivp(
        lambda _, warm: (power_w - loss * (warm - air_c)) / capacity,
        (0.0, longest_s), [from_c], events=reaches, rtol=1e-9, atol=1e-9,
    )  # fmt: skip

    if boiled.never_boils:
        assert not walked.t_events[0].size
    else:
        assert walked.t_events[0][0] == pytest.approx(60.0 * boiled.boil_min, rel=1e-6)


@settings(deadline=None, max_examples=40)
@given(st.floats(700.0, 4000.0), litres, st.floats(5.0, 60.0), st.booleans(), st.floats(0.14, 0.36))
def test_a_pans_own_losses_agree_with_numerical_integration(
    power_w: float, water_l: float, from_c: float, lid: bool, diameter_m: float
) -> None:
    pan = Pan(name="pan", mass_kg=0.8, lid=lid, diameter_m=diameter_m)
    boiled = boil(pan, water_l=water_l, from_c=from_c, flame=lossy(power_w / 1e3, None))
    capacity = float(pan.heat_capacity_j_per_k(water_l))
    steps = np.linspace(from_c, boiled.boiling_point_c, 20_001)
    spare_w = power_w - pan_loss_w(pan, steps, KITCHEN)

    if boiled.never_boils:
        assert spare_w.min() <= 0.0 or np.trapezoid(capacity / spare_w, steps) > 0.98 * LONGEST_S
    elif spare_w[-1] > 0.1 * power_w:  # nearer to balance the time grows without bound, and so do small differences
        assert boiled.boil_min == pytest.approx(np.trapezoid(capacity / spare_w, steps) / 60.0, rel=0.02)


def test_without_losses_heat_is_all_that_counts() -> None:
    boiled = boil(POT, water_l=2.0, from_c=20.0, flame=Flame(heat_input_kw=1.5, efficiency=0.5))
    needed_mj = float(POT.heat_capacity_j_per_k(2.0)) * (boiled.boiling_point_c - 20.0) * 1e-6

    assert boiled.gas_mj == pytest.approx(needed_mj / 0.5)
    assert boiled.boil_min == pytest.approx(needed_mj / 0.5 / 1.5e-3 / 60.0)


@given(st.floats(1e-9, 1e-3))
def test_small_losses_run_into_none(loss: float) -> None:
    none, small = warming_s(8000.0, power_w=800.0, loss_w_per_k=[0.0, loss], start_k=0.0, end_k=80.0)

    assert small == pytest.approx(none, rel=1e-4)
    assert small >= none


@given(useful, losses, litres, starts)
def test_more_heat_is_quicker_and_more_water_slower(power_w: float, loss: float, water_l: float, from_c: float) -> None:
    heat_kw = power_w / np.array([1000.0, 900.0, 1000.0])
    water = [water_l, water_l, 2.0 * water_l]
    minutes = boil(POT, water_l=water, from_c=from_c, flame=lossy(heat_kw, loss)).boil_min

    assert minutes[1] < minutes[0] or np.isinf(minutes[0])
    assert minutes[2] > minutes[0] or np.isinf(minutes[0])


def test_a_loss_that_takes_all_the_heat_never_boils_and_says_so() -> None:
    rise = KITCHEN.boiling_point_c() - KITCHEN.air_c
    just = boil(POT, water_l=1.0, from_c=20.0, flame=lossy(np.array([4.0 * rise, 4.0 * rise * 1.001]) / 1e3, 4.0))

    assert just.never_boils.tolist() == [True, False]
    assert np.isinf(just.boil_min[0])
    assert np.isinf(just.gas_mj[0])
    assert boil(POT, water_l=1.0, from_c=20.0, flame=Flame(heat_input_kw=0.0)).never_boils


def test_what_takes_more_than_a_day_is_told_as_what_never_boils() -> None:
    # A day of 1 W in the water is 86.4 kJ; without losses nothing else counts.
    needed_w = float(POT.heat_capacity_j_per_k(1.0)) * (KITCHEN.boiling_point_c() - 20.0) / 86_400.0
    faint = boil(
        POT,
        water_l=1.0,
        from_c=20.0,
        flame=Flame(heat_input_kw=needed_w * np.array([0.99, 1.01, 1e-90]) / 500.0, efficiency=0.5),
    )

    assert faint.never_boils.tolist() == [True, False, True]
    assert faint.boil_min[1] == pytest.approx(1440.0 / 1.01)
    assert np.isinf(faint.gas_mj[2])


def test_water_that_boils_already_takes_no_time() -> None:
    high = Kitchen(atmosphere_pa=float(atmosphere_pa(3000.0)))
    boiled = boil(POT, water_l=1.0, from_c=98.0, flame=Flame(heat_input_kw=0.0), kitchen=high)

    assert boiled.boiling_point_c < 98.0
    assert boiled.boil_min == 0.0
    assert not boiled.never_boils


def test_an_open_pan_adds_to_a_tested_efficiency_only_what_a_lid_would_have_kept() -> None:
    tested = Flame(heat_input_kw=2.0)
    water = 60.0
    extra = tested.counted_loss_w(OPEN_POT, water_c=water, kitchen=KITCHEN)

    assert tested.counted_loss_w(POT, water_c=water, kitchen=KITCHEN) == 0.0
    assert extra == pytest.approx(pan_loss_w(OPEN_POT, water, KITCHEN) - pan_loss_w(POT, water, KITCHEN))
    assert (
        boil(OPEN_POT, water_l=2, from_c=20, flame=tested).boil_min
        > boil(POT, water_l=2, from_c=20, flame=tested).boil_min
    )


def test_the_simmering_flame_replaces_what_the_pan_loses() -> None:
    rise = KITCHEN.boiling_point_c() - KITCHEN.air_c
    given_loss = simmer_flame_fraction(POT, flame=lossy(2.0, 10.0), kitchen=KITCHEN)
    open_pan = simmer_flame_fraction(OPEN_POT, flame=Flame(heat_input_kw=2.2), kitchen=KITCHEN)

    assert given_loss == pytest.approx(10.0 * rise / 2000.0)
    assert open_pan == pytest.approx(float(pan_loss_w(OPEN_POT, KITCHEN.boiling_point_c(), KITCHEN)) / (0.55 * 2200.0))


def test_the_simmering_flame_stops_at_the_turndown_and_past_full() -> None:
    shares = simmer_flame_fraction(
        POT, flame=Flame(heat_input_kw=[0.0, 0.1, 2.2, 20.0], lowest_fraction=0.25), kitchen=KITCHEN
    )

    assert np.isinf(shares[0])
    assert shares[1] > 1.0
    assert shares[2:].tolist() == [0.25, 0.25]


def test_a_lid_and_cooler_water_keep_heat_in_the_pan() -> None:
    water = np.linspace(25.0, 100.0, 16)
    lidded, uncovered = pan_loss_w(POT, water, KITCHEN), pan_loss_w(OPEN_POT, water, KITCHEN)

    assert (np.diff(lidded) > 0.0).all()
    assert (np.diff(uncovered) > 0.0).all()
    assert (uncovered > lidded).all()
    assert pan_loss_w(POT, 20.0, KITCHEN) == 0.0


def test_a_litre_of_water_warms_as_iapws_says() -> None:
    there = (IAPWS97(T=372.0, P=0.101325).h - IAPWS97(T=293.15, P=0.101325).h) / (372.0 - 293.15)

    assert pytest.approx(1e3 * there, rel=1e-3) == WATER_J_PER_KG_K
    assert pot(0.0).heat_capacity_j_per_k(1.0) == WATER_J_PER_KG_K


def test_heat_boils_as_many_litres_as_iapws_says() -> None:
    # a kilogram from 15 to 99.9 °C, liquid under the air's standard pressure (IAPWS-IF97)
    heat_kj = IAPWS97(T=373.05, P=0.101325).h - IAPWS97(T=288.15, P=0.101325).h

    assert water_boiled_l(1e-3 * heat_kj, from_c=15.0, boiling_c=99.9) == pytest.approx(1.0, rel=3e-3)
    assert water_boiled_l(0.0, from_c=15.0, boiling_c=99.9) == 0.0


@pytest.mark.parametrize(
    ("change", "field"), [({"from_c": 61.0}, "from_c"), ({"boiling_c": 64.0}, "boiling_c"), ({"mj": -1.0}, "useful_mj")]
)
def test_heat_and_water_beyond_a_kitchens_are_refused(change: dict[str, float], field: str) -> None:
    asked = {"mj": 1.0, "from_c": 15.0, "boiling_c": 100.0} | change

    with pytest.raises(OutOfRange, match=field):
        water_boiled_l(asked.pop("mj"), **asked)


@pytest.mark.parametrize("material", SPECIFIC_HEAT_J_PER_KG_K)
def test_every_material_adds_its_heat(material: str) -> None:
    pan = Pan(name="pan", mass_kg=1.0, material=material)

    assert pan.heat_capacity_j_per_k(1.0) == pytest.approx(WATER_J_PER_KG_K + SPECIFIC_HEAT_J_PER_KG_K[material])
    assert replace(pan, specific_heat_j_per_kg_k=700.0).heat_capacity_j_per_k(1.0) == WATER_J_PER_KG_K + 700.0


def test_shapes_go_through() -> None:
    boiled = boil(POT, water_l=[[1.0], [2.0]], from_c=20, flame=Flame(heat_input_kw=[1.0, 1.5, 2.0]))

    assert boiled.boil_min.shape == boiled.gas_mj.shape == boiled.never_boils.shape == (2, 3)
    assert boiled.simmer_fraction.shape == (2, 3)
    assert boil(POT, water_l=1, from_c=20, flame=Flame(heat_input_kw=1)).boil_min.shape == ()


@pytest.mark.parametrize(
    ("build", "field", "low", "high"),
    [
        (lambda v: Flame(heat_input_kw=v), "heat_input_kw", -0.1, 1001.0),
        (lambda v: Flame(heat_input_kw=1.0, efficiency=v), "efficiency", 0.04, 1.1),
        (lambda v: Flame(heat_input_kw=1.0, lowest_fraction=v), "lowest_fraction", -0.1, 1.1),
        (lambda v: lossy(1.0, v), "loss_w_per_k", -0.1, 101.0),
        (lambda v: Kitchen(air_c=v), "air_c", -21.0, 51.0),
        (lambda v: Kitchen(atmosphere_pa=v), "atmosphere_pa", 29_999.0, 110_001.0),
        (lambda v: Kitchen(air_humidity=v), "air_humidity", -0.1, 1.1),
        (pot, "mass_kg", -0.1, 51.0),
        (lambda v: Pan(name="p", mass_kg=1.0, diameter_m=v), "diameter_m", 0.04, 1.6),
        (lambda v: Pan(name="p", mass_kg=1.0, specific_heat_j_per_kg_k=v), "specific_heat_j_per_kg_k", 99.0, 5001.0),
        (POT.heat_capacity_j_per_k, "water_l", 0.04, 101.0),
        (lambda v: boil(POT, water_l=1.0, from_c=v, flame=Flame(heat_input_kw=1.0)), "from_c", -1.0, 101.0),
        (lambda v: pan_loss_w(POT, v, KITCHEN), "water_c", -1.0, 121.0),
    ],
)
def test_both_ends_of_every_range_are_refused(build, field: str, low: float, high: float) -> None:
    for value in (low, high):
        with pytest.raises(OutOfRange, match=f"{field} is .*, must be .* to "):
            build(value)


def test_losses_are_never_counted_twice() -> None:
    with pytest.raises(Inconsistent, match="loss_w_per_k must be left out or 0"):
        Flame(heat_input_kw=1.0, efficiency=0.55, loss_w_per_k=2.0)


def test_unknown_words_are_refused_with_the_known_ones() -> None:
    with pytest.raises(OutOfRange, match="efficiency_from is hearsay, must be one of test, zero_loss"):
        Flame(heat_input_kw=1.0, efficiency_from="hearsay")
    with pytest.raises(OutOfRange, match="material is paper, must be one of aluminium, steel"):
        Pan(name="p", mass_kg=1.0, material="paper")
