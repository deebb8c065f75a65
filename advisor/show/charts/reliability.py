"""What came against what was told: on the diagonal the chances are true."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from advisor.answers.verification.check import Checked
from advisor.answers.words import in_ten
from advisor.show.charts.style import (
    FAINT,
    INK,
    LINES,
    MARGIN_IN,
    SMALL_PT,
    WIDTH_IN,
    Page,
    in_own_look,
)

if TYPE_CHECKING:
    from matplotlib.figure import Figure

_LEFT_IN, _HIGH_IN, _HEAD_IN = 0.62, 4.0, 0.1
_LEAST_DOT, _MOST_DOT = 5.0, 13.0


def alt_text(found: Checked) -> str:
    """
    State the finding: what was told in the mean, and what came.

    Parameters
    ----------
    found : Checked
        What is drawn.

    Returns
    -------
    sentence : str
        One sentence.
    """
    whole = found.rows[0]
    if not whole.tried:
        return "The files name no failures: nothing to hold a chance against."
    said, came = (in_ten(each) for each in (whole.said, whole.came))
    return (
        f"Told {said} times in ten, came {came} times in ten, of {whole.tried} times."
    )


@in_own_look
def figure(found: Checked) -> Figure:
    """
    Draw what came against what was told, by tenths.

    Parameters
    ----------
    found : Checked
        The answer.

    Returns
    -------
    figure : matplotlib.figure.Figure
        The chart.
    """
    page = Page(
        alt_text(found),
        "Share that came, against the chance told",
        _HIGH_IN + _HEAD_IN + 0.5,
        "Dots: each tenth of what was told, larger the more times, with how many; "
        "bars: two standard errors either way. On the broken line the chances are "
        "true; above it more came than was told, below it less.",
    )
    wide = WIDTH_IN - MARGIN_IN - _LEFT_IN - 0.1
    axes = page.axes(_LEFT_IN, _HEAD_IN, wide, _HIGH_IN)
    axes.plot([0.0, 1.0], [0.0, 1.0], color=FAINT, linestyle="--", linewidth=1.6)
    told = [each for each in found.details.diagram if each.count]
    most = max((each.count for each in told), default=1)
    colour, _, marker = LINES[0]
    for each in told:
        size = _LEAST_DOT + (_MOST_DOT - _LEAST_DOT) * math.sqrt(each.count / most)
        error = 0.0 if math.isnan(each.error) else 2.0 * each.error
        axes.errorbar(
            each.said,
            each.came,
            yerr=[[min(error, each.came)], [min(error, 1.0 - each.came)]],
            fmt=marker,
            color=colour,
            ecolor=INK,
            elinewidth=1.4,
            markersize=size,
        )
        axes.annotate(
            str(each.count),
            (each.said, each.came),
            xytext=(9.0, -9.0),
            textcoords="offset points",
            size=SMALL_PT,
            va="top",
        )
    axes.set_xlim(0.0, 1.04)
    axes.set_ylim(0.0, 1.02)
    axes.set_xlabel("told")
    axes.set_ylabel("came")
    return page.figure
