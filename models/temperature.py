"""Air temperature at the digester: what was logged, then what was posted, then what the season is usually like."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import UTC, tzinfo

import numpy as np

from models.calendar import DAYS_PER_YEAR, from_days, year_angle
from models.errors import Inconsistent, within
from models.log import Readings
from models.site import Site
from models.units import ArrayLike, Floats

DIURNAL_K = 3.5  # half the usual swing between night and afternoon
WARMEST_HOUR = 15.0
ANOMALY_DECAY_PER_D = 0.75  # how much of a warm or cold spell is left a day later
ANOMALY_SD_K = 3.0  # usual spread of daily means about the normals
LEAST_ANOMALY_SD_K = 0.5
SPREAD_SHRINK = 30.0  # pairs of days that the usual spread is worth
BIAS_WINDOW_D = 120.0
BIAS_SHRINK_D = 60.0  # days of log at which the bias is believed by half
CLIMATE_D = 365.0  # from this span of logged days on the season is learnt from them
FEWEST_CLIMATE_DAYS = 120
NORMAL_SD_K = 2.0  # how far a place's normals may be off its own seasons
SPELLS_PER_DAY = 0.15  # neighbouring days tell nearly the same: so much of an independent one each
SWING_PRIOR_SD_K, SWING_NOISE_K = 2.0, 2.0  # of half the daily swing; of one reading about it
LONGEST_BRIDGE_D = 40.0  # a spell is forgotten long before


def _floats() -> Floats:
    return np.empty(0)


@dataclass(frozen=True, slots=True, kw_only=True)
class PostedWeather:
    """Daily weather that the household posted: day edges [d] and temperatures [°C]; NaN where unknown."""

    start_d: Floats = field(default_factory=_floats)
    end_d: Floats = field(default_factory=_floats)
    mean_c: Floats = field(default_factory=_floats)
    min_c: Floats = field(default_factory=_floats)
    max_c: Floats = field(default_factory=_floats)

    def __post_init__(self) -> None:
        within("mean_c", self.mean_c, -60.0, 60.0)
        days = len(self.mean_c)
        extremes = {len(self.min_c), len(self.max_c)}
        if {len(self.start_d), len(self.end_d)} != {days} or extremes not in ({0}, {days}):
            raise Inconsistent("posted days and temperatures differ in number", field="mean_c")


@dataclass(frozen=True, slots=True, kw_only=True)
class AirTemperature:
    """Air temperature through the whole log and beyond.

    `day` are the days with a known mean (counted from 1970 in local standard time) and `anomaly_k` how much warmer
    than the normals they were, both shape (known,); `bias_k` is the lasting part of it. `anomaly_sd_k` is the spread of
    daily means about normals and bias.
    """

    normal: Floats
    offset_d: float
    day: Floats
    anomaly_k: Floats
    bias_k: float
    anomaly_sd_k: float
    diurnal_k: float


def _harmonics(time_d: ArrayLike) -> Floats:
    angle = year_angle(time_d)
    columns = [np.ones_like(angle)]
    for order in (1, 2):
        columns += [np.cos(order * angle), np.sin(order * angle)]
    return np.stack(columns, axis=-1)


def _normal_coefficients(site: Site) -> Floats:
    """Two annual harmonics through the twelve monthly normals, shape (5,)."""
    middles = (np.arange(12) + 0.5) * DAYS_PER_YEAR / 12.0
    return np.asarray(np.linalg.pinv(_harmonics(middles)) @ np.array(site.monthly_mean_c))


def normal_c(air: AirTemperature, time_d: ArrayLike) -> Floats:
    """Usual daily mean temperature of the season, shape of `time_d`. [°C]"""
    return np.asarray(_harmonics(np.asarray(time_d, dtype=float)) @ air.normal)


def _swing(local_d: Floats) -> Floats:
    return np.asarray(np.cos(2.0 * np.pi * (local_d - WARMEST_HOUR / 24.0)))


def _posted_swing_k(posted: PostedWeather) -> float:
    """Half the daily swing, shrunk to the usual one while few days tell it. [K]"""
    half = (posted.max_c - posted.min_c) / 2.0
    half = half[np.isfinite(half)]
    return float((10.0 * DIURNAL_K + half.sum()) / (10.0 + len(half)))


def _means_by_day(local_d: Floats, value: Floats, posted: PostedWeather, offset_d: float) -> tuple[Floats, Floats]:
    """Known daily means: of the readings (their swing taken off) where there are any, else posted; days ascending."""
    known: dict[float, float] = {}
    middle = (posted.start_d + posted.end_d) / 2.0 + offset_d
    for day, mean in zip(np.floor(middle), posted.mean_c, strict=True):
        if np.isfinite(mean):
            known[float(day)] = float(mean)
    days, inverse = np.unique(np.floor(local_d), return_inverse=True)
    means = np.bincount(inverse, weights=value, minlength=len(days)) / np.maximum(np.bincount(inverse), 1)
    known |= dict(zip(days.tolist(), means.tolist(), strict=True))
    day = np.array(sorted(known))
    return day, np.array([known[d] for d in day.tolist()])


def _learnt_swing_k(local_d: Floats, value: Floats, usual_k: float) -> float:
    """Half the daily swing from days read at several hours, shrunk to the usual one. [K]"""
    _, day = np.unique(np.floor(local_d), return_inverse=True)
    count = np.bincount(day)
    swing = _swing(local_d)
    off, lean = (one - (np.bincount(day, weights=one) / count)[day] for one in (value, swing))
    precision = SWING_NOISE_K**2 / SWING_PRIOR_SD_K**2
    return float(np.clip((precision * usual_k + off @ lean) / (precision + lean @ lean), 0.0, 12.0))


def _climate(site: Site, day: Floats, mean: Floats) -> Floats:
    """Harmonics of the season: the normals', drawn to the logged days once they span a year, shape (5,)."""
    normal = _normal_coefficients(site)
    if len(day) < FEWEST_CLIMATE_DAYS or day[-1] - day[0] < CLIMATE_D:
        return normal
    columns = _harmonics(day)
    weight = SPELLS_PER_DAY / ANOMALY_SD_K**2
    left = weight * columns.T @ columns + np.eye(len(normal)) / NORMAL_SD_K**2
    return normal + np.linalg.solve(left, weight * columns.T @ (mean - columns @ normal))


def _settled_bias(day: Floats, anomaly: Floats, until_day: float) -> tuple[float, float]:
    """Lasting part of the last 120 days' anomalies and the spread of weather about it, both shrunk. [K, K]

    A look at the thermometer at some hour strays from the day's mean by itself; what one day shares with the next does
    not, so the spread is taken from that.
    """
    window = (day > until_day - BIAS_WINDOW_D) & (day <= until_day)
    day, recent = day[window], anomaly[window]
    bias = float(recent.sum() / (len(recent) + BIAS_SHRINK_D))
    shared = ((recent[1:] - bias) * (recent[:-1] - bias) / ANOMALY_DECAY_PER_D)[np.diff(day) == 1.0]
    variance = (shared.sum() + SPREAD_SHRINK * ANOMALY_SD_K**2) / (len(shared) + SPREAD_SHRINK)
    return bias, float(np.sqrt(max(variance, LEAST_ANOMALY_SD_K**2)))


def air_temperature(
    site: Site, ambient: Readings, posted: PostedWeather | None, until_d: float, *, zone: tzinfo = UTC
) -> AirTemperature:
    """Put together what is known of the air temperature.

    Parameters
    ----------
    site : Site
        Its monthly normals carry what nobody measured.
    ambient : Readings
        Logged air temperatures, at any hour. [°C]
    posted : PostedWeather or None
        Daily means, past or to come; a logged day counts before a posted one.
    until_d : float
        Readings after it are not looked at. [d]
    zone : tzinfo
        Whose afternoon is the warm one.
    """
    posted = posted if posted is not None else PostedWeather()
    shift = from_days(until_d).astimezone(zone).utcoffset()
    offset_d = shift.total_seconds() / 86_400.0 if shift is not None else 0.0
    logged = ambient.between(-np.inf, until_d)
    logged = logged.select(np.isfinite(logged.value) & (np.abs(logged.value) < 60.0))
    local_d = logged.time_d + offset_d
    diurnal_k = _learnt_swing_k(local_d, logged.value, _posted_swing_k(posted))
    day, mean = _means_by_day(local_d, logged.value - diurnal_k * _swing(local_d), posted, offset_d)
    today = float(np.floor(until_d + offset_d))
    past = day <= today
    normal = _climate(site, day[past] + 0.5 - offset_d, mean[past])
    anomaly = mean - _harmonics(day + 0.5 - offset_d) @ normal if len(day) else mean
    bias, spread = _settled_bias(day, anomaly, today)
    known = AirTemperature(
        normal=normal,
        offset_d=offset_d,
        day=day[past],
        anomaly_k=anomaly[past],
        bias_k=bias,
        anomaly_sd_k=spread,
        diurnal_k=diurnal_k,
    )
    if past.all():
        return known
    # What is posted for days to come changes those alone: today stands as the past lets one expect it.
    now = np.array([today]) if not np.any(day == today) else np.empty(0)
    return replace(
        known,
        day=np.concatenate([known.day, now, day[~past]]),
        anomaly_k=np.concatenate([known.anomaly_k, expected_anomaly_k(known, now), anomaly[~past]]),
    )


def _decayed(distance: Floats) -> Floats:
    return np.asarray(ANOMALY_DECAY_PER_D ** np.clip(distance, 0.0, LONGEST_BRIDGE_D))


def expected_anomaly_k(air: AirTemperature, local_day: Floats) -> Floats:
    """Departure from the normals expected on given days: bridged between known days, fading to the bias beyond. [K]"""
    if not len(air.day):
        return np.full(local_day.shape, air.bias_k)
    spell = air.anomaly_k - air.bias_k
    after = np.clip(np.searchsorted(air.day, local_day, side="left"), 0, len(air.day) - 1)
    before = np.clip(np.searchsorted(air.day, local_day, side="right") - 1, 0, len(air.day) - 1)
    left, right = local_day - air.day[before], air.day[after] - local_day
    inside = (left >= 0.0) & (right >= 0.0) & (before != after)
    span = np.where(inside, left + right, 1.0)
    whole = 1.0 - _decayed(2.0 * span)
    bridged = spell[before] * (_decayed(left) - _decayed(span + right)) + spell[after] * (
        _decayed(right) - _decayed(span + left)
    )
    faded = np.where(left >= 0.0, spell[before] * _decayed(left), spell[after] * _decayed(right))
    return air.bias_k + np.where(inside, bridged / whole, faded)


def daily_mean(air: AirTemperature, edges_d: ArrayLike) -> Floats:
    """Expected mean temperature between successive edges, shape (edges - 1,); edges about a day apart. [°C]"""
    edges = np.asarray(edges_d, dtype=float)
    middle = (edges[:-1] + edges[1:]) / 2.0
    return normal_c(air, middle) + expected_anomaly_k(air, np.floor(middle + air.offset_d))


def at(air: AirTemperature, time_d: ArrayLike) -> Floats:
    """Expected temperature at moments, with the swing between night and afternoon, shape of `time_d`. [°C]"""
    time = np.asarray(time_d, dtype=float)
    local = time + air.offset_d
    return np.asarray(normal_c(air, time) + expected_anomaly_k(air, np.floor(local)) + air.diurnal_k * _swing(local))


def extraterrestrial_mj_per_m2_d(latitude_deg: float, time_d: ArrayLike) -> Floats:
    """Solar radiation above the atmosphere on a horizontal square metre, shape of `time_d`. [MJ/(m2 d)]

    Parameters
    ----------
    latitude_deg : float
        North positive. [°], -90 to 90; beyond the polar circles 0 in the polar night
    time_d : array_like
        Any moment of the day in question. [d]

    References
    ----------
    .. [1] Allen et al., "Crop evapotranspiration", FAO Irrigation and Drainage Paper 56, 1998, equations 21 to 25.
    """
    latitude = np.radians(within("latitude_deg", latitude_deg, -90.0, 90.0))
    angle = year_angle(time_d)
    distance = 1.0 + 0.033 * np.cos(angle)
    declination = 0.409 * np.sin(angle - 1.39)
    sunset = np.arccos(np.clip(-np.tan(latitude) * np.tan(declination), -1.0, 1.0))
    sine = sunset * np.sin(latitude) * np.sin(declination)
    cosine = np.cos(latitude) * np.cos(declination) * np.sin(sunset)
    return np.asarray(24.0 * 60.0 / np.pi * 0.0820 * distance * (sine + cosine))
