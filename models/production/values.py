"""What the production model gives out: a fit that can be stored, and the state that a forecast starts from."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from models.production.parameters import NAMES, PRIORS, Parameters, from_z
from models.production.record import Record
from models.production.slurry import SlurryFit, SlurryNow
from models.production.substrate import Feeding
from models.units import Floats

ECHO_FADE_PER_D = 0.9


@dataclass(frozen=True, slots=True, kw_only=True)
class FittedProduction:
    """A fit of one household's production.

    `z` are the parameters in prior standard deviations from the prior's centre, shape (8,), and `z_covariance` what
    is left unknown of them, shape (8, 8). `window_d` is the first and last moment learnt from, None without intervals.
    `basis` is `prior`, `blended` or `fitted`. `set_aside` lists doubtful readings with the reason.
    """

    made_as_of_d: float
    z: Floats
    z_covariance: Floats
    slurry: tuple[SlurryFit, ...]
    window_d: tuple[float, float] | None
    intervals: int
    bounds: int
    basis: str
    diagnostics: Mapping[str, Any]
    set_aside: tuple[tuple[str, str], ...]

    @property
    def parameters(self) -> Parameters:
        """Values of the parameters."""
        return from_z(self.z)

    def described(self) -> list[dict[str, Any]]:
        """Every parameter with its error and plain meaning."""
        spread = np.sqrt(np.diag(self.z_covariance))
        return [
            {
                "name": prior.name,
                "value": float(prior.value(z)),
                "low": float(prior.value(z - 1.2816 * sd)),
                "high": float(prior.value(z + 1.2816 * sd)),
                "sd": float(prior.sd * sd * (prior.value(z) if prior.positive else 1.0)),
                "prior": prior.centre,
                "unit": prior.unit,
                "meaning": prior.meaning,
            }
            for prior, z, sd in zip(PRIORS, self.z.tolist(), spread.tolist(), strict=True)
        ]

    def to_dict(self) -> dict[str, Any]:
        """As plain JSON, without NaN."""
        return {
            "made_as_of_d": self.made_as_of_d,
            "z": dict(zip(NAMES, self.z.tolist(), strict=True)),
            "z_covariance": self.z_covariance.tolist(),
            "parameters": self.described(),
            "slurry": [fit.to_dict() for fit in self.slurry],
            "window_d": list(self.window_d) if self.window_d else None,
            "intervals": self.intervals,
            "bounds": self.bounds,
            "basis": self.basis,
            "diagnostics": dict(self.diagnostics),
            "set_aside": [list(pair) for pair in self.set_aside],
        }

    @classmethod
    def from_dict(cls, stored: Mapping[str, Any]) -> FittedProduction:
        """The fit that `to_dict` wrote."""
        window = stored["window_d"]
        return cls(
            made_as_of_d=stored["made_as_of_d"],
            z=np.array([stored["z"][name] for name in NAMES]),
            z_covariance=np.array(stored["z_covariance"]),
            slurry=tuple(SlurryFit(**fit) for fit in stored["slurry"]),
            window_d=(window[0], window[1]) if window else None,
            intervals=stored["intervals"],
            bounds=stored["bounds"],
            basis=stored["basis"],
            diagnostics=stored["diagnostics"],
            set_aside=tuple((pair[0], pair[1]) for pair in stored["set_aside"]),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class DigesterNow:
    """One digester at the end of the log: its slurry and its feeding."""

    slurry: SlurryNow
    feeding: Feeding


@dataclass(frozen=True, slots=True, kw_only=True)
class Echo:
    """Share of the last metered day's gas [sm3/d] that the next day takes over from the model; it fades after."""

    share: float = 0.0
    rate_sm3_per_d: float = 0.0

    def added(self, foretold_sm3: float, days: int) -> Floats:
        """What to add to each of the coming days, of which the first is foretold at so much, shape (days,). [sm3]"""
        return np.asarray(self.share * (self.rate_sm3_per_d - foretold_sm3) * ECHO_FADE_PER_D ** np.arange(days))


@dataclass(frozen=True, slots=True, kw_only=True)
class ProductionState:
    """Everything a forecast needs, with nothing left to estimate.

    `mean` and `covariance` are those of α after the last interval, whose middle is `state_d`. The last gauge reading
    showed `level_sm3` at `level_d` (NaN: never read), off by the state's e_end where `level_in_state`, else by
    `level_error_sm3`; the holder takes `capacity_sm3`. Of the latest intervals, `brim_share` only say that so much gas
    was made at least, and `booked_share` are balances of the gauge, as true as what was burned is counted; the others
    were metered. `basis` is `prior`, `blended` or `fitted`.
    """

    as_of_d: float
    basis: str
    z: Floats
    z_covariance: Floats
    mean: Floats
    covariance: Floats
    state_d: float
    level_sm3: float
    level_d: float
    level_in_state: bool
    level_error_sm3: float
    capacity_sm3: float
    echo: Echo
    widening: float
    brim_share: float
    booked_share: float
    most_sm3_per_d: float
    known: Record
    digesters: tuple[DigesterNow, ...]
    set_aside: tuple[tuple[str, str], ...]
    diagnostics: Mapping[str, Any]

    @property
    def parameters(self) -> Parameters:
        """Values of the parameters."""
        return from_z(self.z)
