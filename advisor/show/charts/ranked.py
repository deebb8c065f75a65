"""Shapes that fit, ranked: days in ten with their range, and what each looks like."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from advisor.answers.hanging.found import HangAnswer, Hung, longest
from advisor.answers.words import in_ten
from advisor.antenna.shapes.parts import BELOW, HungWire
from advisor.show.charts.style import (
    FAINT,
    INK,
    MARGIN_IN,
    PAPER,
    SMALL_PT,
    TEXT_PT,
    WIDTH_IN,
    Page,
    bare,
    in_own_look,
    plate,
)
from advisor.show.text.hang import band_range

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_ROW_IN, _LOOK_IN, _GAP_IN, _AXIS_IN = 0.62, 0.95, 0.15, 0.5
_RANGE = "#b9b9b9"
_UPRIGHT_M = 8.0
"""Height that a shape without wires of ours is drawn with."""


def alt_text(found: HangAnswer) -> str:
    """
    State the finding: what comes first, and what is level with it.

    Parameters
    ----------
    found : HangAnswer
        What the search found.

    Returns
    -------
    sentence : str
        One sentence.
    """
    best = found.found[0]
    words = f"{best.setup.shape} first, {in_ten(best.advice.score)} days in ten"
    equal = [one.setup.shape for one in found.found if one.is_equal]
    words += f", level with {', '.join(equal)}" if equal else ""
    return f"{words[0].upper()}{words[1:]}; {len(found.found)} shapes fit."


@in_own_look
def figure(found: HangAnswer) -> Figure:
    """
    Draw every shape that fits, best first.

    Parameters
    ----------
    found : HangAnswer
        What the search found.

    Returns
    -------
    figure : matplotlib.figure.Figure
        The chart.
    """
    rows = found.found
    body_in = _ROW_IN * len(rows) + _AXIS_IN
    over = f" Grey bar: its range over {found.varied}." if found.varied else ""
    page = Page(
        alt_text(found),
        f"from {found.advice.question.here}, mean of the hours, best band of each",
        body_in,
        f"Dot: days in ten.{over} Filled: the best, and what is level with it. Left: "
        "the wire from the side, all to one scale; dashed: what it is fed against.",
    )
    left = MARGIN_IN + _LOOK_IN + _GAP_IN
    axes = page.axes(left, 0.0, WIDTH_IN - MARGIN_IN - left, _ROW_IN * len(rows))
    axes.set_ylim(len(rows), 0.0)
    axes.set_yticks([])
    axes.spines["left"].set_visible(False)
    axes.set_xlim(0.0, min(10.0, 1.15 * max(10.0 * one.high for one in rows)) or 1.0)
    axes.set_xlabel("days in ten")
    axes.grid(axis="x", color="#dddddd", linewidth=0.7)
    for place, one in enumerate(rows):
        _row(axes, place, one)
    looks = page.axes(MARGIN_IN, 0.0, _LOOK_IN, _ROW_IN * len(rows))
    _silhouettes(looks, rows)
    return page.figure


def _row(axes: Axes, place: int, one: Hung) -> None:
    """Draw name, range and dot of a shape."""
    score, at = 10.0 * one.advice.score, place + 0.68
    axes.plot([10.0 * one.low, 10.0 * one.high], [at, at], color=_RANGE, lw=6.0,
              solid_capstyle="butt", zorder=2)  # fmt: skip
    is_first = place == 0 or one.is_equal
    axes.plot(score, at, "o", color=INK if is_first else PAPER, mec=INK, ms=8.0,
              mew=1.6, zorder=4)  # fmt: skip
    axes.annotate(
        f"{place + 1} {one.setup.shape}, {band_range(one.setup.bands).split(' (')[0]}",
        (0.0, place + 0.24), xycoords=("axes fraction", "data"), va="center",
        size=TEXT_PT, weight="bold" if is_first else "normal", zorder=5,
        bbox=plate(),
    )  # fmt: skip
    axes.annotate(
        f"{score:.1f}", (1.0, place + 0.24), xycoords=("axes fraction", "data"),
        va="center", ha="right", size=SMALL_PT, zorder=5,
    )  # fmt: skip


def _silhouettes(axes: Axes, rows: tuple[Hung, ...]) -> None:
    """Draw each wire from the side over its own line of ground, all to one scale."""
    hung = [longest(one.wires) if one.wires else None for one in rows]
    spans = [_span_m(each) for each in hung if each is not None]
    tops = [each.highest_m for each in hung if each is not None] + [_UPRIGHT_M]
    metres_in = max(max(spans, default=1.0) / (0.9 * _LOOK_IN), max(tops) / 0.46)
    bare(axes, (0.0, _LOOK_IN), (_ROW_IN * len(rows), 0.0))
    for place, each in enumerate(hung):
        ground = _ROW_IN * (place + 0.92)
        axes.plot([0.0, _LOOK_IN], [ground, ground], color=FAINT, lw=0.8)
        if each is None:
            axes.plot([0.5 * _LOOK_IN] * 2, [ground, ground - _UPRIGHT_M / metres_in],
                      color=INK, lw=2.2)  # fmt: skip
            continue
        middle = 0.5 * sum(_ends_m(each))
        for wire in each.wires:
            ends = np.array([wire.start_m, wire.end_m])
            is_below = wire.name.startswith(BELOW)
            axes.plot(
                0.5 * _LOOK_IN + (ends[:, 1] - middle) / metres_in,
                ground - ends[:, 2] / metres_in,
                color=FAINT if is_below else INK,
                lw=1.2 if is_below else 2.2,
                ls="--" if is_below else "-",
                solid_capstyle="round",
            )


def _ends_m(hung: HungWire) -> tuple[float, float]:
    """Least and greatest distance along the bearing that a wire has."""
    along = [end[1] for wire in hung.wires for end in (wire.start_m, wire.end_m)]
    return min(along), max(along)


def _span_m(hung: HungWire) -> float:
    """How long a wire looks from the side."""
    low, high = _ends_m(hung)
    return high - low
