"""The range check and the tree of refusals."""

from __future__ import annotations

import numpy as np
import pytest

from models.errors import ModelError, OutOfRange, within


def test_a_value_in_range_comes_back_as_floats_of_the_same_shape() -> None:
    assert within("level", 3, 0.0, 10.0).shape == ()
    assert within("level", [[1, 2]], 0.0, 10.0).shape == (1, 2)
    assert within("level", [1, 2], 0.0, 10.0).dtype == float


def test_the_ends_of_a_range_belong_to_it() -> None:
    assert within("level", [0.0, 10.0], 0.0, 10.0).tolist() == [0.0, 10.0]


@pytest.mark.parametrize(("value", "shown"), [(-0.5, "-0.5"), (10.5, "10.5"), ([1.0, 11.0], "11")])
def test_a_refusal_names_field_value_and_range(value: object, shown: str) -> None:
    with pytest.raises(OutOfRange, match=f"level is {shown}, must be 0 to 10") as refusal:
        within("level", value, 0.0, 10.0)

    assert refusal.value.field == "level"
    assert isinstance(refusal.value, ModelError)


def test_unknown_figures_pass_through() -> None:
    assert np.isnan(within("level", [np.nan, 1.0], 0.0, 10.0)[0])
