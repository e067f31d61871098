"""How well the model foretold a week ahead within its own log: whether its spread is to be widened."""

from __future__ import annotations

import numpy as np

from models.production.parameters import Parameters, season
from models.production.statespace import Filtered, Rows, noise_var
from models.units import Floats

LEAD_D = 7.0
NORMAL_80 = 1.2816
PSEUDO = 60.0  # errors that the model's own spread is worth
WIDEST = 3.0


def lead_errors(rows: Rows, filtered: Filtered, expected_sm3: Floats, parameters: Parameters) -> tuple[Floats, Floats]:
    """Errors of the rows as foretold from those a week before, shape (pairs,) each, over their standard deviation.

    First by the model, then by carrying the earlier row's gas forward.
    """
    exact = np.isfinite(rows.made_sm3) & np.isnan(rows.site_var)
    target = np.searchsorted(rows.middle_d, rows.middle_d + LEAD_D - 0.25)
    pair = exact & (target < len(rows)) & exact[np.minimum(target, len(rows) - 1)]
    origin, target = np.flatnonzero(pair), target[pair]
    step = rows.middle_d[target] - rows.middle_d[origin]
    close = step < 1.5 * LEAD_D
    origin, target, step = origin[close], target[close], step[close]
    stays = np.exp(-step / parameters.spell_d)
    waves = season(rows.middle_d[target])
    design = expected_sm3[target] * np.stack([np.ones(len(step)), stays, waves[0], waves[1]])
    mean = np.einsum("sp,sp->p", design, filtered.means[:4, origin])
    var = np.einsum("sp,stp,tp->p", design, filtered.covariances[:4, :4, origin], design)
    wander = parameters.drift**2 * step + parameters.spell_spread**2 * (1.0 - stays**2)
    var += expected_sm3[target] ** 2 * wander + noise_var(rows, expected_sm3, parameters)[target]
    var += 2.0 * (parameters.gauge_error * rows.error_scale_sm3[target]) ** 2
    days = rows.end_d - rows.start_d
    carried = rows.made_sm3[origin] * days[target] / days[origin]
    return tuple((rows.made_sm3[target] - foretold) / np.sqrt(var) for foretold in (mean, carried))


def widening(errors: tuple[Floats, Floats], echo_share: float) -> float:
    """Factor by which the spread of level and spells must be widened for the week-ahead errors; at least 1.

    As far as yesterday foretells tomorrow better than the model (`echo_share`), the model's own errors within the log
    that it was fitted to are too kind, and those of yesterday carried on count.
    """
    if not len(errors[0]):
        return 1.0
    by_model, by_yesterday = (float(np.quantile(np.abs(size), 0.8)) / NORMAL_80 for size in errors)
    weight = len(errors[0]) / (len(errors[0]) + PSEUDO)
    needed = 1.0 + weight * (by_model - 1.0)
    return float(np.clip(max(needed, echo_share * by_yesterday), 1.0, WIDEST))
