"""
Shapes of open wires: one small function each, from dimensions to a `HungWire`.

All run towards +y, bearing 0. `advisor.antenna.shapes.registry` names them and holds
their defaults and limits; closed ones are in `advisor.antenna.shapes.loops`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from advisor.antenna.shapes.parts import (
    LEAST_APEX_DEG,
    LEAST_HEIGHT_M,
    LEAST_RADIAL_HEIGHT_M,
    Conductor,
    HungWire,
    Support,
    check_clear,
    feed_along,
    path_length_m,
    path_wires,
    radials,
    run_m,
    sagging,
    whole_number,
)
from advisor.antenna.wires import Point, Source
from geo.errors import InputError


def dipole(
    *,
    length_m: float,
    height_m: float,
    sag_m: float,
    feed_share: float,
    conductor: Conductor,
) -> HungWire:
    """
    Hang a level wire between two supports, fed in or off its middle.

    Parameters
    ----------
    length_m : float
        Whole length. [m]
    height_m : float
        Height of both ends. [m]
    sag_m : float
        How far the middle is lower. [m]
    feed_share : float
        Where it is fed, as a share of the length; 0.5 is the middle. [1]
    conductor : Conductor
        What it is made of.

    Returns
    -------
    hung : HungWire
        Wires from south to north, the middle over the origin.

    Raises
    ------
    geo.errors.InputError
        If the sag does not fit the length or brings the wire to the ground.
    """
    half = 0.5 * run_m(length_m, 0.0, sag_m, "dipole")
    points = sagging((0.0, -half, height_m), (0.0, half, height_m), sag_m)
    return _between_two("dipole", points, length_m * feed_share, conductor)


def inverted_v(
    *, length_m: float, apex_m: float, end_m: float, sag_m: float, conductor: Conductor
) -> HungWire:
    """
    Hang a wire by its middle, both halves sloping down, fed at the top.

    Parameters
    ----------
    length_m : float
        Whole length. [m]
    apex_m : float
        Height of the middle. [m]
    end_m : float
        Height of both ends. [m]
    sag_m : float
        Sag in the middle of each half. [m]
    conductor : Conductor
        What it is made of.

    Returns
    -------
    hung : HungWire
        Wires from south to north, the apex over the origin.

    Raises
    ------
    geo.errors.InputError
        If the halves are too short for the height or too steep.
    """
    run = run_m(0.5 * length_m, apex_m - end_m, sag_m, "inverted V")
    apex_deg = 2.0 * math.degrees(math.atan2(run, abs(apex_m - end_m)))
    if apex_deg < LEAST_APEX_DEG:
        raise InputError(
            f"inverted V: the halves meet at {apex_deg:.0f} degrees at the top and "
            f"must open to {LEAST_APEX_DEG:g} or more; lower the apex, raise the "
            "ends or take a longer wire"
        )
    top = (0.0, 0.0, apex_m)
    first = sagging((0.0, -run, end_m), top, sag_m)
    points = first + sagging(top, (0.0, run, end_m), sag_m)[1:]
    wires = path_wires(points, conductor, "inverted V")
    check_clear("inverted V", wires, LEAST_HEIGHT_M)
    supports = (
        Support("apex", 0.0, 0.0, apex_m),
        Support("south end", 0.0, -run, end_m),
        Support("north end", 0.0, run, end_m),
    )
    feed = Source(len(first) - 2, wires[len(first) - 2].length_m)
    return HungWire("inverted V", wires, feed, supports, length_m)


def sloper(
    *, length_m: float, high_m: float, low_m: float, sag_m: float, conductor: Conductor
) -> HungWire:
    """
    Hang a wire from a high point down to a low one, fed in its middle.

    Parameters
    ----------
    length_m : float
        Whole length. [m]
    high_m, low_m : float
        Heights of the two ends. [m]
    sag_m : float
        Sag in the middle. [m]
    conductor : Conductor
        What it is made of.

    Returns
    -------
    hung : HungWire
        Wires from the high end over the origin down towards the north.

    Raises
    ------
    geo.errors.InputError
        If the wire is too short for the heights or comes too low.
    """
    run = run_m(length_m, high_m - low_m, sag_m, "sloper")
    points = sagging((0.0, 0.0, high_m), (0.0, run, low_m), sag_m)
    return _between_two("sloper", points, 0.5 * length_m, conductor)


def end_fed(
    *,
    length_m: float,
    feed_height_m: float,
    end_height_m: float,
    sag_m: float,
    counterpoise_m: float,
    conductor: Conductor,
) -> HungWire:
    """
    Hang a straight wire fed at one end against a counterpoise.

    The counterpoise runs level from the feedpoint, away from the wire; a line
    without a choke does the same work with its outside.

    Parameters
    ----------
    length_m : float
        Length of the wire. [m]
    feed_height_m, end_height_m : float
        Heights of the feedpoint and of the far end. [m]
    sag_m : float
        Sag in the middle. [m]
    counterpoise_m : float
        Length of the counterpoise. [m]
    conductor : Conductor
        What both are made of.

    Returns
    -------
    hung : HungWire
        Wires from the feedpoint over the origin towards the north, then the
        counterpoise.

    Raises
    ------
    geo.errors.InputError
        If the wire is too short for the heights or comes too low.
    """
    run = run_m(length_m, end_height_m - feed_height_m, sag_m, "end-fed wire")
    points = sagging((0.0, 0.0, feed_height_m), (0.0, run, end_height_m), sag_m)
    supports = (
        Support("fed end", 0.0, 0.0, feed_height_m),
        Support("far end", 0.0, run, end_height_m),
    )
    return _against_radials(
        "end-fed wire", points, supports, 1, counterpoise_m, conductor
    )


def inverted_l(
    *,
    length_m: float,
    height_m: float,
    feed_height_m: float,
    sag_m: float,
    radials_n: float,
    radial_m: float,
    conductor: Conductor,
) -> HungWire:
    """
    Hang a wire that goes straight up and then level, fed at its foot.

    Parameters
    ----------
    length_m : float
        Length from foot to tip. [m]
    height_m : float
        Height of the level part. [m]
    feed_height_m : float
        Height of the foot and of the radials. [m]
    sag_m : float
        Sag of the level part. [m]
    radials_n : float
        Number of radials, whole. [1]
    radial_m : float
        Length of each. [m]
    conductor : Conductor
        What all is made of.

    Returns
    -------
    hung : HungWire
        Wires from the foot up over the origin and north, then the radials.

    Raises
    ------
    geo.errors.InputError
        If the wire is too short to reach its corner.
    """
    level_m = length_m - (height_m - feed_height_m)
    if height_m <= feed_height_m or level_m <= 0.0:
        raise InputError(
            f"inverted L: {length_m:.2f} m of wire from {feed_height_m:g} m up to "
            f"{height_m:g} m leaves {max(level_m, 0.0):.2f} m for the level part; "
            "lower the corner, raise it above the foot, or take a longer wire"
        )
    run = run_m(level_m, 0.0, sag_m, "inverted L")
    corner = (0.0, 0.0, height_m)
    points = [(0.0, 0.0, feed_height_m), *sagging(corner, (0.0, run, height_m), sag_m)]
    supports = (
        Support("corner", 0.0, 0.0, height_m),
        Support("far end", 0.0, run, height_m),
    )
    return _against_radials(
        "inverted L", points, supports, radials_n, radial_m, conductor
    )


def vertical(
    *,
    length_m: float,
    feed_height_m: float,
    radials_n: float,
    radial_m: float,
    conductor: Conductor,
) -> HungWire:
    """
    Put up a straight vertical wire, fed at its foot against radials.

    Parameters
    ----------
    length_m : float
        Length of the vertical. [m]
    feed_height_m : float
        Height of its foot and of the radials. [m]
    radials_n : float
        Number of radials, whole. [1]
    radial_m : float
        Length of each. [m]
    conductor : Conductor
        What all is made of.

    Returns
    -------
    hung : HungWire
        The vertical over the origin, then the radials.
    """
    top_m = feed_height_m + length_m
    points = [(0.0, 0.0, feed_height_m), (0.0, 0.0, top_m)]
    supports = (Support("top", 0.0, 0.0, top_m),)
    return _against_radials(
        "vertical", points, supports, radials_n, radial_m, conductor
    )


def half_square(
    *,
    length_m: float,
    top_m: float,
    height_m: float,
    sag_m: float,
    conductor: Conductor,
) -> HungWire:
    """
    Hang a level top with both ends hanging straight down, fed at a top corner.

    Parameters
    ----------
    length_m : float
        Whole length; what the top leaves hangs down in two equal ends. [m]
    top_m : float
        Length of the top. [m]
    height_m : float
        Height of both corners. [m]
    sag_m : float
        Sag of the top. [m]
    conductor : Conductor
        What it is made of.

    Returns
    -------
    hung : HungWire
        Wires from the south end up, over and down; the feed is in the top, at its
        south corner.

    Raises
    ------
    geo.errors.InputError
        If there is nothing left to hang, or it reaches too far down.
    """
    points, supports = _three_sides("half-square", length_m, top_m, height_m, sag_m)
    wires = path_wires(points, conductor, "half-square")
    check_clear("half-square", wires, LEAST_HEIGHT_M)
    return HungWire("half-square", wires, Source(1, 0.0), supports, length_m)


def bottom_fed_half_square(
    *,
    length_m: float,
    top_m: float,
    height_m: float,
    sag_m: float,
    counterpoise_m: float,
    conductor: Conductor,
) -> HungWire:
    """
    Hang a level top with both ends hanging down, fed at the foot of one end.

    Parameters
    ----------
    length_m : float
        Whole length; what the top leaves hangs down in two equal ends. [m]
    top_m : float
        Length of the top. [m]
    height_m : float
        Height of both corners. [m]
    sag_m : float
        Sag of the top. [m]
    counterpoise_m : float
        Length of the level counterpoise at the foot. [m]
    conductor : Conductor
        What it is made of.

    Returns
    -------
    hung : HungWire
        Wires from the fed south end up, over and down, then the counterpoise.

    Raises
    ------
    geo.errors.InputError
        If there is nothing left to hang, or it reaches too far down.
    """
    name = "bottom-fed half-square"
    points, supports = _three_sides(name, length_m, top_m, height_m, sag_m)
    return _against_radials(name, points, supports, 1, counterpoise_m, conductor)


def free_wire(
    points_m: Sequence[Point],
    *,
    feed_share: float,
    counterpoise_m: float,
    conductor: Conductor,
) -> HungWire:
    """
    Take a wire as it hangs, from point to point.

    Parameters
    ----------
    points_m : sequence of tuple of float
        East, north and up of two points or more. [m]
    feed_share : float
        Where it is fed, as a share of its length from the first point. 0 is the
        end and takes a counterpoise. [1]
    counterpoise_m : float
        Length of a level counterpoise at the first point, towards the south; used
        only if the feed is there. [m]
    conductor : Conductor
        What it is made of.

    Returns
    -------
    hung : HungWire
        Wires in the order of the points. Every point above 2 m needs a support.

    Raises
    ------
    geo.errors.InputError
        If there are too few points, one is not finite, or one is too low.
    """
    if len(points_m) < 2:
        raise InputError(
            f"free wire: {len(points_m)} points do not make a wire; give two or more "
            "as east, north and up in metres"
        )
    if not np.isfinite(np.asarray(points_m, dtype=np.float64)).all():
        raise InputError("free wire: a point is not three finite numbers of metres")
    supports = tuple(
        Support(f"point {number}", *point)
        for number, point in enumerate(points_m, start=1)
    )
    if feed_share == 0.0:
        return _against_radials(
            "free wire", points_m, supports, 1, counterpoise_m, conductor
        )
    wires = path_wires(points_m, conductor, "free wire")
    check_clear("free wire", wires, LEAST_HEIGHT_M)
    length_m = path_length_m(points_m)
    feed = feed_along(wires, feed_share * length_m)
    return HungWire("free wire", wires, feed, supports, length_m)


def _between_two(
    name: str, points: Sequence[Point], feed_at_m: float, conductor: Conductor
) -> HungWire:
    """Wires held at both ends, fed somewhere along."""
    wires = path_wires(points, conductor, name)
    check_clear(name, wires, LEAST_HEIGHT_M)
    rise_m = points[0][2] - points[-1][2]
    first, second = ("first end", "second end")
    if rise_m != 0.0:
        first, second = ("high end", "low end")[:: 1 if rise_m > 0.0 else -1]
    supports = (Support(first, *points[0]), Support(second, *points[-1]))
    return HungWire(
        name, wires, feed_along(wires, feed_at_m), supports, path_length_m(points)
    )


def _against_radials(
    name: str,
    points: Sequence[Point],
    supports: tuple[Support, ...],
    count: float,
    length_m: float,
    conductor: Conductor,
) -> HungWire:
    """Wires fed at their first point against level wires that start there."""
    wires = path_wires(points, conductor, name)
    below = radials(points[0], whole_number("radials_n", count), length_m, conductor)
    check_clear(name, below, LEAST_RADIAL_HEIGHT_M)
    # The foot may be as low as its radials, the rest of the wire may not.
    check_clear(name, wires, min(points[0][2], LEAST_HEIGHT_M))
    return HungWire(
        name, wires + below, Source(0, 0.0), supports, path_length_m(points)
    )


def _three_sides(
    name: str, length_m: float, top_m: float, height_m: float, sag_m: float
) -> tuple[list[Point], tuple[Support, ...]]:
    """Points and supports of a level top with two ends hanging straight down."""
    end_m = 0.5 * (length_m - top_m)
    if end_m <= 0.0:
        raise InputError(
            f"{name}: a top of {top_m:.2f} m leaves nothing of {length_m:.2f} m "
            "of wire to hang down; shorten the top"
        )
    foot_m = height_m - end_m
    if foot_m < LEAST_HEIGHT_M - 1e-9:
        raise InputError(
            f"{name}: ends of {end_m:.2f} m hang down to {foot_m:.2f} m above ground "
            f"and must keep {LEAST_HEIGHT_M:g} m; raise the top to "
            f"{end_m + LEAST_HEIGHT_M:.2f} m, or lengthen it to "
            f"{top_m + 2.0 * (LEAST_HEIGHT_M - foot_m):.2f} m"
        )
    half = 0.5 * run_m(top_m, 0.0, sag_m, name)
    first, second = (0.0, -half, height_m), (0.0, half, height_m)
    points = [
        (0.0, -half, foot_m),
        *sagging(first, second, sag_m),
        (0.0, half, foot_m),
    ]
    return points, (Support("first corner", *first), Support("second corner", *second))
