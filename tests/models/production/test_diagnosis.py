"""What a fit says about itself: season, rhythm of the week, innovations, and the fit's own words."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from models.log import Log
from models.production.diagnosis import Scores, basis_of, innovation_summary, weekday_rhythm
from models.production.fit import fit, record
from models.production.substrate import feeding
from tests.models.production.conftest import readings


def scored(size):
    return Scores(size=np.asarray(size, dtype=float), is_bound=np.zeros(len(size), dtype=bool))


def test_innovations_are_summed_up():
    size = np.append(np.random.default_rng(0).standard_normal(5000), [np.nan] * 3)

    told = innovation_summary(scored(size))

    # Three standard errors of 5000 draws.
    assert told["innovations"] == 5000
    assert told["mean"] == pytest.approx(0.0, abs=0.043)
    assert told["sd"] == pytest.approx(1.0, abs=0.03)
    assert told["autocorrelation"] == pytest.approx(0.0, abs=0.043)
    assert told["within_80"] == pytest.approx(0.8, abs=0.017)
    assert told["within_95"] == pytest.approx(0.95, abs=0.01)


def test_a_few_innovations_tell_nothing():
    told = innovation_summary(scored([0.1] * 9))

    assert {told[name] for name in ("mean", "sd", "autocorrelation", "within_80", "within_95")} == {None}


@pytest.mark.parametrize(("left", "basis"), [(0.99, "prior"), (0.6, "blended"), (0.3, "fitted")])
def test_the_basis_is_how_much_of_the_priors_doubt_is_left(left, basis):
    assert basis_of(np.diag([(0.35 * left) ** 2, 1.0, 1.0, 1.0, 1.0, 1.0])) == basis


def fed_on(plain, kg, days):
    log = Log(by_quantity={"feed": readings(20_000.0 + np.arange(days) + 0.4, kg)})
    known = record(plain, log, None, 20_000.0 + days)
    return weekday_rhythm(known, feeding(known, 0))


def test_a_weekly_rhythm_is_found_where_there_is_one(plain):
    rng = np.random.default_rng(8)
    weekday = np.arange(84) % 7

    assert fed_on(plain, 4.0 + 2.0 * (weekday > 4) + 0.5 * rng.standard_normal(84), 84) == "found"
    assert fed_on(plain, 4.0 + 0.5 * rng.standard_normal(84), 84) == "none found"
    assert fed_on(plain, 4.0 + 2.0 * (weekday[:20] > 4), 20) == "log too short to tell"


def test_feed_of_one_weekday_alone_is_no_rhythm(plain):
    time = 20_000.4 + 7.0 * np.arange(30)
    known = record(plain, Log(by_quantity={"feed": readings(time, np.full(30, 4.0))}), None, 20_220.0)

    assert weekday_rhythm(known, feeding(known, 0)) == "none found"


def test_a_digester_in_the_open_has_a_season_and_a_heated_one_has_none(plain, live):
    life = live(plain, 500)
    heated = readings(life.edges_d[::5] + 0.5, np.full(len(life.edges_d[::5]), 36.0), "tank")
    indoors = Log(by_quantity={**life.log.by_quantity, "digester_temperature": heated})
    steady = live(replace(plain, site=replace(plain.site, monthly_mean_c=(20.0,) * 12, latitude_deg=0.0)), 500)

    open_air = fit(record(plain, life.log, None, life.end_d))
    warm = fit(
        record(plain, Log(by_quantity={**steady.log.by_quantity, "digester_temperature": heated}), None, steady.end_d)
    )

    assert open_air.diagnostics["season"] == "found"
    assert warm.diagnostics["season"] == "none found"
    assert warm.slurry[0].held_c == pytest.approx(36.0, abs=0.5)
    assert fit(record(plain, indoors.until(life.edges_d[100]), None, float(life.edges_d[100]))).diagnostics[
        "season"
    ] == ("log too short to tell")


def test_every_parameter_has_its_error_its_unit_and_a_plain_meaning(plain, live):
    life = live(plain, 60)

    told = fit(record(plain, life.log, None, life.end_d)).described()

    assert len(told) == 8
    for row in told:
        assert row["low"] < row["value"] < row["high"]
        assert row["sd"] > 0.0
        assert row["unit"] and row["meaning"]
