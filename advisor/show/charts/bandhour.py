"""Chance by band and hour, with the sun at both ends and the bands to be on."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from advisor.answers.advice import Answer
from advisor.answers.hours import hour_name
from advisor.answers.limits import OPEN_CHANCE
from advisor.answers.pictures.daylight import Daylight
from advisor.answers.shut import shut_headline
from advisor.answers.states import mark, marks_key
from advisor.answers.words import best_cell, days_in_ten
from advisor.show.charts.style import (
    INK,
    LIGHTS,
    MARGIN_IN,
    PAPER,
    WIDTH_IN,
    Page,
    bare,
    chance_colours,
    hour_of,
    in_own_look,
    inks_on,
    write_above,
    write_beside,
    write_over,
)
from advisor.show.text.cells import chance_cell
from advisor.show.text.layout import minute
from geo.sun import CIVIL_TWILIGHT_DEG, REFRACTION_AND_RADIUS_DEG

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_ROW_IN, _HEAD_IN, _STRIP_IN, _GAP_IN = 0.235, 0.42, 0.2, 0.07
_HOUR_IN, _LOCAL_IN = 0.42, 0.92
_HOURS_LEFT_PT = 72.0 * (_STRIP_IN + _GAP_IN) + 3.5
# Figure and unit of a band's name, one over the other.
_NAME_UP_PT = {0: 24.6, 2: 11.4}


def alt_text(advice: Answer, target: int = 0) -> str:
    """
    State the finding: the best band and when.

    Parameters
    ----------
    advice : Answer
        The answer.
    target : int, optional
        Which target.

    Returns
    -------
    sentence : str
        One sentence.
    """
    chance = advice.best.chance[target]
    hour, band = best_cell(advice, target)
    name = advice.targets[target].name
    if chance[hour, band] < OPEN_CHANCE:
        return shut_headline(advice, target)
    return (
        f"{advice.question.bands[band].name} best to {name}: "
        f"{days_in_ten(float(chance[hour, band]))} at "
        f"{hour_name(advice.question, int(hour))}."
    )


@in_own_look
def figure(
    advice: Answer,
    ends: tuple[Daylight, ...],
    target: int = 0,
    zone: str | None = None,
) -> Figure:
    """
    Draw the chances on the best set-up of each: an hour a row, a band a column.

    Parameters
    ----------
    advice : Answer
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
    question = advice.question
    used = " and ".join(one.name for one in advice.used or advice.setups[:1])
    rows = question.times.size
    high = _ROW_IN * rows
    page = Page(
        alt_text(advice, target),
        f"{used}, {question.emission.name} {question.station.power_w:g} W, from "
        f"{question.here}, {question.times[0].astype('datetime64[D]')!s}",
        _HEAD_IN + high + 0.1,
        _how(advice, ends),
    )
    left = MARGIN_IN + (_LOCAL_IN if zone else _HOUR_IN)
    strips = len(ends) * (_STRIP_IN + _GAP_IN)
    wide = WIDTH_IN - MARGIN_IN - left - strips
    axes = page.axes(left + _STRIP_IN + _GAP_IN, _HEAD_IN, wide, high)
    _draw_cells(axes, advice, target)
    strip, gap = _STRIP_IN / wide, _GAP_IN / wide
    _draw_sun(axes, ends[0], (-gap - strip, -gap), "here")
    if len(ends) > 1:
        _draw_sun(axes, ends[1], (1.0 + gap, 1.0 + gap + strip), "there")
    hours = [hour_of(time, zone) for time in question.times]
    write_beside(axes, hours, np.arange(rows) + 0.5, -_HOURS_LEFT_PT)
    return page.figure


def _how(advice: Answer, ends: tuple[Daylight, ...]) -> str:
    """Say how to read it, with the times of the sun."""
    shut = marks_key(advice.states.ravel().tolist())
    sun = " ".join(_sun_words(end) for end in ends)
    return (
        f"Figures and shades are days in ten{'; ' if shut else ''}{shut}. "
        "Framed: the band to be on. Strips: white day, grey twilight, black night. "
        f"{sun}"
    )


def _sun_words(end: Daylight) -> str:
    """Sunrise and sunset of one end in words."""
    parts = [f"rises {minute(time)}Z" for time in end.rises]
    parts += [f"sets {minute(time)}Z" for time in end.sets]
    if not parts:
        return f"At {end.label} the sun stays {end.stays} in these hours."
    return f"Sun at {end.label} {', '.join(parts)}."


def _draw_sun(
    axes: Axes, end: Daylight, sides: tuple[float, float], title: str
) -> None:
    """Draw a strip of day, twilight and night down the hours beside the cells."""
    from matplotlib.collections import PolyCollection

    shades = np.select(
        [
            end.elevation_deg > -REFRACTION_AND_RADIUS_DEG,
            end.elevation_deg > -CIVIL_TWILIGHT_DEG,
        ],
        [0, 1],
        2,
    )
    edges = np.flatnonzero(np.diff(shades)) + 1
    firsts, lasts = [0, *edges.tolist()], [*edges.tolist(), end.hour.size - 1]
    left, right = sides
    spans = [(end.hour[a], end.hour[b]) for a, b in zip(firsts, lasts, strict=True)]
    colours = [LIGHTS[shades[first]] for first in firsts]
    # The frame last, over the shades.
    axes.add_collection(
        PolyCollection(
            [
                [(left, a), (right, a), (right, b), (left, b)]
                for a, b in (*spans, (end.hour[0], end.hour[-1]))
            ],
            facecolors=[*colours, "none"],
            edgecolors=["none"] * len(colours) + [INK],
            linewidths=0.8,
            transform=axes.get_yaxis_transform(),
            clip_on=False,
        ),
        autolim=False,
    )
    write_above(axes, title, x=0.5 * (left + right), ha="center")


def _draw_cells(axes: Axes, advice: Answer, target: int) -> None:
    """Draw the chances, their figures, and the bands to be on."""
    question, best = advice.question, advice.best
    chance, found = best.chance[target], advice.states[target]
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
    t, b = np.indices(chance.shape).reshape(2, -1)
    words = [
        chance_cell(
            float(chance[cell]),
            mark(int(found[cell]), float(best.margin_db[target][cell])),
            False,
        ).strip()
        for cell in zip(t, b, strict=True)
    ]
    inks = inks_on(colours(shown.ravel())).tolist()
    for x, y, word, ink in zip(b + 0.5, t + 0.5, words, inks, strict=True):
        axes.text(x, y, word, color=ink, ha="center", va="center_baseline")
    _draw_path(axes, advice.best_band[target])
    bare(axes, (0.0, columns), (rows, 0.0))
    names = [band.name.partition(" ") for band in question.bands]
    for part, up_pt in _NAME_UP_PT.items():
        over = [name[part] for name in names]
        write_over(axes, over, np.arange(columns) + 0.5, up_pt)


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
