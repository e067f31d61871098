"""What dishes take at the stove: minutes on the burners, gas and heat, on the gas that reaches them."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, fields, replace
from functools import partial
from typing import Protocol, TypeAlias

import numpy as np

from models.boiling import Flame, boil, simmer_flame_fraction
from models.burner import Burner, GasSupply, gas_flow_sm3_per_h, heat_input_kw
from models.errors import Inconsistent, within
from models.gas import net_mj_per_sm3
from models.log import Readings
from models.pan import Kitchen, Pan
from models.units import ArrayLike, Floats

LONGEST_BOIL_MIN = 240.0  # a cook gives up; keeps the gas finite on the rare path whose gas never boils the pan
SHORTEST_MIN = 0.1
MINUTES_PER_HOUR = 60.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Boiling:
    """Bring water from a temperature to the boil, at full flame."""

    water_l: float
    from_c: float = 15.0

    def __post_init__(self) -> None:
        within("water_l", self.water_l, 0.05, 100.0)
        within("from_c", self.from_c, 0.0, 100.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Simmering:
    """Hold at the boil on the lowest flame that does."""

    minutes: float

    def __post_init__(self) -> None:
        within("simmer_min", self.minutes, SHORTEST_MIN, 1440.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Burning:
    """Burn for a time at a share of the full flame: to fry, or whatever the cook does with it."""

    minutes: float
    flame_fraction: float = 1.0

    def __post_init__(self) -> None:
        within("flame_min", self.minutes, SHORTEST_MIN, 1440.0)
        within("flame_fraction", self.flame_fraction, 0.02, 1.0)


Step: TypeAlias = Boiling | Simmering | Burning


@dataclass(frozen=True, slots=True, kw_only=True)
class Dish:
    """Steps one after another on one burner; a pan is needed to boil and to simmer."""

    burner: str
    steps: tuple[Step, ...]
    pan: str | None = None

    def __post_init__(self) -> None:
        if not self.steps:
            raise Inconsistent("steps is empty, must have at least one of boil, simmer_min, fry_min", field="steps")
        if self.pan is None and any(not isinstance(step, Burning) for step in self.steps):
            raise Inconsistent("pan is missing, must be named where a dish boils or simmers", field="pan")


@dataclass(frozen=True, slots=True, kw_only=True)
class Stove:
    """Burners and pans by name, and the gas that reaches them.

    The fields of `supply` are scalars, or arrays that broadcast to (paths, servings) where gas differs by path or hour.
    """

    burners: tuple[Burner, ...]
    supply: GasSupply
    pans: tuple[Pan, ...] = ()

    def burner(self, name: str) -> Burner:
        """The burner of that name; Inconsistent on field `burner` where there is none."""
        for burner in self.burners:
            if burner.name == name:
                return burner
        raise _unknown("burner", name, [burner.name for burner in self.burners])

    def pan(self, name: str) -> Pan:
        """The pan of that name; Inconsistent on field `pan` where there is none."""
        for pan in self.pans:
            if pan.name == name:
                return pan
        raise _unknown("pan", name, [pan.name for pan in self.pans])

    def over(self, change: Callable[[Floats], ArrayLike]) -> Stove:
        """The same stove with a change made to every field of its supply."""
        changed = {
            one.name: change(np.asarray(getattr(self.supply, one.name), dtype=float)) for one in fields(self.supply)
        }
        return replace(self, supply=GasSupply(**changed))


@dataclass(frozen=True, slots=True, kw_only=True)
class Use:
    """What servings are planned to take: `sm3` of gas, shape (paths, servings), with one path where all agree.

    `mj` is the net heat in that gas, `useful_mj` the share of it that reaches the pans.
    """

    sm3: Floats
    mj: Floats
    useful_mj: Floats

    def first(self, count: int) -> Use:
        """Of the first servings."""
        return Use(sm3=self.sm3[:, :count], mj=self.mj[:, :count], useful_mj=self.useful_mj[:, :count])


def typical(stove: Stove) -> Stove:
    """The stove on the middle of its gas: every field of the supply a scalar."""
    return stove.over(lambda value: float(np.median(value)))


class Cooked(Protocol):
    """Whatever is made of dishes, so many times over."""

    @property
    def dishes(self) -> tuple[Dish, ...]: ...

    @property
    def factor(self) -> float: ...


def cooking_min(dishes: Sequence[Dish], stove: Stove) -> float:
    """Minutes from the first flame to the last: burners side by side, the dishes of one burner one after another.

    A pan that the gas never boils is given up after four hours.

    Raises
    ------
    Inconsistent
        A burner or pan the stove lacks.
    """
    usual, busy_min = typical(stove), dict[str, float]()
    for dish in dishes:
        minutes = sum(float(step_min) for step_min, _ in _flames(dish, usual))
        busy_min[dish.burner] = busy_min.get(dish.burner, 0.0) + minutes
    return max(busy_min.values())


def refuse_unboiled(dishes: Sequence[Dish], stove: Stove) -> None:
    """Refuse dishes with water that the stove's gas does not bring to the boil in four hours.

    Raises
    ------
    Inconsistent
        On field `burner`; also where the stove lacks a burner, or a pan that is named, though it be to fry in.
    """
    usual = typical(stove)
    for dish in dishes:
        if dish.pan is not None:
            stove.pan(dish.pan)
        for step, (minutes, _) in zip(dish.steps, _flames(dish, usual), strict=True):
            if isinstance(step, Boiling) and float(minutes) >= LONGEST_BOIL_MIN:
                raise Inconsistent(
                    f"burner {dish.burner!r} does not bring {step.water_l:g} L to the boil on this gas, must be a "
                    "stronger one, or the water less",
                    field="burner",
                )


def planned_use(servings: Sequence[Cooked], stove: Stove) -> Use:
    """Gas and heat that servings are planned to take.

    Parameters
    ----------
    servings : sequence of Serving
        Those without dishes take nothing.
    stove : Stove

    Returns
    -------
    Use
        Shape (paths, servings), the paths those of the supply.

    Raises
    ------
    Inconsistent
        Where a dish names a burner or pan that the stove lacks.

    Notes
    -----
    Minutes of flame take the burner's flow whatever the gas; water takes its heat, so poorer gas takes more of it.
    """
    shape = (*_paths(stove.supply), len(servings))
    sm3, useful_sm3 = np.zeros(shape), np.zeros(shape)
    groups: dict[tuple[Dish, ...], list[int]] = {}
    for column, serving in enumerate(servings):
        groups.setdefault(serving.dishes, []).append(column)
    for dishes, columns in groups.items():
        factors = np.array([servings[column].factor for column in columns])
        here = stove.over(partial(_columns, columns=columns))
        for dish in dishes:
            taken = factors * _sm3(dish, here)
            sm3[:, columns] += taken
            useful_sm3[:, columns] += taken * stove.burner(dish.burner).efficiency
    net_mj = net_mj_per_sm3(stove.supply.methane_fraction)
    return Use(sm3=sm3, mj=sm3 * net_mj, useful_mj=useful_sm3 * net_mj)


def gas_of_cooking(cooking: Readings, stove: Stove) -> Floats:
    """Gas of logged cooking, shape (readings,); an entry that names no known burner was on the first. [sm3]"""
    flows = {one.name: float(gas_flow_sm3_per_h(one, typical(stove).supply)) for one in stove.burners}
    usual = flows[stove.burners[0].name]
    flow = np.array([flows.get(str(item), usual) for item in cooking.item])
    flame = np.where(np.isfinite(cooking.flame_fraction), cooking.flame_fraction, 1.0)
    return np.asarray(flow * flame * cooking.value / MINUTES_PER_HOUR)


def _paths(supply: GasSupply) -> tuple[int]:
    rows = [np.shape(getattr(supply, one.name))[:-1] for one in fields(supply)]
    return (np.broadcast_shapes((1,), *rows)[0],)


def _columns(value: Floats, columns: list[int]) -> Floats:
    """The columns of a field that differs by serving; any other as it is."""
    return value if value.ndim == 0 or value.shape[-1] == 1 else value[..., columns]


def _sm3(dish: Dish, stove: Stove) -> Floats:
    """Gas that one dish takes, shape of the supply. [sm3]"""
    flow = gas_flow_sm3_per_h(stove.burner(dish.burner), stove.supply)
    full_min = sum((minutes * share for minutes, share in _flames(dish, stove)), start=np.zeros(()))
    return np.asarray(flow * full_min / MINUTES_PER_HOUR)


def _flames(dish: Dish, stove: Stove) -> Iterator[tuple[Floats, Floats]]:
    """Minutes and share of full flame of each step, scalars or shape of the supply."""
    burner = stove.burner(dish.burner)
    flame = Flame(
        heat_input_kw=heat_input_kw(burner, stove.supply),
        efficiency=burner.efficiency,
        lowest_fraction=burner.lowest_flame_fraction,
    )
    around = Kitchen(atmosphere_pa=float(np.mean(np.asarray(stove.supply.atmosphere_pa))))
    for step in dish.steps:
        if isinstance(step, Burning):
            yield np.asarray(step.minutes), np.asarray(step.flame_fraction)
        elif isinstance(step, Simmering):
            share = simmer_flame_fraction(stove.pan(dish.pan or ""), flame=flame, kitchen=around)
            yield np.asarray(step.minutes), np.minimum(share, 1.0)
        else:
            pan = stove.pan(dish.pan or "")
            boiled = boil(pan, water_l=step.water_l, from_c=step.from_c, flame=flame, kitchen=around)
            yield np.minimum(boiled.boil_min, LONGEST_BOIL_MIN), np.ones(())


def _unknown(kind: str, name: str, known: Sequence[str]) -> Inconsistent:
    choices = ", ".join(known) or f"the {kind}s of the description, and there is none"
    return Inconsistent(f"{kind} is {name!r}, must be one of {choices}", field=kind)
