"""What an outlook is drawn from."""

from __future__ import annotations

import numpy as np

from models.outlook import Draws


def test_a_part_that_draws_more_leaves_the_others_as_they_were() -> None:
    few, many = Draws.seeded(7), Draws.seeded(7)
    few.made.standard_normal(10)
    many.made.standard_normal(10_000)

    for part in ("methane", "since", "coming"):
        assert np.array_equal(getattr(few, part).random(100), getattr(many, part).random(100))


def test_no_two_parts_draw_the_same() -> None:
    draws = Draws.seeded(7)
    first = [getattr(draws, part).random() for part in Draws.__slots__]

    assert len(set(first)) == len(first)
