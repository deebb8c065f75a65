"""Standing-wave ratio over each band, at the radio's end and at the wire's."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from advisor.answers.pictures.swr import SwrCurve
from advisor.show.charts.style import (
    INK,
    LINES,
    MARGIN_IN,
    SMALL_PT,
    TEXT_PT,
    WIDTH_IN,
    Page,
    halo,
    in_own_look,
    plate,
    write_above,
)

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

GOOD_SWR = 2.0
"""Line drawn across: what most transmitters take without a tuner (common practice,
no source)."""

_TOP_SWR = 6.0
_COLUMNS, _HIGH_IN, _ROW_IN, _HEAD_IN = 2, 1.15, 1.95, 0.46
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
def figure(setup: str, curves: Sequence[SwrCurve], feed: str = "") -> Figure:
    """
    Draw SWR against frequency, one panel a band.

    Parameters
    ----------
    setup : str
        Name of the set-up.
    curves : sequence of SwrCurve
        One a band.
    feed : str, optional
        What is between wire and radio.

    Returns
    -------
    figure : matplotlib.figure.Figure
        The chart.
    """
    rows = -(-len(curves) // _COLUMNS)
    both = any(each.wire_swr is not None for each in curves)
    page = Page(
        alt_text(setup, curves),
        "SWR over each band, against MHz" + (f"; {feed}" if feed else ""),
        _ROW_IN * rows,
        _how(both=both, ohms=any(each.wire_ohm is not None for each in curves)),
    )
    wide = (WIDTH_IN - MARGIN_IN) / _COLUMNS
    for n, curve in enumerate(curves):
        row, column = divmod(n, _COLUMNS)
        axes = page.axes(
            column * wide + 0.42, row * _ROW_IN + _HEAD_IN, wide - 0.5, _HIGH_IN
        )
        _draw_band(axes, curve)
    return page.figure


def _how(*, both: bool, ohms: bool) -> str:
    """Say how to read it."""
    ends = (
        "Full line: at the radio. Dash-dotted: at the wire's end of the line, behind "
        "any transformer; the loss of a line makes the radio's look better. "
        if both
        else "Line: at the radio, before any tuner. "
    )
    wire = "Under a band's name: the wire itself at the triangle. " if ohms else ""
    return (
        f"{ends}Triangle: the lowest at the radio, also written. {wire}Dashed: "
        f"{GOOD_SWR:g}, which most transmitters take without a tuner. Values above "
        f"{_TOP_SWR:g} run off the top."
    )


def _draw_band(axes: Axes, curve: SwrCurve) -> None:
    """One band."""
    from matplotlib.ticker import FixedLocator, FormatStrFormatter, NullLocator

    least = int(np.argmin(curve.swr))
    axes.set_yscale("log")
    axes.plot(curve.frequency_mhz, curve.swr, color=LINES[0][0], linewidth=2.8)
    if curve.wire_swr is not None:
        axes.plot(
            curve.frequency_mhz,
            curve.wire_swr,
            color=LINES[1][0],
            linestyle="-.",
            linewidth=2.0,
            path_effects=halo(3.2),
        )
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
    else:
        axes.text(
            0.5,
            0.72,
            f"above {_TOP_SWR:g} all over",
            transform=axes.transAxes,
            size=SMALL_PT,
            ha="center",
            bbox=plate(),
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
    if curve.wire_ohm is not None:
        write_above(axes, f"wire {_ohms(complex(curve.wire_ohm[least]))}")
    axes.set_title(
        f"{curve.band}: {curve.swr[least]:.1f}",
        size=TEXT_PT,
        weight="bold",
        loc="left",
        pad=4 if curve.wire_ohm is None else 17,
    )
    axes.grid(color="#cccccc", linewidth=0.7, axis="y")


def _ohms(impedance: complex) -> str:
    """Write an impedance, kilohms where it is large."""
    part, digits, unit = (
        (1.0, 0, "ohm") if abs(impedance) < 1000.0 else (1e-3, 1, "kohm")
    )
    sign = "-" if impedance.imag < 0.0 else "+"
    return (
        f"{part * impedance.real:.{digits}f} {sign} "
        f"j{part * abs(impedance.imag):.{digits}f} {unit}"
    )
