"""The coming seasons by month: gas made and wanted, backup and venting, as quantiles of each path's own sums."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

import numpy as np

from models.backup import Backup, backup_amount
from models.calendar import local_date, midnight
from models.outlook import Outlook
from models.reckoning import Reckoning
from models.storage import ROUNDING_SM3, spread
from models.units import ArrayLike, Floats, Ints

LEVELS = (0.1, 0.5, 0.9)


@dataclass(frozen=True, slots=True, kw_only=True)
class Amount:
    """Quantiles over paths: one time in ten less than `q10`, as often more than `q90`."""

    q10: float
    q50: float
    q90: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SeasonBalance:
    """Gas wanted, lacking and let out over a span.

    `need` is what meals and usual teas take, `on_gas_fraction` the share of it that gas carries (None where nothing is
    cooked), `backup` in the unit of the backup fuel, `backup_meals` how many planned meals lack gas. The probabilities
    are those of any meal lacking gas, and of any venting.
    """

    need_m3: Amount
    need_mj: Amount
    on_gas_fraction: Amount | None
    backup: Amount
    backup_meals: Amount
    backup_probability: float
    vented_m3: Amount
    vented_mj: Amount
    venting_probability: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Season:
    """What a span of days brings; `balance` is None where the holder was never looked at."""

    start_d: float
    end_d: float
    made_m3: Amount
    made_mj: Amount
    slurry_c: float
    balance: SeasonBalance | None


def month_edges(as_of_d: float, months: int, zone: ZoneInfo) -> Floats:
    """Now, the first of the next month, and those after it, shape (months + 2,). [d]

    Parameters
    ----------
    as_of_d : float
        Now. [d]
    months : int
        Whole months after this one, 1 and up.
    zone : ZoneInfo
        Whose months they are.

    Returns
    -------
    ndarray. [d]
    """
    first = local_date(as_of_d, zone)
    starts = [first_of_month(first, ahead) for ahead in range(1, months + 2)]
    return np.array([as_of_d, *(midnight(day, zone) for day in starts)])


def first_of_month(day: date, ahead: int) -> date:
    """The first day of the month so many months after a day's."""
    year, month = divmod(day.year * 12 + day.month - 1 + ahead, 12)
    return date(year, month + 1, 1)


def days_of_months(as_of_d: float, months: int, zone: ZoneInfo) -> int:
    """Whole days after today to the end of so many whole months after this one."""
    today = local_date(as_of_d, zone)
    return (first_of_month(today, months + 1) - (today + timedelta(days=1))).days


def seasons(outlook: Outlook, edges_d: ArrayLike) -> tuple[tuple[Season, ...], Season]:
    """Sum an outlook up between edges, and over all of them.

    Parameters
    ----------
    outlook : Outlook
    edges_d : array_like, increasing. [d]
        Of spans within the outlook: now, or midnights.

    Returns
    -------
    tuple of Season, one a span; and the Season of all of them.
    """
    edges = np.asarray(edges_d, dtype=float)
    day, made, told = outlook.day_edges_d, outlook.made.made_sm3, outlook.told
    wet = _amounts(_and_all(spread(made * outlook.day_m3_per_sm3, edges_d=day, onto_d=edges)))
    heat = _amounts(_and_all(spread(made, edges_d=day, onto_d=edges) * outlook.mj_per_sm3[:, None]))
    slurry_c, count = _slurry(outlook, edges), len(edges)
    balances = [None] * count if told is None else _balances(told, outlook.household.backup, edges)
    bounds = [*pairwise(edges.tolist()), (float(edges[0]), float(edges[-1]))]
    *found, whole = (
        Season(
            start_d=bounds[k][0],
            end_d=bounds[k][1],
            made_m3=wet[k],
            made_mj=heat[k],
            slurry_c=float(slurry_c[k]),
            balance=balances[k],
        )
        for k in range(count)
    )
    return tuple(found), whole


def _and_all(sums: Floats) -> Floats:
    """Sums by span, (paths, spans), and over all spans as one more."""
    return np.concatenate([sums, sums.sum(axis=1, keepdims=True)], axis=1)


def _amount(values: Floats) -> Amount:
    q10, q50, q90 = np.quantile(values, LEVELS).tolist()
    return Amount(q10=q10, q50=q50, q90=q90)


def _amounts(values: Floats) -> list[Amount]:
    """Quantiles over paths, one a span, of sums of shape (paths, spans)."""
    return [_amount(of_span) for of_span in values.T]


def _slurry(outlook: Outlook, edges: Floats) -> Floats:
    """Median over paths of the mean slurry temperature of each span, and of all. [°C]"""
    total = _and_all(spread(outlook.made.slurry_c, edges_d=outlook.day_edges_d, onto_d=edges))
    days = _and_all(spread(np.ones((1, outlook.made.slurry_c.shape[1])), edges_d=outlook.day_edges_d, onto_d=edges))
    return np.asarray(np.median(total / days, axis=0))


def _balances(told: Reckoning, backup: Backup, edges: Floats) -> list[SeasonBalance | None]:
    run, at = told.run, np.array([told.edge(moment) for moment in edges.tolist()])
    net_mj = np.broadcast_to(told.mj_per_sm3, len(run.made_sm3))[:, None]
    taken = np.where(run.wanted.cooked, run.wanted.need_sm3, 0.0)
    need, burned = (_by_span(amount, told, at) for amount in (taken, run.burned_sm3))
    need_m3 = _amounts(_by_span(taken * told.m3_per_sm3[run.timeline.step_of], told, at))
    need_mj, fuel = _amounts(need * net_mj), _amounts(_by_span(backup_amount(told, backup), told, at))
    lacking, vented = _by_span(told.lacks().astype(float), told, at), _between(run.vented_sm3, at)
    vented_m3 = _amounts(_between(run.vented_sm3 * told.m3_per_sm3[:-1], at))
    vented_mj, meals = _amounts(vented * net_mj), _amounts(lacking)
    return [
        SeasonBalance(
            need_m3=need_m3[k],
            need_mj=need_mj[k],
            on_gas_fraction=_share(burned[:, k], need[:, k]),
            backup=fuel[k],
            backup_meals=meals[k],
            backup_probability=float((lacking[:, k] > 0.0).mean()),
            vented_m3=vented_m3[k],
            vented_mj=vented_mj[k],
            venting_probability=float((vented[:, k] > ROUNDING_SM3).mean()),
        )
        for k in range(len(edges))
    ]


def _share(part: Floats, whole: Floats) -> Amount | None:
    """Quantiles of a share over the paths that have one."""
    some = whole > ROUNDING_SM3
    return _amount(part[some] / whole[some]) if some.any() else None


def _between(steps: Floats, at: Ints) -> Floats:
    """Amounts of steps summed between edges of the timeline, and over all, shape (paths, spans + 1)."""
    return _and_all(np.stack([steps[:, first:last].sum(axis=1) for first, last in pairwise(at.tolist())], axis=1))


def _by_span(amount: Floats, told: Reckoning, at: Ints) -> Floats:
    """Amounts of servings summed by the span they start in, and over all, shape (paths, spans + 1)."""
    step_of = told.run.timeline.step_of
    member = (step_of[:, None] >= at[:-1]) & (step_of[:, None] < at[1:])
    return _and_all(amount @ member.astype(float))
