"""What no model can tell by itself: a log that is kept, but wrongly."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from models.calendar import local_date
from models.cooking import PRODUCTION_TIMES_PRIOR, most_sm3_per_d
from models.household import Household
from models.ledger import HIGHEST_FILL, GasUse, cooked_gas, gas_use, sound_cooking, standard_per_wet, used_between
from models.log import Log, Readings
from models.logged_meals import late_by_h, misspelt
from models.meals import MealPlan, Serving, servings
from models.production.record import Record
from models.reckoning import LONGEST_SUMMARY, fitting
from models.stove import Stove
from models.units import Bools, Floats

WINDOW_D = 14.0
STALE_D = 2.0
FEWEST_LOOKS, MANY_LOOKS = 6, 10
SILENT_D = 3.0  # without a cooking entry before falls of the level count against the log
FEWEST_FALLS = 2
FILLS_WITHIN_D = 5.0  # a digester that works fills its bag in this time
HOLDS_GAS = (0.2, 0.8)
CLEAR_ERRORS = 3.0  # gauge errors by which a difference between two looks is no accident
SHORTEST_D = 2.0
FEWEST_COOKINGS = 5
STUCK_D = 3.0
CLOCK_HOURS = (0.75, 1.25)
CLOCK_SPREAD_H = 0.6
FEWEST_MEALS = 8
TINY_SHARE = 0.12


@dataclass(frozen=True, slots=True, kw_only=True)
class LogWarning:
    """Something in the log that cannot be right.

    `since_d` is when it began [d]; `message` says what is seen and `look_first` what to look at first, each in at most
    200 characters.
    """

    code: str
    since_d: float
    message: str
    look_first: str

    def __post_init__(self) -> None:
        for name in ("message", "look_first"):
            if len(getattr(self, name)) > LONGEST_SUMMARY:
                raise ValueError(
                    f"{name} has {len(getattr(self, name))} characters, must have at most {LONGEST_SUMMARY}"
                )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Seen:
    """The log of the last fortnight, in the forms that the checks need.

    `use` is what is believed of the cooking, `slips_d` are the moments of entries whose minutes are not. [d]
    """

    household: Household
    log: Log
    planned: Sequence[Serving]
    as_of_d: float
    looks: Readings
    level_sm3: Floats
    error_sm3: Floats
    use: GasUse
    slips_d: Floats

    @property
    def burned_sm3(self) -> Floats:
        """Gas burned by the log between successive looks."""
        return used_between(self.use, self.looks.time_d) if len(self.looks) > 1 else np.empty(0)

    @property
    def fallen_sm3(self) -> Floats:
        """Clear falls of the level between successive looks, 0 where there was none."""
        fall = -np.diff(self.level_sm3)
        return np.where(fall > CLEAR_ERRORS * np.hypot(self.error_sm3[1:], self.error_sm3[:-1]), fall, 0.0)


def planned_lately(plan: MealPlan, stove: Stove, as_of_d: float) -> tuple[Serving, ...]:
    """Servings planned in the days that warnings are looked for in. [d]"""
    since = local_date(as_of_d - WINDOW_D, plan.zone)
    return servings(plan, since, int(WINDOW_D) + 2, stove)


def log_warnings(known: Record, planned: Sequence[Serving]) -> tuple[LogWarning, ...]:
    """Look through the last fortnight of a log for what cannot be right.

    Parameters
    ----------
    known : Record
    planned : sequence of Serving
        Servings planned in the fortnight, for the clock and the meals' names; none switches those checks off.

    Returns
    -------
    tuple of LogWarning
        At most one of each code: `stale_readings`, `level_unit`, `gauge_stuck`, `no_cooking_logged`,
        `minutes_too_many`, `clock_off`, `meal_misspelt`.
    """
    household, air, as_of_d = known.household, known.air, known.as_of_d
    looks = known.log.of("holder_level").between(as_of_d - WINDOW_D, np.inf)
    factor = standard_per_wet(household, air, looks.time_d)
    error = household.holder.level_error_fraction * household.holder.capacity_m3 * factor
    lately = known.log.of("cooking").between(as_of_d - WINDOW_D, np.inf)
    seen = _Seen(
        household=household,
        log=known.written,
        planned=planned,
        as_of_d=as_of_d,
        looks=looks,
        level_sm3=looks.value * factor,
        error_sm3=error,
        use=gas_use(household, known.log, air, cooked_gas(household, sound_cooking(known.log), air)),
        slips_d=lately.time_d[lately.doubted],
    )
    return tuple(found for check in CHECKS for found in check(seen))


def _stale(seen: _Seen) -> Iterator[LogWarning]:
    last = seen.log.of("holder_level").time_d[-1:]
    age_d = seen.as_of_d - last
    if np.any(age_d > STALE_D):
        yield LogWarning(
            code="stale_readings",
            since_d=float(last[0]),
            message=f"The last look at the gauge is {age_d[0]:.0f} days old; what the holder holds now is a guess.",
            look_first="Read the gauge and log the level; if a sensor does that, see whether it still runs.",
        )


def _impossible_unit(seen: _Seen) -> Iterator[LogWarning]:
    capacity, value = seen.household.holder.capacity_m3, seen.looks.value[-MANY_LOOKS:]
    if len(value) < FEWEST_LOOKS:
        return
    above = value > HIGHEST_FILL * capacity
    single = seen.use.used_sm3[seen.use.start_d >= seen.looks.time_d[0]]
    # a bag that is really near empty is also seen empty; one read in the wrong unit never is
    tiny = len(value) == MANY_LOOKS and value.min() > 0.0 and value.max() <= TINY_SHARE * capacity
    if above.mean() > 0.5 or (tiny and len(single) >= FEWEST_COOKINGS and np.median(single) > value.max()):
        yield LogWarning(
            code="level_unit",
            since_d=float(seen.looks.time_d[-len(value)]),
            message=f"The level is logged as about {np.median(value):.3g} m3; a holder of {capacity:g} m3 cannot show "
            "that with this cooking.",
            look_first="The unit beside the level: per cent, cubic metres and litres are easily mixed up.",
        )


def _stuck(seen: _Seen) -> Iterator[LogWarning]:
    value, time = seen.looks.value, seen.looks.time_d
    if not len(value):
        return
    capacity = seen.household.holder.capacity_m3
    first = _run_to_the_end(np.abs(value - value[-1]) < 1e-3 * capacity)
    partly = 0.1 * capacity < value[-1] < 0.9 * capacity  # a full or empty holder may well show the same for weeks
    burned = float(seen.burned_sm3[first:].sum())
    long_enough = len(value) - first >= FEWEST_LOOKS and time[-1] - time[first] >= STUCK_D
    if partly and long_enough and burned > CLEAR_ERRORS * seen.error_sm3[-1]:
        yield LogWarning(
            code="gauge_stuck",
            since_d=float(time[first]),
            message=f"The gauge shows the same at {len(value) - first} looks, while the log says that "
            f"{burned:.2g} m3 of gas was burned.",
            look_first="The gauge: a float, rope or scale that catches, or a figure entered by habit.",
        )


def _silent_cook(seen: _Seen) -> Iterator[LogWarning]:
    if len(seen.looks) < 2 or len(seen.log.of("gas_meter").between(seen.looks.time_d[0], np.inf)):
        return
    cooked = seen.log.of("cooking").time_d
    last = float(cooked[-1]) if len(cooked) else -np.inf
    since = max(last, float(seen.looks.time_d[0]))
    silent = seen.looks.time_d >= since
    falls = seen.fallen_sm3[silent[:-1]]
    fell = np.count_nonzero(falls) >= FEWEST_FALLS
    if seen.as_of_d - since > SILENT_D and (fell or _does_not_fill(seen, silent)):
        seems = f"the holder fell by {falls.sum():.2g} m3" if fell else "the holder, though not full, does not fill"
        yield LogWarning(
            code="no_cooking_logged",
            since_d=since,
            message=f"No cooking is logged for {seen.as_of_d - since:.0f} days, and yet {seems}; production looks far "
            "too small.",
            look_first="Log what was cooked. If nobody cooked, take it for a leak: no flames, air the place, keep away "
            "and call a licensed gas fitter.",
        )


def _does_not_fill(seen: _Seen, rows: Bools) -> bool:
    """Whether a bag that holds gas but is not full stays where it is at looks over several days."""
    time, value, level = seen.looks.time_d[rows], seen.looks.value[rows], seen.level_sm3[rows]
    if len(value) < FEWEST_LOOKS or time[-1] - time[0] < FILLS_WITHIN_D:
        return False
    low, high = HOLDS_GAS
    capacity = seen.household.holder.capacity_m3
    third = len(value) // 3
    rise = level[-third:].mean() - level[:third].mean()
    partly = low * capacity < np.median(value) < high * capacity
    return bool(partly and rise < CLEAR_ERRORS * seen.error_sm3[-1])


def _too_many_minutes(seen: _Seen) -> Iterator[LogWarning]:
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


def _burned_too_fast(seen: _Seen) -> Iterator[LogWarning]:
    most = PRODUCTION_TIMES_PRIOR * most_sm3_per_d(seen.household)
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


def _run_to_the_end(holds: Bools) -> int:
    """Where the run of True begins that reaches the end; the length where the last is False."""
    fails = np.flatnonzero(~holds)
    return int(fails[-1]) + 1 if len(fails) else 0


def _clock(seen: _Seen) -> Iterator[LogWarning]:
    cooking = seen.log.of("cooking").between(seen.as_of_d - WINDOW_D, np.inf)
    gap_h, time = late_by_h(cooking, seen.planned)
    if len(gap_h) < FEWEST_MEALS:
        return
    middle = float(np.median(gap_h[-FEWEST_MEALS:]))
    agree = np.abs(gap_h - middle) < CLOCK_SPREAD_H
    low, high = CLOCK_HOURS
    if low <= abs(middle) <= high and agree[-FEWEST_MEALS:].mean() > 0.7:
        mostly = np.convolve(agree, np.ones(5), "same") >= 3.0
        begun = min(_run_to_the_end(mostly), len(agree) - FEWEST_MEALS)
        yield LogWarning(
            code="clock_off",
            since_d=float(time[begun]),
            message=f"Meals are logged about an hour {'late' if middle > 0.0 else 'early'} against the schedule, day "
            "after day.",
            look_first="The clock and time zone of the phone or sensor, most of all after a change to or from summer "
            "time; else the schedule.",
        )


def _misspelt(seen: _Seen) -> Iterator[LogWarning]:
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


CHECKS: tuple[Callable[[_Seen], Iterator[LogWarning]], ...] = (
    _stale,
    _impossible_unit,
    _stuck,
    _silent_cook,
    _too_many_minutes,
    _clock,
    _misspelt,
)
