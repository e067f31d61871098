"""A household as it describes itself: the site, the gas and everything the gas passes through."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from zoneinfo import ZoneInfo

from models.backup import Backup
from models.burner import Burner, GasSupply
from models.digester import Digester
from models.errors import Inconsistent, within
from models.gas import GasQuality
from models.holder import GasHolder
from models.moisture import atmosphere_pa
from models.pan import Pan
from models.site import Site
from models.units import ArrayLike


@dataclass(frozen=True, slots=True, kw_only=True)
class Household:
    """Everything a forecast needs to know of a household besides its log and its meals.

    `care_level` is the quantile decisions are made on: 0.1 means right nine times in ten. `changed_on` are the days
    on which something was altered (insulation, a restart, another digester) and the past tells less of the future.
    """

    label: str
    zone: ZoneInfo
    care_level: float
    site: Site
    gas: GasQuality
    holder: GasHolder
    digesters: tuple[Digester, ...]
    burners: tuple[Burner, ...]
    pans: tuple[Pan, ...]
    backup: Backup
    changed_on: tuple[date, ...] = ()

    def __post_init__(self) -> None:
        within("care_level", self.care_level, 0.01, 0.5)
        for name, members in (("digesters", self.digesters), ("burners", self.burners)):
            if not members:
                raise Inconsistent(f"{name} is empty, must name at least one", field=name)
        for kind, names in (
            ("digesters", [one.name for one in self.digesters]),
            ("burners", [one.name for one in self.burners]),
            ("pans", [one.name for one in self.pans]),
        ):
            if len(set(names)) < len(names):
                raise Inconsistent(f"{kind} has the same name twice, must be told apart by name", field=kind)

    def supply(self, methane_fraction: ArrayLike, temperature_c: ArrayLike) -> GasSupply:
        """The gas as it reaches the burners: holder pressure, the site's air, saturated."""
        return GasSupply(
            methane_fraction=methane_fraction,
            gauge_pa=self.holder.gauge_pa,
            atmosphere_pa=float(atmosphere_pa(self.site.altitude_m)),
            temperature_c=temperature_c,
        )
