"""Bringing a pan of water to the boil and keeping it there: time, gas, and whether it boils at all."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from models.errors import Inconsistent, OutOfRange, within
from models.pan import WATER_J_PER_KG_K, WATER_KG_PER_L, Kitchen, Pan, pan_loss_w
from models.units import ArrayLike, Bools, Floats

EfficiencyBasis = Literal["test", "zero_loss"]
SECONDS_PER_MINUTE = 60.0
STEPS = 12
LONGEST_S = 86_400.0  # no cook waits longer: what takes more than a day is told as what never boils


@dataclass(frozen=True, slots=True, kw_only=True)
class Flame:
    """The heat under a pan: net heat input and the share of it that warms the pan.

    An efficiency from a `test` already holds the losses of the lidded pan it was tested with; a `zero_loss` efficiency
    leaves them out, so that they are counted beside it, as `loss_w_per_k` or, where that is None, from the pan.
    """

    heat_input_kw: ArrayLike
    efficiency: float = 0.55
    efficiency_from: EfficiencyBasis = "test"
    loss_w_per_k: float | None = None
    lowest_fraction: float = 0.25

    def __post_init__(self) -> None:
        within("heat_input_kw", self.heat_input_kw, 0.0, 1000.0)
        within("efficiency", self.efficiency, 0.05, 1.0)
        within("lowest_fraction", self.lowest_fraction, 0.0, 1.0)
        if self.efficiency_from not in ("test", "zero_loss"):
            raise OutOfRange(
                f"efficiency_from is {self.efficiency_from}, must be one of test, zero_loss", field="efficiency_from"
            )
        if self.loss_w_per_k is not None:
            within("loss_w_per_k", self.loss_w_per_k, 0.0, 100.0)
            if self.efficiency_from == "test" and self.loss_w_per_k > 0.0:
                message = "loss_w_per_k must be left out or 0: an efficiency from a test holds the losses already"
                raise Inconsistent(message, field="loss_w_per_k")

    def useful_w(self) -> Floats:
        """Heat that reaches the pan at full flame. [W]"""
        return np.asarray(1e3 * self.efficiency * np.asarray(self.heat_input_kw, dtype=float))

    def counted_loss_w(self, pan: Pan, *, water_c: ArrayLike, kitchen: Kitchen) -> Floats:
        """Loss at a water temperature that the efficiency does not hold yet.

        Parameters
        ----------
        pan : Pan
        water_c : array_like
            Water temperature. [°C], 0 to 120
        kitchen : Kitchen

        Returns
        -------
        ndarray, shape of `water_c`. [W]

        Raises
        ------
        OutOfRange
            Where the water lies outside its range and the loss is the pan's own.
        """
        water = np.asarray(water_c, dtype=float)
        if self.loss_w_per_k is not None:
            return np.asarray(self.loss_w_per_k * (water - kitchen.air_c))
        own = pan_loss_w(pan, water, kitchen)
        if self.efficiency_from == "zero_loss":
            return own
        return np.asarray(np.maximum(own - pan_loss_w(replace(pan, lid=True), water, kitchen), 0.0))


@dataclass(frozen=True, slots=True, kw_only=True)
class Boil:
    """A pan brought to the boil at full flame; every array has the common shape of what was asked.

    `boil_min` and `gas_mj` are infinite where it `never_boils`. `simmer_fraction` is the lowest flame that holds the
    boil, above 1 where none does.
    """

    boil_min: Floats
    never_boils: Bools
    gas_mj: Floats
    boiling_point_c: float
    simmer_fraction: Floats


def warming_s(
    heat_capacity_j_per_k: ArrayLike,
    *,
    power_w: ArrayLike,
    loss_w_per_k: ArrayLike,
    start_k: ArrayLike,
    end_k: ArrayLike,
) -> Floats:
    """Time to warm a body that loses heat in proportion to its rise above the air.

    Parameters
    ----------
    heat_capacity_j_per_k : array_like
        C. [J/K], above 0
    power_w : array_like
        P, heat that reaches the body. [W], at least 0
    loss_w_per_k : array_like
        U, loss per kelvin above the air. [W/K], at least 0
    start_k, end_k : array_like
        Temperature above the air at the start and at the end. [K], any

    Returns
    -------
    ndarray, the common shape. [s]; infinite where the loss at the end is all the heat there is

    Notes
    -----
    C·dT/dt = P − U·(T − Tₐ) in closed form: t = (C/U)·ln[(P − U·start)/(P − U·end)], written with log1p so that U = 0
    is its smooth limit C·(end − start)/P. Zero where the start is at or above the end.
    """
    c, p, u, start, end = np.broadcast_arrays(
        *(np.asarray(value, dtype=float) for value in (heat_capacity_j_per_k, power_w, loss_w_per_k, start_k, end_k))
    )
    spare_w = p - u * end
    rise = np.maximum(end - start, 0.0)
    possible = (spare_w > 0.0) | (rise == 0.0)
    ratio = np.where(possible & (rise > 0.0), rise / np.where(spare_w > 0.0, spare_w, 1.0), 0.0)
    lossy = u * ratio > 1e-12
    slowed = np.log1p(u * ratio) / np.where(lossy, u, 1.0)
    return np.where(possible, c * np.where(lossy, slowed, ratio), np.inf)


def boil(pan: Pan, *, water_l: ArrayLike, from_c: ArrayLike, flame: Flame, kitchen: Kitchen | None = None) -> Boil:
    """Bring water to the boil at full flame.

    Parameters
    ----------
    pan : Pan
    water_l : array_like
        Water. [L], 0.05 to 100
    from_c : array_like
        Its temperature at the start. [°C], 0 to 100
    flame : Flame
    kitchen : Kitchen, optional
        20 °C at sea level where left out.

    Returns
    -------
    Boil
        Arrays of the common shape of water, start and heat input.

    Raises
    ------
    OutOfRange
        Where an input lies outside its range.

    Notes
    -----
    The pan never boils where its loss reaches the useful heat before the boil, or so nearly that it takes a day. A loss
    in proportion to the rise above the air is met exactly; the pan's own is taken as straight between twelve steps of
    temperature, each in closed form.
    """
    around = kitchen or Kitchen()
    boiling = around.boiling_point_c()
    start = np.minimum(within("from_c", from_c, 0.0, 100.0), boiling)
    step_c = np.linspace(0.0, boiling, STEPS + 1)
    loss_w = flame.counted_loss_w(pan, water_c=step_c, kitchen=around)
    seconds = warming_s(
        pan.heat_capacity_j_per_k(water_l)[..., None],
        power_w=flame.useful_w()[..., None] - loss_w[:-1],
        loss_w_per_k=np.diff(loss_w) / np.diff(step_c),
        start_k=np.maximum(start[..., None] - step_c[:-1], 0.0),
        end_k=np.diff(step_c),
    ).sum(axis=-1)
    never = seconds > LONGEST_S
    seconds = np.where(never, np.inf, seconds)
    gas_mj = np.where(never, 0.0, seconds) * np.asarray(flame.heat_input_kw, dtype=float) * 1e-3
    return Boil(
        boil_min=seconds / SECONDS_PER_MINUTE,
        never_boils=never,
        gas_mj=np.where(never, np.inf, gas_mj),
        boiling_point_c=boiling,
        simmer_fraction=np.broadcast_to(simmer_flame_fraction(pan, flame=flame, kitchen=around), seconds.shape),
    )


def water_boiled_l(useful_mj: ArrayLike, *, from_c: float, boiling_c: float) -> Floats:
    """Water that heat brings to the boil, no more and no less: in pans that weigh nothing and lose nothing.

    Parameters
    ----------
    useful_mj : array_like
        Heat into the water. [MJ], 0 and up
    from_c : float
        Temperature it starts at. [°C], 0 to 60
    boiling_c : float
        Temperature it boils at. [°C], 65 to 105

    Returns
    -------
    ndarray, shape of `useful_mj`. [L]

    Raises
    ------
    OutOfRange
        Where an input lies outside its range.
    """
    rise_k = within("boiling_c", boiling_c, 65.0, 105.0) - within("from_c", from_c, 0.0, 60.0)
    heat_j = 1e6 * within("useful_mj", useful_mj, 0.0, np.inf)
    return np.asarray(heat_j / (WATER_J_PER_KG_K * rise_k) / WATER_KG_PER_L)


def simmer_flame_fraction(pan: Pan, *, flame: Flame, kitchen: Kitchen) -> Floats:
    """Lowest flame that holds the boil, as a share of full flame; never below the burner's turndown.

    Parameters
    ----------
    pan : Pan
    flame : Flame
    kitchen : Kitchen

    Returns
    -------
    ndarray, shape of the flame's heat input. [1]; above 1 where full flame does not hold the boil, infinite at no heat

    Notes
    -----
    Holding the boil takes U·(T_b − Tₐ) of useful heat. Beside an efficiency from a test the pan's own estimated loss
    stands in for U, which errs towards the higher flame.
    """
    boiling = kitchen.boiling_point_c()
    counted = flame.efficiency_from == "zero_loss"
    needed_w = (
        flame.counted_loss_w(pan, water_c=boiling, kitchen=kitchen) if counted else pan_loss_w(pan, boiling, kitchen)
    )
    useful = flame.useful_w()
    share = np.where(useful > 0.0, needed_w / np.where(useful > 0.0, useful, 1.0), np.inf)
    return np.asarray(np.maximum(share, flame.lowest_fraction))
