"""Chance by band and hour, with the sun at both ends and the bands to be on."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from advisor.advice import Advice
from advisor.chartdata.daylight import Daylight
from advisor.explain import days_in_ten, hour_name
from advisor.limits import OPEN_CHANCE
from advisor.show.charts.style import (
    INK,
    MARGIN_IN,
    PAPER,
    SMALL_PT,
    TEXT_PT,
    WIDTH_IN,
    Page,
    chance_colours,
    hour_of,
    in_own_look,
    ink_on,
)
from advisor.show.text import chance_cell
from geo.sun import CIVIL_TWILIGHT_DEG, REFRACTION_AND_RADIUS_DEG

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_ROW_IN, _HEAD_IN, _STRIP_IN, _GAP_IN = 0.235, 0.42, 0.2, 0.07
_HOUR_IN, _LOCAL_IN = 0.42, 0.92

_NIGHT, _TWILIGHT = "#222222", "#9a9a9a"


def alt_text(advice: Advice, target: int = 0) -> str:
    """
    State the finding: the best band and when.

    Parameters
    ----------
    advice : Advice
        The answer.
    target : int, optional
        Which target.

    Returns
    -------
    sentence : str
        One sentence.
    """
    best = advice.setups[0]
    chance = best.chance[target]
    hour, band = np.unravel_index(int(chance.argmax()), chance.shape)
    name = advice.targets[target].name
    if chance[hour, band] < OPEN_CHANCE:
        return f"No band opens to {name} in these hours."
    return (
        f"{advice.question.bands[band].name} best to {name}: "
        f"{days_in_ten(float(chance[hour, band]))} at "
        f"{hour_name(advice.question, int(hour))}."
    )


@in_own_look
def figure(
    advice: Advice,
    ends: tuple[Daylight, ...],
    target: int = 0,
    zone: str | None = None,
) -> Figure:
    """
    Draw the chances of the best set-up: an hour a row, a band a column.

    Parameters
    ----------
    advice : Advice
        The answer.
    ends : tuple of Daylight
        The sun at my end and, if it lies in a direction, at the target.
    target : int, optional
        Which target.
    zone : str, optional
        IANA time zone whose local time stands beside UTC.

    Returns
    -------
    figure : matplotlib.figure.Figure
        The chart.
    """
    question, best = advice.question, advice.setups[0]
    rows = question.times.size
    high = _ROW_IN * rows
    page = Page(
        alt_text(advice, target),
        f"{best.name}, {question.emission.name} {question.station.power_w:g} W, from "
        f"{question.here}, {question.times[0].astype('datetime64[D]')!s}",
        _HEAD_IN + high + 0.1,
        _how(advice, ends),
    )
    left = MARGIN_IN + (_LOCAL_IN if zone else _HOUR_IN)
    strips = len(ends) * (_STRIP_IN + _GAP_IN)
    wide = WIDTH_IN - MARGIN_IN - left - strips
    mine = page.axes(left, _HEAD_IN, _STRIP_IN, high)
    cells = page.axes(left + _STRIP_IN + _GAP_IN, _HEAD_IN, wide, high)
    _draw_sun(mine, ends[0], "here")
    mine.set_yticks(
        np.arange(rows) + 0.5, [hour_of(time, zone) for time in question.times]
    )
    mine.tick_params(axis="y", length=0, labelsize=SMALL_PT)
    _draw_cells(cells, advice, target)
    if len(ends) > 1:
        there = page.axes(WIDTH_IN - MARGIN_IN - _STRIP_IN, _HEAD_IN, _STRIP_IN, high)
        _draw_sun(there, ends[1], "there")
        there.set_yticks([])
    return page.figure


def _how(advice: Advice, ends: tuple[Daylight, ...]) -> str:
    """Say how to read it, with the times of the sun."""
    dash = "" if advice.setups[0].works.all() else "; - the set-up is not cut for it"
    sun = " ".join(_sun_words(end) for end in ends)
    return (
        "Figures are days in ten, dark is often; a dot is less than one in twenty"
        f"{dash}. Framed: the band to be on. Strips: white day, grey twilight, black "
        f"night. {sun}"
    )


def _sun_words(end: Daylight) -> str:
    """Sunrise and sunset of one end in words."""
    parts = [f"rises {_clock(time)}" for time in end.rises]
    parts += [f"sets {_clock(time)}" for time in end.sets]
    if not parts:
        return f"At {end.label} the sun stays {end.stays} in these hours."
    return f"Sun at {end.label} {', '.join(parts)}."


def _clock(time: np.datetime64) -> str:
    """Hour and minute, UTC."""
    return f"{str(time.astype('datetime64[m]'))[-5:]}Z"


def _draw_sun(axes: Axes, end: Daylight, title: str) -> None:
    """Draw a strip of day, twilight and night down the hours."""
    shades = np.select(
        [
            end.elevation_deg > -REFRACTION_AND_RADIUS_DEG,
            end.elevation_deg > -CIVIL_TWILIGHT_DEG,
        ],
        [0, 1],
        2,
    )
    edges = np.flatnonzero(np.diff(shades)) + 1
    for first, last in pairwise([0, *edges.tolist(), end.hour.size - 1]):
        top, bottom = float(end.hour[first]), float(end.hour[last])
        colour = (PAPER, _TWILIGHT, _NIGHT)[int(shades[first])]
        axes.axhspan(top, bottom, color=colour, linewidth=0)
    axes.set_ylim(float(end.hour[-1]), 0.0)
    axes.set_xlim(0.0, 1.0)
    axes.set_xticks([])
    axes.set_title(title, size=SMALL_PT, pad=4)
    for side in axes.spines.values():
        side.set_visible(True)


def _draw_cells(axes: Axes, advice: Advice, target: int) -> None:
    """Draw the chances, their figures, and the bands to be on."""
    question, best = advice.question, advice.setups[0]
    chance = best.chance[target]
    rows, columns = chance.shape
    colours = chance_colours()
    shown = np.where(best.works & (chance >= OPEN_CHANCE), chance, np.nan)
    axes.pcolormesh(
        np.arange(columns + 1),
        np.arange(rows + 1),
        shown,
        cmap=colours,
        vmin=0.0,
        vmax=1.0,
        edgecolors=PAPER,
        linewidth=0.6,
    )
    for t in range(rows):
        for b in range(columns):
            works, value = bool(best.works[b]), float(chance[t, b])
            is_open = works and value >= OPEN_CHANCE
            axes.text(
                b + 0.5,
                t + 0.5,
                chance_cell(value, works, is_best=False).strip(),
                ha="center",
                va="center_baseline",
                size=TEXT_PT,
                color=ink_on(colours(value)) if is_open else INK,
            )
    _draw_path(axes, advice.best_band[target])
    axes.set_xlim(0.0, columns)
    axes.set_ylim(rows, 0.0)
    axes.xaxis.tick_top()
    axes.set_xticks(
        np.arange(columns) + 0.5,
        [band.name.replace(" ", "\n") for band in question.bands],
    )
    axes.tick_params(axis="both", length=0)
    axes.tick_params(axis="x", labelsize=TEXT_PT)
    axes.set_yticks([])
    axes.spines["left"].set_visible(False)
    axes.spines["bottom"].set_visible(False)


def _draw_path(axes: Axes, best_band: np.ndarray) -> None:
    """Frame each run of hours on one band; a step joins one run to the next."""
    edges = np.flatnonzero(np.diff(best_band)) + 1
    ends = [0, *edges.tolist(), best_band.size]
    for first, last in pairwise(ends):
        band = int(best_band[first])
        if band < 0:
            continue
        x = [band, band + 1, band + 1, band, band]
        y = [first, first, last, last, first]
        axes.plot(x, y, color=PAPER, linewidth=5.0, clip_on=False, zorder=4)
        axes.plot(x, y, color=INK, linewidth=2.4, clip_on=False, zorder=5)
        after = int(best_band[last]) if last < best_band.size else -1
        if after >= 0:
            step = [min(band, after), max(band, after) + 1]
            axes.plot(step, [last, last], color=INK, linewidth=2.4, zorder=5)
