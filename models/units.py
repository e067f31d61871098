"""Array types, physical constants and reference states, each with its source."""

from __future__ import annotations

from typing import TypeAlias

import numpy as np
import numpy.typing as npt

ArrayLike: TypeAlias = npt.ArrayLike
Floats: TypeAlias = npt.NDArray[np.float64]
Bools: TypeAlias = npt.NDArray[np.bool_]
Ints: TypeAlias = npt.NDArray[np.int64]

ZERO_CELSIUS_K = 273.15
GAS_CONSTANT_J_PER_MOL_K = 8.3144621  # as ISO 6976:2016 uses it (CODATA 2010)
STANDARD_TEMPERATURE_K = 288.15  # 15 °C, ISO 13443 standard reference conditions
STANDARD_PRESSURE_PA = 101_325.0  # ISO 13443
GRAVITY_M_PER_S2 = 9.80665  # standard gravity, CGPM 1901
MJ_PER_KWH = 3.6
MINUTES_PER_DAY = 1440.0
HOURS_PER_DAY = 24.0
