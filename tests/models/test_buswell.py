"""What chemistry allows a feedstock to give, and that the feedstock table keeps within it."""

from __future__ import annotations

import pytest

from models.buswell import theory
from models.digester import MANURES, MIXED_SCRAPS, feedstock
from models.errors import OutOfRange
from models.production.substrate import decay_shares


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


def test_feedstocks_give_what_the_field_found(published) -> None:
    for row in published("feedstock_yields").itertuples():
        stock = feedstock(row.feedstock)
        litres = 1e3 * stock.gas_sm3_per_kg_vs
        if row.quantity == "per_kg_fresh":
            litres *= stock.volatile_solids_fraction

        assert row.low * (1.0 - row.tolerance) <= litres <= row.high * (1.0 + row.tolerance), row.id


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
