"""Small maps of the world over the hours, on paper what a page turns."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING

import numpy as np

from advisor.answers.limits import OPEN_CHANCE
from advisor.answers.pictures.world_turned import DRAWN, Worlds
from advisor.answers.runs import compass_point
from advisor.show.charts.polar import at_bearing
from advisor.show.charts.style import (
    INK,
    MARGIN_IN,
    PAPER,
    SMALL_PT,
    TEXT_PT,
    WIDTH_IN,
    Page,
    bare,
    chance_colours,
    hour_of,
    in_own_look,
)
from advisor.show.charts.worldmap import draw_key
from geo.arrays import Floats

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.colors import Colormap
    from matplotlib.figure import Figure

_ACROSS = 2
_GAP_IN, _TITLE_IN, _KEY_IN = 0.12, 0.52, 0.66
_DISC_IN = (WIDTH_IN - 2.0 * MARGIN_IN - (_ACROSS - 1) * _GAP_IN) / _ACROSS
_TARGET_COLOUR = "#0072b2"
_KEPT, _VEIL = 0.75, 0.09
"""How much of a shade is kept by night, and the grey added to it."""

_COARSE_PT = 1.2
"""Pieces of a coast shorter than this are not drawn. [pt]"""


def alt_text(record: Worlds) -> str:
    """
    State the finding: when the world is widest open, and who is skipped then.

    Parameters
    ----------
    record : Worlds
        What is drawn.

    Returns
    -------
    sentence : str
        One sentence.
    """
    share = record.open_share
    if record.chance.max() < OPEN_CHANCE:
        return f"The world is closed to {record.label} at all these hours."

    def at(m: int) -> str:
        return f"at {hour_of(record.times[m])} on {record.bands[m]}"

    most, least = int(share.argmax()), int(share.argmin())
    words = f"Widest open {at(most)}: {100.0 * share[most]:.0f} % of the Earth"
    if np.isfinite(record.skip_km[most]):
        words += f", the skip zone ends {record.skip_km[most]:.0f} km"
        if np.isfinite(record.skip_deg):
            words += f" to the {compass_point(record.skip_deg)}"
    if most != least:
        words += f". Least {at(least)}: {100.0 * share[least]:.0f} %"
    return f"{words}."


@in_own_look
def figure(record: Worlds, zone: str | None = None) -> Figure:
    """
    Draw a small map for each of the hours.

    Parameters
    ----------
    record : Worlds
        What is drawn.
    zone : str, optional
        IANA time zone whose local time stands beside UTC.

    Returns
    -------
    figure : matplotlib.figure.Figure
        The chart.
    """
    count = record.times.size
    rows = -(-count // _ACROSS)
    page = Page(
        alt_text(record),
        f"{record.setup}, on the band then best to {record.target}"
        + (", places reached the long way round" if record.long_path else ""),
        rows * (_DISC_IN + _TITLE_IN) + _KEY_IN,
        "The station is in the middle, north is up; distance and bearing are true, the "
        "rim is the far side of the Earth. White is closed, grey is night. Lines and "
        "dots: the targets. Skip: where the skip zone ends on that way; open: share of "
        "the Earth.",
    )
    coast = _coast(record, float(DRAWN.edge_km[-1]))
    for m in range(count):
        row, column = divmod(m, _ACROSS)
        left = MARGIN_IN + column * (_DISC_IN + _GAP_IN)
        down = row * (_DISC_IN + _TITLE_IN) + _TITLE_IN
        axes = page.axes(left, down, _DISC_IN, _DISC_IN)
        _draw_disc(axes, record, m, coast)
        below = f"open {100.0 * record.open_share[m]:.0f} %"
        if np.isfinite(record.skip_km[m]):
            below += f", skip {record.skip_km[m]:.0f} km"
        axes.text(
            0.0,
            1.11,
            f"{hour_of(record.times[m], zone)}, {record.bands[m]}",
            transform=axes.transAxes,
            size=TEXT_PT,
            weight="bold",
        )
        axes.text(0.0, 1.03, below, transform=axes.transAxes, size=SMALL_PT)
    down = rows * (_DISC_IN + _TITLE_IN)
    draw_key(page.axes(0.6, down + 0.16, WIDTH_IN - 1.2, 0.16))
    return page.figure


def _draw_disc(
    axes: Axes, record: Worlds, m: int, coast: tuple[Floats, Floats]
) -> None:
    """Draw one map."""
    reach = float(DRAWN.edge_km[-1])
    edges = -1.02 * reach, 1.02 * reach
    bare(axes, edges, edges)
    wide = 360.0 / DRAWN.azimuth_deg.size
    edge_deg = np.append(DRAWN.azimuth_deg, 360.0) - 0.5 * wide
    x, y = at_bearing(edge_deg[None, :], DRAWN.edge_km[:, None])
    colours, veiled = _shades()
    step = np.minimum((record.chance[m] * len(colours)).astype(int), len(colours) - 1)
    axes.pcolormesh(
        x,
        y,
        step + np.where(record.is_night[m], len(colours), 0),
        cmap=veiled,
        vmin=-0.5,
        vmax=2 * len(colours) - 0.5,
        rasterized=True,
    )
    axes.plot(*coast, color=INK, linewidth=0.6, zorder=3)
    around = np.linspace(0.0, 360.0, 73)
    axes.plot(*at_bearing(around, reach), color=INK, linewidth=1.4, zorder=5)
    for target in record.targets:
        axes.plot(
            *at_bearing(target.point_deg, target.point_km),
            "o",
            linestyle="none",
            markersize=3.5,
            color=_TARGET_COLOUR,
            markeredgecolor=PAPER,
            markeredgewidth=0.5,
            zorder=6,
        )
        if not target.is_all_round:
            middle = int(np.argsort(target.point_km)[target.point_km.size // 2])
            far = at_bearing(target.point_deg[middle], target.point_km[middle])
            axes.plot(
                [0.0, float(far[0])],
                [0.0, float(far[1])],
                color=_TARGET_COLOUR,
                linewidth=1.6,
                zorder=5,
            )
    axes.plot(0.0, 0.0, "P", markersize=7, color=INK, markeredgecolor=PAPER, zorder=7)


@cache
def _shades() -> tuple[list[str], Colormap]:
    """Shades of a chance, and a map of them by day and then by night."""
    from matplotlib.colors import ListedColormap, to_hex, to_rgb

    shades = chance_colours()(np.linspace(0.025, 0.975, 20))
    day = [to_hex(tuple(each.tolist())) for each in shades]
    night = [
        to_hex(tuple((_KEPT * np.array(to_rgb(each)) + _VEIL).tolist())) for each in day
    ]
    return day, ListedColormap([*day, *night], name="by day and night")


def _coast(record: Worlds, reach_km: float) -> tuple[Floats, Floats]:
    """Place the coasts, as fine as so small a map shows, broken at the rim."""
    x, y = at_bearing(record.land_deg, record.land_km)
    least = _COARSE_PT * 2.0 * reach_km / (72.0 * _DISC_IN)
    kept, last = [], (np.inf, np.inf)
    for one in zip(x.tolist(), y.tolist(), strict=True):
        away = np.hypot(one[0] - last[0], one[1] - last[1])
        if away < least:
            continue
        if 0.35 * reach_km < away < np.inf:
            kept.append((np.nan, np.nan))
        kept.append(one)
        last = one if np.isfinite(one[0]) else (np.inf, np.inf)
    across, up = np.array(kept).T
    return across, up
