"""Time as the models count it; edges of days from the IANA time zone database."""

from __future__ import annotations

from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from models.calendar import from_days, local_date, local_midnights, to_days, year_angle

LISBON = ZoneInfo("Europe/Lisbon")


def test_days_are_counted_from_1970() -> None:
    assert to_days(datetime(1970, 1, 2, 12, tzinfo=UTC)) == 1.5
    assert from_days(1.5) == datetime(1970, 1, 2, 12, tzinfo=UTC)


def test_a_time_without_an_offset_is_refused() -> None:
    with pytest.raises(ValueError, match="no offset"):
        to_days(datetime(2026, 1, 1))  # noqa: DTZ001


def test_the_day_the_clocks_change_has_23_or_25_hours() -> None:
    spring = np.diff(local_midnights(date(2026, 3, 28), 3, LISBON)) * 24.0
    autumn = np.diff(local_midnights(date(2026, 10, 24), 3, LISBON)) * 24.0

    np.testing.assert_allclose(spring, [24.0, 23.0, 24.0])
    np.testing.assert_allclose(autumn, [24.0, 25.0, 24.0])


def test_a_date_is_the_households_own() -> None:
    just_after_midnight = to_days(datetime(2026, 7, 1, 23, 30, tzinfo=UTC))

    assert local_date(just_after_midnight, LISBON) == date(2026, 7, 2)
    assert local_date(just_after_midnight, ZoneInfo("America/Los_Angeles")) == date(2026, 7, 1)


def test_the_year_turns_once() -> None:
    angle = year_angle([0.0, 365.2425 / 4.0, 365.2425])

    np.testing.assert_allclose(angle, [0.0, np.pi / 2.0, 0.0], atol=1e-9)
