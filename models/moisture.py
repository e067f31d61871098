"""Water and air: vapour pressure, boiling point, the share of vapour in a wet gas, pressure at altitude."""

from __future__ import annotations

import numpy as np

from models.errors import within
from models.units import STANDARD_PRESSURE_PA, ZERO_CELSIUS_K, ArrayLike, Floats

# Coefficients of the saturation line, IAPWS R7-97(2012), Table 34.
N1, N2, N3, N4, N5 = (
    0.11670521452767e4,
    -0.72421316703206e6,
    -0.17073846940092e2,
    0.12020824702470e5,
    -0.32325550322333e7,
)
N6, N7, N8, N9, N10 = 0.14915108613530e2, -0.48232657361591e4, 0.40511340542057e6, -0.23855557567849, 0.65017534844798e3

WATER_CRITICAL_K = 647.096  # IAPWS R2-83(1992)
LATENT_HEAT_AT_BOIL = 2.25654e6  # J/kg at 100 °C, IAPWS R7-97(2012)

EARTH_RADIUS_M = 6_356_766.0  # U.S. Standard Atmosphere, 1976
LAPSE_K_PER_M = 0.0065
SEA_LEVEL_K = 288.15
BAROMETRIC_EXPONENT = 9.80665 * 28.9644e-3 / (8.31432 * LAPSE_K_PER_M)  # with the gas constant of that standard


def saturation_pressure_pa(temperature_c: ArrayLike) -> Floats:
    """Pressure of water vapour above liquid water.

    Parameters
    ----------
    temperature_c : array_like
        Gas temperature. [°C], -45 to 120

    Returns
    -------
    ndarray, shape of `temperature_c`. [Pa]

    Raises
    ------
    OutOfRange
        Outside the range the formulas were fitted for.

    Notes
    -----
    The saturation line of IAPWS-IF97 [1]_ from 0 °C up; below it the Magnus form over supercooled water with the WMO
    coefficients [2]_. The two meet at 0 °C within 0.003 %. NaN in, NaN out.

    References
    ----------
    .. [1] IAPWS R7-97(2012), "Industrial Formulation 1997", eq. 30.
    .. [2] "Guide to Instruments and Methods of Observation", WMO-No. 8, 2023.
    """
    t = within("temperature_c", temperature_c, -45.0, 120.0)
    warm_k = np.maximum(t, 0.0) + ZERO_CELSIUS_K
    theta = warm_k + N9 / (warm_k - N10)
    a = (theta + N1) * theta + N2
    b = (N3 * theta + N4) * theta + N5
    c = (N6 * theta + N7) * theta + N8
    root = 2.0 * c / (np.sqrt(b * b - 4.0 * a * c) - b)
    root *= root
    line = np.asarray(1e6 * root * root)
    cold = t < 0.0
    if cold.any():
        frozen = np.minimum(t, 0.0)
        return np.where(cold, 611.2 * np.exp(17.62 * frozen / (243.12 + frozen)), line)
    return line


def boiling_point_c(pressure_pa: ArrayLike) -> Floats:
    """Temperature at which water boils under an absolute pressure.

    Parameters
    ----------
    pressure_pa : array_like
        Absolute pressure on the water. [Pa], 20 000 to 200 000

    Returns
    -------
    ndarray, shape of `pressure_pa`. [°C]

    Raises
    ------
    OutOfRange
        Outside 20 to 200 kPa, from above the highest mountain to a pressure cooker.

    Notes
    -----
    The saturation line solved for temperature, IAPWS R7-97(2012), eq. 31.
    """
    beta = (within("pressure_pa", pressure_pa, 20_000.0, 200_000.0) * 1e-6) ** 0.25
    e = (beta + N3) * beta + N6
    f = (N1 * beta + N4) * beta + N7
    g = (N2 * beta + N5) * beta + N8
    d = 2.0 * g / (-f - np.sqrt(f * f - 4.0 * e * g))
    return np.asarray(0.5 * (N10 + d - np.sqrt((N10 + d) ** 2 - 4.0 * (N9 + N10 * d))) - ZERO_CELSIUS_K)


def latent_heat_j_per_kg(temperature_c: ArrayLike) -> Floats:
    """Heat that evaporates a kilogram of water.

    Parameters
    ----------
    temperature_c : array_like
        Water temperature. [°C], 0 to 120

    Returns
    -------
    ndarray, shape of `temperature_c`. [J/kg]

    Raises
    ------
    OutOfRange
        Outside 0 to 120 °C.

    Notes
    -----
    Watson's form, L = L_b·[(1 − T/T_c)/(1 − T_b/T_c)]^n, with L_b of IAPWS-IF97 at 100 °C and n = 0.325 chosen to stay
    within 0.2 % of it over the range.

    References
    ----------
    .. [1] K. M. Watson, "Thermodynamics of the Liquid State", Ind. Eng. Chem. 35 (1943) 398-406.
    """
    reduced = (within("temperature_c", temperature_c, 0.0, 120.0) + ZERO_CELSIUS_K) / WATER_CRITICAL_K
    return np.asarray(LATENT_HEAT_AT_BOIL * ((1.0 - reduced) / (1.0 - 373.15 / WATER_CRITICAL_K)) ** 0.325)


def vapour_fraction(temperature_c: ArrayLike, *, pressure_pa: ArrayLike, humidity: ArrayLike = 1.0) -> Floats:
    """Mole fraction of water vapour in a gas above water, by Dalton's law.

    Parameters
    ----------
    temperature_c : array_like
        Gas temperature. [°C], -45 to 60
    pressure_pa : array_like
        Absolute pressure of the gas. [Pa], 20 000 to 200 000
    humidity : array_like
        Relative humidity of the gas, 1 = saturated. [1], 0 to 1

    Returns
    -------
    ndarray, the common shape. [mol/mol]

    Raises
    ------
    OutOfRange
        Where any input lies outside its range.
    """
    t = within("temperature_c", temperature_c, -45.0, 60.0)
    p = within("pressure_pa", pressure_pa, 20_000.0, 200_000.0)
    return np.asarray(within("humidity", humidity, 0.0, 1.0) * saturation_pressure_pa(t) / p)


def atmosphere_pa(altitude_m: ArrayLike) -> Floats:
    """Usual pressure of the air at an altitude.

    Parameters
    ----------
    altitude_m : array_like
        Height above sea level. [m], -500 to 9000

    Returns
    -------
    ndarray, shape of `altitude_m`. [Pa]

    Raises
    ------
    OutOfRange
        Outside -500 to 9000 m.

    Notes
    -----
    Weather moves the true pressure by about 2 % either way.

    References
    ----------
    .. [1] "U.S. Standard Atmosphere, 1976", NOAA/NASA/USAF, eqs. 18 and 33a.
    """
    z = within("altitude_m", altitude_m, -500.0, 9000.0)
    geopotential_m = EARTH_RADIUS_M * z / (EARTH_RADIUS_M + z)
    return np.asarray(
        STANDARD_PRESSURE_PA * (1.0 - LAPSE_K_PER_M * geopotential_m / SEA_LEVEL_K) ** BAROMETRIC_EXPONENT
    )
