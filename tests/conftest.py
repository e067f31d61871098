"""Fixtures that every test may ask for."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

TABLES = Path(__file__).parents[1] / "fixtures" / "tables"


@pytest.fixture(scope="session")
def published() -> Callable[[str], pd.DataFrame]:
    """A table of published figures by name; one that does not say where its figures come from is refused."""

    def read(name: str) -> pd.DataFrame:
        path = TABLES / f"{name}.csv"
        assert path.read_text(encoding="utf-8").startswith("# source: "), f"{path.name} does not name its source"
        return pd.read_csv(path, comment="#")

    return read


@pytest.fixture(scope="session")
def agree() -> Callable[[pd.DataFrame, object], None]:
    """Compare figures with a table's `expected`, each within its row's own tolerance, relative or absolute."""

    def check(table: pd.DataFrame, figures: object) -> None:
        expected = table["expected"].to_numpy(dtype=float)
        allowed = table["tolerance"] * np.where(table["tolerance_kind"] == "rel", np.abs(expected), 1.0)
        found = np.asarray(figures, dtype=float)
        off = ~(np.abs(found - expected) <= allowed.to_numpy())
        shown = table.assign(found=found)[["id", "expected", "found", "tolerance", "reason"]]
        assert not off.any(), shown[off].to_string()

    return check
