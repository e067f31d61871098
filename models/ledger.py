"""From the log to balances: what was burned, and what the holder must have received between two looks at a gauge."""

from __future__ import annotations

from dataclasses import dataclass, field, fields, replace

import numpy as np
import numpy.typing as npt

from models.burner import gas_flow_sm3_per_h
from models.holder import sm3_per_m3
from models.household import Household
from models.log import Log, Readings, Strings
from models.moisture import atmosphere_pa
from models.temperature import AirTemperature, at
from models.units import MINUTES_PER_DAY, Bools, Floats

FULL_GAUGE_ERRORS = 1.25  # a level this near the capacity may as well be full
HIGHEST_FILL = 1.05  # above it no holder is, whatever the gauge says
SMALLEST_COUNTER_M3 = 1000.0  # no gas meter has fewer digits
NEARLY_OVER = 0.9  # a counter past this share of its range that then reads near zero ran over
LONGEST_COOKING_MIN = 1440.0
DOUBTED_TIMES = 4.0  # as wrong as other entries may be the gas of one whose minutes are not believed: half of it

SetAside = tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class GasUse:
    """Gas burned: spans during which it was drawn at a steady rate, each shape (spans,). [d, d, sm3]

    `doubt` is how many times as wrong as an ordinary entry's each may be; left out, it is 1.
    """

    start_d: Floats
    end_d: Floats
    used_sm3: Floats
    doubt: Floats = field(default_factory=lambda: np.empty(0))

    def __post_init__(self) -> None:
        if not len(self.doubt):
            object.__setattr__(self, "doubt", np.ones(len(self.used_sm3)))

    @property
    def squares(self) -> Floats:
        """Squares of single uses, a doubtful one's as large as its error makes it. [sm3²]"""
        return np.asarray((self.used_sm3 * self.doubt) ** 2)


@dataclass(frozen=True, slots=True, kw_only=True)
class Intervals:
    """Spans between two successive looks at a gauge or meter, in order of their end; every column (intervals,).

    `change_sm3` is the rise of the holder, or what passed the outlet meter; `made = change + used` but for what was
    vented. `use_squares` sums the `squares` of single uses [sm3²]. `start_sm3` and `end_sm3` are the levels as the
    gauge showed them and `capacity_sm3` what the holder could have held at the end. `ends_full` and `vented` mark spans
    that give only a lower bound. `outlet` marks spans of the outlet meter, which know neither level nor use. `end_id`
    names the reading that ends the span and `end_sure` says whether whoever took it stands by it.
    """

    start_d: Floats
    end_d: Floats
    change_sm3: Floats
    used_sm3: Floats
    use_squares: Floats
    start_sm3: Floats
    end_sm3: Floats
    capacity_sm3: Floats
    ends_full: Bools
    vented: Bools
    outlet: Bools
    end_id: Strings
    end_sure: Bools

    def __len__(self) -> int:
        return len(self.end_d)

    @property
    def made_sm3(self) -> Floats:
        """Gas made as far as the balance shows it. [sm3]"""
        return self.change_sm3 + self.used_sm3

    def select(self, rows: Bools | npt.NDArray[np.intp]) -> Intervals:
        """The rows that a mask or an order keeps."""
        return Intervals(**{column.name: getattr(self, column.name)[rows] for column in fields(self)})


def standard_per_wet(household: Household, air: AirTemperature, time_d: Floats) -> Floats:
    """Standard volume of one cubic metre of the holder's gas at moments, shape of `time_d`. [sm3/m3]"""
    return sm3_per_m3(
        np.clip(at(air, time_d), -40.0, 55.0),
        gauge_pa=household.holder.gauge_pa,
        atmosphere_pa=float(atmosphere_pa(household.site.altitude_m)),
    )


NOTHING = GasUse(start_d=np.empty(0), end_d=np.empty(0), used_sm3=np.empty(0))


def sound_cooking(log: Log) -> Readings:
    """The logged cooking that took any time, none of it longer than a day."""
    cooking = log.of("cooking")
    cooking = cooking.select(np.isfinite(cooking.value) & (cooking.value > 0.0))
    return replace(cooking, value=np.minimum(cooking.value, LONGEST_COOKING_MIN))


def cooked_gas(household: Household, cooking: Readings, air: AirTemperature) -> GasUse:
    """Gas of logged cooking, each reading from its time stamp on for as long as it burned, shape of `cooking`.

    A reading that names no burner of the household's was cooked on its first.
    """
    flame = np.where(np.isfinite(cooking.flame_fraction), cooking.flame_fraction, 1.0)
    temperature = np.clip(at(air, cooking.time_d), -40.0, 55.0)
    supply = household.supply(household.gas.methane_fraction, temperature)
    flow = gas_flow_sm3_per_h(household.burners[0], supply)
    for burner in household.burners[1:]:
        flow = np.where(cooking.item == burner.name, gas_flow_sm3_per_h(burner, supply), flow)
    return GasUse(
        start_d=cooking.time_d,
        end_d=cooking.time_d + cooking.value / MINUTES_PER_DAY,
        used_sm3=flow * flame * cooking.value / 60.0,
        doubt=np.where(cooking.doubted, DOUBTED_TIMES, 1.0),
    )


def _rises(household: Household, air: AirTemperature, counter: Readings) -> tuple[GasUse, Readings]:
    """What passed a counter between its readings, and the readings that end those spans.

    A counter that was set back or exchanged tells nothing of that span.
    """
    counter = _last_of_each_moment(counter.select(np.isfinite(counter.value)))
    start, end = counter.time_d[:-1], counter.time_d[1:]
    passed = _passed_m3(counter.value) * standard_per_wet(household, air, (start + end) / 2.0)
    forward = passed >= 0.0
    passed_by = GasUse(start_d=start[forward], end_d=end[forward], used_sm3=passed[forward])
    return passed_by, counter.select(slice(1, None)).select(forward)


def _passed_m3(counter: Floats) -> Floats:
    """Difference between readings of a counter; one that ran over its last digit began again at zero."""
    before, after = counter[:-1], counter[1:]
    size = np.maximum(10.0 ** np.ceil(np.log10(np.maximum(before, 1.0))), SMALLEST_COUNTER_M3)
    ran_over = (before > NEARLY_OVER * size) & (after < (1.0 - NEARLY_OVER) * size)
    return np.asarray(after - before + np.where(ran_over, size, 0.0))


def _last_of_each_moment(readings: Readings) -> Readings:
    return readings.select(~overruled(readings))


def overruled(readings: Readings) -> Bools:
    """Readings that another of the same moment stands in for: the last one that is sure, or else the last."""
    order = np.lexsort((readings.sure, readings.time_d))  # stable: in the order of the log where both are alike
    overruled = np.zeros(len(readings), dtype=bool)
    overruled[order[:-1]] = np.diff(readings.time_d[order]) <= 0.0
    return overruled


def metered_use(household: Household, log: Log, air: AirTemperature) -> GasUse:
    """Gas that passed the stove's meter between its readings; none where there is no such meter."""
    meter = log.of("gas_meter")
    return _rises(household, air, meter.select(meter.item == "stove"))[0]


def metered_made(household: Household, log: Log, air: AirTemperature) -> GasUse:
    """Gas that passed the outlet's meter between its readings; none where there is no such meter."""
    meter = log.of("gas_meter")
    return _rises(household, air, meter.select(meter.item == "outlet"))[0]


def within_spans(spans: GasUse, time_d: Floats) -> Bools:
    """Which moments lie within one of the spans, shape of `time_d`."""
    span = np.searchsorted(spans.start_d, time_d, side="right") - 1
    return np.asarray((span >= 0) & (time_d < spans.end_d[np.maximum(span, 0)]))


def gas_use(household: Household, log: Log, air: AirTemperature, cooked: GasUse) -> GasUse:
    """Gas burned by the log: the stove meter where it was read, the logged cooking elsewhere.

    Cooking inside a metered span keeps its hours and is scaled to what the meter counted.
    """
    metered = metered_use(household, log, air)
    if not len(metered.used_sm3):
        return cooked
    span = np.searchsorted(metered.start_d, cooked.start_d, side="right") - 1
    inside = within_spans(metered, cooked.start_d)
    logged = np.zeros(len(metered.used_sm3))
    np.add.at(logged, span[inside], cooked.used_sm3[inside])
    scale = np.divide(metered.used_sm3, logged, out=np.zeros_like(logged), where=logged > 0.0)
    factor = np.where(inside, scale[np.maximum(span, 0)], 1.0)
    bare = logged <= 0.0
    parts = (
        np.append(cooked.start_d, metered.start_d[bare]),
        np.append(cooked.end_d, metered.end_d[bare]),
        np.append(cooked.used_sm3 * factor, metered.used_sm3[bare]),
        np.append(np.where(inside, 1.0, cooked.doubt), np.ones(int(bare.sum()))),
    )
    order = np.argsort(parts[0], kind="stable")
    start, end, used, doubt = (part[order] for part in parts)
    return GasUse(start_d=start, end_d=end, used_sm3=used, doubt=doubt)


def cumulated(use: GasUse, weights: Floats, time_d: Floats) -> Floats:
    """Running total of weights spread evenly over the spans of use, shape of `time_d`."""
    if not len(weights):
        return np.zeros(time_d.shape)
    origin = float(use.start_d.min())
    rate = weights / np.maximum(use.end_d - use.start_d, 1e-6)
    total = np.zeros(time_d.shape)
    for edge, sign in ((use.start_d, 1.0), (np.maximum(use.end_d, use.start_d + 1e-6), -1.0)):
        order = np.argsort(edge, kind="stable")
        position = edge[order] - origin
        count = np.append(0.0, np.cumsum(rate[order]))
        moment = np.append(0.0, np.cumsum(rate[order] * position))
        index = np.searchsorted(position, time_d - origin, side="right")
        total += sign * (count[index] * (time_d - origin) - moment[index])
    return total


def used_between(use: GasUse, edges_d: Floats) -> Floats:
    """Gas burned between successive edges, shape (edges - 1,). [sm3]"""
    return np.diff(cumulated(use, use.used_sm3, edges_d))


def _gauge_intervals(household: Household, log: Log, air: AirTemperature, use: GasUse, levels: Readings) -> Intervals:
    holder = household.holder
    time = levels.time_d
    factor = standard_per_wet(household, air, time)
    level = levels.value * factor
    near_full = holder.capacity_m3 * (1.0 - FULL_GAUGE_ERRORS * holder.level_error_fraction)
    venting = log.of("venting")
    seen = venting.time_d[venting.value > 0.0]
    count = np.searchsorted(seen, time, side="right")
    return Intervals(
        start_d=time[:-1],
        end_d=time[1:],
        change_sm3=np.diff(level),
        used_sm3=used_between(use, time),
        use_squares=np.diff(cumulated(use, use.squares, time)),
        start_sm3=level[:-1],
        end_sm3=level[1:],
        capacity_sm3=(holder.capacity_m3 * factor)[1:],
        ends_full=(levels.value >= near_full)[1:],
        vented=np.diff(count) > 0,
        outlet=np.zeros(max(len(time) - 1, 0), dtype=bool),
        end_id=levels.id[1:],
        end_sure=levels.sure[1:],
    )


def _outlet_intervals(household: Household, log: Log, air: AirTemperature) -> Intervals:
    meter = log.of("gas_meter")
    passed, ends = _rises(household, air, meter.select(meter.item == "outlet"))
    count = len(passed.used_sm3)
    nothing, unknown, no = np.zeros(count), np.full(count, np.nan), np.zeros(count, dtype=bool)
    return Intervals(
        start_d=passed.start_d,
        end_d=passed.end_d,
        change_sm3=passed.used_sm3,
        used_sm3=nothing,
        use_squares=nothing,
        start_sm3=unknown,
        end_sm3=unknown,
        capacity_sm3=unknown,
        ends_full=no,
        vented=no,
        outlet=~no,
        end_id=ends.id,
        end_sure=ends.sure,
    )


def intervals(household: Household, log: Log, air: AirTemperature, use: GasUse, levels: Readings) -> Intervals:
    """Spans between sound gauge readings and between readings of the outlet meter, in order of their end."""
    gauge = _gauge_intervals(household, log, air, use, levels)
    outlet = _outlet_intervals(household, log, air)
    both = {
        column.name: np.append(getattr(gauge, column.name), getattr(outlet, column.name)) for column in fields(gauge)
    }
    joined = Intervals(**both)
    return joined.select(np.argsort(joined.end_d, kind="stable"))
