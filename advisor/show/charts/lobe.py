"""The lobe of a set-up with the angles of the hops marked over it."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby
from typing import TYPE_CHECKING

import numpy as np

from advisor.answers.limits import OPEN_CHANCE
from advisor.answers.pictures.lobe import Hop, LobeMeetsHop
from advisor.answers.words import angle_range, days_in_ten
from advisor.show.charts.style import (
    INK,
    LINES,
    SMALL_PT,
    TEXT_PT,
    WIDTH_IN,
    Page,
    chance_colours,
    hour_of,
    in_own_look,
    inks_on,
    plain,
    plate,
    write_beside,
)

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_LAYER_MARKS = {"E": "s", "Es": "^", "F1": "D", "F2": "o"}
_OTHER_MARK = "*"
_LEFT_IN, _BESIDE_IN = 0.88, 1.18
_CURVE_IN, _HOP_IN, _HOUR_IN, _TITLE_IN, _KEY_IN = 2.2, 0.24, 0.25, 0.3, 0.5
_LEAST_DBI = -20.0
_LOW_ANGLES_DEG, _HIGH_ANGLES_DEG = 50.0, 90.0
_HOPS_AN_HOUR = 2
_GRID = "#cccccc"
_BESIDE_PT, _GAIN_PT = 5.0, 38.0


def alt_text(record: LobeMeetsHop) -> str:
    """
    State the finding: does the lobe meet the hop.

    Parameters
    ----------
    record : LobeMeetsHop
        What is drawn.

    Returns
    -------
    sentence : str
        One sentence.
    """
    lobe, when = record.lobes[0], hour_of(record.utc)
    if not record.hops:
        return f"No hop carries {lobe.band} to {record.target} at {when}."
    top = record.hops[0]
    peak = int(np.argmax(lobe.gain_dbi))
    shut = ", closed" if record.chance < OPEN_CHANCE else ""
    return (
        f"{lobe.band} to {record.target} at {when}{shut}: {top.name} needs "
        f"{angle_range(top.low_deg, top.high_deg)}, there {record.setup} gives "
        f"{plain(top.gain_dbi)} dBi, {plain(lobe.gain_dbi[peak] - top.gain_dbi)} dB "
        f"under its strongest at {record.takeoff_deg[peak]:.0f} deg."
    )


@in_own_look
def figure(record: LobeMeetsHop, zone: str | None = None) -> Figure:
    """
    Draw gain over take-off angle, and under it what each hour asks for.

    Parameters
    ----------
    record : LobeMeetsHop
        What is drawn.
    zone : str, optional
        IANA time zone whose local time stands beside UTC.

    Returns
    -------
    figure : matplotlib.figure.Figure
        The chart.
    """
    hops_in = _HOP_IN * max(len(record.hops), 1)
    rows = _hour_rows(record)
    hours_in = _HOUR_IN * len(rows)
    page = Page(
        alt_text(record),
        f"chance {days_in_ten(record.chance)} at {hour_of(record.utc, zone)}",
        _KEY_IN + _CURVE_IN + 2.0 * _TITLE_IN + hops_in + hours_in + 0.62,
        "Curves: gain of the wire towards the target. Bars: the angles the hops need, "
        "8 in 10 of the target; the darker, the more days. Figures: days in ten on "
        "which a hop exists, and gain there. Round mark F2, square E, triangle "
        "sporadic E, diamond F1, star a high ray.",
    )
    needed = [hop.high_deg for hour in record.hours for hop in hour.hops]
    needed += [hop.high_deg for hop in record.hops]
    is_low = not needed or max(needed) < _LOW_ANGLES_DEG
    right = _LOW_ANGLES_DEG if is_low else _HIGH_ANGLES_DEG
    wide = WIDTH_IN - _LEFT_IN - _BESIDE_IN
    curves = page.axes(_LEFT_IN, _KEY_IN, wide, _CURVE_IN)
    down = _KEY_IN + _CURVE_IN + _TITLE_IN
    hops = page.axes(_LEFT_IN, down, wide, hops_in)
    down += hops_in + _TITLE_IN
    hours = page.axes(_LEFT_IN, down, wide, hours_in)
    for axes in (curves, hops, hours):
        axes.set_xlim(0.0, right)
        axes.grid(color=_GRID, linewidth=0.7, axis="x")
        axes.set_axisbelow(True)
    _draw_lobes(curves, record, right)
    _draw_hops(hops, record)
    _draw_hours(hours, rows, right)
    return page.figure


def _draw_lobes(axes: Axes, record: LobeMeetsHop, right: float) -> None:
    """Draw gain curves; a mark where each hop needs the first one."""
    from matplotlib.ticker import MultipleLocator

    shown = record.takeoff_deg <= right
    top = max(lobe.gain_dbi.max() for lobe in record.lobes)
    for lobe, (colour, dash, _) in zip(record.lobes, LINES, strict=False):
        axes.plot(
            record.takeoff_deg[shown],
            lobe.gain_dbi[shown],
            color=colour,
            linestyle=dash,
            label=lobe.band,
        )
    least = min((hop.gain_dbi - 3.0 for hop in record.hops), default=0.0)
    axes.set_ylim(
        5.0 * np.floor(min(least, _LEAST_DBI) / 5.0), 5.0 * np.ceil(top / 5.0)
    )
    for hop in record.hops:
        axes.axvline(hop.takeoff_deg, color=INK, linewidth=1.0, linestyle=(0, (2, 2)))
        axes.plot(
            hop.takeoff_deg,
            hop.gain_dbi,
            _mark_of(hop),
            color="#ffffff",
            markeredgecolor=INK,
            markersize=9.0,
            markeredgewidth=2.0,
            zorder=5,
        )
    axes.set_ylabel("gain, dBi")
    axes.yaxis.set_major_locator(MultipleLocator(5.0))
    axes.grid(color=_GRID, linewidth=0.7, axis="y")
    axes.tick_params(axis="x", labelbottom=False)
    axes.legend(
        loc="lower left",
        bbox_to_anchor=(-0.12, 1.0),
        ncols=len(record.lobes),
        fontsize=TEXT_PT,
        frameon=False,
        handlelength=2.2,
        handletextpad=0.4,
        columnspacing=1.0,
    )


def _mark_of(hop: Hop) -> str:
    """Marker by layer."""
    return _LAYER_MARKS.get(hop.name.lstrip("0123456789"), _OTHER_MARK)


def _days(hop: Hop) -> str:
    """Days in ten on which the mode exists."""
    return "<1" if hop.support < OPEN_CHANCE else f"{max(10.0 * hop.support, 1.0):.0f}"


def _draw_bars(axes: Axes, bars: Sequence[tuple[Hop, float, float]]) -> None:
    """Draw angles of hops as bars, shade by days, mark at the median."""
    from matplotlib.collections import PolyCollection

    support = np.array([hop.support for hop, _, _ in bars])
    shades = chance_colours()(support)
    corners = []
    for hop, down, high in bars:
        left, right = max(hop.low_deg - 0.4, 0.0), hop.high_deg + 0.4
        top, bottom = down - 0.5 * high, down + 0.5 * high
        corners.append([(left, top), (right, top), (right, bottom), (left, bottom)])
    # One artist for all: each costs more than its drawing.
    axes.add_collection(
        PolyCollection(
            corners, facecolors=shades, edgecolors=INK, linewidths=0.9, zorder=1
        ),
        autolim=False,
    )
    marks: dict[tuple[str, str], list[tuple[float, float]]] = {}
    for (hop, down, _), ink in zip(bars, inks_on(shades).tolist(), strict=True):
        at = (hop.takeoff_deg, down)
        marks.setdefault((_mark_of(hop), ink), []).append(at)
    for (mark, ink), places in marks.items():
        axes.plot(
            *zip(*places, strict=True),
            mark,
            color=ink,
            markeredgecolor=INK,
            markeredgewidth=0.9,
            markersize=5.0,
        )


def _title_beside(axes: Axes, words: str) -> None:
    """Write what stands to the right of the rows."""
    axes.annotate(
        words,
        (1.0, -0.5 - 0.55),
        xycoords=("axes fraction", "data"),
        xytext=(_BESIDE_PT, 0),
        textcoords="offset points",
        size=SMALL_PT,
        va="center",
        weight="bold",
        annotation_clip=False,
    )


def _draw_hops(axes: Axes, record: LobeMeetsHop) -> None:
    """Draw a row for each hop of the hour looked at."""
    hops = record.hops
    rows = np.arange(len(hops))
    axes.set_ylim(max(len(hops), 1) - 0.5, -0.5)
    _title_beside(axes, "days, dBi")
    _draw_bars(axes, [(hop, float(row), 0.8) for row, hop in enumerate(hops)])
    write_beside(axes, [hop.name for hop in hops], rows, size=TEXT_PT)
    write_beside(axes, [_days(hop) for hop in hops], rows, _BESIDE_PT, va="center")
    gains = [plain(hop.gain_dbi) for hop in hops]
    write_beside(axes, gains, rows, _GAIN_PT, va="center")
    axes.set_yticks([])
    axes.tick_params(axis="x", labelbottom=False)


def _hour_rows(record: LobeMeetsHop) -> list[tuple[str, tuple[Hop, ...]]]:
    """List label and strongest hops of each hour; closed hours in a row become one."""
    rows: list[tuple[str, tuple[Hop, ...]]] = []
    for is_shut, run in groupby(record.hours, lambda hour: not hour.hops):
        hours = list(run)
        if is_shut:
            first, last = hour_of(hours[0].utc), hour_of(hours[-1].utc)
            rows.append((first if len(hours) == 1 else f"{first}-{last}", ()))
        else:
            rows += [
                (f"{hour_of(each.utc)} {each.band}", each.hops[:_HOPS_AN_HOUR])
                for each in hours
            ]
    return rows


def _draw_hours(
    axes: Axes, rows: list[tuple[str, tuple[Hop, ...]]], right: float
) -> None:
    """Draw a row an hour: the angles that the best band's strongest hops need."""
    axes.set_ylim(len(rows) - 0.5, -0.5)
    _title_beside(axes, "hop, days")
    bars, told = [], []
    for row, (_, hops) in enumerate(rows):
        high = 0.84 / max(len(hops), 1)
        bars += [
            (hop, row - 0.42 + high * (n + 0.5), high) for n, hop in enumerate(hops)
        ]
        words = (f"{hop.name} {_days(hop)}" for hop in hops)
        told.append(", ".join(words))
        if not hops:
            axes.text(
                0.5 * right,
                row,
                "closed",
                size=SMALL_PT,
                ha="center",
                va="center",
                bbox=plate(),
            )
    _draw_bars(axes, bars)
    write_beside(axes, [label for label, _ in rows], np.arange(len(rows)))
    write_beside(axes, told, np.arange(len(rows)), _BESIDE_PT, va="center")
    axes.set_yticks([])
    axes.set_xlabel("take-off angle, degrees above the horizon")
