"""A fit that fails leaves the one before in use, and says so."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
from scipy.optimize import OptimizeResult

from models.production import estimate
from service.api.examples import DESCRIPTION
from service.readings import Filter, Reading
from service.refitting import refit_now
from service.settings import Settings
from service.wiring import Wiring, wire

NOW = datetime(2026, 11, 25, 6, 30, tzinfo=UTC)


@pytest.fixture
def wired(tmp_path: Path) -> Wiring:
    made = wire(Settings(database=str(tmp_path / "t.sqlite")), clock=lambda: NOW)
    made.homes.put("home", DESCRIPTION)
    looks = []
    for day in range(40):
        seconds = int((NOW - timedelta(days=day, hours=2)).timestamp())
        uuid = f"00000000-0000-4000-8000-{seconds:012d}"
        level = 30.0 + 9.0 * (day % 5)
        looks.append(
            Reading(id=uuid, taken_s=seconds, quantity="holder_level", value=level, unit="%", recorded_s=seconds)
        )
    made.logs.add("home", looks)
    return made


def test_a_failed_fit_keeps_the_old_one_and_says_so(wired: Wiring, monkeypatch: pytest.MonkeyPatch) -> None:
    assert refit_now("home", NOW - timedelta(days=1), wired).outcome == "replaced"
    first = wired.fits.newest("home")

    def nowhere(_: object, start: np.ndarray, **__: object) -> OptimizeResult:
        return OptimizeResult(x=np.full_like(start, np.nan), fun=np.nan, success=False)

    monkeypatch.setattr(estimate, "minimize", nowhere)
    outcome = refit_now("home", NOW, wired)
    kept = wired.fits.newest("home")

    assert outcome.outcome == "failed"
    assert "the one before stays in use" in outcome.message
    assert first is not None and kept is not None
    assert kept.id == first.id
    wired.database.close()


@pytest.mark.parametrize("withdraw", ["delete", "correct"])
def test_a_fit_on_readings_that_no_longer_stand_is_replaced_however_well_it_forecasts(
    wired: Wiring, monkeypatch: pytest.MonkeyPatch, withdraw: str
) -> None:
    monkeypatch.setattr("service.usecases.refit.no_worse", lambda *_, **__: False)
    assert refit_now("home", NOW, wired).outcome == "replaced"
    assert refit_now("home", NOW, wired).outcome == "kept"
    [slip], _ = wired.logs.page("home", Filter(), limit=1)
    if withdraw == "delete":
        wired.logs.delete("home", slip.id, now=NOW)
    else:
        wired.logs.put("home", replace(slip, value=slip.value + 1.0), if_match="*", now=NOW)

    assert refit_now("home", NOW, wired).outcome == "replaced"
    wired.database.close()
