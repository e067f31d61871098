"""What the log teaches about a household's cooking, and the gas its meals will want on each sample path."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np

from models.calendar import local_date, midnight, to_days
from models.diary import NEAR_D, not_cooked, serving_of
from models.errors import within
from models.holder import GasHolder, sm3_per_m3
from models.ledger import NOTHING, GasUse, within_spans
from models.log import Log, Readings
from models.meals import LOGGED, UNPLANNED, MealPlan, Serving, servings
from models.storage import Wanted
from models.stove import Stove, Use, gas_of_cooking, planned_use, typical
from models.units import Bools, Floats

PSEUDO = 20.0  # a household without a log is worth this many observations of the plan
PRIOR_SKIP, PRIOR_GUESTS, PRIOR_GUEST_FACTOR, PRIOR_SPREAD = 0.08, 0.06, 1.5, 0.2
RECENT = 200  # observations of a meal; older ones tell of another life
LOOK_BACK_D = 400.0
SILENCE_D = 3.0  # a longer pause in the cooking log tells nothing of skipped meals
FRESH_D = 0.5  # a gauge reading this old still says whether there was gas for a meal
GUEST_RATIO = 1.4
EVEN_ODDS = 0.5  # of a meal that is not in the log: skipped or forgotten; of a flame that will not last: lit or not
PSEUDO_BEGUN = 4.0  # cooks differ: few meals on the backup tell which kind this one is
UNPLANNED_D = 1.0 / 144.0  # ten minutes
RIGHT_ODDS = 0.2  # that minutes which cannot be right are: the holder is larger, or the flame went on till it was empty
DOUBT_SPREAD = 0.5  # of the gas of such an entry otherwise, about what its meal usually takes
USE_VARIANCE = 1.25  # mean square over squared mean of a single unplanned use


@dataclass(frozen=True, slots=True, kw_only=True)
class MealHabit:
    """How one meal is really cooked.

    `cooked` are the odds that it is cooked at all, `ratio` the mean of logged over planned gas on an ordinary day and
    `spread` the standard deviation of its logarithm; `guests` the odds of a day for more, `guest_factor` how much more.
    `observations` counts what the log taught; the defaults are the plan's.
    """

    cooked: float = 1.0 - PRIOR_SKIP
    ratio: float = 1.0
    spread: float = PRIOR_SPREAD
    guests: float = PRIOR_GUESTS
    guest_factor: float = PRIOR_GUEST_FACTOR
    observations: int = 0

    def __post_init__(self) -> None:
        within("cooked", self.cooked, 0.0, 1.0)
        within("ratio", self.ratio, 0.01, 100.0)
        within("spread", self.spread, 0.0, 3.0)
        within("guests", self.guests, 0.0, 1.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Habits:
    """A household's habits: by meal, and its uses outside the plan (tea), at `unplanned_hour` of the local day.

    `begun` are the odds that a meal which gas will not carry whole is begun on it, rather than left to the backup, and
    `metered_ratio` is what a meter on the stove counts over what the log and these habits make of the same time.
    """

    meals: Mapping[str, MealHabit] = field(default_factory=dict)
    begun: float = EVEN_ODDS
    metered_ratio: float = 1.0
    unplanned_per_d: float = 0.0
    unplanned_sm3: float = 0.0
    unplanned_hour: float = 16.0

    def of(self, meal: str) -> MealHabit:
        """Habit of a meal; what the plan says where the log tells nothing."""
        return self.meals.get(meal, MealHabit())


def learn_habits(
    plan: MealPlan,
    log: Log,
    stove: Stove,
    *,
    holder: GasHolder,
    as_of_d: float,
    forgotten: float = EVEN_ODDS,
    metered: GasUse = NOTHING,
) -> Habits:
    """Read a household's habits from its log.

    Parameters
    ----------
    plan : MealPlan
    log : Log
        Up to `as_of_d`; `cooking` with or without the meal's name, `backup_used`, `holder_level`.
    stove : Stove
    holder : GasHolder
    as_of_d : float
        Now. [d]
    forgotten : float
        Share of the meals missing from the log that were cooked and not written down. [1], 0 to 1
    metered : GasUse
        What passed a meter on the stove, where there is one.

    Returns
    -------
    Habits

    Raises
    ------
    OutOfRange
        Where `forgotten` lies outside its range.

    Notes
    -----
    Everything is shrunk towards the plan by twenty pseudo-observations; of each meal the last 200 count. A meal is not
    taken as skipped where backup fuel was used, where the gauge shows that there was no gas for it, or where the log
    was silent for days; of the others that are missing a share was cooked and forgotten, but of those that are logged
    with no minutes none. An entry whose minutes are not believed teaches nothing but that somebody cooked. Whether this
    cook lights a flame that will not last is told by the meals on which backup was used, from even odds worth four.
    """
    within("forgotten", forgotten, 0.0, 1.0)
    diary = _diary(plan, log, typical(stove), as_of_d)
    if not len(diary.cooking):
        return Habits()
    found = serving_of(diary.cooking, diary.used, diary.past, diary.planned)
    own = found >= 0
    logged = np.bincount(found[own], weights=diary.used[own], minlength=len(diary.past))
    skipped = not_cooked(diary.past, diary.planned, log.of("cooking"))
    told = (_kept(diary) | (logged > 0.0) | skipped) & _had_gas(diary, log.of("holder_level"), holder, typical(stove))
    told[found[own & diary.cooking.doubted]] = False
    on_backup = _near(log.of("backup_used").time_d, diary.past)
    names = np.array([serving.meal for serving in diary.past], dtype=np.str_)
    unwritten, meals = np.where(skipped, 0.0, forgotten), {}
    for meal in plan.meals:
        mine = told & (names == meal.name)
        ratio = logged[mine] / diary.planned[mine]
        meals[meal.name] = _meal_habit(ratio, on_backup=on_backup[mine], unwritten=unwritten[mine])
    ran_out, left = np.sum(on_backup & (logged > 0.0)), np.sum(on_backup & (logged <= 0.0))
    begun = float((PSEUDO_BEGUN * EVEN_ODDS + ran_out) / (PSEUDO_BEGUN + ran_out + left))
    missing = told & ~on_backup & (logged <= 0.0)
    usual = diary.planned * np.array([meals[name].ratio for name in names.tolist()])
    expected = (
        np.append(diary.cooking.time_d, diary.starts_d[missing]),
        np.append(diary.used, (unwritten * usual)[missing]),
    )
    return replace(
        _unplanned(diary, ~own & ~diary.cooking.doubted, plan.zone),
        meals=meals,
        begun=begun,
        metered_ratio=_metered_ratio(metered, *expected),
    )


def _metered_ratio(metered: GasUse, time_d: Floats, expected_sm3: Floats) -> float:
    """What a meter counted over the gas expected at moments, shrunk to one by twenty times the usual serving."""
    if not len(metered.used_sm3):
        return 1.0
    stake = PSEUDO * float(expected_sm3.mean())
    counted = float(metered.used_sm3[metered.end_d > time_d.min()].sum())
    return (counted + stake) / (float(expected_sm3[within_spans(metered, time_d)].sum()) + stake)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Diary:
    """The cooking log with the gas it used [sm3], and what was planned meanwhile; `moments_d` bound its pauses. [d]"""

    cooking: Readings
    used: Floats
    past: tuple[Serving, ...]
    planned: Floats
    starts_d: Floats
    moments_d: Floats


def _diary(plan: MealPlan, log: Log, stove: Stove, as_of_d: float) -> _Diary:
    cooking = log.of("cooking").between(as_of_d - LOOK_BACK_D, as_of_d)
    cooking = cooking.select(cooking.value > 0.0)
    first = local_date(float(cooking.time_d[0]) if len(cooking) else as_of_d, plan.zone)
    days = (local_date(as_of_d, plan.zone) - first).days + 1
    past = tuple(serving for serving in servings(plan, first, days, stove) if serving.end_d <= as_of_d)
    return _Diary(
        cooking=cooking,
        used=gas_of_cooking(cooking, stove),
        past=past,
        planned=planned_use(past, stove).sm3[0],
        starts_d=np.array([serving.start_d for serving in past]),
        moments_d=np.concatenate([[midnight(first, plan.zone)], cooking.time_d, [as_of_d]]),
    )


def _near(time_d: Floats, past: Sequence[Serving]) -> Bools:
    """Whether an entry was made while a serving was cooked, or within two hours of it."""
    starts = np.array([serving.start_d - NEAR_D for serving in past])
    ends = np.array([serving.end_d + NEAR_D for serving in past])
    return np.asarray(np.searchsorted(time_d, starts) < np.searchsorted(time_d, ends, side="right"))


def _kept(diary: _Diary) -> Bools:
    """Whether the cooking log was being kept around each serving."""
    later = np.minimum(np.searchsorted(diary.moments_d, diary.starts_d, side="right"), len(diary.moments_d) - 1)
    return np.asarray(diary.moments_d[later] - diary.moments_d[later - 1] <= SILENCE_D)


def _had_gas(diary: _Diary, levels: Readings, holder: GasHolder, stove: Stove) -> Bools:
    """Whether there was gas for each serving, as far as a fresh look at the gauge before it can tell."""
    if not len(levels):
        return np.ones(len(diary.past), dtype=bool)
    gas = stove.supply
    factor = float(sm3_per_m3(gas.temperature_c, gauge_pa=gas.gauge_pa, atmosphere_pa=gas.atmosphere_pa))
    look = np.searchsorted(levels.time_d, diary.starts_d, side="right") - 1
    total = np.append(0.0, np.cumsum(diary.used))
    at_look, at_start = (
        np.searchsorted(diary.cooking.time_d, moments) for moments in (levels.time_d[look], diary.starts_d)
    )
    usable = (levels.value[look] - holder.reserve_m3) * factor - (total[at_start] - total[at_look])
    fresh = (look >= 0) & (diary.starts_d - levels.time_d[look] <= FRESH_D)
    return np.asarray(~(fresh & (usable < diary.planned)))


def _meal_habit(ratio: Floats, *, on_backup: Bools, unwritten: Floats) -> MealHabit:
    """Habit of one meal from logged over planned gas at each serving that tells something, oldest first.

    `unwritten` are the odds that it was cooked where it is not in the log.
    """
    ratio, on_backup, unwritten = ratio[-RECENT:], on_backup[-RECENT:], unwritten[-RECENT:]
    skipped = float(np.sum((1.0 - unwritten)[(ratio <= 0.0) & ~on_backup]))
    whole = ratio[(ratio > 0.0) & ~on_backup]
    usual = (PSEUDO + whole.sum()) / (PSEUDO + len(whole))
    more = whole > GUEST_RATIO * usual
    own, guests = whole[~more], whole[more]
    mean = float((PSEUDO + own.sum()) / (PSEUDO + len(own)))
    squares = PSEUDO * PRIOR_SPREAD**2 + float(np.sum(np.log(own / mean) ** 2))
    pseudo_guests = PSEUDO * PRIOR_GUESTS
    return MealHabit(
        cooked=1.0 - (PSEUDO * PRIOR_SKIP + skipped) / (PSEUDO + len(ratio)),
        ratio=mean,
        spread=float(np.sqrt(squares / (PSEUDO + len(own)))),
        guests=(pseudo_guests + len(guests)) / (PSEUDO + len(whole)),
        guest_factor=float((pseudo_guests * PRIOR_GUEST_FACTOR + guests.sum() / mean) / (pseudo_guests + len(guests))),
        observations=len(ratio),
    )


def _unplanned(diary: _Diary, spare: Bools, zone: ZoneInfo) -> Habits:
    """Use outside the plan, over the days on which the log was kept."""
    if not spare.any():
        return Habits()
    pauses_d = np.diff(diary.moments_d)
    kept_d = float(pauses_d[pauses_d <= SILENCE_D].sum())
    times_d = diary.cooking.time_d[spare].tolist()
    hours = [(moment - midnight(local_date(moment, zone), zone)) * 24.0 for moment in times_d]
    return Habits(
        unplanned_per_d=len(times_d) / (PSEUDO + kept_d),
        unplanned_sm3=float(diary.used[spare].mean()),
        unplanned_hour=float(min(np.median(hours), 23.0)),
    )


def unplanned_servings(habits: Habits, first: date, days: int, plan: MealPlan) -> tuple[Serving, ...]:
    """One serving a day at home for all use outside the plan; none where the log shows no such use."""
    if habits.unplanned_per_d == 0.0:
        return ()
    minute = round(habits.unplanned_hour * 60.0)
    made = []
    for day in (first + timedelta(days=k) for k in range(days)):
        if plan.away(day):
            continue
        start_d = to_days(datetime(day.year, day.month, day.day, minute // 60, minute % 60, tzinfo=plan.zone))
        made.append(Serving(meal=UNPLANNED, day=day, start_d=start_d, end_d=start_d + UNPLANNED_D, planned=False))
    return tuple(made)


def demand(asked: Sequence[Serving], use: Use, habits: Habits, *, paths: int, rng: np.random.Generator) -> Wanted:
    """Draw what servings will take, on many paths.

    Parameters
    ----------
    asked : sequence of Serving
        Planned servings and those of `unplanned_servings`, in order.
    use : Use
        Their planned use, shape (paths or 1, servings).
    habits : Habits
    paths : int
    rng : numpy Generator

    Returns
    -------
    Wanted
        Shape (paths, servings): gas if cooked [sm3], and whether it is cooked. A serving that the cook has changed
        herself (guests, a roast) is cooked, and no more guests are drawn for it; one from the log is taken as it was,
        but for one whose minutes cannot be right: that took about the usual, and one time in five what was written. One
        that the log passes over was cooked and forgotten at even odds at most.

    Notes
    -----
    Odds and ratios that are not known well yet differ from path to path as much as twenty pseudo-observations and the
    log leave open, so a short log gives wide answers.
    """
    shape = (paths, len(asked))
    part = np.array([serving.part for serving in asked])
    need, cooked = np.broadcast_to(use.sm3 * part, shape).copy(), np.ones(shape, dtype=bool)
    begun = rng.random(shape) < habits.begun
    columns_of: dict[str, list[int]] = {}
    for column, serving in enumerate(asked):
        columns_of.setdefault(serving.meal, []).append(column)
    for meal, columns in columns_of.items():
        if meal == UNPLANNED:
            need[:, columns] = habits.metered_ratio * part[columns] * _teas(habits, (paths, len(columns)), rng)
        if meal in (UNPLANNED, LOGGED):
            begun[:, columns] = True  # a tea is always tried; of what the log tells we know
            doubtful = [column for column in columns if asked[column].overstated > 1.0]
            need[:, doubtful] *= _doubt(np.array([asked[column].overstated for column in doubtful]), paths, rng)
            continue
        habit, size = habits.of(meal), (paths, len(columns))
        changed = np.array([asked[column].factor != 1.0 for column in columns])
        known = PSEUDO + habit.observations
        cooked_odds = rng.beta(habit.cooked * known, (1.0 - habit.cooked) * known, (paths, 1))
        own_ratio = np.exp(habit.spread / np.sqrt(known) * rng.standard_normal((paths, 1)))
        day = np.exp(habit.spread * rng.standard_normal(size) - 0.5 * habit.spread**2)
        guests = (rng.random(size) < habit.guests) & ~changed
        usual = habits.metered_ratio * habit.ratio
        need[:, columns] *= usual * own_ratio * day * np.where(guests, habit.guest_factor, 1.0)
        missed = np.array([asked[column].missed for column in columns])
        odds = np.where(missed, np.minimum(EVEN_ODDS, cooked_odds), cooked_odds)
        cooked[:, columns] = (rng.random(size) < odds) | changed
    return Wanted(need_sm3=need, cooked=cooked, begun=begun)


def _doubt(overstated: Floats, paths: int, rng: np.random.Generator) -> Floats:
    """What servings took over the usual, where the log says so many times as much, shape (paths, servings)."""
    size = (paths, len(overstated))
    usual = np.exp(DOUBT_SPREAD * rng.standard_normal(size))
    return np.where(rng.random(size) < RIGHT_ODDS, overstated, usual)


def _teas(habits: Habits, size: tuple[int, int], rng: np.random.Generator) -> Floats:
    """Gas of a day's unplanned uses: gamma with the mean and variance of so many uses of varying size. [sm3]"""
    return rng.gamma(habits.unplanned_per_d / USE_VARIANCE, habits.unplanned_sm3 * USE_VARIANCE, size)
