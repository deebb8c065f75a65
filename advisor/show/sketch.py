"""A set-up drawn to scale from the side and from above, with its dimensions."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from advisor.antenna.shape_parts import Support
from advisor.antenna.wires import Source, Wire

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

FloatArray = NDArray[np.float64]

_WIRE = "#000000"
_BELOW = "#555555"
_POST = "#999999"
_FEED = "#d55e00"
_FONT = 8.0

# Pieces that turn by less than this are one leg with sag in it. [deg]
_BEND_DEG = 25.0
# Wires fed against; drawn dashed and counted, not dimensioned one by one.
_BELOW_NAMES = ("radial", "counterpoise")


@dataclass(frozen=True)
class _Leg:
    """A stretch of wire without a bend; below if it is what another is fed against."""

    points_m: FloatArray
    length_m: float
    below: bool

    @property
    def seen_best_from_above(self) -> bool:
        """Whether it looks longer from above than from the side."""
        across, _, up = np.abs(self.points_m[-1] - self.points_m[0])
        return bool(across > up + 1e-6)


def draw_setup(
    figure: Figure,
    wires: Sequence[Wire],
    feed: Source,
    supports: Sequence[Support],
    title: str = "",
) -> None:
    """
    Draw a hung wire from its side and from above, to one scale.

    The wire's bearing points right in both. Thick black is wire, dashed grey what
    it is fed against, light posts are supports, the round mark is the feed; each
    leg has its length beside it and each support its height.

    Parameters
    ----------
    figure : matplotlib.figure.Figure
        An empty figure; about 7 by 5 inches shows everything.
    wires : sequence of Wire
        What is hung, running towards +y.
    feed : Source
        Where it is fed.
    supports : sequence of Support
        What holds it.
    title : str, optional
        Written on top.
    """
    legs = _legs(wires)
    wire = wires[feed.wire]
    feed_m = np.asarray(wire.start_m) + feed.at_m * wire.direction
    points = np.concatenate([leg.points_m for leg in legs])
    low, high = points.min(axis=0), points.max(axis=0)
    span = max(float(high[1] - low[1]), 0.7 * float(high[2]), 1.0)
    room = 0.2 * span
    wide = max(float(high[0] - low[0]), 0.12 * span) + 0.8 * room
    tall = float(high[2]) + 0.8 * room
    side, plan = figure.subplots(
        2, 1, sharex=True, gridspec_kw={"height_ratios": [tall, wide], "hspace": 0.3}
    )
    middle = 0.5 * float(low[1] + high[1])
    for axes in (side, plan):
        axes.set_aspect("equal", adjustable="box")
        axes.tick_params(labelsize=_FONT)
        axes.locator_params(nbins=6, min_n_ticks=3)
        axes.spines[["top", "right"]].set_visible(False)
        axes.set_xlim(middle - 0.5 * span - room, middle + 0.5 * span + room)
    side.set_ylim(-0.25 * room, tall - 0.25 * room)
    across = 0.5 * float(low[0] + high[0])
    # Bearing to the right: what lies right of it is below.
    plan.set_ylim(across + 0.5 * wide, across - 0.5 * wide)
    side.set_ylabel("height, m", fontsize=_FONT)
    plan.set_ylabel("right of\nbearing, m", fontsize=_FONT)
    plan.set_xlabel("along the wire bearing \N{RIGHTWARDS ARROW}, m", fontsize=_FONT)
    if title:
        side.set_title(title, fontsize=_FONT + 2.0, loc="left")
    _side(side, legs, feed_m, supports)
    _plan(plan, legs, feed_m, supports)


def _side(
    axes: Axes,
    legs: Sequence[_Leg],
    feed_m: FloatArray,
    supports: Sequence[Support],
) -> None:
    """Draw the view from the right of the bearing: distance along, and height."""
    bottom = axes.get_ylim()[0]
    axes.axhspan(bottom, 0.0, facecolor="white", edgecolor=_POST, hatch="////", lw=0)
    axes.axhline(0.0, color=_WIRE, lw=1.0)
    left, right = axes.get_xlim()
    near_m = 0.03 * (right - left)
    # Several in line share one label, and so do equal ones between the outermost.
    # The feed has its own.
    tops = {
        (round(support.north_m, 2), round(support.height_m, 2)) for support in supports
    }
    said = {round(float(feed_m[2]), 2)}
    outermost_first = sorted(tops, key=lambda top: -abs(top[0] - 0.5 * (left + right)))
    for north_m, height_m in outermost_first:
        axes.plot([north_m] * 2, [0.0, height_m], color=_POST, lw=4.0, zorder=1)
        outer = north_m in (min(tops)[0], max(tops)[0])
        at_feed = np.hypot(north_m - feed_m[1], height_m - feed_m[2]) < near_m
        if not at_feed and (outer or height_m not in said):
            _height(axes, north_m, height_m, sorted(top[0] for top in tops))
            said.add(height_m)
    for leg in legs:
        _line(axes, leg, leg.points_m[:, 1], leg.points_m[:, 2])
        if not (leg.below or leg.seen_best_from_above):
            _length(axes, leg, leg.points_m[:, 1:], feed_m[1:])
    axes.plot(feed_m[1], feed_m[2], "o", color=_FEED, mec=_WIRE, ms=7.0, zorder=4)
    low = feed_m[2] < 0.2 * axes.get_ylim()[1]
    axes.annotate(
        f"feed, {feed_m[2]:.1f} m up",
        (feed_m[1], feed_m[2]),
        xytext=(-6, 8) if low else (6, 8),
        textcoords="offset points",
        ha="right" if low else "left",
        fontsize=_FONT,
    )


def _plan(
    axes: Axes,
    legs: Sequence[_Leg],
    feed_m: FloatArray,
    supports: Sequence[Support],
) -> None:
    """Draw the view from above: distance along, and to the right."""
    for support in supports:
        axes.plot(support.north_m, support.east_m, "s", color=_POST, ms=8.0, zorder=1)
    said: set[float] = set()
    for leg in legs:
        _line(axes, leg, leg.points_m[:, 1], leg.points_m[:, 0])
        # Sides of a loop are alike: once is enough.
        length_m = round(leg.length_m, 2)
        if leg.seen_best_from_above and not leg.below and length_m not in said:
            _length(axes, leg, leg.points_m[:, 1::-1], feed_m[1::-1])
            said.add(length_m)
    axes.plot(feed_m[1], feed_m[0], "o", color=_FEED, mec=_WIRE, ms=7.0, zorder=4)
    below = [leg for leg in legs if leg.below]
    if below:
        word = "counterpoise" if len(below) == 1 else f"{len(below)} radials"
        axes.text(
            0.0,
            1.04,
            f"dashed: {word} of {below[0].length_m:.2f} m",
            transform=axes.transAxes,
            fontsize=_FONT,
            color=_BELOW,
        )


def _height(
    axes: Axes, along: float, height: float, all_along: Sequence[float]
) -> None:
    """Write a support's height on its outer side, or over it between others."""
    outside = {all_along[-1]: 1, all_along[0]: -1} if len(set(all_along)) > 1 else {}
    way = outside.get(along, 0)
    axes.annotate(
        f"{height:.1f} m up",
        (along, height),
        xytext=(6 * way, 0 if way else 5),
        textcoords="offset points",
        ha={-1: "right", 0: "center", 1: "left"}[way],
        va="center" if way else "bottom",
        fontsize=_FONT,
        color=_BELOW,
    )


def _line(axes: Axes, leg: _Leg, along: FloatArray, other: FloatArray) -> None:
    """Draw one leg."""
    axes.plot(
        along,
        other,
        color=_BELOW if leg.below else _WIRE,
        lw=1.2 if leg.below else 2.0,
        ls="--" if leg.below else "-",
        solid_capstyle="round",
        zorder=2,
    )


def _length(axes: Axes, leg: _Leg, points: FloatArray, feed: FloatArray) -> None:
    """Write a leg's length beside its middle, clear of the line and of the feed."""
    middle = points[[(len(points) - 1) // 2, len(points) // 2]].mean(axis=0)
    run, rise = points[-1] - points[0]
    left, right = axes.get_xlim()
    if abs(rise) > 3.0 * abs(run):
        way = -1 if middle[0] <= 0.5 * (left + right) else 1
        offset, lift = (6 * way, 0), "center"
    elif abs(rise) > 0.2 * abs(run):
        # Below a slope, on the side it leans away from.
        way = 1 if (rise * run > 0.0) != axes.yaxis_inverted() else -1
        offset, lift = (5 * way, -5), "top"
    else:
        fed = np.linalg.norm(middle - feed) < 0.3 * (right - left)
        way, offset, lift = 0, (0, -8 if fed else 5), "top" if fed else "bottom"
    axes.annotate(
        f"{leg.length_m:.2f} m",
        (float(middle[0]), float(middle[1])),
        xytext=offset,
        textcoords="offset points",
        ha={-1: "right", 0: "center", 1: "left"}[way],
        va=lift,
        fontsize=_FONT,
    )


def _legs(wires: Sequence[Wire]) -> list[_Leg]:
    """Join wires that follow one another without a bend."""
    chains: list[list[Wire]] = []
    for wire in wires:
        before = chains[-1][-1] if chains else None
        if (
            before is not None
            and before.name == wire.name
            and np.allclose(before.end_m, wire.start_m, atol=1e-3)
            and before.direction @ wire.direction > np.cos(np.radians(_BEND_DEG))
        ):
            chains[-1].append(wire)
        else:
            chains.append([wire])
    return [
        _Leg(
            np.array([chain[0].start_m, *(wire.end_m for wire in chain)]),
            sum(wire.length_m for wire in chain),
            chain[0].name.startswith(_BELOW_NAMES),
        )
        for chain in chains
    ]
