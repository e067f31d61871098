"""How much of yesterday's metered gas to carry into tomorrow, as the meter's own past shows.

A daily meter on the outlet says nearly exactly what was made, and tomorrow like today is hard to beat. Where carrying
the last day forward would have foretold the metered days better than the model did, part of it is carried. The model's
errors on days that it was fitted to are too kind, so that a part is carried even where they are the smaller.
"""

from __future__ import annotations

import numpy as np

from models.production.statespace import Filtered, Rows
from models.production.values import Echo

FEWEST_DAYS = 20
DAYS = 60
LONGEST_D = 1.6  # a day, read somewhat late
SHORTEST_D = 0.2  # a meter read again so soon says nothing of the day
STALE_D = 1.6
SHARES = np.linspace(0.0, 1.0, 11)
USUAL_SHARE, USUAL_DAYS = 0.7, 20.0  # and the number of days that it is worth; from two real meters, see real_series.py


def echo(rows: Rows, filtered: Filtered, as_of_d: float) -> Echo:
    """Weigh yesterday against the model on the last metered days."""
    lasts = rows.end_d - rows.start_d > SHORTEST_D
    meter = np.flatnonzero(rows.outlet & np.isfinite(rows.made_sm3) & lasts)
    days = rows.end_d[meter] - rows.start_d[meter]
    rate = rows.made_sm3[meter] / days
    missed = filtered.innovation_sm3[meter] / days
    joined = (np.diff(rows.start_d[meter]) > 0.0) & (np.abs(rows.start_d[meter][1:] - rows.end_d[meter][:-1]) < 0.01)
    daily = joined & (days[1:] < LONGEST_D) & (days[:-1] < LONGEST_D)
    if daily.sum() < FEWEST_DAYS or as_of_d - rows.end_d[meter[-1]] > STALE_D:
        return Echo()
    by_model, by_yesterday = missed[1:][daily][-DAYS:], np.diff(rate)[daily][-DAYS:]
    cost = np.abs(SHARES[:, None] * by_yesterday + (1.0 - SHARES[:, None]) * by_model).sum(axis=1)
    days_of_own = len(by_model)
    own = float(SHARES[np.argmin(cost)])
    share = (days_of_own * own + USUAL_DAYS * USUAL_SHARE) / (days_of_own + USUAL_DAYS)
    return Echo(share=share, rate_sm3_per_d=float(rate[-1]))
