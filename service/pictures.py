"""Answers as pictures, drawn from the same documents that any client gets; the same document gives the same bytes."""

from __future__ import annotations

import io
import json
import re
import textwrap
import threading
import warnings
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import lru_cache
from itertools import pairwise
from typing import TYPE_CHECKING, Any, Literal
from zoneinfo import ZoneInfo

from models.calendar import local_date, to_days
from models.fuels import fuel
from models.reckoning import MONTHS, WEEKDAYS, in_words
from service.usecases.seasons import IN_WORDS

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Format = Literal["svg", "png"]
Answer = Mapping[str, Any]
Row = Mapping[str, Any]

TEXT, GRID = "#1a1a1a", "#d9d9d9"
GAS, MEALS, BACKUP, VENTED = "#1b5e9b", "#b8470c", "#7a1f5c", "#4d6b1f"
BAND = 0.25  # of a colour's strength
WIDTH_IN, DOTS_PER_IN = 9.0, 110
LONGEST_LABEL, LINE, NOTE_LINE = 60, 108, 126
LEAST_ODDS, LEAST_M3, LEAST_MJ = 0.01, 0.1, 0.1
UNKNOWN = "not known: the gauge was never read"
FEW_DAYS, SOME_HOURS, MANY_TICKS, MANY_BARS = 3, 6, 16, 100
SIZE = re.compile(rb'width="[0-9.]+pt" height="[0-9.]+pt"')
"""The size that an SVG has on paper; on a screen it is as wide as there is room, in the shape of its viewBox."""
DRAWING = threading.Lock()  # fonts are not to be loaded by two threads at once


@dataclass(frozen=True, slots=True, kw_only=True)
class Frame:
    """What a picture says of the household beside the answer."""

    label: str
    capacity_m3: float


def forecast_figure(answer: Answer, frame: Frame) -> Figure:
    """Gas in the holder, gas made beside meals, odds of the backup and venting, over the steps of a forecast."""
    points, zone = answer["points"], ZoneInfo(answer["time_zone"])
    figure = _figure(9.0)
    holder, heat, odds, vented = figure.subplots(4, 1, sharex=True, height_ratios=[3, 2.4, 1.3, 1.3])
    moments = [points[0]["start"], *(point["end"] for point in points)]
    edges = [to_days(datetime.fromisoformat(moment)) for moment in moments]
    _holder(holder, points, edges, frame)
    _heat(heat, points, edges, answer["step"])
    _odds(odds, points, edges)
    _vented(vented, points, edges)
    _time_axis(vented, edges, zone)
    _headings(figure, answer, frame, "Gas forecast", _legend_of_bands(answer))
    return figure


def outlook_figure(answer: Answer, frame: Frame) -> Figure:
    """Gas made and wanted, backup and venting, by calendar month."""
    months = answer["months"]
    figure = _figure(9.0)
    gas, backup, vented = figure.subplots(3, 1, sharex=True, height_ratios=[2.4, 1.5, 1.5])
    _bars(gas, months, ("production", "m3"), GAS, label="gas made", shift=-0.2)
    _bars(gas, months, ("need", "m3"), MEALS, label="gas the meals take", shift=0.2)
    _axis(gas, "gas each month [m³]")
    gas.legend(loc="upper left", frameon=False, ncols=2, labelcolor=TEXT)
    unit, name = fuel(answer["fuel"]).unit, IN_WORDS.get(answer["fuel"], answer["fuel"])
    _bars(backup, months, ("backup", unit.lower()), BACKUP)
    _axis(backup, f"backup: {name} [{unit}]")
    _bars(vented, months, ("vented", "m3"), VENTED)
    _axis(vented, "vented [m³]")
    if _column(months, "need_m3") is None:
        _say(backup, UNKNOWN)
        _say(vented, UNKNOWN)
    vented.set_xticks(range(len(months)), [_month_name(month) for month in months])
    vented.set_xlim(-0.6, len(months) - 0.4)
    note = f"Bars: the median. Whiskers: one time in ten below, one time in ten above. {answer['trust']}"
    _headings(figure, answer, frame, "Gas by month", note)
    return figure


@lru_cache(maxsize=16)
def drawn(body: bytes, frame: Frame, draw: Callable[[Answer, Frame], Figure], kind: Format) -> bytes:
    """The bytes of a picture of an answer, whose own bytes are `body`."""
    import matplotlib

    with DRAWING:
        # The settings are the process's own and always these, whatever the machine says.
        matplotlib.rcdefaults()
        matplotlib.rcParams.update({"svg.hashsalt": "kettlecast", "svg.fonttype": "none", "font.size": 10.0})
        # A script that the font lacks is written in an SVG all the same, and a reader's own fonts show it.
        warnings.filterwarnings("ignore", message="Glyph .* missing from font")
        figure, out = draw(json.loads(body), frame), io.BytesIO()
        metadata = {"Date": None, "Creator": None} if kind == "svg" else {"Software": None}
        figure.savefig(out, format=kind, dpi=DOTS_PER_IN, metadata=metadata)
    return SIZE.sub(b'width="100%"', out.getvalue(), count=1) if kind == "svg" else out.getvalue()


def _figure(height_in: float) -> Figure:
    from matplotlib.figure import Figure

    figure = Figure(figsize=(WIDTH_IN, height_in), facecolor="white")
    figure.set_layout_engine("constrained", h_pad=0.08, hspace=0.03)
    return figure


def _headings(figure: Figure, answer: Answer, frame: Frame, title: str, note: str) -> None:
    """The household's name and the moment above, how to read it below."""
    label = " ".join(frame.label.split())
    label = label if len(label) <= LONGEST_LABEL else f"{label[:LONGEST_LABEL]} ..."
    as_of = datetime.fromisoformat(answer["as_of"])
    moment = f"as of {in_words(as_of)} {as_of.year}, {as_of:%H:%M}"
    said = textwrap.fill(answer["summary"], LINE)
    figure.suptitle(f"{label}: {title}, {moment}\n{said}", color=TEXT, fontsize=10.5, parse_math=False)
    figure.supxlabel(textwrap.fill(note, NOTE_LINE), color=TEXT, fontsize=9, parse_math=False)


def _legend_of_bands(answer: Answer) -> str:
    rests = {"prior": "general knowledge", "blended": "a log still short", "fitted": "the household's own log"}
    return (
        "Dark: the median. Light: one time in ten below it, one time in ten above. "
        f"The first {answer['step']} is the rest of it. All rests on {rests[answer['basis']]}."
    )


def _axis(axes: Axes, name: str) -> None:
    axes.set_ylabel(name, color=TEXT)
    axes.set_ylim(bottom=0.0)
    axes.grid(axis="y", color=GRID, linewidth=0.8)
    axes.set_axisbelow(True)
    axes.tick_params(colors=TEXT)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)


def _say(axes: Axes, words: str) -> None:
    """Words where there is nothing to draw."""
    behind = {"facecolor": "white", "edgecolor": "none"}
    axes.text(0.5, 0.5, words, color=TEXT, ha="center", va="center", transform=axes.transAxes, bbox=behind)
    axes.set_yticks([])


def _column(rows: Sequence[Row], name: str) -> list[float] | None:
    """One column of the rows; None where it is not known."""
    found = [row[name] for row in rows]
    return None if any(value is None for value in found) else found


def _holder(axes: Axes, points: Sequence[Row], edges: Sequence[float], frame: Frame) -> None:
    low, middle, high = (_column(points, f"holder_end_{mark}_m3") for mark in ("q10", "q50", "q90"))
    if low is None or middle is None or high is None:
        _say(axes, UNKNOWN)
    else:
        axes.fill_between(edges[1:], low, high, color=GAS, alpha=BAND, linewidth=0.0)
        axes.plot(edges[1:], middle, color=GAS, linewidth=1.8, marker="." if len(points) <= MANY_TICKS else "")
        axes.axhline(frame.capacity_m3, color=TEXT, linestyle="--", linewidth=1.0)
        axes.annotate("full", (edges[0], frame.capacity_m3), (3, 3), textcoords="offset points", color=TEXT)
        axes.set_ylim(top=1.12 * frame.capacity_m3)
    _axis(axes, "in the holder [m³]")


def _heat(axes: Axes, points: Sequence[Row], edges: Sequence[float], step: str) -> None:
    low, middle, high = (_column(points, f"production_{mark}_mj") or [] for mark in ("q10", "q50", "q90"))
    axes.fill_between(edges, _to_last(low), _to_last(high), step="post", color=GAS, alpha=BAND, linewidth=0.0)
    axes.step(edges, _to_last(middle), where="post", color=GAS, linewidth=1.8, label="gas made")
    need = _column(points, "need_q50_mj")
    if need is not None:
        style = ("-.", 1.5) if len(points) <= MANY_BARS else ("-", 0.6)
        axes.step(edges, _to_last(need), *style[:1], where="post", color=MEALS, linewidth=style[1], label="meals take")
    _axis(axes, f"heat each {step} [MJ]")
    axes.set_ylim(top=1.3 * max([*high, *(need or []), LEAST_MJ]))
    axes.legend(loc="upper right", frameon=False, ncols=2, labelcolor=TEXT)


def _odds(axes: Axes, points: Sequence[Row], edges: Sequence[float]) -> None:
    odds = _column(points, "backup_probability")
    if odds is None:
        _say(axes, UNKNOWN)
    else:
        _steps(axes, [100.0 * one for one in odds], edges, BACKUP)
        if max(odds) < LEAST_ODDS:
            _say(axes, "none likely")
    _axis(axes, "odds of backup [%]")
    axes.set_ylim(0.0, 100.0)


def _vented(axes: Axes, points: Sequence[Row], edges: Sequence[float]) -> None:
    middle, high = (_column(points, f"vented_{mark}_m3") for mark in ("q50", "q90"))
    if middle is None or high is None:
        _say(axes, UNKNOWN)
    else:
        _steps(axes, high, edges, VENTED, alpha=BAND)
        _steps(axes, middle, edges, VENTED)
        axes.set_ylim(top=max(1.1 * max(high), LEAST_M3))
        if max(high) <= 0.0:
            _say(axes, "none likely")
    _axis(axes, "vented [m³]")


def _to_last(values: Sequence[float]) -> list[float]:
    """Values of steps at their beginnings, the last one kept to the end."""
    return [*values, *values[-1:]]


def _steps(axes: Axes, values: Sequence[float], edges: Sequence[float], colour: str, alpha: float = 1.0) -> None:
    """A bar a step; one outline where there are too many bars to see them apart."""
    if len(values) > MANY_BARS:
        axes.stairs(values, edges, fill=True, color=colour, alpha=alpha)
        return
    widths = [0.92 * (end - start) for start, end in pairwise(edges)]
    axes.bar(edges[:-1], values, widths, align="edge", color=colour, alpha=alpha)


def _bars(
    axes: Axes, months: Sequence[Row], what: tuple[str, str], colour: str, *, label: str = "", shift: float = 0.0
) -> None:
    name, unit = what
    low, middle, high = (_column(months, f"{name}_{mark}{unit}") for mark in ("q10_", "", "q90_"))
    if low is None or middle is None or high is None:
        return
    down, up = ([abs(one - other) for one, other in zip(middle, ends, strict=True)] for ends in (low, high))
    places = [k + shift for k in range(len(months))]
    axes.bar(places, middle, 0.38 if shift else 0.55, color=colour, label=label, alpha=0.85)
    axes.errorbar(places, middle, [down, up], fmt="none", ecolor=TEXT, elinewidth=1.0, capsize=3.0)


def _time_axis(axes: Axes, edges: Sequence[float], zone: ZoneInfo) -> None:
    """Days named below the lowest panel, and hours where there are few days; times are counted as matplotlib does."""
    first, count = local_date(edges[0], zone), round(edges[-1] - edges[0]) + 2
    every = 1 + (count - 2) // MANY_TICKS
    days = [first + timedelta(days=ahead) for ahead in range(0, count, every)]
    hours = range(0, 24, SOME_HOURS) if count - 2 <= FEW_DAYS else (0,)
    moments = [datetime(day.year, day.month, day.day, hour, tzinfo=zone) for day in days for hour in hours]
    shown = {to_days(moment): moment for moment in moments if edges[0] <= to_days(moment) <= edges[-1]}
    names = [_hour_name(moment) if len(hours) > 1 else _day_name(moment) for moment in shown.values()]
    axes.set_xticks(list(shown), names)
    axes.set_xlim(edges[0], edges[-1])
    axes.set_xlabel(f"local time, {zone.key}", color=TEXT)


def _hour_name(moment: datetime) -> str:
    return f"{moment:%H:%M}\n{WEEKDAYS[moment.weekday()][:3]} {moment.day}"


def _day_name(moment: datetime) -> str:
    return f"{WEEKDAYS[moment.weekday()][:3]}\n{moment.day} {MONTHS[moment.month][:3]}"


def _month_name(month: Row) -> str:
    year, number = (int(part) for part in month["month"].split("-"))
    rest = "" if month["complete"] else "\n(rest)"
    return f"{MONTHS[number][:3]}\n{year}{rest}"
