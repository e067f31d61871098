"""The eight parameters that are estimated: priors, plain meaning, and the scale on which they are searched."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from models.calendar import year_angle
from models.production.substrate import Kinetics
from models.units import Floats

SEARCH_LIMIT = 3.5  # prior standard deviations either way
LEVEL_PRIOR = (1.0, 0.35)  # of the lasting level m: gas made over gas the physics expects
SEASON_SD = 0.12  # prior spread of the annual harmonic's two coefficients


def season(time_d: Floats) -> Floats:
    """What the annual harmonic's coefficients c and s are multiplied by, shape (2, ...)."""
    angle = year_angle(time_d)
    return np.stack([np.cos(angle), np.sin(angle)])


@dataclass(frozen=True, slots=True, kw_only=True)
class Prior:
    """A normal prior of one parameter, or of its logarithm where `positive`."""

    name: str
    centre: float
    sd: float
    positive: bool
    unit: str
    meaning: str

    def value(self, z: float | Floats) -> float | Floats:
        """The parameter, `z` prior standard deviations from its centre."""
        if self.positive:
            return self.centre * np.exp(self.sd * z)
        return self.centre + self.sd * z


PRIORS = (
    Prior(
        name="t0_c", centre=3.0, sd=2.5, positive=False, unit="Cel", meaning="slurry temperature at which decay stops"
    ),
    Prior(name="fast_per_d", centre=0.30, sd=0.4, positive=True, unit="1/d", meaning="decay of the easy part at 35 °C"),
    Prior(
        name="slow_per_d", centre=0.018, sd=0.4, positive=True, unit="1/d", meaning="decay of the tough part at 35 °C"
    ),
    Prior(
        name="gauge_error",
        centre=0.04,
        sd=0.3,
        positive=True,
        unit="1",
        meaning="error of one look at the gauge, as a share of the capacity",
    ),
    Prior(
        name="day_spread",
        centre=0.13,
        sd=0.35,
        positive=True,
        unit="1",
        meaning="spread of one day's gas about its mean",
    ),
    Prior(
        name="spell_spread",
        centre=0.15,
        sd=0.4,
        positive=True,
        unit="1",
        meaning="spread of spells in which more or less gas comes than feed and warmth explain",
    ),
    Prior(name="spell_d", centre=12.0, sd=0.5, positive=True, unit="d", meaning="how long such a spell lasts"),
    Prior(
        name="drift",
        centre=0.012,
        sd=0.5,
        positive=True,
        unit="1/d^0.5",
        meaning="how fast the digester's yield wanders for good",
    ),
)
NAMES = tuple(prior.name for prior in PRIORS)


@dataclass(frozen=True, slots=True, kw_only=True)
class Parameters:
    """Values of the eight parameters, named as in `PRIORS`."""

    t0_c: float
    fast_per_d: float
    slow_per_d: float
    gauge_error: float
    day_spread: float
    spell_spread: float
    spell_d: float
    drift: float

    @property
    def kinetics(self) -> Kinetics:
        """The three that shape the physics feature."""
        return Kinetics(t0_c=self.t0_c, fast_per_d=self.fast_per_d, slow_per_d=self.slow_per_d)


def from_z(z: Floats) -> Parameters:
    """Parameters at a point of the search, in prior standard deviations from the centres, shape (8,)."""
    return Parameters(**{prior.name: float(prior.value(step)) for prior, step in zip(PRIORS, z.tolist(), strict=True)})


def drawn_kinetics(z: Floats, z_covariance: Floats, paths: int, rng: np.random.Generator) -> Kinetics:
    """Kinetics of each path, drawn about a point of the search, shape (paths,) each."""
    spread = np.linalg.cholesky(z_covariance[:3, :3] + 1e-12 * np.eye(3))
    draws = z[:3] + rng.standard_normal((paths, 3)) @ spread.T
    draws = np.clip(draws, -SEARCH_LIMIT, SEARCH_LIMIT)
    values = [np.asarray(prior.value(draws[:, k])) for k, prior in enumerate(PRIORS[:3])]
    return Kinetics(t0_c=values[0], fast_per_d=values[1], slow_per_d=values[2])
