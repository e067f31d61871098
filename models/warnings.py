"""What no model can tell by itself: a log that is kept, but wrongly."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

import numpy as np

from models.burner import gas_flow_sm3_per_h
from models.calendar import local_date
from models.cooking import FLAME_SLACK
from models.cooking_warnings import FEWEST_COOKINGS, clock_off, meal_misspelt, too_many_minutes
from models.digester import PRODUCTION_TIMES_PRIOR, most_sm3_per_d
from models.ledger import HIGHEST_FILL, cooked_gas, gas_use, sound_cooking, standard_per_wet
from models.log import Log
from models.looks import SPIKE_GAUGE_ERRORS, sound_levels
from models.meals import MealPlan, Serving, servings
from models.production.record import Record
from models.seen_log import CLEAR_ERRORS, WINDOW_D, LogWarning, Seen, run_to_the_end
from models.stove import Stove
from models.units import HOURS_PER_DAY, Bools

STALE_D = 2.0
FEWEST_LOOKS, MANY_LOOKS = 6, 10
SILENT_D = 3.0  # without a cooking entry before falls of the level count against the log
FEWEST_FALLS = 2
FILLS_WITHIN_D = 5.0  # a digester that works fills its bag in this time
HOLDS_GAS = (0.2, 0.8)
STUCK_D = 3.0
TINY_SHARE = 0.12
EMPTIED = "If it did empty: no flames, close the valve, air the place and call a licensed gas fitter."


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
        `minutes_too_many`, `clock_off`, `meal_misspelt`, `look_doubtful`.
    """
    household, air, as_of_d = known.household, known.air, known.as_of_d
    looks = known.log.of("holder_level").between(as_of_d - WINDOW_D, np.inf)
    factor = standard_per_wet(household, air, looks.time_d)
    error = household.holder.level_error_fraction * household.holder.capacity_m3 * factor
    lately = known.log.of("cooking").between(as_of_d - WINDOW_D, np.inf)
    use = gas_use(household, known.log, air, cooked_gas(household, sound_cooking(known.log), air))
    _, doubted = sound_levels(household, Log(by_quantity={"holder_level": looks}), air, use)
    seen = Seen(
        household=household,
        log=known.written,
        planned=planned,
        as_of_d=as_of_d,
        looks=looks,
        level_sm3=looks.value * factor,
        error_sm3=error,
        use=use,
        slips_d=lately.time_d[lately.doubted],
        doubted_looks=doubted,
    )
    return tuple(found for check in CHECKS for found in check(seen))


def _stale(seen: Seen) -> Iterator[LogWarning]:
    last = seen.log.of("holder_level").time_d[-1:]
    age_d = seen.as_of_d - last
    if np.any(age_d > STALE_D):
        yield LogWarning(
            code="stale_readings",
            since_d=float(last[0]),
            message=f"The last look at the gauge is {age_d[0]:.0f} days old; what the holder holds now is a guess.",
            look_first="Read the gauge and log the level; if a sensor does that, see whether it still runs.",
        )


def _last_look(seen: Seen) -> Iterator[LogWarning]:
    why = dict(seen.doubted_looks)
    sound = [row for row in range(len(seen.looks)) if str(seen.looks.id[row]) not in why]
    last = len(seen.looks) - 1
    if last >= 0 and last not in sound:
        reason = why[str(seen.looks.id[last])]
        yield _doubtful(seen, f"is set aside: {reason}.", "If it was right, send it again with sure true.")
    elif len(sound) > 1 and not seen.looks.sure[last]:
        since = "since the look before; it is taken as it stands."
        if _rose_too_far(seen, sound[-2]):
            yield _doubtful(seen, f"is more than the digester can have made {since}")
        elif _fell_too_far(seen, sound[-2]):
            yield _doubtful(seen, f"is less than all burners can have left {since}", EMPTIED)


def _doubtful(seen: Seen, what: str, further: str = "") -> LogWarning:
    return LogWarning(
        code="look_doubtful",
        since_d=float(seen.looks.time_d[-1]),
        message=f"The last look at the gauge, {seen.looks.value[-1]:.3g} m3, {what}",
        look_first=f"The gauge, and the unit beside the level: look again. {further}".rstrip(),
    )


def _rose_too_far(seen: Seen, before: int) -> bool:
    """Whether the last look shows more than gauge error and any digester explain."""
    most = PRODUCTION_TIMES_PRIOR * most_sm3_per_d(seen.household.digesters)
    room = SPIKE_GAUGE_ERRORS * seen.error_sm3[-1] + most * (seen.looks.time_d[-1] - seen.looks.time_d[before])
    return bool(most > 0.0 and seen.level_sm3[-1] - seen.level_sm3[before] > room)


def _fell_too_far(seen: Seen, before: int) -> bool:
    """Whether the last look shows less than gauge error, every flame at full and venting explain."""
    start_d, end_d = float(seen.looks.time_d[before]), float(seen.looks.time_d[-1])
    supply = seen.household.supply(seen.household.gas.methane_fraction, 15.0)
    flames = FLAME_SLACK * sum(float(gas_flow_sm3_per_h(one, supply)) for one in seen.household.burners)
    most = SPIKE_GAUGE_ERRORS * seen.error_sm3[-1] + flames * HOURS_PER_DAY * (end_d - start_d)
    vented = len(seen.log.of("venting").between(start_d, end_d)) > 0
    return bool(seen.level_sm3[before] - seen.level_sm3[-1] > most and not vented)


def _impossible_unit(seen: Seen) -> Iterator[LogWarning]:
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


def _stuck(seen: Seen) -> Iterator[LogWarning]:
    value, time = seen.looks.value, seen.looks.time_d
    if not len(value):
        return
    capacity = seen.household.holder.capacity_m3
    first = run_to_the_end(np.abs(value - value[-1]) < 1e-3 * capacity)
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


def _silent_cook(seen: Seen) -> Iterator[LogWarning]:
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


def _does_not_fill(seen: Seen, rows: Bools) -> bool:
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


CHECKS: tuple[Callable[[Seen], Iterator[LogWarning]], ...] = (
    _stale,
    _last_look,
    _impossible_unit,
    _stuck,
    _silent_cook,
    too_many_minutes,
    clock_off,
    meal_misspelt,
)
