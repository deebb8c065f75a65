"""
Where what was found lies on the ground: wire, cords, stakes and supports as a plan.

Places are complex numbers: metres to the east of the operator, and to the north as the
imaginary part. Where supports have no places the middle of the wire stands for them.
"""

from __future__ import annotations

import cmath
import math
from dataclasses import dataclass

from advisor.answers.hanging.found import Hung, longest
from advisor.answers.hanging.supports import poles_needed, stakes, tied_off
from advisor.antenna.shapes.parts import BELOW, HungWire, Support
from advisor.antenna.shapes.search import AtHand
from geo.fields import record


@record
class Standing:
    """
    A support on the plan.

    Attributes
    ----------
    name : str
        What it is called.
    east_m, north_m : float
        Where it stands. [m]
    height_m : float
        Its height; of one without a place that which is needed. [m]
    is_used : bool
        Whether it holds the wire.
    """

    name: str
    east_m: float
    north_m: float
    height_m: float
    is_used: bool


@dataclass(frozen=True)
class GroundPlan:
    """
    A wire from above.

    Attributes
    ----------
    supports : tuple of Standing
        All there are.
    wires, below, cords : tuple of (complex, complex)
        Pieces from end to end: of the wire, of what it is fed against, of cord. [m]
    stakes : tuple of complex
        Where a stake holds a cord or a low end. [m]
    feed : complex
        Where it is fed. [m]
    bearing_deg : float
        Which way the wire runs. [deg]
    length_m : float
        Length of the wire. [m]
    has_operator : bool
        Whether the origin is where the operator stands.
    """

    supports: tuple[Standing, ...]
    wires: tuple[tuple[complex, complex], ...]
    below: tuple[tuple[complex, complex], ...]
    cords: tuple[tuple[complex, complex], ...]
    stakes: tuple[complex, ...]
    feed: complex
    bearing_deg: float
    length_m: float
    has_operator: bool


def ground_plan(one: Hung, at_hand: AtHand) -> GroundPlan | None:
    """
    Lay out a shape on the ground, on the band that takes most wire.

    Parameters
    ----------
    one : Hung
        The shape.
    at_hand : AtHand
        Supports there are.

    Returns
    -------
    plan : GroundPlan or None
        None for a shape that is no wire of ours.
    """
    if not one.wires:
        return None
    hung, way = longest(one.wires), one.rigging
    needed = poles_needed(hung)
    bearing_deg = one.advice.bearing.wire_deg or 0.0
    turn = cmath.exp(-1j * math.radians(bearing_deg))
    centre = sum(map(_at, needed), 0j) / max(len(needed), 1)
    middle = centre
    if way is not None:
        middle = sum((post.at_m for post in way.posts), 0j) / len(way.posts)

    def laid(east_m: float, north_m: float) -> complex:
        return middle + (complex(east_m, north_m) - centre) * turn

    pieces = [
        (w.name.startswith(BELOW), (laid(*w.start_m[:2]), laid(*w.end_m[:2])))
        for w in hung.wires
    ]
    cords, pegs = [], [laid(each.east_m, each.north_m) for each in stakes(hung)]
    for low in hung.supports:
        cord_m = tied_off(hung).get(low.name)
        if cord_m is not None:
            peg = _peg(hung, low, cord_m)
            cords.append((laid(low.east_m, low.north_m), laid(peg.real, peg.imag)))
            pegs.append(cords[-1][1])
    if way is not None:
        held = zip(needed, way.posts, strict=True)
        cords += [(laid(n.east_m, n.north_m), post.at_m) for n, post in held]
        standing = tuple(
            Standing(p.name, p.at_m.real, p.at_m.imag, p.height_m, p in way.posts)
            for p in at_hand.posts
        )
    else:
        feet = [(each, laid(each.east_m, each.north_m)) for each in needed]
        standing = tuple(
            Standing(each.name, foot.real, foot.imag, each.height_m, True)
            for each, foot in feet
        )
    return GroundPlan(
        supports=standing,
        wires=tuple(piece for is_below, piece in pieces if not is_below),
        below=tuple(piece for is_below, piece in pieces if is_below),
        cords=tuple(cords),
        stakes=tuple(pegs),
        feed=laid(*hung.feed_point_m[:2]),
        bearing_deg=bearing_deg,
        length_m=hung.length_m,
        has_operator=way is not None,
    )


def _at(support: Support) -> complex:
    """Put east and north of a support into one number."""
    return complex(support.east_m, support.north_m)


def _peg(hung: HungWire, low: Support, cord_m: float) -> complex:
    """Find where a cord goes on to from a low end, away from the nearest higher one."""
    above = [s for s in hung.supports if s.height_m > low.height_m + 1e-6]
    high = min(above, key=lambda s: abs(_at(s) - _at(low)))
    way = _at(low) - _at(high)
    out_m = math.sqrt(max(cord_m**2 - low.height_m**2, 0.0))
    return _at(low) + out_m * way / max(abs(way), 1e-9)
