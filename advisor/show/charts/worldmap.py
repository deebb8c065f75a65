"""The world around the station: distance and bearing true, chance as shade."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from advisor.answers.limits import OPEN_CHANCE
from advisor.answers.pictures.world import NEAR_KM, WorldMap
from advisor.answers.runs import compass_point
from advisor.answers.words import days_in_ten
from advisor.show.charts.polar import at_bearing, clearest, spot
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
    halo,
    hour_of,
    in_own_look,
    plate,
    write_at,
)
from geo.arrays import Floats

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_DISC_IN, _TITLE_IN, _BAR_IN = WIDTH_IN - 2.0 * MARGIN_IN, 0.28, 0.62
_RINGS_KM = {False: (5000.0, 10000.0, 15000.0), True: (1000.0, 2000.0)}
_TARGET_COLOUR = "#d55e00"
_SKIP_DEG = 16.0


def alt_text(record: WorldMap) -> str:
    """
    State the finding: how much of the world is open, and the skip.

    Parameters
    ----------
    record : WorldMap
        What is drawn.

    Returns
    -------
    sentence : str
        One sentence.
    """
    when = f"{record.chances.band} at {hour_of(record.utc)}"
    chance = record.chances.chance[0]
    if chance.max() < OPEN_CHANCE:
        return f"{when} is closed all round {record.label}."
    skip = ""
    if np.isfinite(record.skip_km):
        skip = f"; skip zone out to {record.skip_km:.0f} km"
        if np.isfinite(record.skip_deg):
            skip += f" towards the {compass_point(record.skip_deg)}"
        # What the ground wave does next door is not what a map is looked at for.
        far = record.chances.range_edge_km[:-1] >= record.skip_km
        chance = np.where(far[:, np.newaxis], chance, 0.0)
    ring, ray = np.unravel_index(int(chance.argmax()), chance.shape)
    middle = record.chances.azimuth_edge_deg[[ray, ray + 1]].mean()
    away = record.chances.range_edge_km[[ring, ring + 1]].mean()
    return (
        f"{when} from {record.label}: {days_in_ten(float(chance.max()))} at best, "
        f"{away:.0f} km to the {compass_point(middle)}{skip}."
    )


@in_own_look
def figure(record: WorldMap, zone: str | None = None) -> Figure:
    """
    Draw the whole world, and under it the first few thousand kilometres.

    Parameters
    ----------
    record : WorldMap
        What is drawn.
    zone : str, optional
        IANA time zone whose local time stands beside UTC.

    Returns
    -------
    figure : matplotlib.figure.Figure
        The chart.
    """
    page = Page(
        alt_text(record),
        f"{record.setup}, {record.chances.band}, {hour_of(record.utc, zone)}"
        + (", places reached the long way round" if record.long_path else ""),
        2.0 * (_DISC_IN + _TITLE_IN) + _BAR_IN,
        "The station is in the middle, north is up; distance and bearing are true. "
        "White is closed. Heavy dashed line: sunrise and sunset, with the sun's side "
        "marked. Arrow: where to send; dots: the target."
        + (" Heavy arc: the skip zone ends there." if _has_skip(record) else ""),
    )
    down = 0.0
    farthest = float(record.chances.range_edge_km[-1])
    for is_near, reach in ((False, farthest), (True, NEAR_KM)):
        axes = page.axes(MARGIN_IN, down + _TITLE_IN, _DISC_IN, _DISC_IN)
        words = f"out to {reach:,.0f} km".replace(",", " ")
        title = f"Near: {words}" if is_near else f"The world: {words}"
        axes.set_title(title, size=TEXT_PT, weight="bold", pad=2.6, loc="left")
        _draw_disc(axes, record, reach, is_near)
        down += _DISC_IN + _TITLE_IN
    draw_key(page.axes(0.6, down + 0.12, WIDTH_IN - 1.2, 0.16))
    return page.figure


def _draw_disc(axes: Axes, record: WorldMap, reach_km: float, is_near: bool) -> None:
    """Draw one disc out to a distance."""
    from matplotlib.patches import Circle

    edges = -1.02 * reach_km, 1.02 * reach_km
    bare(axes, edges, edges)
    rim = Circle((0.0, 0.0), reach_km, transform=axes.transData)
    _draw_chances(axes, record, reach_km)
    land = axes.plot(
        *_line(record.land_km, record.land_deg, reach_km),
        color=INK,
        linewidth=0.9,
        path_effects=halo(2.2),
        zorder=3,
    )
    grey = axes.plot(
        *_line(record.greyline_km, record.greyline_deg, reach_km),
        color=INK,
        linewidth=2.4,
        linestyle=(0, (4, 2)),
        path_effects=halo(5.0),
        zorder=4,
    )
    for artist in [*land, *grey]:
        artist.set_clip_path(rim)
    around = np.linspace(0.0, 360.0, 361)
    taken = [each.bearing_deg for each in record.targets if not each.is_all_round]
    figures_deg = clearest(np.arange(22.5, 360.0, 45.0), [*taken, record.sun_deg])
    for ring_km in _RINGS_KM[is_near]:
        axes.plot(*at_bearing(around, ring_km), color=INK, linewidth=0.7, zorder=3)
        write_at(axes, spot(figures_deg, ring_km), f"{ring_km:,.0f}".replace(",", " "))
    axes.plot(*at_bearing(around, reach_km), color=INK, linewidth=1.6, zorder=5)
    for bearing, letter in ((0.0, "N"), (90.0, "E"), (180.0, "S"), (270.0, "W")):
        write_at(
            axes, spot(bearing, 0.93 * reach_km), letter, size=TEXT_PT, weight="bold"
        )
    _draw_targets(axes, record, reach_km)
    if is_near and _has_skip(record):
        _draw_skip(axes, record, figures_deg)
    if record.sun_km < reach_km:
        axes.plot(
            *spot(record.sun_deg, record.sun_km),
            "o",
            markersize=13,
            color="#f0e442",
            markeredgecolor=INK,
            markeredgewidth=1.5,
            zorder=6,
        )
        axes.annotate(
            "sun",
            spot(record.sun_deg, record.sun_km),
            xytext=(10, 0),
            textcoords="offset points",
            size=SMALL_PT,
            va="center",
            bbox=plate(),
            zorder=6,
        )
    axes.plot(0.0, 0.0, "P", markersize=11, color=INK, markeredgecolor=PAPER, zorder=7)


def _has_skip(record: WorldMap) -> bool:
    """Whether a skip zone ends within the near disc."""
    return bool(record.skip_km < 0.9 * NEAR_KM)


def _draw_skip(axes: Axes, record: WorldMap, figures_deg: float) -> None:
    """Draw where the skip zone ends: towards the target, or all round."""
    if np.isnan(record.skip_deg):
        span, free = np.linspace(0.0, 360.0, 181), figures_deg + 90.0
    else:
        span = record.skip_deg + np.linspace(-_SKIP_DEG, _SKIP_DEG, 31)
        beside = record.skip_deg + np.array([2.4, -2.4]) * _SKIP_DEG
        free = clearest(beside, [figures_deg])
    axes.plot(
        *at_bearing(span, record.skip_km),
        color=INK,
        linewidth=3.6,
        solid_capstyle="butt",
        path_effects=halo(6.4),
        zorder=5,
    )
    write_at(
        axes, spot(free, record.skip_km), f"skip {record.skip_km:.0f}", weight="bold"
    )


def _draw_chances(axes: Axes, record: WorldMap, reach_km: float) -> None:
    """Draw cells of chance, the closed ones left white."""
    chances = record.chances
    inside = chances.range_edge_km[:-1] < reach_km - 1.0
    edges = chances.range_edge_km[: int(inside.sum()) + 1]
    # Each cell in slices of a few degrees, so that rings are round.
    fine = np.linspace(0.0, 360.0, 4 * (chances.azimuth_edge_deg.size - 1) + 1)
    x, y = at_bearing(fine[None, :], edges[:, None])
    shown = np.repeat(chances.chance[0, inside], 4, axis=1)
    axes.pcolormesh(
        x,
        y,
        np.where(shown >= OPEN_CHANCE, shown, np.nan),
        cmap=chance_colours(),
        vmin=0.0,
        vmax=1.0,
        rasterized=True,
        zorder=1,
    )


def _line(
    away_km: Floats, towards_deg: Floats, reach_km: float
) -> tuple[Floats, Floats]:
    """Place a line on the sheet, broken where it jumps across the rim."""
    near = np.where(away_km <= 1.3 * reach_km, away_km, np.nan)
    x, y = at_bearing(towards_deg, near)
    jumps = np.hypot(np.diff(x), np.diff(y)) > 0.35 * reach_km
    if reach_km > NEAR_KM and jumps.any():
        breaks = np.flatnonzero(jumps) + 1
        x, y = np.insert(x, breaks, np.nan), np.insert(y, breaks, np.nan)
    return x, y


def _draw_targets(axes: Axes, record: WorldMap, reach_km: float) -> None:
    """Draw sample points as dots, and the bearing as an arrow."""
    for target in record.targets:
        inside = target.point_km < reach_km
        axes.plot(
            *at_bearing(target.point_deg[inside], target.point_km[inside]),
            "o",
            linestyle="none",
            markersize=6,
            color=_TARGET_COLOUR,
            markeredgecolor=PAPER,
            zorder=6,
        )
        if not target.is_all_round:
            axes.annotate(
                "",
                spot(target.bearing_deg, 0.88 * reach_km),
                xytext=(0.0, 0.0),
                arrowprops={
                    "arrowstyle": "-|>",
                    "color": _TARGET_COLOUR,
                    "linewidth": 2.0,
                    "path_effects": halo(4.0),
                },
                zorder=5,
            )


def draw_key(axes: Axes) -> None:
    """
    Draw the shades with their figures.

    Parameters
    ----------
    axes : matplotlib.axes.Axes
        A flat strip.
    """
    axes.pcolormesh(
        np.linspace(0.0, 10.0, 201),
        [0.0, 1.0],
        np.where(np.arange(200) < 10, np.nan, np.linspace(0.0, 1.0, 200))[None, :],
        cmap=chance_colours(),
        vmin=0.0,
        vmax=1.0,
        rasterized=True,
    )
    axes.set_yticks([])
    axes.set_xticks(range(0, 11, 2))
    axes.set_xlabel("days in ten", size=SMALL_PT, labelpad=1)
    for side in axes.spines.values():
        side.set_visible(True)
