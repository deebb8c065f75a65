"""The sum of a way: what the level gains and loses from the sender to the ear."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from advisor.answers.why_facts import Why
from advisor.show.charts.style import (
    INK,
    MARGIN_IN,
    OFFERED,
    SMALL_PT,
    THROUGH,
    WIDTH_IN,
    WIRE_FILL,
    Page,
    in_own_look,
    plain,
    write_at,
    write_beside,
)
from advisor.show.text.way_sum import step_label
from advisor.show.text.why import DIRECTIONS

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_LEFT_IN, _RIGHT_IN, _ROW_IN = 1.72, 0.6, 0.3
_NOTHING_DB, _LONG_DB, _STUB_DB = 0.05, 45.0, 9.0
"""Below the first a term is only named; one over the second is cut to the third."""

_HALF = 0.36


def alt_text(why: Why) -> str:
    """
    State the finding: what arrives, and how far that is from what is needed.

    Parameters
    ----------
    why : Why
        What is drawn.

    Returns
    -------
    sentence : str
        One sentence.
    """
    about = f"{why.band} to {why.target} at {why.utc[11:13]}Z"
    if not why.budgets:
        return f"{about}: no way above the horizon to sum up."
    first = why.budgets[0]
    verdict = "to spare" if first.margin_db >= 0.0 else "short"
    return (
        f"{about} by {first.way}: {plain(first.received_dbw)} dBW arrive, "
        f"{plain(abs(first.margin_db))} dB {verdict}."
    )


@in_own_look
def figure(why: Why) -> Figure:
    """
    Draw a bar a term from the sender down to the ear, the noise and the need below.

    Parameters
    ----------
    why : Why
        What is drawn.

    Returns
    -------
    figure : matplotlib.figure.Figure
        The chart; no more than its words if there is no way to sum up.
    """
    if not why.budgets:
        return Page(alt_text(why), why.setup, 0.1, "").figure
    first = why.budgets[0]
    steps = first.steps(why.direction)
    power = steps.pop("power_dbw")
    shown = {name: db for name, db in steps.items() if abs(db) >= _NOTHING_DB}
    unshown = [step_label(name) for name in steps if name not in shown]
    rows = ["power of the sender", *(_called(name) for name in shown), "arrives"]
    page = Page(
        alt_text(why),
        f"{why.setup}, {plain(first.below_peak_db)} dB below its peak at that angle; "
        f"{DIRECTIONS[why.direction]}",
        (len(rows) + 3.5) * _ROW_IN,
        "From the sender above to the ear below: to the right and blue, what is "
        "gained, to the left and red, what is lost, in dB; the zigzag cuts a bar "
        "short. The scale is the level there, dBW."
        + (f" Takes nothing here: {', '.join(unshown)}." if unshown else ""),
    )
    wide = WIDTH_IN - _LEFT_IN - _RIGHT_IN - MARGIN_IN
    axes = page.axes(_LEFT_IN, 0.05, wide, (len(rows) + 2) * _ROW_IN)
    # What is over the cut is drawn nearer by what is cut off.
    cut = sum(abs(db) - _STUB_DB for db in shown.values() if abs(db) > _LONG_DB)
    level = power - cut
    places = [level]
    after_cut = level
    axes.plot([level] * 2, [-_HALF, _HALF], color=INK, linewidth=3.0)
    for row, db in enumerate(shown.values(), start=1):
        is_cut = abs(db) > _LONG_DB
        drawn = np.copysign(_STUB_DB, db) if is_cut else db
        _draw_step(axes, row, level, float(drawn), is_cut=is_cut)
        level += float(drawn)
        places.append(level)
        after_cut = level if is_cut else after_cut
    last = len(rows) - 1
    axes.plot([level] * 2, [last - _HALF, last + _HALF], color=INK, linewidth=3.0)
    needed = first.noise_dbw + first.needed_snr_db
    figures = [
        plain(power),
        *(f"{round(db, 1):+.1f}" for db in shown.values()),
        plain(first.received_dbw),
        plain(first.noise_dbw),
        plain(needed),
    ]
    rows += ["noise there", f"noise {first.needed_snr_db:+.0f} dB: needed"]
    write_beside(axes, rows, np.arange(len(rows)))
    write_beside(axes, figures, np.arange(len(rows)), 4.0)
    edges = [*places, first.noise_dbw, needed]
    span = max(edges) - min(edges)
    _draw_ear(axes, last, (level, first.noise_dbw, needed), 0.4 * span)
    axes.set_xlim(min(edges) - 0.06 * span, max(edges) + 0.06 * span)
    axes.set_ylim(len(rows) - 0.4, -0.6)
    axes.set_yticks([])
    axes.spines["left"].set_visible(False)
    step = 10.0 if span < 60.0 else 20.0
    low, _ = axes.get_xlim()
    ticks = np.arange(np.ceil(low / step) * step, max(after_cut, needed) + 1.0, step)
    axes.set_xticks(ticks, [f"{tick:.0f}" for tick in ticks])
    axes.set_xlabel("dBW", size=SMALL_PT)
    return page.figure


def _called(name: str) -> str:
    """Call a term without its unit, which the figure beside it has."""
    return step_label(name).rpartition(",")[0] or step_label(name)


def _draw_step(axes: Axes, row: int, start: float, db: float, *, is_cut: bool) -> None:
    """Draw one term as a bar with an arrow's head, tied to the one before."""
    axes.plot([start] * 2, [row - 1 + _HALF, row - _HALF], color=INK, linewidth=0.8)
    axes.barh(
        row,
        db,
        2.0 * _HALF,
        left=start,
        facecolor=WIRE_FILL if db > 0.0 else THROUGH,
        edgecolor=INK,
        linewidth=0.8,
    )
    if is_cut:
        middle, tooth = start + 0.5 * db, 0.8
        zigzag = middle + tooth * np.array([-1.0, 1.0, -1.0, 1.0, -1.0])
        down = row + np.linspace(-1.25, 1.25, 5) * _HALF
        axes.plot(zigzag, down, color="#ffffff", linewidth=5.0, zorder=4)
        for side in (-0.6, 0.6):
            axes.plot(zigzag + side, down, color=INK, linewidth=0.8, zorder=5)


def _draw_ear(
    axes: Axes, row: int, levels_dbw: tuple[float, float, float], wide_db: float
) -> None:
    """
    Draw noise and need under what arrives, and what is between that and the need.

    So far apart as is wide, they have room for the words between them.
    """
    level, noise_dbw, needed_dbw = levels_dbw
    axes.plot([level] * 2, [row + _HALF, row + 2.0], color=INK, linewidth=0.8)
    noise = [row + 1.0 - _HALF, row + 1.0 + _HALF]
    axes.plot([noise_dbw] * 2, noise, color=INK, linewidth=3.0, linestyle=(0, (1, 0.8)))
    axes.plot([noise_dbw] * 2, [noise[1], row + 2.0], color=INK, linewidth=0.8)
    axes.plot([noise_dbw, needed_dbw], [row + 2.0] * 2, color=INK, linewidth=0.8)
    axes.plot(
        [needed_dbw] * 2,
        [row + 2.0 - _HALF, row + 2.0 + _HALF],
        color=INK,
        linewidth=3.0,
    )
    axes.barh(
        row + 2,
        level - needed_dbw,
        0.9 * _HALF,
        left=needed_dbw,
        facecolor=OFFERED,
        edgecolor=INK,
        hatch="" if level >= needed_dbw else "///",
        zorder=3,
    )
    words = f"{plain(abs(level - needed_dbw))} dB "
    words += "to spare" if level >= needed_dbw else "short"
    if abs(level - needed_dbw) > wide_db:
        write_at(axes, (0.5 * (level + needed_dbw), row + 2.0), words, weight="bold")
        return
    axes.annotate(
        words,
        (max(level, needed_dbw, noise_dbw), row + 2.0),
        xytext=(5.0, 0.0),
        textcoords="offset points",
        size=SMALL_PT,
        weight="bold",
        va="center_baseline",
    )
