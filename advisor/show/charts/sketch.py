"""A set-up drawn to scale from the side and from above, with its dimensions."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, cast

import numpy as np

from advisor.antenna.shapes.parts import BELOW, Support
from advisor.antenna.wires import Source, Wire
from advisor.show.charts.style import (
    FAINT,
    INK,
    MARGIN_IN,
    PAPER,
    SMALL_PT,
    TEXT_PT,
    WIDTH_IN,
    Page,
    in_own_look,
    plate,
    write_at,
)
from geo.arrays import Floats

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from matplotlib.transforms import Bbox


_BELOW, _POST, _FEED = "#555555", "#a8a8a8", "#d55e00"

# Room for figures beside the wire, and the greatest size of it. [in]
_LEFT_IN, _BESIDE_IN, _OVER_IN, _UNDER_IN = 0.5, 0.85, 0.5, 0.5
_TITLE_IN, _TICKS_IN, _AXIS_IN = 0.3, 0.1, 0.5
_WIDE_IN = WIDTH_IN - MARGIN_IN - _LEFT_IN
_TALLEST_IN, _DEEPEST_IN, _PLAN_PAD_IN, _TICK_IN = 1.65, 2.0, 0.42, 0.42

# Pieces that turn by less than this are one leg with sag in it. [deg]
_BEND_DEG = 25.0
# What it costs a label to lie on another, out of its view, or on a line's points.
_ON_LABEL, _OUTSIDE, _ON_LINE = 100.0, 60.0, 1.0
_POINTS_A_LINE = 60
_LEAST_SPAN_M = 0.1
_FEED_PT = 4.0


@dataclass(frozen=True)
class _Leg:
    """A stretch of wire without a bend; below if it is what another is fed against."""

    points_m: Floats
    length_m: float
    below: bool

    @property
    def seen_best_from_above(self) -> bool:
        """Whether it looks longer from above than from the side."""
        across, _, up = np.abs(self.points_m[-1] - self.points_m[0])
        return bool(across > up + 1e-6)


@in_own_look
def draw_setup(
    wires: Sequence[Wire],
    feed: Source,
    supports: Sequence[Support],
    finding: str,
    about: str = "",
) -> Figure:
    """
    Draw a hung wire from its side and from above, to one scale.

    The wire's bearing points right in both. Heavy black is wire, dashed grey what
    it is fed against, light posts are supports, the round mark is the feed; each
    leg has its length beside it and each support its height.

    Parameters
    ----------
    wires : sequence of Wire
        What is hung, running towards +y.
    feed : Source
        Where it is fed.
    supports : sequence of Support
        What holds it.
    finding : str
        The sentence on top.
    about : str, optional
        Which set-up it is, on which band.

    Returns
    -------
    figure : matplotlib.figure.Figure
        The sketch.
    """
    legs = _legs(wires)
    wire = wires[feed.wire]
    feed_m = np.asarray(wire.start_m) + feed.at_m * wire.direction
    feet = [(each.east_m, each.north_m, each.height_m) for each in supports]
    points = np.concatenate(
        [*(leg.points_m for leg in legs), np.reshape(feet, (-1, 3))]
    )
    low, high = points.min(axis=0), points.max(axis=0)
    wide_m, tall_m = max(float(high[1] - low[1]), 0.1), max(float(high[2]), 0.1)
    deep_m = float(high[0] - low[0])
    inch_m = max(
        wide_m / (_WIDE_IN - 2.0 * _BESIDE_IN),
        tall_m / _TALLEST_IN,
        deep_m / _DEEPEST_IN,
    )
    side_in = tall_m / inch_m + _OVER_IN + _UNDER_IN
    plan_in = deep_m / inch_m + 2.0 * _PLAN_PAD_IN
    plan_down = _TITLE_IN + side_in + _TICKS_IN + _TITLE_IN
    page = Page(finding, about, plan_down + plan_in + _AXIS_IN, _how(legs))
    side = page.axes(_LEFT_IN, _TITLE_IN, _WIDE_IN, side_in)
    plan = page.axes(_LEFT_IN, plan_down, _WIDE_IN, plan_in)
    middle, across = (0.5 * float(low[axis] + high[axis]) for axis in (1, 0))
    reach_m = 0.5 * _WIDE_IN * inch_m
    side.set_ylim(-_UNDER_IN * inch_m, tall_m + _OVER_IN * inch_m)
    # Bearing to the right: what lies right of it is below.
    half_m = 0.5 * plan_in * inch_m
    plan.set_ylim(across + half_m, across - half_m)
    for axes, high_in in ((side, side_in), (plan, plan_in)):
        axes.set_xlim(middle - reach_m, middle + reach_m)
        axes.locator_params(axis="x", nbins=6, min_n_ticks=3)
        axes.tick_params(labelbottom=axes is plan)
        axes.locator_params(axis="y", nbins=max(int(high_in / _TICK_IN), 1))
    side.set_title("from the side: height, m", size=TEXT_PT, loc="left", pad=4)
    plan.set_title(
        "from above: right of the bearing, m", size=TEXT_PT, loc="left", pad=4
    )
    plan.set_xlabel("along the wire bearing \N{RIGHTWARDS ARROW}, m")
    _side(side, legs, feed_m, supports)
    _plan(plan, legs, feed_m, supports)
    return page.figure


def _how(legs: Sequence[_Leg]) -> str:
    """Say how to read it."""
    below = [leg for leg in legs if leg.below]
    against = ""
    if below:
        word = "counterpoise" if len(below) == 1 else f"{len(below)} radials"
        against = f" Dashed: {word} of {below[0].length_m:.2f} m."
    return (
        "Heavy line: the wire, by each leg its length. Posts: supports, with the "
        f"height they must reach. Round mark: the feed.{against} Both to one scale; "
        "the arrow is the way the wire runs."
    )


class Labels:
    """
    Labels of one view, each put where it is in nobody's way.

    Parameters
    ----------
    axes : matplotlib.axes.Axes
        The view, its limits set.
    drawn : iterable of numpy.ndarray
        Lines in it, (N, 2) each.
    feed : (float, float)
        Where the feed's mark is.
    """

    def __init__(
        self, axes: Axes, drawn: Iterable[Floats], feed: tuple[float, float]
    ) -> None:
        from matplotlib.backends.backend_agg import FigureCanvasAgg

        self.axes = axes
        self.page = cast("Figure", axes.get_figure(root=True))
        self.renderer: Any = FigureCanvasAgg(self.page).get_renderer()  # type: ignore[no-untyped-call]
        self.taken: list[Bbox] = []
        # The feed's mark is counted as a ring of points, so that it stays clear.
        turn = np.linspace(0.0, 2.0 * np.pi, _POINTS_A_LINE)
        ring = _FEED_PT * self.page.dpi / 72.0
        self.points = np.concatenate(
            [
                axes.transData.transform(
                    np.concatenate([_along_line(line) for line in drawn])
                ),
                axes.transData.transform(feed)
                + ring * np.stack([np.cos(turn), np.sin(turn)], axis=-1),
            ]
        )

    def put(
        self,
        words: str,
        spots: Sequence[tuple[float, float]],
        offsets: Sequence[tuple[float, float]],
        weight: str = "normal",
    ) -> None:
        """
        Write beside the spot and on the side of it that is clearest.

        Parameters
        ----------
        words : str
            What is written.
        spots : sequence of (float, float)
            Where it may stand, in data coordinates, best first.
        offsets : sequence of (float, float)
            How far from the spot, to any side. [pt]
        weight : str, optional
            Weight of the letters.
        """
        label = self.axes.annotate(
            words,
            spots[0],
            xytext=(0.0, 0.0),
            textcoords="offset points",
            fontsize=SMALL_PT,
            weight=weight,
            bbox=plate() | {"alpha": 0.85},
            zorder=6,
        )
        # Laid out once: on every try it is as large.
        extent = label.get_window_extent(self.renderer)
        size = np.array([extent.width, extent.height])
        tried = [(spot, offset) for spot in spots for offset in offsets]
        boxes = [self._box(size, *each) for each in tried]
        costs = [self._cost(box) + 0.4 * n for n, box in enumerate(boxes)]
        best = int(np.argmin(costs))
        label.xy, offset = tried[best]
        label.set_position(offset)
        label.set_horizontalalignment(
            ("center", "left", "right")[int(np.sign(offset[0]))]
        )
        label.set_verticalalignment(
            ("center", "bottom", "top")[int(np.sign(offset[1]))]
        )
        self.taken.append(boxes[best])

    def _box(
        self, size: Floats, spot: tuple[float, float], offset: tuple[float, float]
    ) -> Bbox:
        """Tell where a label of a size lies, on the side that its offset points to."""
        from matplotlib.transforms import Bbox

        away = np.array(offset)
        anchor = self.axes.transData.transform(spot) + away * self.page.dpi / 72.0
        corner = anchor + 0.5 * (np.sign(away) - 1.0) * size
        return Bbox.from_bounds(*corner, *size)

    def _cost(self, box: Bbox) -> float:
        """Count what a label would lie on."""
        box = box.padded(1.5)
        page, view = self.page.bbox, self.axes.bbox
        outside = (
            box.x0 < view.x0 + 2.0
            or box.x1 > page.x1 - 3.0
            or box.y0 < view.y0
            or box.y1 > view.y1 + 2.0
        )
        on_labels = sum(box.overlaps(other) for other in self.taken)
        x, y = self.points.T
        on_lines = np.count_nonzero(
            (x > box.x0) & (x < box.x1) & (y > box.y0) & (y < box.y1)
        )
        return float(_ON_LABEL * on_labels + _OUTSIDE * outside + _ON_LINE * on_lines)


def _along_line(points: Floats) -> Floats:
    """Points along a line of two coordinates, close enough to find a label on it."""
    at = np.linspace(0.0, len(points) - 1.0, _POINTS_A_LINE)
    known = np.arange(len(points))
    return np.stack([np.interp(at, known, values) for values in points.T], axis=-1)


_BESIDE = ((6.0, 0.0), (-6.0, 0.0))
_ABOVE_BELOW = ((0.0, 4.0), (0.0, -4.0))
_CORNERS = ((5.0, 4.0), (-5.0, 4.0), (5.0, -4.0), (-5.0, -4.0))


def _side(
    axes: Axes, legs: Sequence[_Leg], feed_m: Floats, supports: Sequence[Support]
) -> None:
    """Draw the view from the right of the bearing: distance along, and height."""
    left, right = axes.get_xlim()
    bottom = axes.get_ylim()[0]
    axes.axhspan(0.25 * bottom, 0.0, facecolor=PAPER, edgecolor=_POST, hatch="////",
                 lw=0)  # fmt: skip
    axes.axhline(0.0, color=INK, lw=1.2)
    # Several in line share one label, and so do equal ones between the outermost.
    # The feed has its own.
    tops = sorted({(round(s.north_m, 2), round(s.height_m, 2)) for s in supports})
    for north_m, height_m in tops:
        axes.plot([north_m] * 2, [0.0, height_m], color=_POST, lw=5.0, zorder=1)
    for leg in legs:
        _line(axes, leg, leg.points_m[:, 1], leg.points_m[:, 2])
    axes.plot(feed_m[1], feed_m[2], "o", color=_FEED, mec=INK, ms=8.0, zorder=4)
    labels = Labels(
        axes,
        [
            *(leg.points_m[:, 1:] for leg in legs),
            *(np.array([[n, 0.0], [n, h]]) for n, h in tops),
            np.array([[left, 0.0], [right, 0.0]]),
        ],
        (float(feed_m[1]), float(feed_m[2])),
    )
    _span(axes, labels, [each.north_m for each in supports])
    labels.put(
        f"feed, {feed_m[2]:.1f} m up",
        [(float(feed_m[1]), float(feed_m[2]))],
        (*_CORNERS, *((x, 3.0 * y) for x, y in _CORNERS), *_BESIDE, *_ABOVE_BELOW),
        "bold",
    )
    said = {round(float(feed_m[2]), 2)}
    near_m = 0.03 * (right - left)
    outermost_first = sorted(tops, key=lambda top: -abs(top[0] - 0.5 * (left + right)))
    for north_m, height_m in outermost_first:
        outer = north_m in (tops[0][0], tops[-1][0])
        at_feed = np.hypot(north_m - feed_m[1], height_m - feed_m[2]) < near_m
        if not at_feed and (outer or height_m not in said):
            way = 1.0 if north_m > 0.5 * (left + right) else -1.0
            labels.put(
                f"{height_m:.1f} m up",
                [(north_m, height_m), (north_m, 0.6 * height_m)],
                ((6.0 * way, 0.0), (0.0, 5.0), (-6.0 * way, 0.0), *_CORNERS),
            )
            said.add(height_m)
    for leg in legs:
        if not (leg.below or leg.seen_best_from_above):
            _length(labels, leg, leg.points_m[:, 1:])


def _span(axes: Axes, labels: Labels, along_m: Sequence[float]) -> None:
    """Draw the distance between the outermost supports under the ground."""
    low, high = min(along_m, default=0.0), max(along_m, default=0.0)
    if high - low < _LEAST_SPAN_M:
        return
    down = 0.62 * axes.get_ylim()[0]
    axes.annotate(
        "",
        (high, down),
        xytext=(low, down),
        arrowprops={
            "arrowstyle": "<|-|>",
            "color": INK,
            "linewidth": 1.0,
            "shrinkA": 0.0,
            "shrinkB": 0.0,
        },
        zorder=3,
    )
    label = write_at(axes, (0.5 * (low + high), down), f"{high - low:.2f} m")
    labels.taken.append(label.get_window_extent(labels.renderer))


def _plan(
    axes: Axes, legs: Sequence[_Leg], feed_m: Floats, supports: Sequence[Support]
) -> None:
    """Draw the view from above: distance along, and to the right."""
    for support in supports:
        axes.plot(
            support.north_m,
            support.east_m,
            "s",
            color=_POST,
            mec=FAINT,
            ms=9.0,
            zorder=1,
        )
    for leg in legs:
        _line(axes, leg, leg.points_m[:, 1], leg.points_m[:, 0])
    axes.plot(feed_m[1], feed_m[0], "o", color=_FEED, mec=INK, ms=8.0, zorder=4)
    labels = Labels(
        axes,
        [leg.points_m[:, 1::-1] for leg in legs],
        (float(feed_m[1]), float(feed_m[0])),
    )
    said: set[float] = set()
    for leg in legs:
        # Sides of a loop are alike: once is enough.
        length_m = round(leg.length_m, 2)
        if leg.seen_best_from_above and not leg.below and length_m not in said:
            _length(labels, leg, leg.points_m[:, 1::-1])
            said.add(length_m)


def _line(axes: Axes, leg: _Leg, along: Floats, other: Floats) -> None:
    """Draw one leg."""
    axes.plot(
        along,
        other,
        color=_BELOW if leg.below else INK,
        lw=1.6 if leg.below else 3.0,
        ls="--" if leg.below else "-",
        solid_capstyle="round",
        zorder=2,
    )


def _length(labels: Labels, leg: _Leg, points: Floats) -> None:
    """Write a leg's length beside it, near its middle."""
    at = [0.5, 0.35, 0.65, 0.2, 0.8]
    known = np.linspace(0.0, 1.0, len(points))
    x, y = (np.interp(at, known, values) for values in points.T)
    run, rise = np.abs(points[-1] - points[0])
    flat, steep = (*_ABOVE_BELOW, *_CORNERS), (*_BESIDE, *_CORNERS)
    sides = steep if rise > 3.0 * run else flat if run > 3.0 * rise else (
        *_CORNERS, *_BESIDE, *_ABOVE_BELOW
    )  # fmt: skip
    labels.put(f"{leg.length_m:.2f} m", list(zip(x.tolist(), y.tolist(), strict=True)),
               sides)  # fmt: skip


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
            chain[0].name.startswith(BELOW),
        )
        for chain in chains
    ]
