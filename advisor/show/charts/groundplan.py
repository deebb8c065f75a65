"""What to hang from above: supports, wire, cords and stakes to scale, north on top."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from advisor.answers.hanging.found import Hung
from advisor.answers.hanging.ground_plan import GroundPlan
from advisor.show.charts.sketch import Labels
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
    write_at,
)
from advisor.show.text.hang import hung_words

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_BELOW, _POST, _FEED = "#555555", "#a8a8a8", "#d55e00"
_SIDE_IN = WIDTH_IN - 2.0 * MARGIN_IN
_LEAST_IN, _BAR_IN = 2.2, 0.45
_ROOM = 0.22
"""Share of the width that is left beside what is drawn, for its names."""

_LEAST_M = 4.0
_RULES_M = (1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0)
_AROUND = ((8.0, 6.0), (-8.0, 6.0), (8.0, -6.0), (-8.0, -6.0), (0.0, 9.0), (0.0, -9.0))


def alt_text(one: Hung) -> str:
    """
    State the finding: what is hung where.

    Parameters
    ----------
    one : Hung
        What is drawn.

    Returns
    -------
    sentence : str
        One sentence.
    """
    words = hung_words(one)
    return f"{words[0].upper()}{words[1:]}."


@in_own_look
def figure(plan: GroundPlan, finding: str) -> Figure:
    """
    Draw a plan of the ground.

    Parameters
    ----------
    plan : GroundPlan
        Where everything lies.
    finding : str
        The sentence on top.

    Returns
    -------
    figure : matplotlib.figure.Figure
        The chart.
    """
    spots = _spots(plan)
    low = np.array([spots.real.min(), spots.imag.min()])
    high = np.array([spots.real.max(), spots.imag.max()])
    wide_m = max(high[0] - low[0], _LEAST_M) / (1.0 - 2.0 * _ROOM)
    metres_in = max(wide_m, 0.8 * (high[1] - low[1])) / _SIDE_IN
    high_in = max((high[1] - low[1]) / metres_in + 1.4, _LEAST_IN)
    operator = " Star: where you stand." if plan.has_operator else ""
    below = " Dashed: what it is fed against." if plan.below else ""
    stakes = " Crosses: stakes." if plan.stakes else ""
    page = Page(
        finding,
        "from above, true north on top",
        high_in + _BAR_IN,
        f"Heavy line: the wire; thin: cord. Round mark: the feed.{below} Squares: "
        f"supports and their height, filled where used.{stakes}{operator}",
    )
    half = 0.5 * np.array([_SIDE_IN, high_in]) * metres_in
    edges = np.stack([0.5 * (low + high) - half, 0.5 * (low + high) + half], axis=-1)
    axes = bare(page.axes(MARGIN_IN, 0.0, _SIDE_IN, high_in), *edges.tolist())
    _draw(axes, plan)
    _draw_north(axes)
    _draw_rule(page.axes(MARGIN_IN, high_in, _SIDE_IN, _BAR_IN), metres_in)
    return page.figure


def _spots(plan: GroundPlan) -> NDArray[np.complex128]:
    """List every place on the plan."""
    pieces = (*plan.wires, *plan.below, *plan.cords)
    spots = [spot for piece in pieces for spot in piece]
    spots += [complex(s.east_m, s.north_m) for s in plan.supports]
    spots += [plan.feed, *plan.stakes, *([0j] if plan.has_operator else [])]
    return np.array(spots)


def _draw(axes: Axes, plan: GroundPlan) -> None:
    """Draw everything that lies on the ground or over it."""
    for pieces, colour, wide, dash, order in (
        (plan.below, _BELOW, 1.6, "--", 2),
        (plan.cords, INK, 0.9, "-", 2),
        (plan.wires, INK, 3.2, "-", 3),
    ):
        for piece in pieces:
            ends = np.array(piece)
            axes.plot(ends.real, ends.imag, color=colour, lw=wide, ls=dash,
                      solid_capstyle="round", zorder=order)  # fmt: skip
    pegs = np.array(plan.stakes, dtype=complex)
    axes.plot(pegs.real, pegs.imag, "x", color=INK, ms=7.0, mew=2.0, zorder=4)
    for each in plan.supports:
        ground = _POST if each.is_used else PAPER
        axes.plot(each.east_m, each.north_m, "s", color=ground, mec=INK, ms=11.0,
                  zorder=4)  # fmt: skip
    axes.plot(plan.feed.real, plan.feed.imag, "o", color=_FEED, mec=INK, ms=8.0,
              zorder=5)  # fmt: skip
    if plan.has_operator:
        axes.plot(0.0, 0.0, "*", color=PAPER, mec=INK, ms=13.0, zorder=4)
    drawn = [
        np.stack([np.real(piece), np.imag(piece)], axis=-1)
        for piece in (*plan.wires, *plan.below, *plan.cords)
    ]
    labels = Labels(axes, drawn, (plan.feed.real, plan.feed.imag))
    for each in plan.supports:
        words = f"{each.name}\n{each.height_m:.1f} m"
        labels.put(words, [(each.east_m, each.north_m)], _AROUND, "bold")
    first, last = max(plan.wires, key=lambda piece: abs(piece[1] - piece[0]))
    at = [first + share * (last - first) for share in (0.5, 0.3, 0.7)]
    words = f"{plan.length_m:.1f} m of wire, {plan.bearing_deg:03.0f}"
    labels.put(words, [(spot.real, spot.imag) for spot in at], _AROUND)


def _draw_north(axes: Axes) -> None:
    """Draw the arrow that points north, in the upper right corner."""
    kind: dict[str, Any] = {"xycoords": "axes fraction"}
    axes.annotate(
        "", (0.95, 0.97), xytext=(0.95, 0.97 - 0.16),
        arrowprops={"arrowstyle": "-|>", "color": INK, "linewidth": 1.6}, **kind,
    )  # fmt: skip
    axes.annotate("N", (0.95, 0.97 - 0.2), ha="center", va="top", weight="bold",
                  size=TEXT_PT, **kind)  # fmt: skip


def _draw_rule(axes: Axes, metres_in: float) -> None:
    """Draw a length on the ground to measure by."""
    bare(axes, (0.0, _SIDE_IN * metres_in), (0.0, 1.0))
    long_m = max((m for m in _RULES_M if m <= 1.6 * metres_in), default=_RULES_M[0])
    axes.plot([0.0, long_m], [0.5, 0.5], color=FAINT, lw=4.0, solid_capstyle="butt")
    write_at(axes, (long_m + 0.3 * metres_in, 0.5), f"{long_m:g} m", size=SMALL_PT)
