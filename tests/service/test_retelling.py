"""The models' refusals are told in the contract's names and units, and nothing else of them is touched."""

from __future__ import annotations

from pathlib import Path

import pytest
import yaml

from models.burner import GasSupply
from models.errors import Inconsistent, ModelError, OutOfRange, within
from service.retelling import CONTRACT, Said, retold

ROOT = Path(__file__).parents[2]


def contract_fields() -> set[str]:
    """Every field and parameter of the contract."""
    contract = yaml.safe_load((ROOT / "openapi.yaml").read_text(encoding="utf-8"))
    return {name for one in contract["components"]["schemas"].values() for name in one.get("properties", {})}


def test_every_name_told_is_a_field_of_the_contract_and_the_models_own_is_not() -> None:
    known = contract_fields()

    assert {said.field for said in CONTRACT.values()} <= known
    assert not known & set(CONTRACT)


def test_a_figure_and_its_range_are_told_in_the_unit_of_the_contract() -> None:
    with pytest.raises(OutOfRange) as refused:
        within("methane_fraction", [0.6, 1.25], 0.05, 1.0)

    assert retold(refused.value) == ("methane_pct is 125 %, must be 5 to 100 %", "methane_pct")


def test_what_the_models_refuse_is_told_as_they_refuse_it() -> None:
    with pytest.raises(OutOfRange) as refused:
        GasSupply(methane_fraction=0.6, gauge_pa=25_000.0, atmosphere_pa=101_325.0, temperature_c=15.0)

    assert retold(refused.value) == ("gauge_kpa is 25 kPa, must be 0 to 20 kPa", "gauge_kpa")


@pytest.mark.parametrize(
    ("error", "told"),
    [
        (OutOfRange("low_gauge_pa is 5, must be 6 to 7", field="low_gauge_pa"), "low_gauge_pa is 5, must be 6 to 7"),
        (Inconsistent("gauge_pa must be left out", field="gauge_pa"), "gauge_pa must be left out"),
        (Inconsistent("pan is 'gauge_pa is low', must be one of 2"), "pan is 'gauge_pa is low', must be one of 2"),
        (OutOfRange("gauge_pa is 1e-05, must be 50 to inf"), "gauge_kpa is 1e-08 kPa, must be 0.05 to inf kPa"),
        (OutOfRange("gauge_pa is -3, must not exceed relief_pa, 1e+06"), "gauge_kpa is -0.003 kPa, must not exceed "),
    ],
)
def test_only_figures_by_a_known_name_are_told_anew(error: ModelError, told: str) -> None:
    assert retold(error)[0].startswith(told)


def test_a_document_may_tell_a_figure_in_words_of_its_own() -> None:
    names = {"gauge_pa": Said(field="weight_kg", per=1e-3, unit="kPa", about="weight_kg on weight_area_m2")}

    assert retold(OutOfRange("gauge_pa is 8, must be 50 to 10000", field="gauge_pa"), names) == (
        "weight_kg on weight_area_m2 is 0.008 kPa, must be 0.05 to 10 kPa",
        "weight_kg",
    )
