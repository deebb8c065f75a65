"""
What a wire is fed against, in touch with soil: a stake, radials lying or buried.

Shapes hang counterpoise and radials level with the feedpoint; here they are led down.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

from advisor.antenna.shapes.parts import HungWire
from advisor.antenna.wires import Point, Wire
from geo.errors import InputError

STAKE_RADIUS_M = 0.006
"""Half the thickness of a usual earth stake: common practice, no source. [m]"""


def with_earth(
    hung: HungWire, radials_at_m: float | None = None, stake_m: float = 0.0
) -> HungWire:
    """
    Lead what a wire is fed against down to the soil or into it.

    Parameters
    ----------
    hung : HungWire
        A shape fed against a counterpoise or radials, as hung.
    radials_at_m : float, optional
        Height that these go at, negative in the ground. Left out, they stay where they
        hang, or give way to the stake. [m]
    stake_m : float, optional
        How deep a stake goes in under the feedpoint; 0 for none. [m]

    Returns
    -------
    hung : HungWire
        With the way down and the stake apart from its other wires.

    Raises
    ------
    geo.errors.InputError
        If it is not fed against such wires, they would be led up, or the stake ends
        above buried radials.

    Examples
    --------
    >>> from advisor.antenna.shapes.registry import hang
    >>> mast = hang("quarter-wave vertical", 7.1, {"radials_n": 8.0})
    >>> sunk = with_earth(mast, radials_at_m=-0.05, stake_m=1.5)
    >>> sunk.lowest_m, sunk.earth[-1].end_m
    (-0.05, (0.0, 0.0, -1.5))
    """
    below = hung.below_wires
    if not below:
        raise InputError(
            "radials_at_m and stake_m are for wires fed against a counterpoise or "
            "radials; leave them out"
        )
    if radials_at_m is not None and radials_at_m < 0.0 < stake_m <= -radials_at_m:
        raise InputError(
            f"a stake of {stake_m:g} m ends above radials {-radials_at_m:g} m under "
            "the ground; make it longer"
        )
    east, north, up = hung.feed_point_m
    if radials_at_m is not None and radials_at_m > up:
        raise InputError(
            f"radials_at_m of {radials_at_m:g} m is above the feedpoint at {up:g} m, "
            "from which they are led down; lower it or raise the feedpoint"
        )
    kept: tuple[Wire, ...] = () if radials_at_m is None and stake_m else below
    stops = {-stake_m} if stake_m else set()
    if radials_at_m is not None:
        stops.add(radials_at_m)
        kept = tuple(_moved(wire, radials_at_m) for wire in below)
    if min(stops, default=up) < 0.0:
        stops.add(0.0)
    heights = [up, *sorted((stop for stop in stops if stop < up), reverse=True)]
    way: list[Wire] = []
    for high, low in pairwise(heights):
        start: Point = (east, north, high)
        piece = replace(below[0], start_m=start, end_m=(east, north, low), name="")
        if low < 0.0 and stake_m and low < (radials_at_m or 0.0):
            piece = replace(piece, radius_m=STAKE_RADIUS_M, insulation_m=0.0)
        way.append(piece)
    return replace(hung, wires=(*hung.own_wires, *kept), earth=tuple(way))


def _moved(wire: Wire, up_m: float) -> Wire:
    """Put a level wire at another height."""
    return replace(
        wire, start_m=(*wire.start_m[:2], up_m), end_m=(*wire.end_m[:2], up_m)
    )
