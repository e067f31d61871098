"""The gas holder: what its gauge shows, the wet volume behind it, and the dry standard gas in that volume."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from models.errors import Inconsistent, within
from models.moisture import saturation_pressure_pa
from models.units import STANDARD_PRESSURE_PA, STANDARD_TEMPERATURE_K, ZERO_CELSIUS_K, ArrayLike, Floats

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
                f"gauge_pa is {self.gauge_pa:g}, must not exceed relief_pa, {self.relief_pa:g}", field="gauge_pa"
            )
        points = np.asarray(self.gauge_points, dtype=float)
        within("gauge_points level_pct", points[:, 0], 0.0, 100.0)
        within("gauge_points volume_m3", points[:, 1], 0.0, 1.05 * self.capacity_m3)
        if len(points) < 2 or (np.diff(points, axis=0) <= 0.0).any():
            raise Inconsistent("gauge_points must be two or more, each above the one before", field="gauge_points")


def volume_m3(holder: GasHolder, level_pct: ArrayLike) -> Floats:
    """Wet volume behind a gauge level.

    Parameters
    ----------
    holder : GasHolder
    level_pct : array_like
        Level the gauge shows. [%], 0 to 100; beyond that the outer points are drawn on in a straight line

    Returns
    -------
    ndarray, shape of `level_pct`. [m3]
    """
    return _along(np.asarray(holder.gauge_points), level_pct)


def level_pct(holder: GasHolder, volume_m3: ArrayLike) -> Floats:
    """Gauge level at a wet volume: the inverse of `volume_m3`.

    Parameters
    ----------
    holder : GasHolder
    volume_m3 : array_like
        Wet gas as stored. [m3]

    Returns
    -------
    ndarray, shape of `volume_m3`. [%]
    """
    return _along(np.asarray(holder.gauge_points)[:, ::-1], volume_m3)


def _along(points: Floats, value: ArrayLike) -> Floats:
    """Straight lines through `points` (rows of x, y), the outer two drawn on."""
    x = np.asarray(value, dtype=float)
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
