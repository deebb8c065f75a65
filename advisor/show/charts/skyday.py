"""The sky over a day: which frequencies come back, against the bands."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from advisor.answers.skies.path_sky import SkyPath
from advisor.answers.skies.sky import SkyTable
from advisor.show.charts.style import (
    FAINT,
    LINES,
    MARGIN_IN,
    OFFERED,
    SMALL_PT,
    TEXT_PT,
    WIDTH_IN,
    WIRE_FILL,
    Page,
    hour_of,
    hours_below,
    in_own_look,
    plain,
    write_at,
    write_beside,
)
from advisor.station.bands import band_by_name
from geo.arrays import Floats

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_LEFT_IN, _RIGHT_IN, _HIGH_IN = 0.62, 0.5, 3.6
_LOWEST_MHZ, _HIGHEST_MHZ = 1.6, 32.0
"""Between these at least; the second goes up with what is drawn. [MHz]"""

_TICKS = (2, 5, 10, 20, 50)


def layers_alt_text(seen: SkyTable) -> str:
    """
    State the finding: between what the frequency returned from straight up moves.

    Parameters
    ----------
    seen : SkyTable
        What is drawn.

    Returns
    -------
    sentence : str
        One sentence.
    """
    fof2 = np.array([row.fof2_mhz for row in seen.rows])
    low, high = int(fof2.argmin()), int(fof2.argmax())
    return (
        f"Straight up up to {plain(fof2[high])} MHz come back at "
        f"{hour_of(seen.times[high])}, up to {plain(fof2[low])} MHz at "
        f"{hour_of(seen.times[low])}."
    )


def path_alt_text(seen: SkyTable, path: SkyPath) -> str:
    """
    State the finding: how high and how low one can go at best over a path.

    Parameters
    ----------
    seen : SkyTable
        Holds the hours.
    path : SkyPath
        What is drawn.

    Returns
    -------
    sentence : str
        One sentence.
    """
    highest = np.array([row.path_muf_mhz for row in path.rows])
    if not np.isfinite(highest).any():
        return f"To {path.facts.target} no frequency comes down on half of the days."
    best = int(np.nanargmax(highest))
    return (
        f"To {path.facts.target} up to {plain(highest[best])} MHz on half of the days, "
        f"at {hour_of(seen.times[best])}."
    )


@in_own_look
def layers_figure(seen: SkyTable) -> Figure:
    """
    Draw what comes back from straight up and over a hop of 3000 km.

    Parameters
    ----------
    seen : SkyTable
        The sky.

    Returns
    -------
    figure : matplotlib.figure.Figure
        The chart.
    """
    page, axes = _axes(
        seen,
        layers_alt_text(seen),
        "Highest frequency returned, median of the month: over a hop of 3000 km and "
        "from straight up off F2 (foF2; pale: eight days in ten), from straight up off "
        "E (foE). Thin lines: the bands.",
    )
    rows = seen.rows
    across = np.arange(len(rows)) + 0.5
    axes.fill_between(
        across,
        np.array([row.fof2_lower_mhz for row in rows]),
        np.array([row.fof2_upper_mhz for row in rows]),
        color=OFFERED,
        zorder=1,
    )
    _draw_lines(
        axes,
        {
            "3000 km": np.array([row.f2_muf_3000km_mhz for row in rows]),
            "foF2": np.array([row.fof2_mhz for row in rows]),
            "foE": np.array([row.foe_mhz for row in rows]),
        },
    )
    return page.figure


@in_own_look
def path_figure(seen: SkyTable, path: SkyPath) -> Figure:
    """
    Draw between which frequencies a path can be worked.

    Parameters
    ----------
    seen : SkyTable
        Holds the hours and the bands.
    path : SkyPath
        The path.

    Returns
    -------
    figure : matplotlib.figure.Figure
        The chart.
    """
    page, axes = _axes(
        seen,
        path_alt_text(seen, path),
        "Highest: returned on half of the days (MUF). Safe: on nine days in ten (FOT). "
        f"Lowest: the median signal still meets the need (LUF), {path.facts.circuit}. "
        "Blue ground: between lowest and safe. Thin lines: the bands.",
    )
    lines = {
        "highest": np.array([row.path_muf_mhz for row in path.rows]),
        "safe": np.array([row.path_fot_mhz for row in path.rows]),
        "lowest": np.array([row.path_luf_mhz for row in path.rows]),
    }
    across = np.arange(len(path.rows)) + 0.5
    low, safe = lines["lowest"], lines["safe"]
    axes.fill_between(across, low, safe, where=safe > low, color=WIRE_FILL, zorder=1)
    _draw_lines(axes, lines)
    return page.figure


def _axes(seen: SkyTable, finding: str, how: str) -> tuple[Page, Axes]:
    """Set hours across and frequencies up, with a thin line a band."""
    times = seen.times
    page = Page(
        finding,
        f"{hour_of(times[0])} to {hour_of(times[-1])}, "
        f"{times[0].astype('datetime64[D]')}, {seen.solar_basis}",
        _HIGH_IN + 0.4,
        how,
    )
    wide = WIDTH_IN - _LEFT_IN - _RIGHT_IN - MARGIN_IN
    axes = page.axes(_LEFT_IN, 0.1, wide, _HIGH_IN)
    axes.set_yscale("log")
    axes.set_ylabel("MHz", size=SMALL_PT)
    hours_below(axes, times, 6)
    bands = {name: band_by_name(name).planning_mhz for name in seen.bands}
    for mhz in bands.values():
        axes.axhline(mhz, color=FAINT, linewidth=0.7, zorder=0)
    write_beside(axes, list(bands), np.array(list(bands.values())), 4.0)
    return page, axes


def _draw_lines(axes: Axes, lines: dict[str, Floats]) -> None:
    """Draw each line with its own dash, its name where it stands apart most."""
    every = np.stack(list(lines.values()))
    top = max(_HIGHEST_MHZ, 1.1 * float(np.nanmax(every, initial=0.0)))
    axes.set_ylim(_LOWEST_MHZ, top)
    ticks = [tick for tick in _TICKS if tick < top]
    axes.set_yticks(ticks, [str(tick) for tick in ticks])
    axes.set_yticks([], minor=True)
    height = np.log(np.where(every > _LOWEST_MHZ, every, np.nan))
    for n, (name, mhz) in enumerate(lines.items()):
        colour, dash, mark = LINES[n]
        across = np.arange(mhz.size) + 0.5
        marker = mark if mhz.size == 1 else ""
        axes.plot(across, mhz, color=colour, linestyle=dash, marker=marker)
        gaps = np.abs(np.delete(height, n, axis=0) - height[n])
        gaps = np.nan_to_num(gaps, nan=9.0).min(axis=0)
        apart = np.where(np.isfinite(height[n]), gaps, -1.0)
        # Not at the ends, where half of the name would be off the axes.
        inside = slice(min(2, mhz.size // 2), max(mhz.size - 2, mhz.size // 2 + 1))
        best = int(apart[inside].argmax()) + (inside.start or 0)
        if apart[best] >= 0.0:
            write_at(axes, (best + 0.5, float(mhz[best])), name, size=TEXT_PT)
