"""Carrying a metered day forward, and widening the spread where week-ahead errors ask for it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from models.production.echo import echo
from models.production.leads import WIDEST, lead_errors, widening
from models.production.parameters import from_z
from models.production.statespace import Rows, run_filter
from models.production.values import Echo

MODE = from_z(np.zeros(8))


def metered(made):
    count = len(made)
    day = 20_000.0 + np.arange(count)
    no = np.zeros(count, dtype=bool)
    return Rows(
        start_d=day,
        end_d=day + 1.0,
        made_sm3=np.array(made),
        error_var=np.full(count, 1e-6),
        error_scale_sm3=np.zeros(count),
        outlet=~no,
        widened=no,
        vented=no,
        site_var=np.full(count, np.nan),
    )


def seen(rows, expected=0.4):
    return run_filter(rows, np.full(len(rows), expected), MODE)


def walk(days, step, seed=2):
    return 0.4 * np.exp(np.cumsum(step * np.random.default_rng(seed).standard_normal(days)))


def test_a_wandering_meter_is_carried_forward():
    rows = metered(walk(80, 0.1))

    found = echo(rows, seen(rows), float(rows.end_d[-1]))

    assert found.share > 0.5
    assert found.rate_sm3_per_d == pytest.approx(rows.made_sm3[-1])


def test_a_meter_that_flickers_about_its_mean_is_not():
    rows = metered(0.4 * (1.0 + 0.2 * np.random.default_rng(1).standard_normal(80)))

    assert echo(rows, seen(rows), float(rows.end_d[-1])).share < 0.2


@pytest.mark.parametrize(("days", "late"), [(15, 0.0), (80, 3.0)], ids=["few days", "read long ago"])
def test_too_little_or_too_old_is_not_carried(days, late):
    rows = metered(walk(days, 0.1))

    assert echo(rows, seen(rows), float(rows.end_d[-1]) + late) == Echo()


def test_a_log_without_a_meter_has_no_echo():
    rows = replace(metered(walk(80, 0.1)), outlet=np.zeros(80, dtype=bool))

    assert echo(rows, seen(rows), float(rows.end_d[-1])) == Echo()


def test_the_echo_fades():
    added = Echo(share=0.5, rate_sm3_per_d=0.6).added(0.4, 3)

    np.testing.assert_allclose(added, [0.1, 0.09, 0.081])


def test_week_ahead_errors_of_the_model_itself_are_standard():
    """Rows drawn from the model: no season, level one, so that a long series can be drawn by hand."""
    rng = np.random.default_rng(4)
    days, stays = 3000, np.exp(-1.0 / MODE.spell_d)
    spell, level, made = 0.0, 1.0, []
    for _ in range(days):
        spell = stays * spell + MODE.spell_spread * np.sqrt(1.0 - stays**2) * rng.standard_normal()
        level += MODE.drift * rng.standard_normal()
        made.append(0.4 * (level + spell + MODE.day_spread * rng.standard_normal()))
    rows = metered(made)

    by_model, by_yesterday = lead_errors(rows, seen(rows), np.full(days, 0.4), MODE)

    # A week's errors overlap and spells last: about one in twelve of 3000 is independent.
    assert by_model.std() == pytest.approx(1.0, abs=0.15)
    assert by_yesterday.std() > by_model.std()
    assert widening((by_model, by_yesterday), 0.0) == pytest.approx(1.0, abs=0.15)


def test_errors_twice_as_large_as_promised_widen_the_spread():
    size = 2.0 * np.random.default_rng(6).standard_normal(4000)

    assert widening((size, size), 0.0) == pytest.approx(2.0, abs=0.1)
    assert widening((np.ones(5) * 99.0, np.ones(5)), 0.0) == WIDEST
    assert widening((0.1 * size, size), 1.0) == pytest.approx(2.0, abs=0.1)  # yesterday did better than the model
    assert widening((np.empty(0), np.empty(0)), 1.0) == 1.0


def test_a_meter_read_twice_in_a_row_does_not_stand_for_the_day():
    rows = metered([*walk(80, 0.1), 0.0])
    again = rows.end_d.copy()
    again[-1] = rows.start_d[-1] + 0.5 / 24.0
    rows = replace(rows, end_d=again)

    found = echo(rows, seen(rows), float(again[-1]))

    assert found.rate_sm3_per_d == pytest.approx(rows.made_sm3[-2])
