"""
Many short words in a chart at the cost of a few.

This module needs matplotlib at once: import it within the function that draws.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal, cast

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.backend_bases import RendererBase
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties
from matplotlib.text import Text
from matplotlib.transforms import offset_copy
from numpy.typing import ArrayLike

from advisor.show.charts.style import INK, SMALL_PT, TEXT_PT

_LEFT_OF = {"left": 0.0, "center": 0.5, "right": 1.0}

_UNDER_MIDDLE = {"center_baseline": 0.38, "center": 0.26}
"""How far matplotlib puts the baseline of one line in our font under its place, for
half of what is above the baseline, and for half of all. [em]"""


class Lettering(Artist):
    """
    Words of one line each and of one size, laid out and written in one go.

    Each looks as a `matplotlib.text.Text` of its own, which would take several times
    as long to make and to lay out.

    Parameters
    ----------
    words : sequence of str
        What is written.
    x, y : array_like
        Where, in data coordinates or those of the ``transform`` set later.
    inks : sequence of str, optional
        Colour of each; black if it is not given.
    size : float, optional
        Size of them all. [pt]
    ha, va : str, optional
        How each lies to its place, as for a text of matplotlib.
    """

    zorder = Text.zorder

    def __init__(
        self,
        words: Sequence[str],
        x: ArrayLike,
        y: ArrayLike,
        inks: Sequence[str] | None = None,
        size: float = TEXT_PT,
        ha: Literal["left", "center", "right"] = "center",
        va: Literal["center_baseline", "center"] = "center_baseline",
    ) -> None:
        super().__init__()
        self.words = words
        self.places = np.stack(np.broadcast_arrays(x, y), axis=-1)
        self.inks = [INK] * len(words) if inks is None else inks
        self.font = FontProperties(size=size)
        self.ha, self.va = ha, va

    def draw(self, renderer: RendererBase) -> None:
        """
        Write the words.

        Parameters
        ----------
        renderer : matplotlib.backend_bases.RendererBase
            What to write them with.
        """
        size_px = np.asarray(renderer.points_to_pixels(self.font.get_size_in_points()))
        wide_px = {
            word: renderer.get_text_width_height_descent(word, self.font, False)[0]
            for word in set(self.words)
        }
        before_px = [_LEFT_OF[self.ha] * wide_px[word] for word in self.words]
        x, y = np.transpose(self.get_transform().transform(self.places))
        base = y - _UNDER_MIDDLE[self.va] * size_px
        if renderer.flipy():
            base = renderer.get_canvas_width_height()[1] - base
        # An SVG leaves it to whoever shows it to align words, and asks a text how.
        asked = Text(ha=self.ha)
        gc = renderer.new_gc()
        places = np.stack([x, y, x - before_px, base], axis=-1).tolist()
        for word, ink, place in zip(self.words, self.inks, places, strict=True):
            if word:
                asked.set_position(place[:2])
                gc.set_foreground(ink)
                at_x, at_y = place[2:]
                renderer.draw_text(gc, at_x, at_y, word, self.font, 0.0, mtext=asked)
        gc.restore()


def write_beside(
    axes: Axes,
    words: Sequence[str],
    y: ArrayLike,
    away_pt: float = -3.5,
    size: float = SMALL_PT,
    va: Literal["center_baseline", "center"] = "center_baseline",
) -> None:
    """
    Write words beside axes, such as the names of rows; ticks for it cost far more.

    Parameters
    ----------
    axes : matplotlib.axes.Axes
        Beside what.
    words : sequence of str
        What is written.
    y : array_like
        How high, in data coordinates.
    away_pt : float, optional
        How far to the right of the axes, or to the left if negative. [pt]
    size : float, optional
        Size of the words. [pt]
    va : str, optional
        How each lies to its height, see `Lettering`.
    """
    is_left = away_pt < 0.0
    ha: Literal["right", "left"] = "right" if is_left else "left"
    letters = Lettering(words, 0.0 if is_left else 1.0, y, size=size, ha=ha, va=va)
    page = cast("Figure", axes.get_figure(root=True))
    letters.set_transform(
        offset_copy(axes.get_yaxis_transform(), page, away_pt, units="points")
    )
    axes.add_artist(letters)


def write_over(
    axes: Axes, words: Sequence[str], x: ArrayLike, up_pt: float, size: float
) -> None:
    """
    Write words over axes, such as the names of columns.

    Parameters
    ----------
    axes : matplotlib.axes.Axes
        Over what.
    words : sequence of str
        What is written.
    x : array_like
        How far across, in data coordinates.
    up_pt : float
        How far the middle of the letters is above the axes. [pt]
    size : float
        Size of the words. [pt]
    """
    letters = Lettering(words, x, 1.0, size=size)
    page = cast("Figure", axes.get_figure(root=True))
    letters.set_transform(
        offset_copy(axes.get_xaxis_transform(), page, y=up_pt, units="points")
    )
    axes.add_artist(letters)
