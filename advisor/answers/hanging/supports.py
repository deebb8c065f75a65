"""
What fits the supports, wire and space at hand.

Geometry only, no sky.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from advisor.answers.hanging.pieces import parts_m, why_not_cut
from advisor.answers.hanging.posts import riggings
from advisor.answers.low_wires import OUT_OF_REACH_M, low_parts
from advisor.antenna.shapes.parts import LEAST_HEIGHT_M, LIGHT_M_MHZ, HungWire, Support
from advisor.antenna.shapes.registry import SHAPES
from advisor.antenna.shapes.search import AtHand, Sizes
from advisor.engine.wires import hung_wire
from advisor.station.bands import Band
from advisor.station.setup import EACH_BAND, SetUp, build_set_up
from geo.arrays import Floats
from geo.errors import InputError

CORD_REACH_M = 15.0
"""A wire that slopes down may end on a cord that goes on to a stake, if the stake
stands no further out than this: common practice, no source. [m]"""

LEAST_SLOPE_DEG = 10.0
"""And if it slopes by this much: common practice, no source. Flatter ones hang through:
40 m of 2 mm copper (28 g/m) with 0.8 m of sag pull with 70 N, w L^2 / (8 s), as much as
a stake in turf takes by hand. [deg]"""

LEVEL_DEG, LONGEST_LEVEL_M = 5.0, 40.0
"""A wire that rises from a stake by less than this angle may be no longer than this: a
longer one, as above, would pull the stake over. Common practice, no source. [deg, m]"""

LOW_M = 2.0
"""Up to here a lower end needs a stake and no support: common practice, no source. The
upper end, and both of a level wire, need supports however low they hang. [m]"""

# Supports no further apart in height than this are equally high. [m]
_SAME_HEIGHT_M = 1e-3


def tied_off(hung: HungWire) -> dict[str, float]:
    """
    Find the lower ends that a cord to a stake can hold.

    Parameters
    ----------
    hung : HungWire
        A shape as hung.

    Returns
    -------
    cords_m : dict of str to float
        Name of the support that is not needed, and the length of the cord that goes
        on down the slope of the wire; 0 where the rest of a longer wire does. [m]
    """
    cords = dict.fromkeys(hung.on_rest, 0.0)
    for low in hung.supports:
        if low.name in cords:
            continue
        above = [s for s in hung.supports if s.height_m > low.height_m + 1e-6]
        if not above:
            continue
        from_m = min(above, key=lambda high, low=low: _apart_m(high, low))  # type: ignore[misc]
        out_m = _apart_m(from_m, low)
        slope = (from_m.height_m - low.height_m) / max(out_m, 1e-9)
        stake_m = low.height_m / slope
        steep = math.degrees(math.atan(slope)) >= LEAST_SLOPE_DEG
        if steep and stake_m <= CORD_REACH_M:
            cords[low.name] = math.hypot(stake_m, low.height_m)
    return cords


def poles_needed(hung: HungWire) -> tuple[Support, ...]:
    """
    List the supports a shape needs, highest first.

    Parameters
    ----------
    hung : HungWire
        A shape as hung.

    Returns
    -------
    needed : tuple of Support
        The highest, others as high, and those above 2 m that no cord to a stake can
        stand in for.

    Examples
    --------
    A level wire needs two supports, as low as it may hang.

    >>> from advisor.antenna.shapes.registry import hang
    >>> [s.name for s in poles_needed(hang("dipole", 14.2, {"height_m": 2.0}))]
    ['first end', 'second end']
    """
    cords = tied_off(hung)
    top_m = max((s.height_m for s in hung.supports), default=0.0)
    needed = [
        s
        for s in hung.supports
        if s.name not in cords
        and (s.height_m > LOW_M or s.height_m > top_m - _SAME_HEIGHT_M)
    ]
    return tuple(sorted(needed, key=lambda s: -s.height_m))


def stakes(hung: HungWire) -> tuple[Support, ...]:
    """
    List the low ends that a stake holds.

    Parameters
    ----------
    hung : HungWire
        A shape as hung.

    Returns
    -------
    stakes : tuple of Support
        Those of up to 2 m that are neither tied off nor count as supports.
    """
    held = {*tied_off(hung), *(s.name for s in poles_needed(hung))}
    return tuple(s for s in hung.supports if s.name not in held)


def wire_used_m(hung: HungWire) -> float:
    """
    Length of all wire in a shape.

    Parameters
    ----------
    hung : HungWire
        A shape as hung.

    Returns
    -------
    length_m : float
        Counterpoise and radials too. [m]
    """
    return sum(wire.length_m for wire in hung.wires)


def why_not(hung: HungWire, at_hand: AtHand, clear_m: float = 0.0) -> str | None:
    """
    Say why a shape does not fit what is at hand.

    Parameters
    ----------
    hung : HungWire
        A shape as hung.
    at_hand : AtHand
        Supports, wire and space.
    clear_m : float, optional
        Height that live ends and wires that do not stand upright must keep. [m]

    Returns
    -------
    reason : str or None
        The first thing that is in the way; None if it fits.
    """
    needed = poles_needed(hung)
    given = at_hand.heights_m
    if len(needed) > len(given):
        there = "there is 1" if len(given) == 1 else f"there are {len(given)}"
        flat = any(s.height_m < needed[0].height_m - _SAME_HEIGHT_M for s in needed)
        why = ", as its ends slope too little to be held by cord," if flat else ""
        return f"needs {len(needed)} supports{why} and {there}"
    # On a slope a top may reach further over the ground between than over its own.
    is_level = not any(post.ground_m for post in at_hand.posts)
    for support, height_m in zip(needed, given, strict=False):
        if is_level and support.height_m > height_m + 1e-6:
            return (
                f"needs {support.height_m:.1f} m of height at the {support.name} and "
                f"the support left for it has {height_m:.1f} m"
            )
    used_m = wire_used_m(hung)
    if at_hand.wire_m is not None and used_m > at_hand.wire_m + 1e-6:
        return f"takes {used_m:.1f} m of wire and {at_hand.wire_m:.1f} m is there"
    if at_hand.pieces_m:
        uncut = why_not_cut(parts_m(hung), at_hand.pieces_m, "wire")
        if uncut is not None:
            return uncut
    if at_hand.apart_m is not None and len(needed) > 1:
        for one in needed:
            nearest = min(_apart_m(one, other) for other in needed if other != one)
            if nearest > at_hand.apart_m + 1e-6:
                return _too_long(hung, nearest, at_hand.apart_m)
    if at_hand.posts and not riggings(needed, at_hand.posts):
        heights = " and ".join(sorted({f"{s.height_m:.1f} m" for s in needed}))
        if len(needed) == 1:
            return f"none of the supports holds it {heights} up"
        return f"no {len(needed)} of the supports stand so as to hold it {heights} up"
    if at_hand.cords_m:
        uncut = why_not_cut(cords_needed(hung, at_hand), at_hand.cords_m, "cord")
        if uncut is not None:
            return uncut
    for stake in stakes(hung):
        rise_deg, run_m = _rise(stake, needed)
        if rise_deg < LEVEL_DEG and run_m > LONGEST_LEVEL_M:
            return (
                f"would run {run_m:.0f} m almost level from a stake at the "
                f"{stake.name}, and needs a support there"
            )
    least_rise_deg = SHAPES[hung.shape].least_rise_deg
    if least_rise_deg and _flattest_deg(hung) < least_rise_deg:
        return (
            f"its sides would rise by {_flattest_deg(hung):.0f} degrees only, too flat "
            "a triangle for its corners to stay up"
        )
    # A wire at head height is told of in any case; what is live must be the higher.
    keep_m = max(clear_m, LEAST_HEIGHT_M)
    parts = [
        part
        for part in low_parts(hung)
        if part.is_live or clear_m >= OUT_OF_REACH_M or part.height_m < LEAST_HEIGHT_M
    ]
    low = min(parts, key=lambda part: part.height_m, default=None)
    if low is not None and low.height_m < keep_m - 1e-6:
        return (
            f"its {low.what} would come down to {low.height_m:.1f} m; it is to keep "
            f"{keep_m:g} m, as it can on some band"
        )
    return None


def cords_needed(hung: HungWire, at_hand: AtHand) -> list[float]:
    """
    List the cords that hold a wire up.

    Parameters
    ----------
    hung : HungWire
        A shape as hung.
    at_hand : AtHand
        Supports there are.

    Returns
    -------
    cords_m : list of float
        One a support, from its foot up and out to the wire, then one a stake. [m]
    """
    needed = poles_needed(hung)
    ways = riggings(needed, at_hand.posts)
    held = ways[0].cords_m if ways else [each.height_m for each in needed]
    return [*held, *(cord for cord in tied_off(hung).values() if cord > 0.0)]


def _flattest_deg(hung: HungWire) -> float:
    """Slope from the lower corners of a triangle up to its upper one."""
    top = max(hung.supports, key=lambda s: s.height_m)
    return min(_rise(s, (top,))[0] for s in hung.supports if s is not top)


def _rise(low: Support, others: Sequence[Support]) -> tuple[float, float]:
    """Angle from a support up to the nearest of others, and distance on the ground."""
    near = min(others, key=lambda one: _apart_m(low, one))
    run_m = _apart_m(low, near)
    return math.degrees(math.atan2(near.height_m - low.height_m, run_m)), run_m


def _too_long(hung: HungWire, spans_m: float, apart_m: float) -> str:
    """Say that a wire does not go between the supports, and what does."""
    instead = SHAPES[hung.shape].if_too_long
    if instead:
        return (
            f"{hung.length_m:.1f} m of {hung.shape} do not go between supports "
            f"{apart_m:.1f} m apart; {instead}"
        )
    return f"spans {spans_m:.1f} m and the supports are {apart_m:.1f} m apart"


def _apart_m(one: Support, other: Support) -> float:
    """Distance on the ground."""
    return math.hypot(one.east_m - other.east_m, one.north_m - other.north_m)


def reasons_by_band(
    shape: str,
    sizes: Sizes,
    bands: Sequence[Band],
    at_hand: AtHand,
    tuner: bool,
    clear_m: float = 0.0,
) -> dict[str, str | None]:
    """
    Say for each band whether a shape with some dimensions fits.

    Parameters
    ----------
    shape : str
        Its name.
    sizes : dict of str to float
        Dimensions given; the others take their defaults.
    bands : sequence of Band
        Bands asked about.
    at_hand : AtHand
        Supports, wire and space.
    tuner : bool
        Whether there is a tuner at the radio.
    clear_m : float, optional
        Height that live ends and wires that do not stand upright must keep. [m]

    Returns
    -------
    reasons : dict of str to (str or None)
        By band name: None if it fits, else the reason why not.
    """
    reasons: dict[str, str | None] = {}
    hung: HungWire | None = None
    longest: tuple[str, ...] = ()
    for band in bands:
        try:
            setup = set_up(shape, sizes, (*longest, band.name), tuner)
            if setup.cut == EACH_BAND or hung is None:
                hung = hung_wire(setup, band.planning_mhz)
                why = why_not(hung, at_hand, clear_m)
                if why is None and not bearings_for(hung, at_hand).size:
                    why = "no bearing lies in the free sectors"
        except InputError as error:
            reasons[band.name] = str(error).removeprefix(f"{shape}: ")
        else:
            # One length hangs the same on every band.
            reasons[band.name] = why or _too_short(hung, band)
            if reasons[band.name] is None and not longest:
                # What is linked for the other bands is a part of this.
                longest = (band.name,)
    return reasons


def _too_short(hung: HungWire, band: Band) -> str | None:
    """Say that a wire of one length is too short to be hung for a band."""
    least_m = SHAPES[hung.shape].least_waves * LIGHT_M_MHZ / band.planning_mhz
    if hung.length_m >= least_m:
        return None
    return (
        f"{hung.length_m:.1f} m of {hung.shape} are too short; it is hung with "
        f"{least_m:.1f} m or more there"
    )


def set_up(shape: str, sizes: Sizes, bands: tuple[str, ...], tuner: bool) -> SetUp:
    """
    Make a set-up as a station file would hold it.

    Parameters
    ----------
    shape : str
        Its name, which is also that of the set-up.
    sizes : dict of str to float
        Dimensions given.
    bands : tuple of str
        Bands it is used on.
    tuner : bool
        Whether there is a tuner at the radio.

    Returns
    -------
    setup : SetUp
        Free to turn.

    Raises
    ------
    geo.errors.InputError
        If a dimension is out of its limits.
    """
    values = {"name": shape, "shape": shape, "tuner": tuner, **sizes}
    return build_set_up(values, bands)


def bearings_for(hung: HungWire, at_hand: AtHand) -> Floats:
    """
    List the bearings a wire may run on.

    Parameters
    ----------
    hung : HungWire
        The wire at bearing 0.
    at_hand : AtHand
        Holds the free sectors.

    Returns
    -------
    bearing_deg : numpy.ndarray
        Those allowed, where the supports have places the lines between them. Of two
        supports or more, the line between the two furthest
        apart must lie in a sector, either way along; with one support every part of
        the wire must, as seen from it. Radials and counterpoise lie anywhere. [deg]
    """
    tried = np.arange(0.0, 360.0, 5.0)
    needed = poles_needed(hung)
    if is_held(hung, at_hand):
        ways = riggings(needed, at_hand.posts)
        tried = np.unique([w.bearing_deg for w in ways if w.bearing_deg is not None])
    away = _directions_deg(hung)
    if not away:
        return tried
    free = at_hand.may_point(tried[:, None] + np.array(away))
    if len(needed) > 1:
        return tried[free.any(axis=1)]
    return tried[free.all(axis=1)]


def is_held(hung: HungWire, at_hand: AtHand) -> bool:
    """
    Say whether the places of supports leave a wire a few bearings only.

    Parameters
    ----------
    hung : HungWire
        A shape as hung.
    at_hand : AtHand
        Supports there are.

    Returns
    -------
    is_held : bool
        Whether it needs two or more of supports that stand in places of their own.
    """
    return bool(at_hand.posts) and len(poles_needed(hung)) > 1


def _directions_deg(hung: HungWire) -> list[float]:
    """Directions in which a wire leaves its support or joins its supports."""
    needed = poles_needed(hung)
    if len(needed) > 1:
        pairs = [(a, b) for a in needed for b in needed if a is not b]
        a, b = max(pairs, key=lambda pair: _apart_m(*pair))
        line = math.degrees(math.atan2(b.east_m - a.east_m, b.north_m - a.north_m))
        return [line, line + 180.0]
    centre = needed[0] if needed else max(hung.supports, key=lambda s: s.height_m)
    found = []
    for wire in hung.own_wires:
        for east, north, _ in (wire.start_m, wire.end_m):
            offset = (east - centre.east_m, north - centre.north_m)
            if math.hypot(*offset) > 1.0:
                found.append(round(math.degrees(math.atan2(*offset)), 3))
    return sorted(set(found))
