"""Angle by hour: what the sky offers as shade, where the wire is strong as a ground."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from advisor.answers.pictures.angles import FAR_DB, NEAR_DB, Angles, BandAngles
from advisor.answers.pictures.fan import EDGE_DEG
from advisor.show.charts.style import (
    INK,
    MARGIN_IN,
    SMALL_PT,
    TEXT_PT,
    WIDTH_IN,
    WIRE,
    WIRE_FILL,
    Page,
    hour_of,
    hours_below,
    in_own_look,
    write_above,
)

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_LEFT_IN, _PANEL_IN, _TITLE_IN, _FOOT_IN = 0.62, 0.9, 0.28, 0.34
# From the tone of what the sky offers to a dark one, in steps that a page can name.
_SHADES = ("#efe8d0", "#dcd3b4", "#c2b689", "#a2955f", "#7d713c", "#574d20")
_LEAST, _STEPS = 0.01, (0.06, 0.18, 0.3, 0.42, 0.54)


def alt_text(record: Angles) -> str:
    """
    State the finding: where the wire meets what is offered, and where not.

    Parameters
    ----------
    record : Angles
        What is drawn.

    Returns
    -------
    sentence : str
        One sentence.
    """
    if not record.bands:
        return f"No band opens to {record.target} in these hours."
    best = max(record.bands, key=lambda one: one.strong)
    least = min(record.bands, key=lambda one: one.strong)
    words = (
        f"To {record.target} {record.setup} meets what the sky offers best on "
        f"{best.band}: {100.0 * best.strong:.0f} % of it within {NEAR_DB:g} dB of the "
        "wire's best"
    )
    if least is best:
        return f"{words}."
    return f"{words}; least on {least.band}, {100.0 * least.strong:.0f} %."


@in_own_look
def figure(record: Angles, zone: str | None = None) -> Figure:
    """
    Draw a panel a band: hours across, angles up.

    Parameters
    ----------
    record : Angles
        What is drawn.
    zone : str, optional
        IANA time zone whose local time stands beside UTC.

    Returns
    -------
    figure : matplotlib.figure.Figure
        The chart.
    """
    times = record.question.times
    count = len(record.bands)
    page = Page(
        alt_text(record),
        f"{hour_of(times[0], zone)} to {hour_of(times[-1], zone)}, "
        f"{times[0].astype('datetime64[D]')}",
        max(count, 1) * (_PANEL_IN + _TITLE_IN) + _FOOT_IN,
        "Shade: what the sky offers by take-off angle, whatever the wire; faint where "
        f"the band is closed. Blue ground: the wire is within {NEAR_DB:g} dB of its "
        f"best, between dashed lines within {FAR_DB:g} dB, dotted at its best.",
    )
    wide = WIDTH_IN - _LEFT_IN - MARGIN_IN
    for n, band in enumerate(record.bands):
        down = n * (_PANEL_IN + _TITLE_IN) + _TITLE_IN
        axes = page.axes(_LEFT_IN, down, wide, _PANEL_IN)
        _draw_offered(axes, band)
        _draw_wire(axes, band)
        axes.set_ylim(0.0, 90.0)
        axes.set_yticks([0, 30, 60, 90])
        hours_below(axes, times, labelled=n == count - 1)
        write_above(
            axes,
            f"{band.band}: {100.0 * band.strong:.0f} % within {NEAR_DB:g} dB",
            size=TEXT_PT,
            weight="bold",
        )
        if n == 0:
            axes.set_ylabel("angle, deg", size=SMALL_PT)
    return page.figure


def _draw_offered(axes: Axes, band: BandAngles) -> None:
    """Shade each hour's angles; a quarter as strong where the band is closed."""
    from matplotlib.patches import PathPatch
    from matplotlib.path import Path

    shown = np.where(band.is_open[:, None], band.offered, 0.25 * band.offered)
    steps = np.searchsorted([_LEAST, *_STEPS], shown, side="right")
    for step, shade in enumerate(_SHADES, start=1):
        # One artist a shade, hours in a row as one: each costs more than its drawing.
        boxes = []
        for n, (low, high) in enumerate(pairwise(EDGE_DEG)):
            is_on = np.concatenate([[False], steps[:, n] == step, [False]])
            for first, last in np.flatnonzero(np.diff(is_on)).reshape(-1, 2):
                corners = [(first, low), (last, low), (last, high), (first, high)]
                boxes.append(Path([*corners, corners[0]], closed=True))
        if boxes:
            whole = Path.make_compound_path(*boxes)
            axes.add_patch(PathPatch(whole, facecolor=shade, linewidth=0.0, zorder=1))


def _draw_wire(axes: Axes, band: BandAngles) -> None:
    """Ground where the wire is strong, lines where it falls under its best by more."""
    top = float(band.gain_dbi.max())
    strong = np.append(np.append(False, band.gain_dbi >= top - NEAR_DB), False)
    ends = np.flatnonzero(np.diff(strong)).reshape(-1, 2)
    for first, last in ends:
        low, high = band.takeoff_deg[first], band.takeoff_deg[last - 1]
        axes.axhspan(low, high, facecolor=WIRE_FILL, edgecolor=WIRE, zorder=0)
    for at in np.flatnonzero(np.diff(band.gain_dbi >= top - FAR_DB)):
        up = 0.5 * (band.takeoff_deg[at] + band.takeoff_deg[at + 1])
        axes.axhline(up, color=WIRE, linestyle="--", linewidth=1.8)
    axes.axhline(
        band.takeoff_deg[int(band.gain_dbi.argmax())],
        color=INK,
        linewidth=0.9,
        linestyle=":",
    )
