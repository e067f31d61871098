"""What cannot be right in the cooking log: minutes that no gas could have fed, a clock that is off, a name misspelt."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from difflib import get_close_matches

import numpy as np

from models.digester import PRODUCTION_TIMES_PRIOR, most_sm3_per_d
from models.ledger import sound_cooking
from models.log import Readings
from models.meals import Serving
from models.reckoning import fitting
from models.seen_log import WINDOW_D, LogWarning, Seen, run_to_the_end
from models.units import HOURS_PER_DAY, Floats

SHORTEST_D = 2.0
FEWEST_COOKINGS = 5
CLOCK_HOURS = (0.75, 1.25)
CLOCK_SPREAD_H = 0.6
FEWEST_MEALS = 8
ALIKE = 0.75  # of two names, by the letters that they share in order
NEAR_D = 0.25


def too_many_minutes(seen: Seen) -> Iterator[LogWarning]:
    """Entries whose minutes no gas can have fed, and a fortnight that burned more than the feed can give."""
    found, slips = list(_burned_too_fast(seen)), len(seen.slips_d)
    if not slips:
        yield from found
        return
    entries = "An entry" if slips == 1 else f"{slips} entries"
    for fast in found:  # one warning that tells of both
        yield replace(
            fast,
            since_d=min(fast.since_d, float(seen.slips_d[0])),
            message=f"{fast.message} {entries} besides cannot have been.",
            look_first="What GET /days lists under set_aside, then the other cooking minutes: ten times too large, or "
            "seconds for minutes? Then the burner's rating.",
        )
    if not found:
        yield LogWarning(
            code="minutes_too_many",
            since_d=float(seen.slips_d[0]),
            message=f"{entries} of cooking would take more gas than a holder of "
            f"{seen.household.holder.capacity_m3:g} m3 and the digester could have given; the usual minutes are "
            "counted instead.",
            look_first="The minutes of what GET /days lists under set_aside: a figure ten times too large? Then the "
            "flame, and the burner and the holder as described.",
        )


def _burned_too_fast(seen: Seen) -> Iterator[LogWarning]:
    most = PRODUCTION_TIMES_PRIOR * most_sm3_per_d(seen.household.digesters)
    recent = seen.use.start_d >= seen.as_of_d - WINDOW_D
    time, used = seen.use.start_d[recent], seen.use.used_sm3[recent]
    if len(time) < FEWEST_COOKINGS or most == 0.0:
        return
    since = np.arange(len(time) - FEWEST_COOKINGS + 1)
    burned = np.cumsum(used[::-1])[::-1][since]
    days = np.maximum(seen.as_of_d - time[since], SHORTEST_D)
    held = seen.household.holder.capacity_m3  # it may have been full before: that much need not have been made since
    if np.any((burned - held) / days > most):
        per_day = burned / days
        begun = int(np.argmax(per_day > 0.7 * per_day.max()))
        minutes = float(np.median(sound_cooking(seen.log).between(time[begun], np.inf).value))
        yield LogWarning(
            code="minutes_too_many",
            since_d=float(time[begun]),
            message=f"By the log {per_day[begun]:.2g} m3 a day is burned, over three times what the feed can give; "
            f"the usual entry is {minutes:.0f} min.",
            look_first="The cooking minutes: a figure ten times too large, or seconds for minutes. Then the burner's "
            "rating.",
        )


def clock_off(seen: Seen) -> Iterator[LogWarning]:
    """Meals logged an hour late or early, day after day."""
    cooking = seen.log.of("cooking").between(seen.as_of_d - WINDOW_D, np.inf)
    gap_h, time = late_by_h(cooking, seen.planned)
    if len(gap_h) < FEWEST_MEALS:
        return
    middle = float(np.median(gap_h[-FEWEST_MEALS:]))
    agree = np.abs(gap_h - middle) < CLOCK_SPREAD_H
    low, high = CLOCK_HOURS
    if low <= abs(middle) <= high and agree[-FEWEST_MEALS:].mean() > 0.7:
        mostly = np.convolve(agree, np.ones(5), "same") >= 3.0
        begun = min(run_to_the_end(mostly), len(agree) - FEWEST_MEALS)
        yield LogWarning(
            code="clock_off",
            since_d=float(time[begun]),
            message=f"Meals are logged about an hour {'late' if middle > 0.0 else 'early'} against the schedule, day "
            "after day.",
            look_first="The clock and time zone of the phone or sensor, most of all after a change to or from summer "
            "time; else the schedule.",
        )


def meal_misspelt(seen: Seen) -> Iterator[LogWarning]:
    """A meal under a name that is nearly that of a planned one, which is missing."""
    found = misspelt(seen.log.of("cooking").between(seen.as_of_d - WINDOW_D, np.inf), seen.planned)
    if found is None:
        return
    counted = "; that counts as cooking besides, and the planned meal as skipped or forgotten."
    wordings = [
        f"Cooking is logged for {found.written!r}, and the schedule has {found.meant!r}{counted}",
        f"Cooking is logged for a meal that the schedule spells otherwise{counted}",
    ]
    yield LogWarning(
        code="meal_misspelt",
        since_d=found.time_d,
        message=fitting(wordings),
        look_first="The meal's name in the readings: mend it, or plan a meal of that name.",
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Misspelt:
    """A meal's name as it was `written` at `time_d` [d], and the one of the schedule that was `meant`."""

    time_d: float
    written: str
    meant: str


def misspelt(cooking: Readings, planned: Sequence[Serving]) -> Misspelt | None:
    """The first cooking under a name that the schedule does not have, where a meal named nearly so was due and missing.

    Parameters
    ----------
    cooking : Readings
        With the meals' names, or without.
    planned : sequence of Serving
        What was planned in that time.
    """
    exact = {serving.meal for serving in planned}
    missing = [
        one for one in planned if not np.any(np.abs(cooking.time_d[cooking.meal == one.meal] - one.start_d) < NEAR_D)
    ]
    for time_d, written in zip(cooking.time_d.tolist(), cooking.meal.tolist(), strict=True):
        if written and written not in exact:
            due = {one.meal.casefold(): one.meal for one in missing if abs(one.start_d - time_d) < NEAR_D}
            for meant in get_close_matches(written.casefold(), due, n=1, cutoff=ALIKE):
                return Misspelt(time_d=time_d, written=written, meant=due[meant])
    return None


def late_by_h(cooking: Readings, planned: Sequence[Serving]) -> tuple[Floats, Floats]:
    """Hours by which each cooking that names a planned meal is logged after its nearest serving, with the moment."""
    gaps, times = [], []
    starts = {meal: np.array([s.start_d for s in planned if s.meal == meal]) for meal in {s.meal for s in planned}}
    for time_d, meal in zip(cooking.time_d.tolist(), cooking.meal.tolist(), strict=True):
        if meal in starts:
            gap = time_d - starts[meal]
            gaps.append(float(gap[np.argmin(np.abs(gap))]) * HOURS_PER_DAY)
            times.append(time_d)
    return np.array(gaps), np.array(times)
