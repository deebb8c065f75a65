"""Where the power of a wire comes down: a panel a band, the rings over the hours."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from advisor.answers.far_places.footprint import FAR_KM, NEAR_KM
from advisor.answers.far_places.reach import Reach, SetUpReach
from advisor.show.charts.style import (
    INK,
    MARGIN_IN,
    OFFERED,
    SMALL_PT,
    TEXT_PT,
    THROUGH,
    WIDTH_IN,
    WIRE_FILL,
    Page,
    hour_of,
    hours_below,
    in_own_look,
    write_above,
    write_at,
)

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_LEFT_IN, _PANEL_IN, _TITLE_IN, _FOOT_IN = 0.62, 0.95, 0.3, 0.34
_RINGS = (("near", THROUGH, ""), ("mid", OFFERED, ""), ("far", WIRE_FILL, "///"))
_ROOM = 0.18
"""Share of a panel's height in which a ring's name fits."""


def verdict_words(reach: Reach, setup: SetUpReach) -> str:
    """
    Say what kind of wire it is on each band with the sun highest.

    Parameters
    ----------
    reach : Reach
        What was found.
    setup : SetUpReach
        The set-up.

    Returns
    -------
    words : str
        With a full stop.
    """
    bands: dict[str, list[str]] = {}
    for b in np.flatnonzero(setup.works).tolist():
        verdict = str(setup.verdict[reach.noon, b])
        bands.setdefault(verdict, []).append(reach.question.bands[b].name)
    told = "; ".join(f"{', '.join(names)}: {kind}" for kind, names in bands.items())
    return f"{told}."


def alt_text(reach: Reach, setup: SetUpReach) -> str:
    """
    State the finding: what kind of wire it is on each band with the sun highest.

    Parameters
    ----------
    reach : Reach
        What was found.
    setup : SetUpReach
        The set-up drawn.

    Returns
    -------
    sentence : str
        One sentence.
    """
    hour = hour_of(reach.question.times[reach.noon])
    return f"{setup.name} at {hour}: {verdict_words(reach, setup)}"


@in_own_look
def figure(reach: Reach, setup: SetUpReach) -> Figure:
    """
    Draw a panel a band: hours across, shares of the power piled up from near to far.

    Parameters
    ----------
    reach : Reach
        What was found.
    setup : SetUpReach
        The set-up drawn; it works on a band.

    Returns
    -------
    figure : matplotlib.figure.Figure
        The chart.
    """
    times = reach.question.times
    bands = np.flatnonzero(setup.works).tolist()
    page = Page(
        alt_text(reach, setup),
        f"{hour_of(times[0])} to {hour_of(times[-1])}, "
        f"{times[0].astype('datetime64[D]')}",
        len(bands) * (_PANEL_IN + _TITLE_IN) + _FOOT_IN,
        f"Of the power radiated, what comes down within {NEAR_KM:.0f} km (near, dark), "
        f"up to {FAR_KM:.0f} km (mid, pale) and beyond (far, hatched), piled up; white "
        "is lost: through the layers, absorbed, or behind the horizon.",
    )
    wide = WIDTH_IN - _LEFT_IN - MARGIN_IN
    for n, band in enumerate(bands):
        down = n * (_PANEL_IN + _TITLE_IN) + _TITLE_IN
        axes = page.axes(_LEFT_IN, down, wide, _PANEL_IN)
        _draw_shares(axes, 100.0 * setup.share[:3, :, band])
        axes.set_ylim(0.0, 100.0)
        axes.set_yticks([0, 50, 100])
        hours_below(axes, times, labelled=n == len(bands) - 1)
        name = reach.question.bands[band].name
        verdict = setup.verdict[reach.noon, band]
        write_above(axes, f"{name}: {verdict}", size=TEXT_PT, weight="bold")
        if n == 0:
            axes.set_ylabel("% of power", size=SMALL_PT)
    return page.figure


def _draw_shares(axes: Axes, percent: np.ndarray) -> None:
    """Pile the rings up, each named where it is widest if it has room for that."""
    edges = np.arange(percent.shape[1] + 1)
    foot = np.zeros(percent.shape[1])
    for (name, colour, hatch), share in zip(_RINGS, percent, strict=True):
        axes.stairs(
            foot + share,
            edges,
            baseline=foot,
            fill=True,
            facecolor=colour,
            edgecolor=INK,
            hatch=hatch,
            linewidth=0.6,
        )
        widest = int(share.argmax())
        if share[widest] > 100.0 * _ROOM:
            at = min(max(widest + 0.5, 1.5), edges[-1] - 1.5)
            write_at(axes, (at, float(foot[widest] + 0.5 * share[widest])), name)
        foot = foot + share
