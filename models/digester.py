"""The digester as its household describes it, and what its feedstock can give."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from models.errors import OutOfRange, within

PRODUCTION_TIMES_PRIOR = 3.0  # what a digester cannot give, in shares of what its feed would
KG_PER_M3 = 1000.0  # feed sinks into the slurry: its volume is that of as much water
SENSORS = ("inside", "outside_wall")


@dataclass(frozen=True, slots=True, kw_only=True)
class Feedstock:
    """What one kilogram of fresh feed brings.

    `volatile_solids_fraction` is kg of volatile solids per kg fresh; `gas_sm3_per_kg_vs` the gas from a kilogram of
    volatile solids once it is decayed. [0-1, sm3/kg]
    """

    volatile_solids_fraction: float
    gas_sm3_per_kg_vs: float


MIXED_SCRAPS = Feedstock(volatile_solids_fraction=0.19, gas_sm3_per_kg_vs=0.62)
"""Kitchen and garden waste, and anything that no table below names."""

_RUMINANT = 0.45
MANURES: Mapping[str, Feedstock] = {
    "cow": Feedstock(volatile_solids_fraction=0.13, gas_sm3_per_kg_vs=_RUMINANT),
    "pig": Feedstock(volatile_solids_fraction=0.12, gas_sm3_per_kg_vs=0.62),
    "poultry": Feedstock(volatile_solids_fraction=0.17, gas_sm3_per_kg_vs=0.62),
    "sheep": Feedstock(volatile_solids_fraction=0.20, gas_sm3_per_kg_vs=_RUMINANT),
    "horse": Feedstock(volatile_solids_fraction=0.15, gas_sm3_per_kg_vs=0.50),
}
"""Fresh dung by animal. Organic dry matter: Werner, Stöhr and Hees, "Biogas Plants in Animal Husbandry", GTZ/GATE 1989.
Gas is what all of it would give; about half decays within 15 days at 30 °C, which lands each animal within the field
yields of Maramba 1978 (90-310 L/kg VS from cows, 340-550 from pigs, 310-620 from poultry)."""

ANIMALS: Mapping[str, str] = {
    "cattle": "cow",
    "dairy": "cow",
    "buffalo": "cow",
    "swine": "pig",
    "chicken": "poultry",
    "hen": "poultry",
    "goat": "sheep",
}
DROPPINGS = frozenset({"dung", "manure", "slurry", "droppings"})


def named_feedstock(name: str) -> Feedstock | None:
    """What a feedstock brings whose name says it is an animal's dung.

    Parameters
    ----------
    name : str
        Such as "cow dung" or "pig manure".

    Returns
    -------
    Feedstock or None
        None for any other name.
    """
    words = set(name.lower().replace("-", " ").split())
    if not words & DROPPINGS:
        return None
    animals = (ANIMALS.get(word, word) for word in sorted(words))
    return next((MANURES[animal] for animal in animals if animal in MANURES), None)


def feedstock(name: str) -> Feedstock:
    """What a named feedstock brings.

    Parameters
    ----------
    name : str

    Returns
    -------
    Feedstock
        The mixed scraps where it is nothing else that is known.
    """
    return named_feedstock(name) or MIXED_SCRAPS


@dataclass(frozen=True, slots=True, kw_only=True)
class Digester:
    """One digester.

    `liquid_m3` is the slurry it holds, `usual_feed_kg_per_d` fresh feed and `usual_water_l_per_d` the water poured in
    with it on a usual day. `sensor` says where the slurry thermometer sits: `inside` or `outside_wall`.
    """

    name: str
    liquid_m3: float
    usual_feed_kg_per_d: float
    usual_water_l_per_d: float = 0.0
    feedstock: str = "kitchen scraps"
    sensor: str = "inside"

    def __post_init__(self) -> None:
        within("liquid_m3", self.liquid_m3, 0.02, 500.0)
        within("usual_feed_kg_per_d", self.usual_feed_kg_per_d, 0.0, 50_000.0)
        within("usual_water_l_per_d", self.usual_water_l_per_d, 0.0, 50_000.0)
        if self.sensor not in SENSORS:
            raise OutOfRange(f"sensor is {self.sensor!r}, must be inside or outside_wall", field="sensor")


def most_sm3_per_d(digesters: Sequence[Digester]) -> float:
    """Gas that the usual feed can give at the most.

    Parameters
    ----------
    digesters : sequence of Digester

    Returns
    -------
    float
        Of all together. [sm3/d]
    """
    given = 0.0
    for one in digesters:
        kind = feedstock(one.feedstock)
        given += one.usual_feed_kg_per_d * kind.volatile_solids_fraction * kind.gas_sm3_per_kg_vs
    return given
