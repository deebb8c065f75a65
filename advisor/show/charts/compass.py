"""Gain round the compass: where the wire runs, radiates, and where the targets lie."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from advisor.answers.bearings import TOLERANCE_DB
from advisor.answers.pictures.compass import Compass, Sector
from advisor.answers.runs import run_title
from advisor.answers.words import angle_range
from advisor.show.charts.polar import apart, at_bearing, clearest, spot
from advisor.show.charts.style import (
    FAINT,
    INK,
    LINES,
    MARGIN_IN,
    PAPER,
    TEXT_PT,
    WIDTH_IN,
    Page,
    bare,
    hour_of,
    in_own_look,
    plain,
    write_at,
)
from geo.sphere import angle_between_deg

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_SPAN_DB, _RING_DB = 30.0, 10.0
_TARGET_COLOUR, _GOOD_COLOUR = "#e69f00", "#0072b2"
_RIM, _FIGURES, _ARCS, _OUTSIDE, _REACH = 1.0, 1.07, (1.14, 1.17), 1.2, 1.26
_NEAR_DEG, _APART_DEG = 10.0, 13.0


def alt_text(record: Compass) -> str:
    """
    State the finding: how the wire runs and what it sends to the target.

    Parameters
    ----------
    record : Compass
        What is drawn.

    Returns
    -------
    sentence : str
        One sentence.
    """
    wire = (
        f"{record.setup} radiates alike all round"
        if record.wire_deg is None
        else f"{record.setup} running {run_title(record.wire_deg, record.first_end)}"
    )
    first = record.sectors[record.target]
    if first.is_all_round:
        mean = 10.0 * np.log10(np.mean(10.0 ** (record.gain_dbi / 10.0)))
        return (
            f"{wire}: {plain(mean)} dBi on average round the compass on {record.band}."
        )
    there = record.gain_dbi[round(first.bearing_deg) % 360]
    gives = there if np.isnan(record.gives_dbi) else record.gives_dbi
    under = plain(record.gain_dbi.max() - there)
    strongest = (
        "no bearing gets more"
        if under == "0.0"
        else f"{under} dB under its strongest bearing"
    )
    return (
        f"{wire}: gives {plain(gives)} dBi to {first.name} at "
        f"{_three(first.bearing_deg)} on {record.band}; {strongest}."
    )


def _three(bearing_deg: float) -> str:
    """Write a bearing with three digits; what rounds to 360 is 000."""
    return f"{round(bearing_deg) % 360:03d}"


@in_own_look
def figure(record: Compass, zone: str | None = None) -> Figure:
    """
    Draw gain against bearing, north up.

    Parameters
    ----------
    record : Compass
        What is drawn.
    zone : str, optional
        IANA time zone whose local time stands beside UTC.

    Returns
    -------
    figure : matplotlib.figure.Figure
        The chart.
    """
    angle = (
        "its strongest elevation"
        if np.isnan(record.low_deg)
        else f"the {angle_range(record.low_deg, record.high_deg)} that the sky offers"
    )
    arcs = (
        f" Double arcs: the wire may run there, it costs under {TOLERANCE_DB:g} dB."
        if record.good_deg
        else ""
        if record.wire_deg is None
        else f" Any other bearing costs under {TOLERANCE_DB:g} dB."
    )
    bar = f" Black bar: the wire{_its_square(record)}."
    if record.wire_deg is None:
        bar = ""
    page = Page(
        alt_text(record),
        f"{record.band} at {hour_of(record.utc, zone)}, at {angle}",
        WIDTH_IN - 2.0 * MARGIN_IN,
        "Curve: gain by true bearing; rings are 10 dB apart, the outer one is the "
        f"figure beside it. {_sectors(record)}{bar}{arcs} MN: magnetic "
        f"north, {_declination(record.declination_deg)}.",
    )
    side = WIDTH_IN - 2.0 * MARGIN_IN
    edges = -_REACH, _REACH
    axes = bare(page.axes(MARGIN_IN, 0.0, side, side), edges, edges)
    top = float(5.0 * np.ceil(record.gain_dbi.max() / 5.0))
    told = [each for each in record.sectors if not each.is_all_round]
    for sector in told:
        _draw_sector(axes, sector)
    written_deg = _draw_bearings(axes, [each.bearing_deg for each in told])
    _draw_rings(axes, top, record)
    radius = np.clip((record.gain_dbi - top) / _SPAN_DB + 1.0, 0.0, None)
    closed = np.append(np.arange(radius.size), 0)
    x, y = at_bearing(record.azimuth_deg[closed], radius[closed])
    axes.plot(x, y, color=LINES[0][0], linewidth=3.0, zorder=4)
    _draw_wire(axes, record)
    _draw_north(axes, record.declination_deg, written_deg)
    return page.figure


def _sectors(record: Compass) -> str:
    """Say which sector is which target."""
    named = [
        f"{_three(each.bearing_deg)} {each.name}"
        for each in record.sectors
        if not each.is_all_round
    ]
    if not named:
        return "The target lies all round."
    return f"Sector (8 in 10 of a target): {', '.join(named)}."


def _its_square(record: Compass) -> str:
    """Say what the square at one end of the bar is."""
    if not record.first_end:
        return ", true bearings"
    return f", its square the {record.first_end}, true bearing from there"


def _declination(declination_deg: float) -> str:
    """Declination in words."""
    side = "east" if declination_deg >= 0.0 else "west"
    return f"{abs(declination_deg):.0f} deg {side} of true north"


def _draw_rings(axes: Axes, top_dbi: float, record: Compass) -> None:
    """Rings of equal gain with their figures, and rays every 30 degrees."""
    named = [each.bearing_deg for each in record.sectors if not each.is_all_round]
    named += [0.0, record.declination_deg]
    wires = [] if record.wire_deg is None else [record.wire_deg, record.wire_deg + 180]
    figures_deg = clearest(np.arange(15.0, 360.0, 30.0), [*named, *wires])
    around = np.linspace(0.0, 360.0, 361)
    for step in np.arange(0.0, _SPAN_DB, _RING_DB):
        radius = 1.0 - step / _SPAN_DB
        x, y = at_bearing(around, radius)
        axes.plot(x, y, color=FAINT, linewidth=1.4 if step == 0.0 else 0.7)
        write_at(axes, spot(figures_deg, radius), f"{top_dbi - step + 0.0:.0f} dBi")
    for bearing in range(0, 360, 30):
        x, y = at_bearing(float(bearing), np.array([0.0, _RIM]))
        axes.plot(x, y, color="#bbbbbb", linewidth=0.7, zorder=1)
        if angle_between_deg(bearing, named).min() > _NEAR_DEG:
            write_at(axes, spot(float(bearing), _FIGURES), f"{bearing:03d}")


def _draw_sector(axes: Axes, sector: Sector) -> None:
    """Draw the directions of a target as a wedge."""
    wide = (sector.to_deg - sector.from_deg) % 360.0
    span = sector.from_deg + np.linspace(0.0, max(wide, 2.0), 41)
    x, y = at_bearing(span, _RIM)
    axes.fill(
        np.append(x, 0.0),
        np.append(y, 0.0),
        facecolor=_TARGET_COLOUR,
        edgecolor=INK,
        linewidth=1.0,
        alpha=0.45,
        hatch="//",
        zorder=0,
    )
    x, y = at_bearing(sector.bearing_deg, np.array([0.0, _RIM]))
    axes.plot(x, y, color=INK, linewidth=1.2, linestyle="--", zorder=3)


def _draw_bearings(axes: Axes, bearings_deg: list[float]) -> list[float]:
    """Write the bearings of targets at the rim, none on another; tell where."""
    written_deg = apart(bearings_deg, _APART_DEG)
    for bearing, place in zip(bearings_deg, written_deg, strict=True):
        write_at(
            axes,
            spot(place, _FIGURES),
            _three(bearing),
            size=TEXT_PT,
            weight="bold",
            color=PAPER,
            zorder=7,
            ground=INK,
        )
    return written_deg


def _draw_wire(axes: Axes, record: Compass) -> None:
    """Draw the wire as a bar through the middle, and where else it may run."""
    if record.wire_deg is not None:
        ends = [record.wire_deg % 360.0, (record.wire_deg + 180.0) % 360.0]
        x, y = at_bearing(np.array(ends), 0.5)
        axes.plot(x, y, color=INK, linewidth=6.0, solid_capstyle="round", zorder=5)
        written = [_three(end) for end in ends]
        if record.first_end:
            written[1] = record.first_end
            axes.plot(
                *spot(ends[1], 0.5),
                marker="s",
                markersize=15.0,
                markerfacecolor=PAPER,
                markeredgecolor=INK,
                markeredgewidth=4.0,
                zorder=6,
            )
        for end, words in zip(ends, written, strict=True):
            write_at(
                axes,
                spot(end, 0.64 if words == _three(end) else 0.68),
                words,
                size=TEXT_PT,
                weight="bold",
                zorder=7,
            )
    for low, high in record.good_deg:
        span = low + np.linspace(0.0, (high - low) % 360.0, 61)
        for radius in _ARCS:
            x, y = at_bearing(span, radius)
            axes.plot(x, y, color=_GOOD_COLOUR, linewidth=2.0, zorder=4)


def _draw_north(
    axes: Axes, declination_deg: float, written_deg: Sequence[float]
) -> None:
    """Draw true north as a filled arrow, magnetic north as a dashed line."""
    write_at(
        axes,
        spot(0.0, _OUTSIDE),
        "N",
        size=TEXT_PT + 2.0,
        weight="bold",
        zorder=7,
        ground=None,
    )
    if not written_deg or angle_between_deg(0.0, written_deg).min() > _NEAR_DEG:
        axes.annotate(
            "",
            spot(0.0, _RIM),
            xytext=spot(0.0, _OUTSIDE - 0.05),
            arrowprops={"arrowstyle": "-|>", "color": INK, "linewidth": 2.0},
            zorder=7,
        )
    x, y = at_bearing(declination_deg, np.array([0.75, _ARCS[0]]))
    axes.plot(x, y, color=INK, linewidth=1.6, linestyle=(0, (2, 1.5)), zorder=5)
    # Where the two norths lie close together, their letters stand side by side.
    aside = np.copysign(max(abs(declination_deg), _NEAR_DEG), declination_deg)
    write_at(axes, spot(float(aside), _OUTSIDE), "MN", zorder=7)
