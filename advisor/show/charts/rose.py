"""The bearing rose: how often each target is reached with the wire on every bearing."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from advisor.answers.aim import Aim, SetUpAim
from advisor.answers.bearings import TOLERANCE_CHANCE
from advisor.answers.runs import run_title
from advisor.show.charts.polar import apart, at_bearing, clearest, spot
from advisor.show.charts.style import (
    FAINT,
    INK,
    LINES,
    MARGIN_IN,
    SMALL_PT,
    TEXT_PT,
    WIDTH_IN,
    Page,
    bare,
    in_own_look,
    write_at,
)
from advisor.show.text.plan_words import target_letter
from geo.arrays import Floats

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_REACH, _FIGURES, _ARC, _NAME_APART_DEG = 1.24, 1.09, 1.18, 14.0


def alt_text(aim: Aim, setup: SetUpAim) -> str:
    """
    State the finding: which way, and what it is worth.

    Parameters
    ----------
    aim : Aim
        What was asked.
    setup : SetUpAim
        The set-up turned.

    Returns
    -------
    sentence : str
        One sentence.
    """
    best = setup.bearing.best_deg
    if not setup.is_open or best is None:
        return f"{setup.name} opens nothing in these hours on any bearing."
    means = [10.0 * row.mean for row in setup.rows]
    whom = aim.targets[0].name if len(aim.targets) == 1 else "all targets together"
    return (
        f"{setup.name} is best running {run_title(best, setup.first_end)}: "
        f"{10.0 * setup.chance:.1f} days in ten to {whom}, against {min(means):.1f} on "
        "the worst bearing."
    )


@in_own_look
def figure(aim: Aim, setup: SetUpAim) -> Figure:
    """
    Draw days in ten round the bearings that the wire may run on.

    Parameters
    ----------
    aim : Aim
        What was asked.
    setup : SetUpAim
        The set-up turned; it has rows.

    Returns
    -------
    figure : matplotlib.figure.Figure
        The chart.
    """
    several = len(aim.targets) > 1
    legend = (
        "; ".join(f"{target_letter(k)} {t.name}" for k, t in enumerate(aim.targets))
        if several
        else ""
    )
    side = WIDTH_IN - 2.0 * MARGIN_IN
    page = Page(
        alt_text(aim, setup),
        "mean of the hours on the best band of each",
        side,
        "The angle is the way the wire runs, true; the farther out, the more days in "
        "ten. Bar: the best bearing. Outer arc: there it costs under "
        f"{10.0 * TOLERANCE_CHANCE:g} days in ten.{' ' * several}"
        f"{legend}{'.' * several}",
    )
    edges = -_REACH, _REACH
    axes = bare(page.axes(MARGIN_IN, 0.0, side, side), edges, edges)
    chance = np.array([row.chance for row in setup.rows])
    tried = np.array([row.wire_deg for row in setup.rows])
    if not setup.has_front:
        tried, chance = np.append(tried, tried + 180.0), np.tile(chance, (2, 1))
    top = max(2.0 * np.ceil(5.0 * float(chance.max())), 2.0)
    _draw_rings(axes, top, tried, chance)
    _draw_bar(axes, setup)
    _draw_lines(axes, tried, 10.0 * chance / top, several)
    return page.figure


def _draw_rings(axes: Axes, top: float, tried_deg: Floats, chance: Floats) -> None:
    """Draw rings of days in ten with their figures, and bearings round the rim."""
    around = np.linspace(0.0, 360.0, 361)
    peaks = tried_deg[chance.argmax(axis=0)]
    free = clearest(np.arange(15.0, 360.0, 30.0), [0.0, *peaks.tolist()])
    for days in np.arange(2.0, top + 1.0, 2.0):
        axes.plot(*at_bearing(around, days / top), color=FAINT, linewidth=0.8)
        write_at(axes, spot(free, days / top), f"{days:.0f}")
    for bearing in range(0, 360, 30):
        x, y = at_bearing(float(bearing), np.array([0.0, 1.0]))
        axes.plot(x, y, color="#cccccc", linewidth=0.7, zorder=1)
        write_at(
            axes,
            spot(float(bearing), _FIGURES),
            f"{bearing:03d}" if bearing else "N",
            size=TEXT_PT if not bearing else SMALL_PT,
            weight="normal" if bearing else "bold",
            ground=None,
            zorder=3,
        )


def _draw_bar(axes: Axes, setup: SetUpAim) -> None:
    """Draw the wire on its best bearing, and where it costs little."""
    best = setup.bearing.best_deg
    if best is not None:
        ends = np.array([best, best + 180.0])
        axes.plot(
            *at_bearing(ends, 0.99),
            color=INK,
            linewidth=5.0,
            solid_capstyle="round",
            zorder=2,
        )
    if setup.good_from_deg is None or setup.good_to_deg is None:
        return
    wide = (setup.good_to_deg - setup.good_from_deg) % 360.0
    for turn in (0.0,) if setup.has_front else (0.0, 180.0):
        span = turn + setup.good_from_deg + np.linspace(0.0, wide, 61)
        axes.plot(*at_bearing(span, _ARC), color=INK, linewidth=3.0)


def _draw_lines(axes: Axes, tried_deg: Floats, radius: Floats, several: bool) -> None:
    """Draw a closed line a target, its letter where it is farthest out."""
    order = np.argsort(tried_deg, kind="stable")
    closed = np.append(order, order[0])
    peaks = tried_deg[radius.argmax(axis=0)]
    places = apart(peaks.tolist(), _NAME_APART_DEG)
    for k in range(radius.shape[1]):
        colour, dash, _ = LINES[k % len(LINES)]
        axes.plot(
            *at_bearing(tried_deg[closed], radius[closed, k]),
            color=colour,
            linestyle=dash,
            linewidth=2.6,
            zorder=4,
        )
        if several:
            write_at(
                axes,
                spot(places[k], float(radius[:, k].max())),
                target_letter(k),
                size=TEXT_PT,
                weight="bold",
                zorder=7,
            )
