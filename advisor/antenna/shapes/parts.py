"""
What shapes are made of: conductor, supports, strung wires, radials.

Frame as in `advisor.antenna.wires`: x east, y north, z up from the ground, for a
wire bearing of 0, towards +y.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from advisor.antenna.wires import COPPER_S_M, Load, Point, Source, Wire, WireModel
from geo.errors import InputError
from geo.fields import record

LIGHT_M_MHZ = 299.792458
"""Wavelength times frequency. [m MHz]"""

LEAST_HEIGHT_M = 0.5
"""Nothing but a radial hangs lower unless it is asked to: common practice, no source.
[m]"""

LOWEST_M = 0.01
"""Nothing is solved lower: soil is not flat to a centimetre. [m]"""

LEAST_APEX_DEG = 40.0
"""Smallest angle at the top of a bent wire, or its halves cancel: common practice,
no source. [deg]"""

# A point this low needs a stake and no support: common practice, no source. [m]
_STAKE_M = 2.0

# A feed so near a joint of two pieces is put on it, or the solver would have to cut a
# piece hardly longer than it is thick. [m]
_AT_A_JOINT_M = 0.01

BELOW = ("radial", "counterpoise")
"""How the names of wires begin that others are fed against."""

# A sagging span is drawn by this many straight pieces, even to have a middle.
_PIECES = 4


@dataclass(frozen=True)
class Conductor:
    """
    What the wire is made of.

    Attributes
    ----------
    radius_m : float
        Radius of the metal. [m]
    conductivity_s_m : float
        Conductivity, default copper. [S/m]
    insulation_m : float
        Thickness of a coat, 0 for bare wire. [m]
    insulation_eps_r : float
        Relative permittivity of the coat. [1]
    """

    radius_m: float = 0.001
    conductivity_s_m: float = COPPER_S_M
    insulation_m: float = 0.0
    insulation_eps_r: float = 1.0

    def wire(self, start_m: Point, end_m: Point, name: str = "") -> Wire:
        """
        Make one straight wire of it.

        Parameters
        ----------
        start_m, end_m : tuple of float
            East, north and up of the ends. [m]
        name : str, optional
            What to call it in messages; where it starts by default.

        Returns
        -------
        wire : Wire
            The wire.
        """
        return Wire(
            start_m,
            end_m,
            self.radius_m,
            self.conductivity_s_m,
            self.insulation_m,
            self.insulation_eps_r,
            name,
        )


@record
class Support:
    """
    A mast, tree or stake that holds the wire up.

    Attributes
    ----------
    name : str
        What it holds.
    east_m : float
        Where it stands, to the east of the feedpoint's foot if the wire runs north. [m]
    north_m : float
        To the north, along the wire. [m]
    height_m : float
        How high it must reach. [m]
    """

    name: str
    east_m: float
    north_m: float
    height_m: float


@dataclass(frozen=True)
class HungWire:
    """
    A shape with its dimensions put in: wires, feedpoint, supports.

    Attributes
    ----------
    wires : tuple of Wire
        All of it, counterpoise and radials too.
    feed : Source
        Where it is fed.
    supports : tuple of Support
        What must be there to hang it.
    length_m : float
        Length of the wire without counterpoise or radials. [m]
    shape : str
        Name of the shape, if it was hung by one.
    loads : tuple of Load
        Coils, traps and resistors in it.
    on_rest : tuple of str
        Supports whose work the rest of the wire does, not linked in here.
    earth : tuple of Wire
        What leads from the feedpoint down to the soil and into it.
    line : tuple of Wire
        Outside of the feed line, where current may run on it.
    """

    wires: tuple[Wire, ...]
    feed: Source
    supports: tuple[Support, ...]
    length_m: float
    shape: str = ""
    loads: tuple[Load, ...] = ()
    on_rest: tuple[str, ...] = ()
    earth: tuple[Wire, ...] = ()
    line: tuple[Wire, ...] = ()

    def model(self) -> WireModel:
        """
        Return what the solver takes.

        Returns
        -------
        model : WireModel
            Wires, feed and loads; the line's outside comes last.
        """
        wires = self.wires + self.earth + self.line
        return WireModel(wires, (self.feed,), self.loads)

    def loaded(self, at_m: float, **load: float | str) -> HungWire:
        """
        Put a lumped part in.

        Parameters
        ----------
        at_m : float
            Distance along the wire from where it starts, counterpoise and radials not
            counted. [m]
        **load : float or str
            Of a `Load`.

        Returns
        -------
        hung : HungWire
            With the part.

        Raises
        ------
        geo.errors.InputError
            If the wire is not that long.
        """
        own = self.own_wires
        length_m = sum(wire.length_m for wire in own)
        if not 0.0 < at_m < length_m:
            raise InputError(
                f"a coil, trap or resistor {at_m:g} m along the wire, which is "
                f"{length_m:.2f} m long; put it between its ends"
            )
        place = feed_along(own, at_m)
        wire = self.wires.index(own[place.wire])
        part = Load(wire, place.at_m, **load)  # type: ignore[arg-type]
        return replace(self, loads=(*self.loads, part))

    @property
    def own_wires(self) -> tuple[Wire, ...]:
        """The wires without what they are fed against."""
        return tuple(w for w in self.wires if not w.name.startswith(BELOW))

    @property
    def below_wires(self) -> tuple[Wire, ...]:
        """Counterpoise or radials."""
        return tuple(w for w in self.wires if w.name.startswith(BELOW))

    @property
    def legs_deg(self) -> float:
        """Angle at the feedpoint between the ways to both ends, in degrees."""
        own = self.own_wires
        one, other = (
            np.subtract(end, self.feed_point_m)
            for end in (own[0].start_m, own[-1].end_m)
        )
        lengths = float(np.linalg.norm(one) * np.linalg.norm(other))
        # At an end it has one leg, which nothing folds.
        cosine = float(one @ other) / lengths if lengths > 0.0 else -1.0
        return math.degrees(math.acos(min(max(cosine, -1.0), 1.0)))

    @property
    def feed_point_m(self) -> Point:
        """East, north and up of the feedpoint, in metres."""
        wire = self.wires[self.feed.wire]
        east, north, up = (
            np.asarray(wire.start_m) + self.feed.at_m * wire.direction
        ).tolist()
        return east, north, up

    @property
    def lowest_m(self) -> float:
        """Height of the lowest point of any wire, in metres."""
        return min(min(wire.start_m[2], wire.end_m[2]) for wire in self.wires)

    @property
    def highest_m(self) -> float:
        """Height of the highest point of any wire, in metres."""
        return max(max(wire.start_m[2], wire.end_m[2]) for wire in self.wires)

    @property
    def tall_supports(self) -> tuple[Support, ...]:
        """Supports above 2 m, tallest first; lower ends need only a stake."""
        tall = [support for support in self.supports if support.height_m > _STAKE_M]
        return tuple(sorted(tall, key=lambda support: -support.height_m))

    @property
    def span_m(self) -> float:
        """Greatest distance between two of the tall supports, in metres; else 0."""
        return max(
            (
                float(np.hypot(a.east_m - b.east_m, a.north_m - b.north_m))
                for a in self.tall_supports
                for b in self.tall_supports
            ),
            default=0.0,
        )


def sagging(start_m: Point, end_m: Point, sag_m: float) -> list[Point]:
    """
    Points of a parabola hung between two points, joined by straight pieces.

    Parameters
    ----------
    start_m, end_m : tuple of float
        Where it is held. [m]
    sag_m : float
        How far its middle is under the straight line, 0 or more. [m]

    Returns
    -------
    points : list of tuple of float
        Five points on the parabola, or the two ends without sag. [m]

    Examples
    --------
    >>> sagging((0.0, 0.0, 8.0), (0.0, 20.0, 8.0), 0.0)
    [(0.0, 0.0, 8.0), (0.0, 20.0, 8.0)]
    """
    if sag_m == 0.0:
        return [start_m, end_m]
    share = np.linspace(0.0, 1.0, _PIECES + 1)[:, None]
    points = np.asarray(start_m) + share * np.subtract(end_m, start_m)
    points[:, 2] -= 4.0 * sag_m * (share * (1.0 - share))[:, 0]
    return [(east, north, up) for east, north, up in points.tolist()]


def run_m(length_m: float, rise_m: float, sag_m: float) -> float:
    """
    Horizontal distance that a wire of known length spans.

    Parameters
    ----------
    length_m : float
        Length along the wire. [m]
    rise_m : float
        Difference in height of its ends. [m]
    sag_m : float
        Sag at its middle. [m]

    Returns
    -------
    run_m : float
        The distance at which `sagging` gives back the length. [m]

    Raises
    ------
    geo.errors.InputError
        If the wire is too short for the rise and the sag.

    Examples
    --------
    >>> run_m(5.0, 4.0, 0.0)
    3.0
    """
    pieces = np.diff(sagging((0.0, 0.0, 0.0), (0.0, 0.0, rise_m), sag_m), axis=0)
    drops, count = pieces[:, 2], len(pieces)
    need = float(np.abs(drops).sum())
    if not need < length_m:
        raise InputError(
            f"{length_m:.2f} m of wire cannot bridge {abs(rise_m):.2f} m of "
            f"height with {sag_m:.2f} m of sag; take more than {need:.2f} m, or less "
            "height or sag"
        )
    # The length rises ever faster with the run, so that Newton's steps from above it
    # never pass the answer.
    run = length_m
    while True:
        spans = np.hypot(run / count, drops)
        step = (spans.sum() - length_m) / (run / count / spans).mean()
        if step <= 1e-9:
            return float(run)
        run -= step


def path_length_m(points: Sequence[Point]) -> float:
    """
    Length of a line through points.

    Parameters
    ----------
    points : sequence of tuple of float
        Two points or more. [m]

    Returns
    -------
    length_m : float
        Sum over its straight pieces. [m]
    """
    steps = np.diff(np.asarray(points, dtype=np.float64), axis=0)
    return float(np.linalg.norm(steps, axis=1).sum())


def path_wires(points: Sequence[Point], conductor: Conductor) -> tuple[Wire, ...]:
    """
    Make straight wires from point to point.

    Parameters
    ----------
    points : sequence of tuple of float
        Two points or more. [m]
    conductor : Conductor
        What they are made of.

    Returns
    -------
    wires : tuple of Wire
        One per piece, in order.

    Raises
    ------
    geo.errors.InputError
        If one comes lower.
    """
    wires = tuple(conductor.wire(a, b) for a, b in pairwise(points))
    _check_clear(wires)
    return wires


def feed_along(wires: Sequence[Wire], at_m: float) -> Source:
    """
    Put the feed at a distance along a chain of wires.

    Parameters
    ----------
    wires : sequence of Wire
        Wires that follow one another.
    at_m : float
        Distance from the start of the first. [m]

    Returns
    -------
    feed : Source
        On the wire there.
    """
    left = at_m
    for index, wire in enumerate(wires):
        if left <= wire.length_m + _AT_A_JOINT_M or index == len(wires) - 1:
            near_end = left > wire.length_m - _AT_A_JOINT_M
            return Source(index, wire.length_m if near_end else left)
        left -= wire.length_m
    raise ValueError("no wires to feed")


def radials(
    hub_m: Point, count: int, length_m: float, conductor: Conductor
) -> tuple[Wire, ...]:
    """
    Spread level wires evenly round a point; a counterpoise is one or two of them.

    Parameters
    ----------
    hub_m : tuple of float
        Where they meet. [m]
    count : int
        How many; the first runs back, towards -y.
    length_m : float
        Length of each. [m]
    conductor : Conductor
        What they are made of.

    Returns
    -------
    wires : tuple of Wire
        All start at the hub.
    """
    east, north, up = hub_m
    bearings = np.pi + 2.0 * np.pi * np.arange(count) / count
    return tuple(
        conductor.wire(
            hub_m,
            (
                float(east + length_m * np.sin(bearing)),
                float(north + length_m * np.cos(bearing)),
                up,
            ),
            "counterpoise" if count == 1 else f"radial {number}",
        )
        for number, bearing in enumerate(bearings, start=1)
    )


def _check_clear(wires: Iterable[Wire]) -> None:
    """Refuse a wire that hangs too low."""
    lowest = min(min(wire.start_m[2], wire.end_m[2]) for wire in wires)
    if lowest < LOWEST_M - 1e-9:
        raise InputError(
            f"the wire would come to {lowest:.2f} m above ground and must "
            f"keep {LOWEST_M:g} m; raise it by {LOWEST_M - lowest:.2f} m, shorten what "
            "hangs down, or take out sag"
        )


def whole_number(name: str, value: float) -> int:
    """
    Return a count as a whole number, or refuse it.

    Parameters
    ----------
    name : str
        What is counted.
    value : float
        How many.

    Returns
    -------
    count : int
        The same.

    Raises
    ------
    geo.errors.InputError
        If it is not whole.
    """
    if value != int(value):
        raise InputError(f"{name} {value:g} is not a whole number")
    return int(value)


def against_radials(
    points: Sequence[Point],
    supports: tuple[Support, ...],
    count: float,
    length_m: float,
    conductor: Conductor,
) -> HungWire:
    """
    Hang a wire fed at its first point against level wires that start there.

    Parameters
    ----------
    points : sequence of tuple of float
        Of the wire. [m]
    supports : tuple of Support
        What holds it.
    count : float
        Number of radials, whole; one is a counterpoise. [1]
    length_m : float
        Length of each. [m]
    conductor : Conductor
        What all is made of.

    Returns
    -------
    hung : HungWire
        The wire, then the radials.

    Raises
    ------
    geo.errors.InputError
        If either comes too low.
    """
    below = radials(points[0], whole_number("radials_n", count), length_m, conductor)
    _check_clear(below)
    wires = path_wires(points, conductor)
    return HungWire(wires + below, Source(0, 0.0), supports, path_length_m(points))
