"""Standing-wave ratio over each band."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from advisor.chartdata.setups import SwrCurve
from advisor.show.charts.style import (
    INK,
    LINES,
    MARGIN_IN,
    SMALL_PT,
    TEXT_PT,
    WIDTH_IN,
    Page,
    in_own_look,
)

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

GOOD_SWR = 2.0
"""Line drawn across: what most transmitters take without a tuner (common practice,
no source)."""

_TOP_SWR = 6.0
_COLUMNS, _HIGH_IN, _ROW_IN = 2, 1.15, 1.75
_TICKS = (1.0, 1.5, 2.0, 3.0, 5.0)


def alt_text(setup: str, curves: Sequence[SwrCurve]) -> str:
    """
    State the finding: on which bands the SWR is low.

    Parameters
    ----------
    setup : str
        Name of the set-up.
    curves : sequence of SwrCurve
        What is drawn.

    Returns
    -------
    sentence : str
        One sentence.
    """
    least = [f"{each.band} {each.swr.min():.1f}" for each in curves]
    return f"Lowest SWR of {setup} within each band: {', '.join(least)}."


@in_own_look
def figure(setup: str, curves: Sequence[SwrCurve]) -> Figure:
    """
    Draw SWR against frequency, one panel a band.

    Parameters
    ----------
    setup : str
        Name of the set-up.
    curves : sequence of SwrCurve
        One a band.

    Returns
    -------
    figure : matplotlib.figure.Figure
        The chart.
    """
    rows = -(-len(curves) // _COLUMNS)
    page = Page(
        alt_text(setup, curves),
        "SWR at the radio's end over each band, against MHz",
        _ROW_IN * rows,
        f"Dashed: {GOOD_SWR:g}, which most transmitters take without a tuner. "
        f"Values above {_TOP_SWR:g} run off the top. Triangle: the lowest.",
    )
    wide = (WIDTH_IN - MARGIN_IN) / _COLUMNS
    for n, curve in enumerate(curves):
        row, column = divmod(n, _COLUMNS)
        axes = page.axes(
            column * wide + 0.42, row * _ROW_IN + 0.28, wide - 0.5, _HIGH_IN
        )
        _draw_band(axes, curve)
    return page.figure


def _draw_band(axes: Axes, curve: SwrCurve) -> None:
    """One band."""
    from matplotlib.ticker import FixedLocator, FormatStrFormatter, NullLocator

    least = int(np.argmin(curve.swr))
    axes.set_yscale("log")
    axes.plot(curve.frequency_mhz, curve.swr, color=LINES[0][0], linewidth=2.6)
    axes.axhline(GOOD_SWR, color=INK, linewidth=1.0, linestyle="--")
    if curve.swr[least] <= _TOP_SWR:
        axes.plot(
            curve.frequency_mhz[least],
            curve.swr[least],
            "v",
            color=INK,
            markersize=8,
            clip_on=False,
        )
    axes.set_ylim(1.0, _TOP_SWR)
    axes.yaxis.set_major_locator(FixedLocator(_TICKS))
    axes.yaxis.set_major_formatter(FormatStrFormatter("%g"))
    axes.yaxis.set_minor_locator(NullLocator())
    low, high = float(curve.frequency_mhz[0]), float(curve.frequency_mhz[-1])
    axes.set_xlim(low, high)
    axes.set_xticks([low, high], [f"{low:g}", f"{high:g}"], size=SMALL_PT)
    edge = axes.get_xticklabels()
    edge[0].set_horizontalalignment("left")
    edge[-1].set_horizontalalignment("right")
    axes.set_title(
        f"{curve.band}: {curve.swr[least]:.1f}",
        size=TEXT_PT,
        weight="bold",
        loc="left",
        pad=4,
    )
    axes.grid(color="#cccccc", linewidth=0.7, axis="y")
