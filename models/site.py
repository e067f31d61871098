"""Where the digester stands: altitude, latitude and what the air is usually like."""

from __future__ import annotations

from dataclasses import dataclass

from models.errors import Inconsistent, within


@dataclass(frozen=True, slots=True, kw_only=True)
class Site:
    """A household's place. `monthly_mean_c` are the twelve usual monthly air temperatures, January first. [°C]"""

    altitude_m: float
    latitude_deg: float
    monthly_mean_c: tuple[float, ...]

    def __post_init__(self) -> None:
        within("altitude_m", self.altitude_m, -430.0, 6000.0)
        within("latitude_deg", self.latitude_deg, -90.0, 90.0)
        within("monthly_mean_c", self.monthly_mean_c, -50.0, 50.0)
        if len(self.monthly_mean_c) != 12:
            raise Inconsistent(
                f"monthly_mean_c has {len(self.monthly_mean_c)} values, must have 12", field="monthly_mean_c"
            )
