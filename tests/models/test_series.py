"""The forecast as a series, by hand, and against the paths it is read off."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from models.errors import OutOfRange
from models.meals import Serving
from models.reckoning import Reckoning
from models.series import series

Cook = Callable[..., Serving]
Reckon = Callable[..., Reckoning]
MIDNIGHT_D = 20514.0


def test_two_days_by_hand(reckon: Reckon, at_hour: Cook) -> None:
    told = reckon([0.4], [0.02], [at_hour(19.0), at_hour(43.0)], hours=48.0, capacity_sm3=0.7)
    found = series(told, MIDNIGHT_D + np.arange(3.0))

    # Full after fifteen hours; 0.08 is vented by seven. Dinner leaves 0.42 at eight, 0.5 at midnight.
    assert found.edges_d == pytest.approx(MIDNIGHT_D + np.arange(3.0), abs=1e-6)
    assert found.need_mj == pytest.approx(np.full((3, 2), 6.0))
    assert found.holder_end_m3[1] == pytest.approx([0.5, 0.5])
    assert found.vented_m3[1] == pytest.approx([0.08, 0.18])
    assert found.backup_probability == pytest.approx([0.0, 0.0])


def test_quantiles_of_sums_are_not_sums_of_quantiles(reckon: Reckon) -> None:
    hourly = np.linspace(0.0, 0.02, 101)
    found = series(reckon(np.zeros(101), hourly), MIDNIGHT_D + np.arange(2.0), levels=(0.05, 0.5, 0.95))

    assert found.levels == (0.05, 0.5, 0.95)
    assert found.holder_end_m3[:, 0] == pytest.approx(24.0 * np.array([0.001, 0.01, 0.019]))


def test_hours_may_be_asked_for(reckon: Reckon, at_hour: Cook) -> None:
    told = reckon([0.1] * 3 + [0.5], np.zeros(4), [at_hour(19.25)])
    found = series(told, MIDNIGHT_D + np.arange(25.0) / 24.0)

    assert found.holder_end_m3.shape == (3, 24)
    assert found.backup_probability[19] == pytest.approx(0.75)
    assert found.backup_probability.sum() == pytest.approx(0.75)


def test_edges_outside_the_balance_are_moved_into_it(reckon: Reckon) -> None:
    found = series(reckon([0.5], [0.0]), [MIDNIGHT_D - 1.0, MIDNIGHT_D + 0.5, MIDNIGHT_D + 9.0])

    assert found.edges_d == pytest.approx(MIDNIGHT_D + np.array([0.0, 0.5, 1.0]), abs=1e-6)


@pytest.mark.parametrize("level", [-0.1, 1.1])
def test_levels_that_are_no_quantiles_are_refused(level: float, reckon: Reckon) -> None:
    with pytest.raises(OutOfRange, match="levels is"):
        series(reckon([0.5], [0.0]), [MIDNIGHT_D, MIDNIGHT_D + 1.0], levels=(level,))
