"""What chemistry allows a feedstock to give, and that the feedstock table keeps within it."""

from __future__ import annotations

import numpy as np
import pytest

from models.buswell import theory
from models.digester import MANURES, MIXED_SCRAPS, feedstock
from models.errors import OutOfRange
from models.holder import sm3_per_m3
from models.production.parameters import PRIORS, from_z
from models.production.substrate import POOL_SHARES, activity, decay_shares
from models.units import STANDARD_PRESSURE_PA


def test_methane_of_pure_substances_matches_the_published_figures(published, agree) -> None:
    table = published("buswell")

    agree(table, [getattr(theory(row.formula), row.quantity) for row in table.itertuples()])


@pytest.mark.parametrize("formula", ["C6H12O6", "C57H104O6", "C5H7NO2", "C3H7NO2S"])
def test_methane_carries_all_the_oxygen_demand(formula: str) -> None:
    found = theory(formula)
    demand_g_per_g = found.methane_l_per_g / found.methane_l_per_g_cod

    # glucose needs 6 O2 for 180.156 g; the others follow from their own balance
    if formula == "C6H12O6":
        assert demand_g_per_g == pytest.approx(6 * 31.998 / 180.156, rel=1e-4)
    assert 0.0 < found.methane_fraction < 1.0


def test_no_feedstock_gives_more_than_fat_could() -> None:
    fat = theory("C57H104O6")
    most_gas = 1e-3 * 1e3 * fat.methane_l_per_g / fat.methane_fraction

    for stock in (*MANURES.values(), MIXED_SCRAPS):
        assert stock.gas_sm3_per_kg_vs < most_gas


def decayed(retention_d: float) -> float:
    """Share of the volatile solids that becomes gas in a stirred tank at 30 °C, by the rates that a fit starts from."""
    kinetics = from_z(np.zeros(len(PRIORS))).kinetics
    active = activity(np.asarray(30.0), kinetics.t0_c)
    share = 0.0
    for part, rate in zip(POOL_SHARES, (kinetics.fast_per_d, kinetics.slow_per_d), strict=True):
        left, gassed = decay_shares(rate, active, 1.0 / retention_d)
        share += part * float(gassed / (1.0 - left))
    return share


def standing_l(gas_sm3: float) -> float:
    """Litres as they stand, saturated, over slurry of 30 °C."""
    return 1e3 * gas_sm3 / float(sm3_per_m3(30.0, gauge_pa=0.0, atmosphere_pa=STANDARD_PRESSURE_PA))


def test_feedstocks_give_what_the_field_found(published) -> None:
    table = published("feedstock_yields").set_index("quantity", drop=False)
    for row in table.loc[["digested_l_per_kg_vs", "whole_l_per_kg_vs", "whole_nl_per_kg_fresh"]].itertuples():
        stock = feedstock(row.feedstock)
        whole_sm3 = stock.gas_sm3_per_kg_vs
        litres = {
            "digested_l_per_kg_vs": standing_l(whole_sm3 * decayed(15.0)),
            "whole_l_per_kg_vs": 1e3 * whole_sm3,
            "whole_nl_per_kg_fresh": 1e3 * whole_sm3 * stock.volatile_solids_fraction * 273.15 / 288.15,
        }[row.quantity]

        assert row.low * (1.0 - row.tolerance) <= litres <= row.high * (1.0 + row.tolerance), row.id


def test_fresh_dung_gives_more_than_ten_days_make_and_less_than_all_there_is(published) -> None:
    for row in published("feedstock_yields").query("quantity == 'digested_l_per_kg_fresh'").itertuples():
        stock = feedstock(row.feedstock)
        whole_sm3 = stock.volatile_solids_fraction * stock.gas_sm3_per_kg_vs

        assert standing_l(whole_sm3 * decayed(10.0)) < row.low <= row.high < standing_l(whole_sm3), row.id


def test_mixed_scraps_give_what_plants_give_on_the_whole(published) -> None:
    plants = published("feedstock_yields").query("quantity == 'plant_l_per_kg_vs'")
    middle = (plants["low"] + plants["high"]) / 2.0
    litres = standing_l(MIXED_SCRAPS.gas_sm3_per_kg_vs * decayed(15.0))

    # seven plants from straw to clover: their mean, within twice its own standard error
    assert litres == pytest.approx(middle.mean(), abs=2.0 * middle.sem())


def test_steady_feeding_gives_the_first_order_yield(published, agree) -> None:
    table = published("first_order_digestion")
    found = []
    for row in table.itertuples():
        left, gassed = decay_shares(row.rate_per_d, 1.0, 1.0 / row.retention_d)
        found.append(row.ultimate_m3_per_kg * gassed / (1.0 - left))

    agree(table, found)


@pytest.mark.parametrize("formula", ["H2O", "C6H12Cl6", "c6h12o6", "", "CO2", "C6H12O6!"])
def test_what_gives_no_methane_is_refused(formula: str) -> None:
    with pytest.raises(OutOfRange, match=r"formula is .*, must "):
        theory(formula)
