"""A digester as its household describes it, and what its feed goes by."""

from __future__ import annotations

from dataclasses import replace

import pytest

from models.digester import ANIMALS, MANURES, MIXED_SCRAPS, Digester, feedstock, named_feedstock
from models.errors import OutOfRange

TANK = Digester(name="tank", liquid_m3=0.85, usual_feed_kg_per_d=4.0)


@pytest.mark.parametrize(
    ("field", "low", "high"),
    [("liquid_m3", 0.019, 501.0), ("usual_feed_kg_per_d", -0.1, 50_001.0), ("usual_water_l_per_d", -0.1, 50_001.0)],
)
def test_both_ends_of_every_range_are_refused(field: str, low: float, high: float) -> None:
    for value in (low, high):
        with pytest.raises(OutOfRange, match=f"{field} is .*, must be .* to "):
            replace(TANK, **{field: value})


def test_a_thermometer_sits_inside_or_on_the_wall() -> None:
    assert replace(TANK, sensor="outside_wall").sensor == "outside_wall"
    with pytest.raises(OutOfRange, match="sensor is 'pocket', must be inside or outside_wall"):
        replace(TANK, sensor="pocket")


@pytest.mark.parametrize(("animal", "kind"), [*ANIMALS.items(), *((kind, kind) for kind in MANURES)])
def test_dung_goes_by_its_animal(animal: str, kind: str) -> None:
    assert feedstock(f"fresh {animal} dung") == MANURES[kind]
    assert feedstock(f"{animal.title()}-manure") == MANURES[kind]


@pytest.mark.parametrize("name", ["kitchen scraps", "pig feed", "cow", "dragon dung", ""])
def test_all_other_feed_counts_as_mixed_scraps(name: str) -> None:
    assert named_feedstock(name) is None
    assert feedstock(name) == MIXED_SCRAPS
