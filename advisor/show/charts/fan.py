"""The fan: a lobe from the side, what the sky offers round it, what gets through."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from advisor.answers.limits import OPEN_CHANCE
from advisor.answers.pictures.fan import EDGE_DEG, Fan
from advisor.answers.words import angle_range, days_in_ten
from advisor.show.charts.style import (
    FAINT,
    INK,
    MARGIN_IN,
    OFFERED,
    PAPER,
    SMALL_PT,
    TEXT_PT,
    THROUGH,
    WIDTH_IN,
    WIRE,
    WIRE_FILL,
    Page,
    bare,
    hour_of,
    in_own_look,
    plain,
    write_at,
)
from geo.arrays import Floats

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

# Radii in inches: of the lobe, of the angles written round it, of both tracks.
_LOBE_IN, _ANGLES_IN = 1.85, 2.0
_OFFERED_IN, _THROUGH_IN, _RIM_IN = 2.16, 2.72, 3.28
_LEFT_IN, _OVER_IN, _UNDER_IN = 0.3, 0.12, 0.62
_LABEL_IN, _LABEL_HIGH_IN = 3.38, 0.42
_RINGS_DBI = (10.0, 5.0, 0.0, -5.0, -10.0, -20.0)
_RING_GAP_IN = 0.32
_RAY_PT = 14.0


def alt_text(record: Fan) -> str:
    """
    State the finding: what is offered, given, and gets through.

    Parameters
    ----------
    record : Fan
        What is drawn.

    Returns
    -------
    sentence : str
        One sentence.
    """
    when = hour_of(record.utc)
    if not record.ways:
        return f"No hop carries {record.band} to {record.target} at {when}."
    shut = ", closed" if record.chance < OPEN_CHANCE else ""
    top = record.ways[0]
    return (
        f"{record.band} to {record.target} at {when}{shut}: the sky offers "
        f"{angle_range(record.offered_low_deg, record.offered_high_deg)}, "
        f"{record.setup} gives {plain(record.gives_dbi)} dBi there; "
        f"{angle_range(record.through_low_deg, record.through_high_deg)} gets through, "
        f"{100.0 * top.through:.0f} % of the power as {top.name}."
    )


@in_own_look
def figure(record: Fan, zone: str | None = None) -> Figure:
    """
    Draw the wire from the side, with the angles offered and those that get through.

    Parameters
    ----------
    record : Fan
        What is drawn.
    zone : str, optional
        IANA time zone whose local time stands beside UTC.

    Returns
    -------
    figure : matplotlib.figure.Figure
        The chart.
    """
    high_in = _UNDER_IN + _top_in(record)
    page = Page(
        alt_text(record),
        f"chance {days_in_ten(record.chance)} at {hour_of(record.utc, zone)}",
        high_in,
        "Blue: the wire from the side, towards the target; its reach is field strength."
        " Pale bars: what the sky offers in steps of 3 degrees; red bars: what gets "
        "through, to the same scale. Rays: the hops, as wide as their share of that; "
        "dBi is what the wire gives them.",
    )
    wide_in = WIDTH_IN - 2.0 * MARGIN_IN
    axes = bare(
        page.axes(MARGIN_IN, 0.0, wide_in, high_in),
        (-_LEFT_IN, wide_in - _LEFT_IN),
        (-_UNDER_IN, high_in - _UNDER_IN),
    )
    _draw_lobe(axes, record)
    most = max(record.offered.max(), record.through.max(), 1e-9)
    for shares, foot, head, colour in (
        (record.offered, _OFFERED_IN, _THROUGH_IN, OFFERED),
        (record.through, _THROUGH_IN, _RIM_IN, THROUGH),
    ):
        _draw_track(axes, shares / most, foot, 0.92 * (head - foot), colour)
    _draw_rays(axes, record)
    _draw_angles(axes)
    axes.plot([-_LEFT_IN, _RIM_IN], [0.0, 0.0], color=INK, linewidth=3.0)
    for words, at in (
        ("sky\noffers", 0.5 * (_OFFERED_IN + _THROUGH_IN)),
        ("gets\nthrough", 0.5 * (_THROUGH_IN + _RIM_IN)),
    ):
        axes.text(at, -0.08, words, ha="center", va="top", size=SMALL_PT)
    return page.figure


def _top_in(record: Fan) -> float:
    """Height over the horizon that tracks and labels need."""
    used = EDGE_DEG[1:][np.maximum(record.offered, record.through) > 0.0]
    steepest = float(_spot(float(used.max(initial=0.0)), _RIM_IN)[1])
    labels = _LABEL_HIGH_IN * (len(record.ways) + 0.5)
    return max(_THROUGH_IN, steepest, labels) + _OVER_IN


def _spot(up_deg: Floats | float, radius: Floats | float) -> tuple[Floats, Floats]:
    """Place an elevation and a radius on the sheet."""
    turn = np.radians(up_deg)
    return np.asarray(radius * np.cos(turn)), np.asarray(radius * np.sin(turn))


def _reach(gain_dbi: Floats | float, peak_dbi: float) -> Floats:
    """Radius of a gain: field strength, the strongest at the rim of the lobe."""
    return np.asarray(_LOBE_IN * 10.0 ** ((np.asarray(gain_dbi) - peak_dbi) / 20.0))


def _draw_lobe(axes: Axes, record: Fan) -> None:
    """Fill the pattern from the horizon to overhead; rings with their gain."""
    peak = float(record.gain_dbi.max())
    around = np.linspace(0.0, 90.0, 91)
    last = np.inf
    for ring in _RINGS_DBI:
        radius = float(_reach(ring, peak))
        if ring > peak or last - radius < _RING_GAP_IN or radius < _RING_GAP_IN:
            continue
        last = radius
        axes.plot(*_spot(around, radius), color=FAINT, linewidth=0.7, zorder=1.5)
        sign = "0 dBi" if ring == 0.0 else f"{ring:+.0f}"
        axes.text(radius, -0.08, sign, ha="center", va="top", size=SMALL_PT)
    x, y = _spot(record.takeoff_deg, _reach(record.gain_dbi, peak))
    axes.fill([0.0, *x], [0.0, *y], color=WIRE_FILL, linewidth=0.0, zorder=1)
    axes.plot(x, y, color=WIRE, linewidth=3.0, zorder=4)


def _draw_track(
    axes: Axes, heights: Floats, foot: float, reach: float, colour: str
) -> None:
    """Draw one share after the other as a bar outwards from a ring."""
    from matplotlib.collections import PolyCollection

    around = np.linspace(0.0, 90.0, 91)
    axes.plot(*_spot(around, foot), color=FAINT, linewidth=0.9, zorder=1.5)
    corners = []
    for low, high, share in zip(EDGE_DEG[:-1], EDGE_DEG[1:], heights, strict=True):
        if share > 0.005:
            up = np.linspace(low, high, 4)
            inner = np.stack(_spot(up, foot), axis=-1)
            outer = np.stack(_spot(up[::-1], foot + reach * float(share)), axis=-1)
            corners.append(np.concatenate([inner, outer]))
    axes.add_collection(
        PolyCollection(
            corners, facecolors=colour, edgecolors=INK, linewidths=0.8, zorder=3
        ),
        autolim=False,
    )


def _draw_angles(axes: Axes) -> None:
    """Write the angles between the lobe and the tracks."""
    for up in range(15, 91, 15):
        x, y = _spot(float(up), _ANGLES_IN)
        write_at(axes, (float(x), float(y)), f"{up}")


def _draw_rays(axes: Axes, record: Fan) -> None:
    """Draw the hops as wide as their share; a ring where each leaves the lobe."""
    if not record.ways:
        return
    peak = float(record.gain_dbi.max())
    ups = [way.takeoff_deg for way in record.ways]
    wanted = [float(_spot(up, _RIM_IN)[1]) for up in ups]
    heights = _stacked(wanted, _LABEL_HIGH_IN, _top_in(record) - 0.26)
    for way, up, height in zip(record.ways, ups, heights, strict=True):
        x, y = _spot(up, np.array([0.0, _THROUGH_IN]))
        axes.plot(
            x,
            y,
            color=THROUGH,
            linewidth=1.0 + _RAY_PT * way.through,
            solid_capstyle="butt",
            zorder=2,
        )
        gain = np.interp(up, record.takeoff_deg, record.gain_dbi)
        on = _spot(up, float(_reach(gain, peak)))
        axes.plot(
            *on,
            "o",
            color=PAPER,
            markeredgecolor=INK,
            markersize=7.5,
            markeredgewidth=1.8,
            zorder=5,
        )
        # From the end of the ray over the bars, so that neither end hangs in the air.
        x, y = _spot(up, np.array([_THROUGH_IN, _RIM_IN]))
        axes.plot(
            [*x, _LABEL_IN - 0.05],
            [*y, height],
            color=INK,
            linewidth=0.8,
            zorder=3.5,
        )
        axes.text(
            _LABEL_IN,
            height + 0.02,
            way.name,
            size=TEXT_PT,
            weight="bold",
            va="bottom",
        )
        axes.text(
            _LABEL_IN,
            height - 0.02,
            f"{100.0 * way.through:.0f} %, {plain(way.gain_dbi)} dBi",
            size=SMALL_PT,
            va="top",
        )


def _stacked(wanted: Sequence[float], least: float, top: float) -> list[float]:
    """Move heights apart, each at least so far over the next lower one."""
    order = np.argsort(wanted, kind="stable").tolist()
    placed = [0.0] * len(wanted)
    floor = 0.2
    for k in order:
        placed[k] = max(wanted[k], floor)
        floor = placed[k] + least
    ceiling = top
    for k in reversed(order):
        placed[k] = min(placed[k], ceiling)
        ceiling = placed[k] - least
    return placed
