"""A household that contradicts itself is refused, with the field to mend."""

from __future__ import annotations

import copy
from typing import Any

import numpy as np
import pytest

from models.errors import Inconsistent
from models.site import Site
from service.api.examples import DESCRIPTION
from service.documents import DocumentError, household_from


def described(**parts: Any) -> dict[str, Any]:
    return copy.deepcopy(DESCRIPTION) | parts


def test_the_gas_at_the_burner_is_the_holders_wet_and_at_altitude() -> None:
    household = household_from(DESCRIPTION)

    supply = household.supply(np.array([0.55, 0.60]), 12.0)

    assert supply.gauge_pa == 600.0
    assert supply.humidity == 1.0
    assert 99_000.0 < float(np.asarray(supply.atmosphere_pa)) < 101_325.0  # 140 m up


def test_a_year_has_twelve_months() -> None:
    with pytest.raises(Inconsistent, match="must have 12"):
        Site(altitude_m=0.0, latitude_deg=40.0, monthly_mean_c=(10.0,) * 11)


@pytest.mark.parametrize(
    ("parts", "pointer"),
    [
        ({"burners": []}, "/burners"),
        ({"pans": DESCRIPTION["pans"] * 2}, "/pans"),
        ({"care_level": 0.9}, "/care_level"),
        ({"site": DESCRIPTION["site"] | {"altitude_m": 9000}}, "/site/altitude_m"),
        ({"backup": {"fuel": "induction", "on_hand_kg": 3}}, "/backup/on_hand_kg"),
    ],
)
def test_what_contradicts_itself_is_named(parts: dict[str, Any], pointer: str) -> None:
    with pytest.raises(DocumentError) as refused:
        household_from(described(**parts))

    assert refused.value.pointer == pointer


def test_what_is_left_out_takes_the_stated_default() -> None:
    bare = {name: part for name, part in DESCRIPTION.items() if name not in ("gas", "pans", "backup", "care_level")}

    household = household_from(bare)

    assert (household.gas.methane_fraction, household.gas.source) == (0.60, "default")
    assert household.backup.fuel == "lpg"
    assert household.care_level == 0.1


@pytest.mark.parametrize(
    ("pressure", "gauge_pa", "relief_pa"),
    [
        ({}, 600.0, 980.665),
        ({"gauge_kpa": 0.5, "relief_kpa": 1.2}, 500.0, 1200.0),
        ({"gauge_mm_h2o": 50, "relief_mm_h2o": 120}, 490.3325, 1176.798),
        ({"weight_kg": 60, "weight_area_m2": 1.2}, 490.3325, 980.665),
    ],
)
def test_a_holders_pressure_is_read_however_it_is_given(
    pressure: dict[str, float], gauge_pa: float, relief_pa: float
) -> None:
    """9.80665 Pa to the millimetre of water; 60 kg on 1.2 m2 weigh as much as 50 mm of water."""
    holder = household_from(described(holder={"capacity_m3": 0.9} | pressure)).holder

    assert holder.gauge_pa == pytest.approx(gauge_pa)
    assert holder.relief_pa == pytest.approx(relief_pa)


def test_a_backup_left_unsaid_burns_as_its_fuel_usually_does() -> None:
    assert household_from(described(backup={"fuel": "induction"})).backup.efficiency == 0.85
    assert household_from(described(backup={"fuel": "wood"})).backup.efficiency == 0.15
