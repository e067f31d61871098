"""The models' refusals in the contract's words: its names of fields, and figures in its units."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from models.errors import ModelError

NUMBER = r"[-+]?(?:\d+\.?\d*(?:e[-+]?\d+)?|inf)"


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """How the contract says what the models call otherwise: one of their unit is `per` of `unit`.

    A figure that no field holds as it stands is told in the words of `about`.
    """

    field: str
    per: float = 1.0
    unit: str = ""
    about: str = ""

    def figure(self, *numbers: str) -> str:
        """A number of the models, or a range of them, in the contract's unit."""
        return f"{' to '.join(f'{self.per * float(number):g}' for number in numbers)} {self.unit}".rstrip()


Names = Mapping[str, Said]
CONTRACT: Names = MappingProxyType(
    {
        "gauge_pa": Said(field="gauge_kpa", per=1e-3, unit="kPa"),
        "relief_pa": Said(field="relief_kpa", per=1e-3, unit="kPa"),
        "atmosphere_pa": Said(field="atmosphere_kpa", per=1e-3, unit="kPa"),
        "methane_fraction": Said(field="methane_pct", per=100.0, unit="%"),
        "carbon_dioxide_fraction": Said(field="carbon_dioxide_pct", per=100.0, unit="%"),
        "methane_sd": Said(field="methane_sd_pct", per=100.0, unit="%"),
        "efficiency": Said(field="efficiency_pct", per=100.0, unit="%"),
        "lowest_flame_fraction": Said(field="lowest_flame_pct", per=100.0, unit="%"),
        "level_error_fraction": Said(field="level_error_pct", per=100.0, unit="%"),
        "flame_fraction": Said(field="flame_pct", per=100.0, unit="%"),
    }
)
"""What goes by another name in the models wherever it stands in the contract."""


def retold(error: ModelError, names: Names = CONTRACT) -> tuple[str, str | None]:
    """A refusal in the contract's words, and the field of the contract that is to blame.

    The models write `name is 5, must be 1 to 2` and `must not exceed name, 2`; whatever else they say stays as it is.
    """
    models = "|".join(re.escape(name) for name in sorted(names, key=len, reverse=True))
    figure = rf"(?<![\w.])({models})( is |, )({NUMBER})(?:(, must be )({NUMBER}) to ({NUMBER}))?(?![\w])"

    def tell(found: re.Match[str]) -> str:
        said = names[found[1]]
        allowed = f"{found[4]}{said.figure(found[5], found[6])}" if found[4] else ""
        return f"{said.about or said.field}{found[2]}{said.figure(found[3])}{allowed}"

    field = error.field
    return re.sub(figure, tell, str(error)), names[field].field if field is not None and field in names else field
