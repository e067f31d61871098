"""Rows of an answer as CSV (RFC 4180): a header, then a line a row; what is not known is an empty cell."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

TRUTH = {True: "true", False: "false"}


def csv_of(columns: Sequence[str], rows: Iterable[Mapping[str, Any]]) -> bytes:
    """Rows under the names of their columns, in UTF-8; true and false as JSON has them."""
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(columns)
    writer.writerows([_cell(row[name]) for name in columns] for row in rows)
    return out.getvalue().encode()


def _cell(value: Any) -> Any:
    return TRUTH[value] if isinstance(value, bool) else value
