"""A path from the side, to scale: the curved Earth, the layers, the hops."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from advisor.answers.pictures.side import SideRay, SideView
from advisor.answers.words import days_in_ten
from advisor.show.charts.style import (
    DAY,
    FAINT,
    INK,
    LINES,
    MARGIN_IN,
    NIGHT,
    SMALL_PT,
    TEXT_PT,
    WIDTH_IN,
    Page,
    bare,
    hour_of,
    in_own_look,
    plain,
    write_above,
)
from geo.arrays import Floats
from geo.ionosphere.profile import E_PEAK_KM
from geo.sphere import EARTH_RADIUS_KM
from geo.sun import REFRACTION_AND_RADIUS_DEG

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_GROUND_KM, _SKY_KM = 60.0, 60.0
# Thickness of the ground for the width of the view, so that day and night show.
_GROUND_PART = 0.016
_LEAST_HALF_KM = 600.0
_WORDS_IN = 0.48


def alt_text(record: SideView) -> str:
    """
    State the finding: the strongest hop and how it leaves.

    Parameters
    ----------
    record : SideView
        What is drawn.

    Returns
    -------
    sentence : str
        One sentence.
    """
    when = f"{record.band} at {hour_of(record.utc)}"
    if not record.rays:
        return f"No layer carries {when} to {record.target}."
    top = record.rays[0]
    many = "hop" if top.hops == 1 else "hops"
    return (
        f"{when} to {record.target}: {top.name} is {100.0 * top.through:.0f} % of what "
        f"gets through, {top.hops} {many} over {record.distance_km:.0f} km leaving at "
        f"{top.takeoff_deg:.0f} deg; the layers carry it {days_in_ten(top.support)}."
    )


@in_own_look
def figure(record: SideView, zone: str | None = None) -> Figure:
    """
    Draw each of the strongest hop modes along the path, nothing stretched.

    Parameters
    ----------
    record : SideView
        What is drawn.
    zone : str, optional
        IANA time zone whose local time stands beside UTC.

    Returns
    -------
    figure : matplotlib.figure.Figure
        The chart.
    """
    wide_in = WIDTH_IN - 2.0 * MARGIN_IN
    highest = max((ray.height_km for ray in record.rays), default=300.0)
    x_km, low_km, high_km = _extent(record.distance_km, highest)
    high_in = wide_in * (high_km - low_km) / (2.0 * x_km)
    panels = max(len(record.rays), 1)
    page = Page(
        alt_text(record),
        f"{record.setup}, path of {record.distance_km:.0f} km to the middle of the "
        f"target, {hour_of(record.utc, zone)}",
        panels * (high_in + _WORDS_IN + 0.1) + 0.35,
        "Heights, distances and the Earth's curve are to one scale. Thin arc: the E "
        "layer's 110 km. Ground: white day, black night. Per cent: of what gets "
        "through to the whole target, and what the wire gives there. To spare: on days "
        "when the layers carry it.",
    )
    for n in range(panels):
        down = n * (high_in + _WORDS_IN + 0.1) + _WORDS_IN
        axes = page.axes(MARGIN_IN, down, wide_in, high_in)
        bare(axes, (-x_km, x_km), (low_km, high_km))
        _draw_ground(axes, record)
        if record.rays:
            _draw_ray(axes, record, record.rays[n], n)
    _draw_scale(
        page.axes(MARGIN_IN, panels * (high_in + _WORDS_IN + 0.1), wide_in, 0.35), x_km
    )
    return page.figure


def _extent(distance_km: float, highest_km: float) -> tuple[float, float, float]:
    """Half width, lower and upper edge of the view, middle of the path at the top."""
    half = 0.5 * distance_km / EARTH_RADIUS_KM
    tall = EARTH_RADIUS_KM + highest_km + _SKY_KM
    widest = EARTH_RADIUS_KM * np.sin(min(half, 0.5 * np.pi))
    top = highest_km + _SKY_KM
    x = max(widest + 0.35 * highest_km, tall if half > 0.5 * np.pi else 0.0)
    x = max(1.04 * x, _LEAST_HALF_KM)
    low = EARTH_RADIUS_KM * (np.cos(min(half, np.pi)) - 1.0) - _ground_km(x)
    return float(x), float(low - _GROUND_KM), float(top)


def _ground_km(x_km: float) -> float:
    """Thickness of the ground drawn in a view of that half width."""
    return max(0.6 * _GROUND_KM, 2.0 * _GROUND_PART * x_km)


def _placed(
    along_km: Floats, height_km: Floats | float, whole_km: float
) -> tuple[Floats, Floats]:
    """Place distance along the path and height on the sheet."""
    turn = (along_km - 0.5 * whole_km) / EARTH_RADIUS_KM
    radius = EARTH_RADIUS_KM + height_km
    return radius * np.sin(turn), radius * np.cos(turn) - EARTH_RADIUS_KM


def _draw_ground(axes: Axes, record: SideView) -> None:
    """Draw the ground, black where it is night, and the E layer."""
    from matplotlib.collections import PolyCollection

    whole, along = record.distance_km, record.along_km
    thick_km = _ground_km(axes.get_xlim()[1])
    night = record.sun_deg < -REFRACTION_AND_RADIUS_DEG
    edges = np.flatnonzero(np.diff(night)) + 1
    ends = [0, *edges.tolist(), along.size]
    parts = [slice(0, along.size)]
    parts += [slice(first, last + 1) for first, last in pairwise(ends) if night[first]]
    shapes = []
    for part in parts:
        over = np.stack(_placed(along[part], 0.0, whole), axis=-1)
        under = np.stack(_placed(along[part][::-1], -thick_km, whole), axis=-1)
        shapes.append(np.concatenate([over, under]))
    axes.add_collection(
        PolyCollection(
            shapes,
            facecolors=[DAY] + [NIGHT] * (len(parts) - 1),
            edgecolors=INK,
            linewidths=[1.2] + [1.0] * (len(parts) - 1),
        ),
        autolim=False,
    )
    axes.plot(*_placed(along, E_PEAK_KM, whole), color=FAINT, linewidth=0.9)


def _draw_ray(axes: Axes, record: SideView, ray: SideRay, place: int) -> None:
    """Draw one hop mode: its bent rays, its figures above."""
    colour, dash, _ = LINES[place % len(LINES)]
    whole = record.distance_km
    x, y = _placed(ray.along_km, ray.up_km, whole)
    axes.plot(x, y, color=colour, linestyle=dash, linewidth=2.6, zorder=4)
    axes.plot(x[[0, -1]], y[[0, -1]], "o", color=INK, markersize=5, zorder=5)
    lines = (
        (
            f"{ray.name} {100.0 * ray.through:.0f} %: leaves at {ray.takeoff_deg:.0f} "
            f"deg, turns at {ray.height_km:.0f} km",
            TEXT_PT,
            "bold",
            19,
        ),
        (
            f"{days_in_ten(ray.support)}, wire gives {plain(ray.gain_dbi)} dBi, "
            f"{round(ray.margin_db):+d} dB to spare",
            SMALL_PT,
            "normal",
            5,
        ),
    )
    for words, size, weight, up in lines:
        write_above(axes, words, up_pt=up, size=size, weight=weight)


def _draw_scale(axes: Axes, x_km: float) -> None:
    """Draw a bar of so many kilometres."""
    step = 10.0 ** np.floor(np.log10(x_km))
    length = max(n * step for n in (1.0, 2.0, 5.0) if n * step <= x_km)
    bare(axes, (-x_km, x_km), (0.0, 1.0))
    axes.plot([-x_km, length - x_km], [0.5, 0.5], color=INK, linewidth=4.0)
    axes.text(length - 0.96 * x_km, 0.5, f"{length:.0f} km", size=SMALL_PT, va="center")
