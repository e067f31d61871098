"""Tables on a terminal or in a pipe, with no word cut short."""

from __future__ import annotations

from rich.console import Console
from rich.measure import Measurement
from rich.table import Column, Table

LEAST_COLUMNS = 80
"""A narrower terminal breaks the lines itself: figures that are wrapped in their cells can be misread."""
MOST_COLUMNS = 1000


def figures(name: str) -> Column:
    """A column of figures, which stay whole."""
    return Column(name, justify="right", no_wrap=True)


def short(name: str) -> Column:
    """A column of short words, which stay whole."""
    return Column(name, no_wrap=True)


def words(name: str) -> Column:
    """A column of words that may need several lines, such as the names of meals."""
    return Column(name, overflow="fold")


def print_table(table: Table | str, *, stderr: bool = False) -> None:
    """Print a table as wide as the terminal; in a pipe, where nothing bounds it, as wide as its longest line."""
    console = Console(stderr=stderr)
    if isinstance(table, str):
        console.print(table, soft_wrap=True, highlight=False, markup=False)
        return
    console.width = max(console.width, LEAST_COLUMNS)
    if not console.is_terminal:
        unbound = console.options.update(width=MOST_COLUMNS)
        console.width = max(console.width, Measurement.get(console, unbound, table).maximum)
    console.print(table)
