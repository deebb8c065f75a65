"""What a wire radiates, band below band: over elevation and round the compass."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import TYPE_CHECKING, cast

import numpy as np

from advisor.answers.hanging.supports import poles_needed
from advisor.answers.one_wire.sky import LOW_ANGLE_DEG
from advisor.answers.one_wire.wire import BandWork, WireWork
from advisor.answers.pictures.build import Build
from advisor.answers.pictures.swr import SwrCurve, swr_curve
from advisor.answers.runs import run_title
from advisor.antenna.pattern import Pattern
from advisor.antenna.shapes.parts import HungWire
from advisor.show.charts.style import (
    FAINT,
    INK,
    LINES,
    MARGIN_IN,
    SMALL_PT,
    TEXT_PT,
    WIDTH_IN,
    Page,
    in_own_look,
)
from advisor.show.text.wire import verdict_words
from geo.arrays import Floats

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from matplotlib.projections.polar import PolarAxes

_LEFT_IN, _CUT_IN, _HIGH_IN, _ROW_IN = 0.62, 2.25, 1.3, 1.78
_ROUND_IN = 1.24
_LEAST_DBI, _TICKS_DBI = -20.0, (-20.0, -10.0, 0.0)
_ROUND_RANGE_DB = 20.0
_CUT_ANGLES_DEG = (0, 30, 60, 90)
_FINE_DEG = np.linspace(0.0, 90.0, 181)


def alt_text(work: WireWork) -> str:
    """
    State the finding: what each band is good for.

    Parameters
    ----------
    work : WireWork
        What is drawn.

    Returns
    -------
    sentence : str
        One sentence.
    """
    good: dict[str, list[str]] = {}
    for each in work.bands:
        words = verdict_words(each.sky.verdict, each.sky.reaches_far)
        good.setdefault(words, []).append(each.band)
    said = "; ".join(f"{', '.join(bands)} {words}" for words, bands in good.items())
    return f"{work.setup.name}: {said}."


@in_own_look
def figure(work: WireWork) -> Figure:
    """
    Draw the gain of every band over elevation and round the compass.

    Parameters
    ----------
    work : WireWork
        What is drawn.

    Returns
    -------
    figure : matplotlib.figure.Figure
        One row a band: on the left the gain in the best direction of each take-off
        angle, beside the vertical and the dipole of the same height; on the right the
        gain round the compass at 10 degrees.
    """
    bearing = work.setup.bearing_deg
    up = "the way the wire runs" if bearing is None else "true north"
    square = f", its square the {work.first_end}" if work.first_end else ""
    bar = f"{up} at the top, the grey bar is the wire{square}; "
    if not _has_bar(work):
        bar = ""
    # A band's name stays on one line.
    finding = re.sub(r"(\d) m\b", "\\1\N{NO-BREAK SPACE}m", alt_text(work))
    page = Page(
        finding,
        f"gain of the wire over {work.ground} ground, dBi",
        _ROW_IN * len(work.bands) + 0.1,
        "Left: gain against take-off angle, each in its best direction; full line the "
        "wire, dashed a quarter-wave vertical on the ground, dotted a half-wave dipole "
        f"as high as the wire's top. Right: gain at {LOW_ANGLE_DEG:g} deg round the "
        f"compass; {bar}10 dB a ring, the outer one at the greatest gain, which stands "
        "beside it.",
    )
    for n, band in enumerate(work.bands):
        down = _ROW_IN * n
        left = page.axes(_LEFT_IN, down + 0.28, _CUT_IN, _HIGH_IN)
        _draw_elevation(left, band, last=n == len(work.bands) - 1)
        corner = WIDTH_IN - MARGIN_IN - _ROUND_IN - 0.3
        place = page.axes(corner, down + 0.32, _ROUND_IN, _ROUND_IN)
        place.set_axis_off()
        polar = page.figure.add_axes(place.get_position().bounds, projection="polar")
        _draw_round(cast("PolarAxes", polar), band, bearing, work)
    return page.figure


def _has_bar(work: WireWork) -> bool:
    """Whether the wire runs any way, so that a bar can show it."""
    return work.setup.bearing_deg is not None or work.setup.is_free_to_turn


def _draw_elevation(axes: Axes, band: BandWork, *, last: bool) -> None:
    """Gain against take-off angle in the best direction of each."""
    drawn = (
        (band.sky.vertical, LINES[1][0], "--", 1.8),
        (band.pattern, LINES[0][0], "-", 3.4),
        (band.sky.dipole, INK, ":", 1.6),
    )
    highest = 0.0
    for pattern, colour, dash, width in drawn:
        level = _envelope_dbi(pattern)
        highest = max(highest, float(level.max()))
        axes.plot(_FINE_DEG, level, color=colour, linestyle=dash, linewidth=width)
    axes.set_xlim(0.0, 90.0)
    axes.set_ylim(_LEAST_DBI, max(10.0, 5.0 * np.ceil((highest + 1.0) / 5.0)))
    axes.set_yticks([*_TICKS_DBI, 10.0])
    axes.set_xticks(_CUT_ANGLES_DEG, [f"{angle}°" for angle in _CUT_ANGLES_DEG])
    axes.grid(color="#cccccc", linewidth=0.7)
    axes.set_title(
        f"{band.band}: {band.sky.verdict}",
        size=TEXT_PT,
        weight="bold",
        loc="left",
        pad=4,
    )
    if last:
        axes.set_xlabel("take-off", size=SMALL_PT, labelpad=1)


def _envelope_dbi(pattern: Pattern) -> Floats:
    """Gain in the best direction of each elevation, cut off below the chart."""
    gain = pattern.gain_dbi(_FINE_DEG[:, None], pattern.azimuth_deg).max(axis=1)
    return np.asarray(np.maximum(gain, _LEAST_DBI - 5.0))


def _draw_round(
    axes: PolarAxes, band: BandWork, bearing: float | None, work: WireWork
) -> None:
    """Gain round the compass at one low angle."""
    azimuth = band.pattern.azimuth_deg
    level = band.pattern.gain_dbi(LOW_ANGLE_DEG, azimuth)
    top = float(level.max())
    closed = np.append(azimuth, 360.0)
    radius = np.maximum(np.append(level, level[0]) - top + _ROUND_RANGE_DB, 0.0)
    axes.set_theta_zero_location("N")
    axes.set_theta_direction(-1)
    axes.plot(np.radians(closed + (bearing or 0.0)), radius, color=LINES[0][0], lw=2.2)
    axes.fill(
        np.radians(closed + (bearing or 0.0)), radius, color="#0072b2", alpha=0.15
    )
    if _has_bar(work):
        for end in (0.0, 180.0):
            way = np.radians(end + (bearing or 0.0))
            axes.plot([way, way], [0.0, 0.32 * _ROUND_RANGE_DB], color=FAINT, lw=4.0)
        if work.first_end:
            behind = np.radians(180.0 + (bearing or 0.0))
            at_end = 0.32 * _ROUND_RANGE_DB
            axes.plot([behind], [at_end], color=FAINT, marker="s", markersize=9.0)
    axes.set_ylim(0.0, _ROUND_RANGE_DB)
    axes.set_yticks([0.5 * _ROUND_RANGE_DB, _ROUND_RANGE_DB], ["", ""])
    marks = (
        ("N", "E", "S", "W") if bearing is not None else ("0°", "90°", "180°", "270°")
    )
    axes.set_xticks(np.radians([0.0, 90.0, 180.0, 270.0]), marks, size=SMALL_PT)
    axes.tick_params(pad=2)
    axes.grid(color="#bbbbbb", linewidth=0.7)
    axes.text(
        1.2,
        -0.06,
        f"{top:.1f} dBi",
        transform=axes.transAxes,
        ha="right",
        va="center",
        size=SMALL_PT,
        color=INK,
    )


def swr_curves(work: WireWork) -> tuple[SwrCurve, ...]:
    """
    Put the sweeps in the form that the SWR chart takes.

    Parameters
    ----------
    work : WireWork
        What was found.

    Returns
    -------
    curves : tuple of SwrCurve
        Bands that were swept.
    """
    return tuple(swr_curve(work.setup, each.band, each.feed) for each in work.bands)


def sketch_figure(hung: HungWire, title: str) -> Figure:
    """
    Draw a hung wire from the side and from above.

    Parameters
    ----------
    hung : HungWire
        The wire.
    title : str
        Which set-up it is.

    Returns
    -------
    figure : matplotlib.figure.Figure
        The sketch.
    """
    from advisor.show.charts.sketch import draw_setup

    posts = poles_needed(hung)
    return draw_setup(hung.wires, hung.feed, posts, sketch_words(hung, posts), title)


def build_words(record: Build) -> str:
    """
    Say which set-up a sketch shows, on which band and bearing.

    Parameters
    ----------
    record : Build
        What is drawn.

    Returns
    -------
    words : str
        Without a full stop.
    """
    parts = [record.setup]
    if record.band:
        parts.append(f"cut for {record.band}")
    if record.wire_deg is not None:
        parts.append(f"running {run_title(record.wire_deg, record.first_end)}")
    return ", ".join(parts)


def sketch_words(hung: HungWire, supports: Sequence[object]) -> str:
    """
    Say what a sketch shows.

    Parameters
    ----------
    hung : HungWire
        The wire.
    supports : sequence
        Those it takes.

    Returns
    -------
    sentence : str
        One sentence.
    """
    many = "support" if len(supports) == 1 else "supports"
    return (
        f"{hung.shape}: {hung.length_m:.2f} m of wire, {len(supports)} {many} above "
        f"2 m, top {hung.highest_m:.1f} m up, lowest point {hung.lowest_m:.1f} m."
    )
