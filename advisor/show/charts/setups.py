"""Set-ups side by side: chance by hour on each one's best band, or by band."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from advisor.answers.advice import Answer
from advisor.answers.hours import hour_name
from advisor.answers.limits import OPEN_CHANCE
from advisor.answers.pictures.setups import SetUpHours
from advisor.answers.words import days_in_ten
from advisor.show.charts.style import (
    INK,
    LINES,
    MARGIN_IN,
    PAPER,
    SMALL_PT,
    TEXT_PT,
    WIDTH_IN,
    Page,
    halo,
    hour_of,
    hours_below,
    in_own_look,
    write_at,
)

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_LEFT_IN, _HIGH_IN, _ROW_IN = 0.62, 2.7, 0.52
_HATCHES = ("", "//", "..", "xx")


def hour_alt_text(
    advice: Answer, hours: tuple[SetUpHours, ...], target: int = 0
) -> str:
    """
    State the finding: which set-up is best over the hours.

    Parameters
    ----------
    advice : Answer
        The answer.
    hours : tuple of SetUpHours
        What is drawn.
    target : int, optional
        Which target.

    Returns
    -------
    sentence : str
        One sentence.
    """
    name = advice.targets[target].name
    ranked = sorted(hours, key=lambda one: -one.chance.mean())
    means = [f"{one.name} {10 * one.chance.mean():.1f}" for one in ranked]
    lead = f"To {name} on the best band of each hour, mean days in 10:"
    return f"{lead} {', '.join(means)}."


@in_own_look
def by_hour(advice: Answer, hours: tuple[SetUpHours, ...], target: int = 0) -> Figure:
    """
    Draw the chance hour by hour, one line a set-up, and the bands under it.

    Parameters
    ----------
    advice : Answer
        The answer.
    hours : tuple of SetUpHours
        The set-ups in order of rank, at most as many as there are line styles.
    target : int, optional
        Which target.

    Returns
    -------
    figure : matplotlib.figure.Figure
        The chart.
    """
    shown = hours[: len(LINES)]
    question = advice.question
    left_out = len(hours) - len(shown)
    page = Page(
        hour_alt_text(advice, hours, target),
        f"from {question.here}, "
        f"{question.times[0].astype('datetime64[D]')!s}, {question.emission.name} "
        f"{question.station.power_w:g} W",
        _HIGH_IN + 0.3 + _ROW_IN * len(shown) + 0.45,
        "Above: chance of a contact on the band that is best at that hour. Below: "
        "which band that is, set-up by set-up; blank where all are closed."
        + (f" Not drawn, for want of room: {left_out} more." if left_out else ""),
    )
    wide = WIDTH_IN - MARGIN_IN - _LEFT_IN
    upper = page.axes(_LEFT_IN, 0.1, wide, _HIGH_IN)
    at = np.arange(question.times.size) + 0.5
    for one, (colour, dash, mark) in zip(shown, LINES, strict=False):
        upper.plot(
            at,
            10.0 * one.chance,
            color=colour,
            linestyle=dash,
            marker=mark,
            markersize=6,
        )
    upper.set_ylim(0.0, 10.2)
    upper.set_yticks(range(0, 11, 2))
    upper.set_ylabel("days in ten")
    upper.grid(color="#cccccc", linewidth=0.7)
    hours_below(upper, question.times, labelled=False)
    lower = page.axes(_LEFT_IN, _HIGH_IN + 0.3, wide, _ROW_IN * len(shown))
    for row, one in enumerate(shown):
        _draw_bands(lower, row, one, LINES[row], question.times.size)
    lower.set_ylim(len(shown), 0.0)
    lower.set_yticks([])
    hours_below(lower, question.times)
    lower.spines["left"].set_visible(False)
    return page.figure


def _draw_bands(
    axes: Axes, row: int, one: SetUpHours, style: tuple[str, str, str], hours: int
) -> None:
    """Draw a line sample with the name, under it a box for each run on one band."""
    colour, dash, mark = style
    sample = 0.09 * hours
    axes.plot(
        [0.0, 0.5 * sample, sample],
        [row + 0.22] * 3,
        color=colour,
        linestyle=dash,
        marker=mark,
        markersize=6,
        markevery=[1],
    )
    axes.text(
        1.15 * sample, row + 0.22, one.name, size=TEXT_PT, weight="bold", va="center"
    )
    names = np.array(one.bands)
    edges = np.flatnonzero(names[1:] != names[:-1]) + 1
    ends = [0, *edges.tolist(), names.size]
    spans = []
    for first, last in pairwise(ends):
        if not names[first]:
            continue
        spans.append((first, last - first))
        wide = (last - first) / hours > 0.1
        write_at(
            axes,
            (0.5 * (first + last), row + 0.68),
            names[first] if wide else str(names[first]).split()[0],
            ground=None,
            zorder=3,
        )
    axes.broken_barh(
        spans, (row + 0.47, 0.42), facecolor=PAPER, edgecolor=INK, linewidth=1.2
    )


def band_alt_text(advice: Answer, hour: int, target: int = 0) -> str:
    """
    State the finding: which set-up and band is best at one hour.

    Parameters
    ----------
    advice : Answer
        The answer.
    hour : int
        Place on the hour axis.
    target : int, optional
        Which target.

    Returns
    -------
    sentence : str
        One sentence.
    """
    chance = np.stack([one.chance[target, hour] for one in advice.setups])
    when, name = hour_name(advice.question, hour), advice.targets[target].name
    if chance.max() < OPEN_CHANCE:
        return f"No set-up has a band open to {name} at {when}."
    place, band = np.unravel_index(int(chance.argmax()), chance.shape)
    return (
        f"At {when} to {name} {advice.setups[place].name} on "
        f"{advice.question.bands[band].name} is best: "
        f"{days_in_ten(float(chance[place, band]))}."
    )


@in_own_look
def by_band(
    advice: Answer, hour: int, target: int = 0, zone: str | None = None
) -> Figure:
    """
    Draw the chance by band at one hour, one bar a set-up.

    Parameters
    ----------
    advice : Answer
        The answer.
    hour : int
        Place on the hour axis.
    target : int, optional
        Which target.
    zone : str, optional
        IANA time zone whose local time stands beside UTC.

    Returns
    -------
    figure : matplotlib.figure.Figure
        The chart.
    """
    question = advice.question
    shown = advice.setups[: len(LINES)]
    thick = 0.8 / len(shown)
    is_open = [one.works & (one.chance[target, hour] >= OPEN_CHANCE) for one in shown]
    kept = np.flatnonzero(np.any(is_open, axis=0))
    shut = [b.name for i, b in enumerate(question.bands) if i not in kept]
    left_out = len(advice.setups) - len(shown)
    has_range = any(
        (one.chance_high[target, hour] > one.chance_low[target, hour]).any()
        for one in shown
    )
    high = len(kept) * max(0.19 * len(shown), 0.3) + 0.2
    page = Page(
        band_alt_text(advice, hour, target),
        f"{hour_of(question.times[hour], zone)}, {question.emission.name} "
        f"{question.station.power_w:g} W",
        0.3 * len(shown) + high + 0.55,
        "Days in ten by band"
        + (
            "; thin lines show the range by the error of method and month"
            if has_range
            else ""
        )
        + ". No bar: closed, or a band the set-up is not cut for."
        + (f" Closed for all: {', '.join(shut)}." if shut else "")
        + (f" Not drawn, for want of room: {left_out} more." if left_out else ""),
    )
    axes = page.axes(
        _LEFT_IN + 0.1, 0.3 * len(shown), WIDTH_IN - MARGIN_IN - _LEFT_IN - 0.3, high
    )
    rows = np.arange(kept.size)
    for n, (one, (colour, _, _)) in enumerate(zip(shown, LINES, strict=False)):
        low, chance, top = (
            10.0 * values[target, hour, kept]
            for values in (one.chance_low, one.chance, one.chance_high)
        )
        centre = rows - 0.4 + thick * (n + 0.5)
        axes.barh(
            centre,
            np.where(is_open[n][kept], chance, 0.0),
            height=0.92 * thick,
            color=colour,
            edgecolor=PAPER,
            hatch=_HATCHES[n],
            label=one.name,
        )
        for row in rows[is_open[n][kept]]:
            if top[row] > low[row]:
                axes.plot(
                    [low[row], top[row]],
                    [centre[row]] * 2,
                    color=INK,
                    linewidth=1.6,
                    path_effects=halo(3.4),
                )
            axes.text(
                max(top[row], chance[row]) + 0.15,
                centre[row],
                f"{max(round(chance[row]), 1)}",
                size=SMALL_PT,
                va="center_baseline",
            )
    names = [question.bands[b].name for b in kept]
    axes.set_yticks(rows, names, size=TEXT_PT)
    axes.set_ylim(max(len(rows), 1) - 0.5, -0.5)
    axes.set_xlim(0.0, 10.9)
    axes.set_xticks(range(0, 11, 2))
    axes.set_xlabel("days in ten")
    axes.grid(color="#cccccc", linewidth=0.7, axis="x")
    axes.set_axisbelow(True)
    axes.tick_params(axis="y", length=0)
    axes.legend(
        loc="lower left",
        bbox_to_anchor=(-0.16, 1.0),
        frameon=False,
        fontsize=TEXT_PT,
        borderaxespad=0.2,
        handlelength=1.6,
    )
    return page.figure
