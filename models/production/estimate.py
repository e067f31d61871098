"""Most probable parameters: L-BFGS-B on the likelihood of the rows and the priors."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.optimize import minimize

from models.errors import FitFailed
from models.production.parameters import PRIORS, SEARCH_LIMIT, from_z
from models.production.statespace import ProductionModel, Rows, log_likelihood
from models.production.substrate import Kinetics
from models.units import Floats

STEP = 1e-3  # of the forward differences, in prior standard deviations
CURVATURE_STEP = 0.05
UNUSABLE = 1e10
FAR, OTHER_SIDE = 2.5, 1.5  # prior standard deviations
KINETIC = 3  # the first parameters, which change the physics feature

Expected = Callable[[Kinetics], Floats]


@dataclass(slots=True)
class Objective:
    """Minus the log posterior of the rows; remembers the physics feature of the last kinetics."""

    model: ProductionModel
    expected: Expected
    _kinetic_z: tuple[float, ...] = ()
    _feature: Floats | None = None

    def __call__(self, z: Floats) -> float:
        parameters = from_z(z)
        kinetic_z = tuple(z[:KINETIC].tolist())
        if self._feature is None or kinetic_z != self._kinetic_z:
            self._feature, self._kinetic_z = self.expected(parameters.kinetics), kinetic_z
        value = 0.5 * float(z @ z) - log_likelihood(self.model, self._feature, parameters)
        return value if np.isfinite(value) else UNUSABLE

    def gradient(self, z: Floats) -> Floats:
        """Forward differences; the parameters that leave the feature alone first."""
        here = self(z)
        slope = np.empty(len(z))
        for k in range(len(z) - 1, -1, -1):
            moved = z.copy()
            moved[k] += STEP
            slope[k] = (self(moved) - here) / STEP
        return slope


def most_probable(rows: Rows, expected: Expected, start: Floats, iterations: int) -> Floats:
    """Parameters at the mode, in prior standard deviations, shape (8,).

    Raises
    ------
    FitFailed
        No finite posterior was met.
    """
    objective = Objective(ProductionModel(rows), expected)
    found = _descend(objective, np.clip(start, -SEARCH_LIMIT, SEARCH_LIMIT), iterations)
    if abs(found[0][0]) > FAR:
        # a slurry colder than where decay is said to stop makes a hill of its own: look beyond it too
        other = np.concatenate([[-OTHER_SIDE * np.sign(found[0][0])], np.clip(start[1:], -FAR, FAR)])
        found = min(found, _descend(objective, other, iterations), key=lambda pair: pair[1])
    if not np.isfinite(found[1]) or found[1] >= UNUSABLE:
        raise FitFailed("the production fit met no finite likelihood")
    return found[0]


def _descend(objective: Objective, start: Floats, iterations: int) -> tuple[Floats, float]:
    found = minimize(
        objective,
        start,
        jac=objective.gradient,
        method="L-BFGS-B",
        bounds=[(-SEARCH_LIMIT, SEARCH_LIMIT)] * len(PRIORS),
        options={"maxiter": iterations, "ftol": 1e-7, "gtol": 1e-2},
    )
    return np.asarray(found.x), float(found.fun)


def covariance_at(rows: Rows, expected: Expected, z: Floats) -> Floats:
    """Covariance of the parameters about the mode, from the curvature there, shape (8, 8).

    Never wider than the prior: a direction in which the likelihood curves the wrong way counts as unlearnt.
    """
    objective = Objective(ProductionModel(rows), expected)
    slopes = []
    for k in range(len(z)):
        step = np.zeros(len(z))
        step[k] = CURVATURE_STEP
        slopes.append((objective.gradient(z + step) - objective.gradient(z - step)) / (2.0 * CURVATURE_STEP))
    curvature = np.array(slopes)
    values, vectors = np.linalg.eigh((curvature + curvature.T) / 2.0)
    return np.asarray((vectors / np.maximum(values, 1.0)) @ vectors.T)
