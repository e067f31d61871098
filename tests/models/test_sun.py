"""The sun above the atmosphere, from pole to pole."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from models.calendar import year_angle
from models.errors import OutOfRange
from models.site import Site
from models.temperature import extraterrestrial_mj_per_m2_d

YEAR_D = 20_454.0 + np.arange(365.0)  # from 1 January 2026


@given(st.floats(-90.0, 90.0), st.floats(0.0, 364.0))
def test_the_days_sun_is_the_sum_of_its_moments(latitude_deg: float, day: float) -> None:
    """The closed form of FAO paper 56 against the sun's height, added up moment by moment."""
    time_d = YEAR_D[0] + day
    latitude, angle = np.radians(latitude_deg), year_angle(time_d)
    declination = 0.409 * np.sin(angle - 1.39)
    hour_angle = np.linspace(-np.pi, np.pi, 20_001)
    height = np.sin(latitude) * np.sin(declination) + np.cos(latitude) * np.cos(declination) * np.cos(hour_angle)
    mean = np.trapezoid(np.maximum(height, 0.0), hour_angle) / (2.0 * np.pi)
    added = 24.0 * 60.0 * 0.0820 * (1.0 + 0.033 * np.cos(angle)) * mean

    assert extraterrestrial_mj_per_m2_d(latitude_deg, time_d) == pytest.approx(added, abs=1e-4)


@pytest.mark.parametrize("latitude_deg", [-90.0, -75.0, 75.0, 90.0])
def test_beyond_the_polar_circles_the_sun_stays_away_for_weeks_and_never_turns_dark(latitude_deg: float) -> None:
    sun = extraterrestrial_mj_per_m2_d(latitude_deg, YEAR_D)

    assert np.isfinite(sun).all()
    assert sun.min() == pytest.approx(0.0, abs=1e-9)
    assert 80 < (sun < 1e-9).sum() < 190
    assert sun.max() > 40.0


@pytest.mark.parametrize("latitude_deg", [-90.1, 90.1])
def test_no_place_lies_beyond_the_poles(latitude_deg: float) -> None:
    with pytest.raises(OutOfRange, match=r"latitude_deg is .*, must be -90 to 90"):
        extraterrestrial_mj_per_m2_d(latitude_deg, 20_454.0)
    with pytest.raises(OutOfRange, match=r"latitude_deg is .*, must be -90 to 90"):
        Site(altitude_m=0.0, latitude_deg=latitude_deg, monthly_mean_c=(0.0,) * 12)
