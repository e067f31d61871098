"""Gas that a full holder lets out: when, how much, what it could have cooked and what it does to the climate."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import numpy as np

from models.calendar import local_date
from models.fuels import methane_kg, vented_co2e_kg
from models.reckoning import Reckoning, coming, in_words, quantile
from models.storage import ROUNDING_SM3
from models.units import ArrayLike, Floats

SOON_D = 0.25
MANY_MIN = 180.0
UNLIKELY = 0.25


@dataclass(frozen=True, slots=True, kw_only=True)
class VentingDay:
    """One day: the odds that the holder vents, and how much."""

    date: date
    probability: float
    vented_m3: float
    vented_q90_m3: float


@dataclass(frozen=True, slots=True, kw_only=True)
class VentingOutlook:
    """When the full holder vents and what is lost; None stands for "not within the horizon".

    `flame_min` is how long the main burner would burn at full flame on what is vented. `methane_kg` and `co2e_kg` (over
    a hundred years, let go unburnt) go with it. No mark is the median over paths, `_q10_d` the early one.
    """

    first_venting_at_d: float | None
    first_venting_at_q10_d: float | None
    days_until_venting: float | None
    venting_probability: float
    vented_m3: float
    vented_q90_m3: float
    vented_mj: float
    vented_q90_mj: float
    flame_min: float
    flame_q90_min: float
    methane_kg: float
    co2e_kg: float
    co2e_q90_kg: float
    days: tuple[VentingDay, ...]
    horizon_d: float
    summary: str


def venting_outlook(told: Reckoning, *, methane_fraction: ArrayLike) -> VentingOutlook:
    """Outlook on venting over the whole balance.

    Parameters
    ----------
    told : Reckoning
    methane_fraction : array_like, shape (paths,) or scalar
        Methane in the gas. [mol/mol]

    Returns
    -------
    VentingOutlook
    """
    now_d, vented = float(told.edges_d[0]), told.run.vented_sm3.sum(axis=1)
    starts_d = vents_d(told)
    first_d, m3 = told.when_d("vents", starts_d, 0.5), told.vented_m3(0, len(told.edges_d) - 1)
    flame_min, probability = 60.0 * vented / told.flame_sm3_per_h, float(np.isfinite(starts_d).mean())
    co2e = vented_co2e_kg(vented, methane_fraction=methane_fraction)
    return VentingOutlook(
        first_venting_at_d=first_d,
        first_venting_at_q10_d=told.when_d("vents", starts_d, 0.1),
        days_until_venting=None if first_d is None else first_d - now_d,
        venting_probability=probability,
        vented_m3=quantile(m3, 0.5),
        vented_q90_m3=quantile(m3, 0.9),
        vented_mj=quantile(vented * told.mj_per_sm3, 0.5),
        vented_q90_mj=quantile(vented * told.mj_per_sm3, 0.9),
        flame_min=quantile(flame_min, 0.5),
        flame_q90_min=quantile(flame_min, 0.9),
        methane_kg=quantile(methane_kg(vented, methane_fraction=methane_fraction), 0.5),
        co2e_kg=quantile(co2e, 0.5),
        co2e_q90_kg=quantile(co2e, 0.9),
        days=tuple(_day(told, day) for day in told.days()),
        horizon_d=float(told.edges_d[-1]) - now_d,
        summary=_summary(told, first_d, probability, quantile(flame_min, 0.5)),
    )


def vents_d(told: Reckoning) -> Floats:
    """When the holder first vents, by path, infinite where it does not, shape (paths,). [d]"""
    return told.first_time_d(told.run.vented_sm3 > ROUNDING_SM3, told.edges_d[:-1])


def short_between(told: Reckoning, from_d: float, until_d: float) -> bool:
    """Whether a planned meal likely first lacks gas between two times: cooking more there would only make it worse."""
    lacks_d = told.when_d("lacks", told.lacks_d(), 0.5)
    return lacks_d is not None and from_d <= lacks_d < until_d


def _day(told: Reckoning, day: date) -> VentingDay:
    m3 = told.vented_m3(*told.span(day))
    return VentingDay(
        date=day,
        probability=float((m3 > ROUNDING_SM3).mean()),
        vented_m3=quantile(m3, 0.5),
        vented_q90_m3=quantile(m3, 0.9),
    )


def _summary(told: Reckoning, first_d: float | None, probability: float, flame_min: float) -> str:
    days = coming(told.edges_d[-1] - told.edges_d[0])
    if first_d is None:
        sure = f"The holder should take all the gas of {days}"
        found = sure if probability < UNLIKELY else f"The holder may vent some of the gas of {days}"
        return f"{found} (odds of venting {probability:.0%})."
    lost = f"over {days} it lets out gas for {_flame(flame_min)} of full flame"
    if first_d - told.edges_d[0] < SOON_D:
        return f"The holder likely vents now or within hours{_advice(told, first_d)}: {lost}."
    return f"The full holder likely vents from {told.plain_date(first_d)}{_advice(told, first_d)}: {lost}."


def _advice(told: Reckoning, first_d: float) -> str:
    """What a cook can do about gas that is vented from a time on; nothing where nobody is at home until then."""
    today, first = (local_date(time_d, told.zone) for time_d in (float(told.edges_d[0]), first_d))
    last_home = told.at_home_by(first)
    if last_home is None:
        return ""
    if short_between(told, float(told.edges_d[0]), first_d):
        return ", though gas is short before then"
    if last_home < first:
        return f"; cook more {'today' if last_home == today else f'by {in_words(last_home)}'}, before you leave"
    return "; cook more" if first_d - told.edges_d[0] < SOON_D else "; cook more before then"


def _flame(minutes: float) -> str:
    """So long in words: hours where minutes would be many."""
    return f"{minutes / 60.0:.0f} hours" if minutes >= MANY_MIN else f"{minutes:.0f} min"
