"""The gas holder: what its gauge shows, the wet volume behind it, and the dry standard gas in that volume."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from models.errors import Inconsistent, within
from models.iso6976 import COMPONENTS
from models.moisture import saturation_pressure_pa, vapour_fraction
from models.units import (
    GAS_CONSTANT_J_PER_MOL_K,
    GRAVITY_M_PER_S2,
    STANDARD_PRESSURE_PA,
    STANDARD_TEMPERATURE_K,
    ZERO_CELSIUS_K,
    ArrayLike,
    Floats,
)

LEAST_STEP = (0.01, 1e-6)  # % and m3 between gauge points: what a gauge can tell apart
GAUGE_PCT = (-50.0, 1000.0)  # what a gauge may be said to show: the absurd stays absurd, for the ledger to set aside
GaugePoints = tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class GasHolder:
    """A low-pressure gas holder. Volumes are wet gas as stored; `sm3_per_m3` turns them into dry standard gas.

    `gauge_points` pair a level [%] with a volume [m3], both rising; left out, the gauge is linear up to the capacity.
    `level_error_fraction` is the standard error of a reading as a share of the capacity.
    """

    capacity_m3: float
    reserve_m3: float = 0.0
    gauge_pa: float = 600.0
    relief_pa: float = 980.665
    level_error_fraction: float = 0.04
    gauge_points: GaugePoints = ()

    def __post_init__(self) -> None:
        within("capacity_m3", self.capacity_m3, 0.05, 500.0)
        within("reserve_m3", self.reserve_m3, 0.0, self.capacity_m3)
        within("gauge_pa", self.gauge_pa, 0.0, 20_000.0)
        within("relief_pa", self.relief_pa, 50.0, 20_000.0)
        within("level_error_fraction", self.level_error_fraction, 0.001, 0.5)
        if not self.gauge_points:
            object.__setattr__(self, "gauge_points", ((0.0, 0.0), (100.0, self.capacity_m3)))
        if self.gauge_pa > self.relief_pa:
            raise Inconsistent(
                f"gauge_pa is {self.gauge_pa:g}, must not exceed relief_pa, {self.relief_pa:g}; mend the one that is "
                "wrong",
                field="gauge_pa",
            )
        points = np.asarray(self.gauge_points, dtype=float)
        within("gauge_points level_pct", points[:, 0], 0.0, 100.0)
        within("gauge_points volume_m3", points[:, 1], 0.0, 1.05 * self.capacity_m3)
        if len(points) < 2 or (np.diff(points, axis=0) < LEAST_STEP).any():
            raise Inconsistent(
                "gauge_points must be two or more, each above the one before by 0.01 % and a millilitre at the least",
                field="gauge_points",
            )


def volume_m3(holder: GasHolder, level_pct: ArrayLike) -> Floats:
    """Wet volume behind a gauge level.

    Parameters
    ----------
    holder : GasHolder
    level_pct : array_like
        Level the gauge shows. [%], -50 to 1000; past the first and last of the holder's gauge points, which may lie
        within 0 to 100, the lines through the outer two are drawn on

    Returns
    -------
    ndarray, shape of `level_pct`. [m3]; below 0 or above the capacity where the level says so

    Raises
    ------
    OutOfRange
        A level that no gauge shows.
    """
    return _along(np.asarray(holder.gauge_points), within("level_pct", level_pct, *GAUGE_PCT))


def level_pct(holder: GasHolder, volume_m3: ArrayLike) -> Floats:
    """Gauge level at a wet volume: the inverse of `volume_m3`.

    Parameters
    ----------
    holder : GasHolder
    volume_m3 : array_like
        Wet gas as stored. [m3], -0.5 to 10 capacities; drawn on past the gauge points as there

    Returns
    -------
    ndarray, shape of `volume_m3`. [%]

    Raises
    ------
    OutOfRange
        A volume that no holder is said to hold.
    """
    low, high = (0.01 * holder.capacity_m3 * level for level in GAUGE_PCT)
    return _along(np.asarray(holder.gauge_points)[:, ::-1], within("volume_m3", volume_m3, low, high))


def _along(points: Floats, x: Floats) -> Floats:
    """Straight lines through `points` (rows of x, y), the outer two drawn on."""
    segment = np.clip(np.searchsorted(points[:, 0], x, side="right") - 1, 0, len(points) - 2)
    left, right = points[segment], points[segment + 1]
    slope = (right[..., 1] - left[..., 1]) / (right[..., 0] - left[..., 0])
    return np.asarray(left[..., 1] + slope * (x - left[..., 0]))


def sm3_per_m3(
    temperature_c: ArrayLike, *, gauge_pa: ArrayLike, atmosphere_pa: ArrayLike, humidity: ArrayLike = 1.0
) -> Floats:
    """Dry gas at 15 °C and 101.325 kPa in one cubic metre of wet gas as stored.

    Parameters
    ----------
    temperature_c : array_like
        Gas temperature. [°C], -45 to 60
    gauge_pa : array_like
        Pressure above the air's. [Pa], 0 to 20 000
    atmosphere_pa : array_like
        Pressure of the air. [Pa], 30 000 to 110 000
    humidity : array_like
        Relative humidity of the gas, 1 = saturated. [1], 0 to 1

    Returns
    -------
    ndarray, the common shape. [sm3/m3]

    Raises
    ------
    OutOfRange
        Where an input lies outside its range.

    Notes
    -----
    Ideal gas law with the vapour's partial pressure taken off (Dalton); the compression factors of stored and standard
    gas differ by less than 0.1 % here.

    References
    ----------
    .. [1] ISO 13443:1996, standard reference conditions and the conversion to them.
    """
    t = within("temperature_c", temperature_c, -45.0, 60.0)
    air = within("atmosphere_pa", atmosphere_pa, 30_000.0, 110_000.0)
    dry_pa = air + within("gauge_pa", gauge_pa, 0.0, 20_000.0)
    dry_pa = dry_pa - within("humidity", humidity, 0.0, 1.0) * saturation_pressure_pa(t)
    return np.asarray(dry_pa / STANDARD_PRESSURE_PA * STANDARD_TEMPERATURE_K / (t + ZERO_CELSIUS_K))


def swing_ratio(from_c: ArrayLike, to_c: ArrayLike, *, pressure_pa: ArrayLike) -> Floats:
    """Volume of saturated gas after a change of temperature alone, relative to before: gas neither made nor used.

    Parameters
    ----------
    from_c, to_c : array_like
        Gas temperature before and after. [°C], -45 to 60
    pressure_pa : array_like
        Absolute pressure of the gas, the same before and after. [Pa], 20 000 to 200 000

    Returns
    -------
    ndarray, the common shape. [1]

    Raises
    ------
    OutOfRange
        Where an input lies outside its range.

    Notes
    -----
    The same dry gas, n = (1 − y)·p·V/(R·T), with water at hand to keep it saturated (Dalton).
    """
    before, after = (
        (1.0 - vapour_fraction(t, pressure_pa=pressure_pa)) / (np.asarray(t, dtype=float) + ZERO_CELSIUS_K)
        for t in (from_c, to_c)
    )
    return np.asarray(before / after)


def condensate_l_per_sm3(from_c: ArrayLike, to_c: ArrayLike, *, pressure_pa: ArrayLike) -> Floats:
    """Water that drops out of a saturated gas as it cools, per dry standard cubic metre.

    Parameters
    ----------
    from_c, to_c : array_like
        Gas temperature before and after. [°C], -45 to 60
    pressure_pa : array_like
        Absolute pressure of the gas, the same before and after. [Pa], 20 000 to 200 000

    Returns
    -------
    ndarray, the common shape. [L/sm3]; 0 where the gas does not cool

    Raises
    ------
    OutOfRange
        Where an input lies outside its range.

    Notes
    -----
    A mole of dry gas carries y/(1 − y) moles of vapour (Dalton); a kilogram of water is taken as a litre.
    """
    y, y_after = (vapour_fraction(t, pressure_pa=pressure_pa) for t in (from_c, to_c))
    moles = STANDARD_PRESSURE_PA / (GAS_CONSTANT_J_PER_MOL_K * STANDARD_TEMPERATURE_K)
    kg_per_mol = 1e-3 * COMPONENTS["H2O"].molar_mass_g_per_mol
    return np.asarray(kg_per_mol * moles * np.maximum(y / (1.0 - y) - y_after / (1.0 - y_after), 0.0))


def weight_pa(mass_kg: ArrayLike, *, area_m2: ArrayLike) -> Floats:
    """Gauge pressure that weights on a holder bring.

    Parameters
    ----------
    mass_kg : array_like
        Weights, with what they lie on. [kg], 0 to 100 000
    area_m2 : array_like
        Level area that carries them. [m2], 0.01 to 1000

    Returns
    -------
    ndarray, the common shape. [Pa]

    Raises
    ------
    OutOfRange
        Where an input lies outside its range.

    Notes
    -----
    p = m·g/A with standard gravity.
    """
    mass = within("mass_kg", mass_kg, 0.0, 100_000.0)
    return np.asarray(mass * GRAVITY_M_PER_S2 / within("area_m2", area_m2, 0.01, 1000.0))


def water_column_pa(column_mm: ArrayLike, *, density_kg_per_m3: ArrayLike = 1000.0) -> Floats:
    """Gauge pressure of a column of water: what a relief column opens at.

    Parameters
    ----------
    column_mm : array_like
        Height of the column. [mm], 0 to 2000
    density_kg_per_m3 : array_like
        Of the liquid in it. [kg/m3], 500 to 2000

    Returns
    -------
    ndarray, the common shape. [Pa]

    Raises
    ------
    OutOfRange
        Where an input lies outside its range.

    Notes
    -----
    ρ·g·h: 9.80665 Pa per millimetre of water, by the conventional 1000 kg/m3 and standard gravity.
    """
    density = within("density_kg_per_m3", density_kg_per_m3, 500.0, 2000.0)
    return np.asarray(1e-3 * within("column_mm", column_mm, 0.0, 2000.0) * density * GRAVITY_M_PER_S2)
