"""The real weather under the invented dates."""

from datetime import date, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from service.demo import weather as skies

ZONE = ZoneInfo("Europe/Lisbon")


def test_the_recorded_series_is_whole():
    days = skies.recorded()

    assert len(days) == 4 * 365 + 1
    assert min(days) == date(2012, 1, 1)
    assert max(days) - min(days) == timedelta(days=1460)
    assert all(low <= high for low, high, _ in days.values())


def test_every_day_runs_from_its_recorded_low_to_its_recorded_high():
    sky = skies.hourly(date(2023, 4, 1), 30, ZONE, anchor_year=2022, shift_k=2.0)

    for k in range(30):
        low, high, _ = skies.recorded()[date(2013, 4, 1) + timedelta(days=k)]
        at = sky.day_edge_d[k] + np.array([skies.COLDEST_HOUR, skies.WARMEST_HOUR]) / 24.0
        assert sky.air_at(at) == pytest.approx([low + 2.0, high + 2.0], abs=0.05)  # knots fall on whole hours


def test_the_weather_comes_round_after_four_years():
    now = skies.hourly(date(2023, 6, 1), 10, ZONE, anchor_year=2023)
    later = skies.hourly(date(2027, 6, 1), 10, ZONE, anchor_year=2023)

    np.testing.assert_allclose(later.air_c, now.air_c)


@pytest.mark.parametrize("anchor_year", [2012, 2013, 2014, 2015])
def test_every_calendar_day_has_weather_in_every_leap_position(anchor_year):
    sky = skies.hourly(date(2024, 2, 27), 4, ZONE, anchor_year=anchor_year)

    assert np.isfinite(sky.air_c).all()


@pytest.mark.parametrize(
    ("first", "hours"), [(date(2025, 3, 30), 23), (date(2025, 10, 26), 25), (date(2025, 6, 1), 24)]
)
def test_days_of_23_and_25_hours_keep_their_length(first, hours):
    assert len(skies.hourly(first, 1, ZONE, anchor_year=2022).edge_d) == hours + 1


def test_the_sun_stands_highest_near_noon_and_never_shines_at_night():
    sky = skies.hourly(date(2025, 6, 21), 1, ZONE, anchor_year=2022)
    clock = (sky.edge_d[:-1] - sky.day_edge_d[0]) * 24.0

    assert 11.0 <= clock[np.argmax(sky.sun_w_per_m2)] <= 14.0
    assert (sky.sun_w_per_m2[clock < 4.0] == 0.0).all()
    assert sky.sun_w_per_m2.max() < skies.SOLAR_CONSTANT_W_PER_M2


def test_normals_are_means_of_the_recorded_months():
    normals = skies.monthly_normals(shift_k=1.0)
    july = [(low + high) / 2.0 for day, (low, high, _) in skies.recorded().items() if day.month == 7]

    assert len(normals) == 12
    assert normals[6] == pytest.approx(np.mean(july) + 1.0, abs=0.051)  # told to a tenth of a degree
