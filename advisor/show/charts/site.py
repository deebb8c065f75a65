"""A wire over the ground around: gain by bearing and angle, the ground under it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from advisor.answers.one_wire.site import GRID_DEG, TABLED_M, SiteWork
from advisor.show.charts.style import (
    INK,
    LINES,
    MARGIN_IN,
    SMALL_PT,
    TEXT_PT,
    WIDTH_IN,
    Page,
    in_own_look,
)
from geo.arrays import Floats
from geo.terrain import BEARINGS_DEG

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_LEFT_IN, _RIGHT_IN, _HIGH_IN, _GAP_IN = 0.55, 0.75, 1.35, 0.5
_LEVELS_DBI = np.arange(-15.0, 12.1, 3.0)
_LINES_DBI = (-12.0, -6.0, 0.0, 6.0)
_LOW_DEG = 5.0


def alt_text(site: SiteWork) -> str:
    """
    State the finding: where the ground lets the wire send best at 5 degrees.

    Parameters
    ----------
    site : SiteWork
        What is drawn.

    Returns
    -------
    sentence : str
        One sentence.
    """
    band = max(site.grids, key=lambda name: _low(site, name).max())
    level = _low(site, band)
    best, worst = int(level.argmax()), int(level.argmin())
    return (
        f"{site.name} over this ground sends most at {_LOW_DEG:g} deg on {band} to "
        f"{BEARINGS_DEG[best]:03.0f} true, {level[best]:.1f} dBi, and least to "
        f"{BEARINGS_DEG[worst]:03.0f}, {level[best] - level[worst]:.1f} dB less."
    )


def _low(site: SiteWork, band: str) -> Floats:
    """Gain at 5 degrees by bearing."""
    return np.asarray(site.grids[band][:, int(np.searchsorted(GRID_DEG, _LOW_DEG))])


@in_own_look
def figure(site: SiteWork) -> Figure:
    """
    Draw gain by bearing and angle, a row a band, and the ground below.

    Parameters
    ----------
    site : SiteWork
        What is drawn.

    Returns
    -------
    figure : matplotlib.figure.Figure
        All rows have the true bearing in common.
    """
    turned = "turned to each bearing, " if site.is_free else ""
    rows = len(site.grids) + 1
    page = Page(
        alt_text(site),
        f"gain of the wire, {turned}ground from {site.ground}",
        rows * (_HIGH_IN + _GAP_IN) + 0.2,
        "Above: gain by true bearing and take-off angle, darker is stronger, 3 dB a "
        "shade, lines every 6 dB with dBi on them; the hatched part is below the "
        "skyline. Below: the ground over yours by bearing, at the distances that "
        "stand beside it.",
    )
    wide = WIDTH_IN - _LEFT_IN - _RIGHT_IN - MARGIN_IN
    for n, (band, gain) in enumerate(site.grids.items()):
        down = 0.25 + n * (_HIGH_IN + _GAP_IN)
        _draw_gain(page.axes(_LEFT_IN, down, wide, _HIGH_IN), site, band, gain)
    down = 0.25 + (rows - 1) * (_HIGH_IN + _GAP_IN)
    _draw_ground(page.axes(_LEFT_IN, down, wide, _HIGH_IN), site)
    return page.figure


def _round(values: Floats) -> Floats:
    """Close the turn."""
    return np.concatenate([values, values[:1]])


def _draw_gain(axes: Axes, site: SiteWork, band: str, gain: Floats) -> None:
    """Gain of one band by bearing and angle."""
    bearing = np.append(BEARINGS_DEG, 360.0)
    level = np.maximum(_round(gain).T, _LEVELS_DBI[0])
    axes.contourf(bearing, GRID_DEG, level, _LEVELS_DBI, cmap="Blues", extend="max")
    lines = axes.contour(
        bearing, GRID_DEG, level, _LINES_DBI, colors=INK, linewidths=0.5
    )
    axes.clabel(lines, fmt="%g", fontsize=SMALL_PT - 1.0)
    skyline = _round(np.array([up for _, up in site.ground.skyline()]))
    axes.fill_between(
        bearing, 0.0, skyline, facecolor="none", edgecolor=INK, hatch="////", lw=0.6
    )
    axes.set_ylim(0.0, GRID_DEG[-1])
    axes.set_yticks([0, 10, 20, 30, 40], [f"{up}°" for up in (0, 10, 20, 30, 40)])
    _set_bearings(axes)
    axes.set_title(band, size=TEXT_PT, weight="bold", loc="left", pad=4)


def _draw_ground(axes: Axes, site: SiteWork) -> None:
    """Height of the ground by bearing at some distances."""
    bearing = np.append(BEARINGS_DEG, 360.0)
    for n, far in enumerate(TABLED_M):
        at = [np.interp(far, site.ground.distance_m, up) for up in site.ground.height_m]
        height = _round(np.array(at))
        colour, dash, _ = LINES[n]
        far_words = f"{far:g} m"
        axes.plot(bearing, height, dash, color=colour, linewidth=1.8, label=far_words)
    axes.axhline(0.0, color=INK, linewidth=0.6)
    _set_bearings(axes)
    axes.set_title("ground, m", size=TEXT_PT, weight="bold", loc="left", pad=4)
    axes.set_xlabel("true bearing", size=SMALL_PT, labelpad=1)
    axes.legend(
        loc="center left",
        bbox_to_anchor=(1.0, 0.5),
        fontsize=SMALL_PT - 1.0,
        frameon=False,
        handlelength=1.4,
        handletextpad=0.4,
        borderaxespad=0.2,
    )


def _set_bearings(axes: Axes) -> None:
    """Bearings along the bottom."""
    marks = range(0, 361, 45)
    axes.set_xlim(0.0, 360.0)
    axes.set_xticks(list(marks), [f"{deg:03d}" for deg in marks], size=SMALL_PT)
