"""
The look of the charts: one column, large text, dark on white, never colour alone.

A chart is 5 inches wide, so that one point of text is one pixel on a phone 360 pixels
wide. Chances grow from the paper to dark brown in one hue, which stays a ramp in grey
and for colour-blind eyes; lines differ in dash, marker and label besides colour.
"""

from __future__ import annotations

import re
import textwrap
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from functools import cache, wraps
from typing import TYPE_CHECKING, Any, ParamSpec, TypeVar

import numpy as np
from numpy.typing import NDArray

from advisor.show.text.layout import hour_cell, local_hour
from geo.arrays import Floats, Names, Times

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.colors import Colormap
    from matplotlib.figure import Figure
    from matplotlib.patheffects import AbstractPathEffect
    from matplotlib.text import Text

P = ParamSpec("P")
R = TypeVar("R")

WIDTH_IN = 5.0
MARGIN_IN = 0.14

TITLE_PT, TEXT_PT, SMALL_PT = 13.0, 11.0, 10.0
"""Sizes of text; nothing is smaller. [pt]"""

INK, PAPER, FAINT = "#000000", "#ffffff", "#6b6b6b"

CHANCE_SHADES = (
    "#fce7db", "#fcd5bc", "#f9c09b", "#f4ab79", "#ec975a",
    "#dc823e", "#a05413", "#874610", "#6b370c", "#4c2707",
)  # fmt: skip
"""Shades of 1 to 10 days in ten: one hue, 60 degrees in CIELAB, of lightness 93 down to
20, with a gap in the middle where neither black nor white text would stand out."""

DAY, TWILIGHT, NIGHT = LIGHTS = ("#fefefe", "#9a9a9a", "#222222")
"""The light at a place; the same on dark pages."""

WIRE, WIRE_FILL = "#0072b2", "#d3e5f2"
OFFERED, THROUGH = "#e6dfc6", "#b5451a"
"""What the wire gives, the sky offers and gets through; ink round the pale one."""

LINES = (
    ("#0072b2", "-", "o"),
    ("#d55e00", "--", "s"),
    ("#009e73", "-.", "^"),
    ("#000000", ":", "D"),
)
"""Colour (Okabe and Ito's, those that stand out on white), dash and marker."""

SALT = "skiplobe"
"""Seed of the ids in an SVG, so that the same chart has the same bytes."""

_LOOK = {
    "font.family": "DejaVu Sans",
    "font.size": TEXT_PT,
    "text.color": INK,
    "axes.edgecolor": INK,
    "axes.labelcolor": INK,
    "axes.labelsize": TEXT_PT,
    # Where titles stand anyway; to find out whether one has to move up is dear.
    "axes.titley": 1.0,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "xtick.color": INK,
    "ytick.color": INK,
    "xtick.labelsize": SMALL_PT,
    "ytick.labelsize": SMALL_PT,
    "lines.linewidth": 2.2,
    "hatch.linewidth": 0.8,
    "text.parse_math": False,
    "svg.fonttype": "none",
    "svg.hashsalt": SALT,
}

# What draws and where to, which is the user's own.
_NOT_OF_THE_LOOK = ("backend", "backend_fallback", "interactive", "toolbar")

_TITLE_LETTERS, _TEXT_LETTERS, _SMALL_LETTERS = 43, 56, 60
_LINE = 1.3

# A figure and its unit stay on one line.
_FIGURE_AND_UNIT = re.compile(r"(?<=\d) (?=(?:m|km|dB|dBi|deg|ohm|W|MHz)\b)")
_GLUE = "\N{NO-BREAK SPACE}"

# Luminance of a ground on which black and white stand out alike, 4.6 to 1.
_SAME_CONTRAST = 0.179
_PT = 1.0 / 72.0


@contextmanager
def look() -> Iterator[None]:
    """Draw in the charts' own look, whatever the user's matplotlib is set to."""
    import matplotlib

    with matplotlib.rc_context():
        # Checked once, not at every chart.
        current: dict[Any, Any] = matplotlib.rcParams
        dict.update(current, _settings())
        yield


@cache
def _settings() -> dict[str, Any]:
    """Every setting of the look, as matplotlib has checked it."""
    import matplotlib.style

    with matplotlib.style.context(["default", _LOOK]):
        # Read as a plain mapping: asking for the backend would look for a screen.
        kept = dict.items(matplotlib.rcParams)
        return {name: value for name, value in kept if name not in _NOT_OF_THE_LOOK}


def in_own_look(draw: Callable[P, R]) -> Callable[P, R]:
    """
    Make a drawing function draw in the charts' own look.

    Parameters
    ----------
    draw : callable
        The function.

    Returns
    -------
    draw : callable
        The same within `look`.
    """

    @wraps(draw)
    def drawn(*args: P.args, **kwargs: P.kwargs) -> R:
        with look():
            return draw(*args, **kwargs)

    return drawn


class Page:
    """
    A figure filled from the top: finding, what it is about, axes, how to read it.

    Parameters
    ----------
    finding : str
        The sentence the chart is there for.
    about : str
        From where to where, when, with what.
    body_in : float
        Height of the part for axes. [in]
    how : str
        How to read it.
    """

    def __init__(self, finding: str, about: str, body_in: float, how: str) -> None:
        from matplotlib.figure import Figure

        head = _lines_of(finding, _TITLE_LETTERS)
        under = _lines_of(about, _TEXT_LETTERS)
        foot = _lines_of(how, _SMALL_LETTERS)
        head_in = _LINE * _PT * (TITLE_PT * len(head) + (TEXT_PT - 1.0) * len(under))
        foot_in = _LINE * _PT * SMALL_PT * len(foot)
        self._top_in = 2.0 * MARGIN_IN + head_in
        self._height_in = self._top_in + body_in + foot_in + 2.0 * MARGIN_IN
        self.figure: Figure = Figure(
            figsize=(WIDTH_IN, self._height_in), facecolor=PAPER
        )
        down = MARGIN_IN
        down = self._lines(head, down, TITLE_PT, "bold")
        self._lines(under, down, TEXT_PT - 1.0, "normal")
        self._lines(foot, self._top_in + body_in + MARGIN_IN, SMALL_PT, "normal")

    def _lines(self, lines: list[str], down: float, size: float, weight: str) -> float:
        """Write lines below one another; return how far down they reach."""
        for line in lines:
            self.figure.text(
                MARGIN_IN / WIDTH_IN,
                1.0 - down / self._height_in,
                line,
                size=size,
                weight=weight,
                va="top",
            )
            down += _LINE * _PT * size
        return down

    def axes(
        self, left_in: float, down_in: float, wide_in: float, high_in: float
    ) -> Axes:
        """
        Add axes.

        Parameters
        ----------
        left_in, down_in : float
            Upper left corner, from the left edge and from the top of the body. [in]
        wide_in, high_in : float
            Size. [in]

        Returns
        -------
        axes : matplotlib.axes.Axes
            New axes.
        """
        bottom = self._height_in - self._top_in - down_in - high_in
        return self.figure.add_axes(
            (
                left_in / WIDTH_IN,
                bottom / self._height_in,
                wide_in / WIDTH_IN,
                high_in / self._height_in,
            )
        )


def _lines_of(text: str, letters: int) -> list[str]:
    """Break a text into lines, but not between a figure and its unit."""
    lines = textwrap.wrap(_FIGURE_AND_UNIT.sub(_GLUE, text), letters)
    return [line.replace(_GLUE, " ") for line in lines]


@cache
def chance_colours() -> Colormap:
    """
    Colours of a chance from 0 to 1.

    Returns
    -------
    colours : matplotlib.colors.Colormap
        The shade of as many days in ten as are written; paper below the lowest chance
        counted.
    """
    from matplotlib.colors import ListedColormap

    # Half steps: 5 to 15 in a hundred are one day in ten, from 95 on it is ten.
    halves = [PAPER, *(shade for shade in CHANCE_SHADES for _ in range(2))][:20]
    colours = ListedColormap(halves, name="chance")
    return colours.with_extremes(under=PAPER, bad=PAPER)


def ink_of(colour: str) -> str:
    """
    Choose black or white text for a background.

    Parameters
    ----------
    colour : str
        The background, such as ``#fce7db``.

    Returns
    -------
    ink : str
        The one with more contrast, by relative luminance (sRGB, WCAG 2.1).

    Examples
    --------
    >>> ink_of("#ffe64d"), ink_of("#00214d")
    ('#000000', '#ffffff')
    """
    parts = [int(colour[i : i + 2], 16) / 255.0 for i in (1, 3, 5)]
    return str(inks_on(np.array(parts)))


def inks_on(colours: Floats) -> Names:
    """
    Choose black or white text for many backgrounds, as `ink_of` does for one.

    Parameters
    ----------
    colours : numpy.ndarray
        Red, green, blue of the backgrounds along the last axis, 0 to 1.

    Returns
    -------
    inks : numpy.ndarray of str
        One for each.
    """
    parts = colours[..., :3]
    linear = np.where(parts <= 0.04045, parts / 12.92, ((parts + 0.055) / 1.055) ** 2.4)
    luminance = linear @ np.array([0.2126, 0.7152, 0.0722])
    return np.where(luminance > _SAME_CONTRAST, INK, PAPER)


def bare(axes: Axes, x: tuple[float, float], y: tuple[float, float]) -> Axes:
    """
    Turn axes into a sheet to draw on, without frame or figures.

    Parameters
    ----------
    axes : matplotlib.axes.Axes
        The axes.
    x, y : (float, float)
        What lies at the left and right edge, at the lower and upper one.

    Returns
    -------
    axes : matplotlib.axes.Axes
        The same.
    """
    axes.set_axis_off()
    axes.set_xlim(x)
    axes.set_ylim(y)
    return axes


def hours_below(
    axes: Axes, times: Times, most: int = 8, *, labelled: bool = True
) -> None:
    """
    Mark every few hours under axes that are as wide as the hours are many.

    Parameters
    ----------
    axes : matplotlib.axes.Axes
        Above what.
    times : numpy.ndarray of datetime64
        Shape (T,); UTC.
    most : int, optional
        How many marks there is room for; they are as far apart as keeps the same
        hours from day to day.
    labelled : bool, optional
        Whether the hours are written, as under the lowest of several.
    """
    wanted = times.size / most
    every = next((n for n in (1, 2, 3, 4, 6, 12) if n >= wanted), 24)
    at = np.arange(0, times.size, every)
    axes.set_xlim(0.0, times.size)
    axes.set_xticks(at + 0.5, [hour_of(times[t]) for t in at])
    axes.tick_params(axis="x", labelbottom=labelled, length=2.0)


def write_beside(
    axes: Axes,
    words: Sequence[str],
    y: NDArray[Any],
    away_pt: float = -3.5,
) -> None:
    """
    Write words beside axes, such as the names of rows.

    Parameters
    ----------
    axes : matplotlib.axes.Axes
        Beside what.
    words : sequence of str
        What is written.
    y : numpy.ndarray
        How high, in data coordinates.
    away_pt : float, optional
        How far to the right of the axes, or to the left if negative. [pt]
    """
    from matplotlib.transforms import offset_copy

    x, ha = (0.0, "right") if away_pt < 0.0 else (1.0, "left")
    page = axes.get_figure(root=True)
    away = offset_copy(axes.get_yaxis_transform(), page, away_pt, units="points")
    for word, height in zip(words, y, strict=True):
        axes.text(
            x, height, word, transform=away, size=SMALL_PT, ha=ha, va="center_baseline"
        )


def write_over(axes: Axes, words: Sequence[str], x: NDArray[Any], up_pt: float) -> None:
    """
    Write words over axes, such as the names of columns.

    Parameters
    ----------
    axes : matplotlib.axes.Axes
        Over what.
    words : sequence of str
        What is written.
    x : numpy.ndarray
        How far across, in data coordinates.
    up_pt : float
        How far the middle of the letters is above the axes. [pt]
    """
    from matplotlib.transforms import offset_copy

    page = axes.get_figure(root=True)
    up = offset_copy(axes.get_xaxis_transform(), page, y=up_pt, units="points")
    for word, across in zip(words, x, strict=True):
        axes.text(across, 1.0, word, transform=up, ha="center", va="center_baseline")


def write_at(
    axes: Axes,
    at: tuple[float, float],
    words: str,
    *,
    size: float = SMALL_PT,
    ground: str | None = PAPER,
    zorder: float = 6.0,
    **kind: Any,
) -> Text:
    """
    Write words with their middle on a spot, on a plate so that they stand out.

    Parameters
    ----------
    axes : matplotlib.axes.Axes
        Where.
    at : (float, float)
        The spot, in data coordinates.
    words : str
        What is written.
    size : float, optional
        Size of the words. [pt]
    ground : str or None, optional
        Colour of the plate; None for none.
    zorder : float, optional
        Over what it lies.
    **kind
        Weight and colour, as matplotlib has them.

    Returns
    -------
    text : matplotlib.text.Text
        What was written.
    """
    box = None if ground is None else plate() | {"facecolor": ground}
    kind |= {"size": size, "bbox": box, "zorder": zorder}
    return axes.text(*at, words, ha="center", va="center", **kind)


def write_above(
    axes: Axes,
    words: str,
    x: float = 0.0,
    *,
    up_pt: float = 4.0,
    size: float = SMALL_PT,
    **kind: Any,
) -> None:
    """
    Write a line above axes.

    Parameters
    ----------
    axes : matplotlib.axes.Axes
        Above what.
    words : str
        What is written.
    x : float, optional
        How far across, 0 to 1.
    up_pt : float, optional
        How far above. [pt]
    size : float, optional
        Size of the words. [pt]
    **kind
        Weight and alignment, as matplotlib has them.
    """
    kind |= {"xycoords": "axes fraction", "textcoords": "offset points", "size": size}
    axes.annotate(words, (x, 1.0), xytext=(0.0, up_pt), **kind)


def halo(width_pt: float = 3.0) -> list[AbstractPathEffect]:
    """
    Give a line a white rim, so that it stands out on any ground.

    Not for text: a rimmed text is written as outlines, and an SVG would lose it.

    Parameters
    ----------
    width_pt : float, optional
        Width of the rim's stroke. [pt]

    Returns
    -------
    effects : list of matplotlib.patheffects.AbstractPathEffect
        For ``path_effects``.
    """
    from matplotlib.patheffects import withStroke

    return [withStroke(linewidth=width_pt, foreground=PAPER)]


def plate() -> dict[str, Any]:
    """
    Set a text on a white ground, so that it stands out and stays text.

    Returns
    -------
    box : dict
        For ``bbox``.
    """
    return {"boxstyle": "square,pad=0.06", "facecolor": PAPER, "linewidth": 0.0}


def hour_of(time: np.datetime64, zone: str | None = None) -> str:
    """
    Write an hour, UTC, with local time behind it if a zone is given.

    Parameters
    ----------
    time : numpy.datetime64
        UTC.
    zone : str, optional
        IANA time zone.

    Returns
    -------
    hour : str
        Such as ``06Z`` or ``06Z 08:00``.

    Examples
    --------
    >>> hour_of(np.datetime64("2026-12-05T06", "s"), "Africa/Johannesburg")
    '06Z 08:00'
    """
    utc = f"{hour_cell(time)}Z"
    return utc if zone is None else f"{utc} {local_hour(time, zone)}"


def plain(value: float) -> str:
    """
    Write decibels with one decimal, zero without a sign.

    Parameters
    ----------
    value : float
        The figure.

    Returns
    -------
    text : str
        Such as ``-4.1``.

    Examples
    --------
    >>> plain(-0.04), plain(-4.12)
    ('0.0', '-4.1')
    """
    return f"{round(float(value), 1) + 0.0:.1f}"
