"""
Which of the supports that stand there hold a wire, and which way it then runs.

Geometry only. A wire that is shorter than the gap ends on cords to its supports.
"""

from __future__ import annotations

import cmath
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations

from advisor.answers.low_wires import OUT_OF_REACH_M
from advisor.antenna.shapes.parts import Support
from advisor.antenna.shapes.places import Post, heights_over

BENT_DEG = 20.0
"""A side of a wire on three supports or more may run so far off the direction it is
worked out for: a gain changes by under 1 dB, common practice, no source. [deg]"""

LONGEST_CORD_M = 40.0
"""A wire ends on no longer cord than this to its support; it would hang through, as a
wire does: common practice, no source. [m]"""

_STEP_DEG = 5.0


@dataclass(frozen=True)
class Rigging:
    """
    Supports that hold a wire.

    Attributes
    ----------
    posts : tuple of Post
        In the order of what they are needed for.
    bearing_deg : float or None
        Bearing of the wire between them, 0 up to 360; None on one support, which
        leaves it free. [deg]
    cords_m : tuple of float
        From each down to its foot and out to the wire. [m]
    up_m : tuple of float
        How high up each, over its own foot, the wire is tied. [m]
    """

    posts: tuple[Post, ...]
    bearing_deg: float | None
    cords_m: tuple[float, ...]
    up_m: tuple[float, ...]


def riggings(needed: Sequence[Support], posts: Sequence[Post]) -> list[Rigging]:
    """
    Find every way to hold a wire.

    Parameters
    ----------
    needed : sequence of Support
        What the wire needs, for a bearing of 0.
    posts : sequence of Post
        Supports there are.

    Returns
    -------
    ways : list of Rigging
        Those with the least cord first; empty if there is none.
    """
    found = []
    for chosen in _choices(needed, posts, ()):
        turn = _turn(needed, chosen)
        if turn is not None and _high_enough(needed, chosen):
            way = _rigged(needed, chosen, turn)
            out = zip(way.cords_m, chosen, strict=True)
            if all(cord - post.height_m <= LONGEST_CORD_M for cord, post in out):
                found.append(way)
    return sorted(found, key=lambda one: (sum(one.cords_m), one.bearing_deg or 0.0))


def _choices(
    needed: Sequence[Support], posts: Sequence[Post], chosen: tuple[Post, ...]
) -> Iterator[tuple[Post, ...]]:
    """Choose supports one by one, each far enough from those before."""
    if len(chosen) == len(needed):
        yield chosen
        return
    new = _at(needed[len(chosen)])
    for post in posts:
        if post not in chosen and all(
            abs(new - _at(held)) <= post.away_m(other) + 1e-6
            for held, other in zip(needed, chosen, strict=False)
        ):
            yield from _choices(needed, posts, (*chosen, post))


def _turn(needed: Sequence[Support], posts: Sequence[Post]) -> complex | None:
    """Find the unit turn that lays the wire between them; None if it is bent."""
    sides = [
        (_at(b) - _at(a), q.at_m - p.at_m)
        for (a, p), (b, q) in combinations(zip(needed, posts, strict=True), 2)
    ]
    mean = sum((there * wire.conjugate() for wire, there in sides), 0j)
    if not sides or abs(mean) < 1e-9:
        return None if sides else 1.0 + 0.0j
    turn = mean / abs(mean)
    bent = max(abs(cmath.phase(q / (p * turn))) for p, q in sides if abs(p) > 1e-6)
    return turn if math.degrees(bent) <= BENT_DEG else None


def _high_enough(needed: Sequence[Support], posts: Sequence[Post]) -> bool:
    """Whether all reach up, and no end comes within reach on its own ground."""
    levels = heights_over(posts)
    return all(
        need.height_m <= level + 1e-6
        and post.height_m - (level - need.height_m)
        >= min(need.height_m, OUT_OF_REACH_M) - 1e-6
        for need, level, post in zip(needed, levels, posts, strict=True)
    )


def _rigged(
    needed: Sequence[Support], posts: tuple[Post, ...], turn: complex
) -> Rigging:
    """Put a way to hold a wire together: its middle is put between the supports."""
    middle = sum((post.at_m for post in posts), 0j) / len(posts)
    centre = sum((_at(each) for each in needed), 0j) / len(needed)
    cords = tuple(
        math.hypot(
            abs(middle + (_at(need) - centre) * turn - post.at_m),
            level - need.height_m,
        )
        + post.height_m
        for need, level, post in zip(needed, heights_over(posts), posts, strict=True)
    )
    up = tuple(
        post.height_m - (level - need.height_m)
        for need, level, post in zip(needed, heights_over(posts), posts, strict=True)
    )
    if len(posts) < 2:
        return Rigging(posts, None, cords, up)
    bearing = -math.degrees(cmath.phase(turn)) % 360.0
    step = 1.0 if len(posts) == 2 else _STEP_DEG
    return Rigging(posts, float(round(bearing / step) * step % 360.0), cords, up)


def _at(support: Support) -> complex:
    """Put east and north of a support into one number."""
    return complex(support.east_m, support.north_m)


def best_rigging(
    needed: Sequence[Support], posts: Sequence[Post], bearing_deg: float | None
) -> Rigging | None:
    """
    Choose the supports for a wire on a bearing.

    Parameters
    ----------
    needed : sequence of Support
        What the wire needs.
    posts : sequence of Post
        Supports there are.
    bearing_deg : float or None
        Bearing it is to have; None for any. [deg]

    Returns
    -------
    way : Rigging or None
        That with the least cord; None if there is none.
    """
    for way in riggings(needed, posts):
        if None in (way.bearing_deg, bearing_deg) or way.bearing_deg == bearing_deg:
            return way
    return None
