"""
Open wires between supports: dipole, inverted V, sloper, doublet, end-fed, free.

As all shapes they run towards +y, bearing 0, from the end that is named first.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import numpy as np

from advisor.antenna.shapes import dimensions as size
from advisor.antenna.shapes import search
from advisor.antenna.shapes.parts import (
    LEAST_APEX_DEG,
    Conductor,
    HungWire,
    Support,
    against_radials,
    feed_along,
    path_length_m,
    path_wires,
    run_m,
    sagging,
)
from advisor.antenna.shapes.spec import ShapeSpec
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
    half = 0.5 * run_m(length_m, 0.0, sag_m)
    points = sagging((0.0, -half, height_m), (0.0, half, height_m), sag_m)
    return _between_two(points, length_m * feed_share, conductor)


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
    run = run_m(0.5 * length_m, apex_m - end_m, sag_m)
    apex_deg = 2.0 * math.degrees(math.atan2(run, abs(apex_m - end_m)))
    if apex_deg < LEAST_APEX_DEG:
        raise InputError(
            f"the halves meet at {apex_deg:.0f} degrees at the top and "
            f"must open to {LEAST_APEX_DEG:g} or more; lower the apex, raise the "
            "ends or take a longer wire"
        )
    top = (0.0, 0.0, apex_m)
    first = sagging((0.0, -run, end_m), top, sag_m)
    points = first + sagging(top, (0.0, run, end_m), sag_m)[1:]
    wires = path_wires(points, conductor)
    supports = (
        Support("apex", 0.0, 0.0, apex_m),
        Support("first end", 0.0, -run, end_m),
        Support("second end", 0.0, run, end_m),
    )
    feed = Source(len(first) - 2, wires[len(first) - 2].length_m)
    return HungWire(wires, feed, supports, length_m)


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
    run = run_m(length_m, high_m - low_m, sag_m)
    points = sagging((0.0, 0.0, high_m), (0.0, run, low_m), sag_m)
    return _between_two(points, 0.5 * length_m, conductor)


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
    run = run_m(length_m, end_height_m - feed_height_m, sag_m)
    points = sagging((0.0, 0.0, feed_height_m), (0.0, run, end_height_m), sag_m)
    supports = (
        Support("fed end", 0.0, 0.0, feed_height_m),
        Support("far end", 0.0, run, end_height_m),
    )
    return against_radials(points, supports, 1, counterpoise_m, conductor)


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
            f"{len(points_m)} points do not make a wire; give two or more "
            "as east, north and up in metres"
        )
    if not np.isfinite(np.asarray(points_m, dtype=np.float64)).all():
        raise InputError("a point is not three finite numbers of metres")
    supports = tuple(
        Support(f"point {number}", *point)
        for number, point in enumerate(points_m, start=1)
    )
    if feed_share == 0.0:
        return against_radials(points_m, supports, 1, counterpoise_m, conductor)
    wires = path_wires(points_m, conductor)
    length_m = path_length_m(points_m)
    feed = feed_along(wires, feed_share * length_m)
    return HungWire(wires, feed, supports, length_m)


def _between_two(
    points: Sequence[Point], feed_at_m: float, conductor: Conductor
) -> HungWire:
    """Wires held at both ends, fed somewhere along."""
    wires = path_wires(points, conductor)
    rise_m = points[0][2] - points[-1][2]
    first, second = ("first end", "second end")
    if rise_m != 0.0:
        first, second = ("high end", "low end")[:: 1 if rise_m > 0.0 else -1]
    supports = (Support(first, *points[0]), Support(second, *points[-1]))
    return HungWire(
        wires, feed_along(wires, feed_at_m), supports, path_length_m(points)
    )


def _higher_end(sizes: Mapping[str, float]) -> str:
    """Name the first end of a sloper, which may be given upside down."""
    high_m, low_m = sizes["high_m"], sizes["low_m"]
    return "" if high_m == low_m else "high end" if high_m > low_m else "low end"


def _short_doublet(at_hand: search.AtHand, low_m: float) -> tuple[float, float]:
    """Range of lengths that go between the supports."""
    least_m, longest_m = search.any_length(at_hand, low_m)
    apart_m = at_hand.apart_m
    return least_m, min(0.95 * apart_m, longest_m) if apart_m else longest_m


def _as_low_as_may_be(at_hand: search.AtHand, clear_m: float) -> list[search.Sizes]:
    """From as low as may be, and level if there are two supports."""
    top, pair = at_hand.heights_m[0], at_hand.pair_m
    tried = [{"end_height_m": top, "feed_height_m": clear_m}]
    if len(at_hand.heights_m) > 1:
        tried.append({"end_height_m": top, "feed_height_m": pair})
    return tried


_LEVEL = {
    "height_m": size.height("height of both ends", size.fixed(10.0)),
    "sag_m": size.sag(0.02, "height_m"),
    "feed_share": size.feed_share("where it is fed; 0.5 is the middle", 0.05, 0.95),
}
_IF_TOO_LONG = "an inverted V does, or a wire with hanging ends"
_END_FED = {
    "feed_height_m": size.foot("height of feedpoint and counterpoise", 0.5),
    "end_height_m": size.height(
        "height of the far end",
        lambda sizes: min(
            max(8.0, sizes["feed_height_m"]),
            sizes["feed_height_m"] + 0.7 * sizes["length_m"],
        ),
    ),
    "sag_m": size.sag(0.02, "feed_height_m", "end_height_m"),
}
_END_FED_SEARCHED = {
    "feed_height_m": search.to_pair,
    "length_m": search.any_length,
}

SHAPES: dict[str, ShapeSpec] = {
    "dipole": ShapeSpec(
        dipole,
        {"length_m": size.metres("whole length", 0.481), **_LEVEL},
        "level wire between two supports, fed in or off its middle",
        is_centre_fed=True,
        if_too_long=_IF_TOO_LONG,
        synonyms=(
            "half wave dipole",
            "horizontal dipole",
            "flat dipole",
            "flat top",
            "linked dipole",
        ),
        starts=search.level,
    ),
    "inverted V": ShapeSpec(
        inverted_v,
        {
            "length_m": size.metres("whole length", 0.482),
            "apex_m": size.height(
                "height of the middle", size.over("end_m", 10.0, 0.25)
            ),
            "end_m": size.height("height of both ends", size.lower_end("apex_m", 0.25)),
            "sag_m": size.sag(0.02, "apex_m", "end_m"),
        },
        "wire held up by its middle, both halves sloping down",
        top="apex_m",
        slope=("apex_m", "end_m"),
        is_centre_fed=True,
        synonyms=("vee", "v", "inv v", "inv vee", "inverted vee", "linked v"),
        starts=search.sloping("apex_m", "end_m"),
        searched={"end_m": search.to_top},
    ),
    "sloper": ShapeSpec(
        sloper,
        {
            "length_m": size.metres("whole length", 0.481),
            "high_m": size.height(
                "height of the upper end", size.over("low_m", 12.0, 0.69)
            ),
            "low_m": size.height(
                "height of the lower end", size.lower_end("high_m", 0.69)
            ),
            "sag_m": size.sag(0.02, "high_m", "low_m"),
        },
        "half-wave wire from a high point down to a low one, fed in its middle",
        top="high_m",
        slope=("high_m", "low_m"),
        is_centre_fed=True,
        first_end=_higher_end,
        synonyms=("sloping dipole", "slope"),
        starts=search.sloping("high_m", "low_m"),
        searched={"low_m": search.to_top},
    ),
    "doublet": ShapeSpec(
        dipole,
        {"length_m": size.metres("whole length", 0.5), **_LEVEL},
        "level wire of any length for many bands, fed through open wire and tuner",
        line="open-wire 450",
        is_resonant=False,
        is_centre_fed=True,
        if_too_long=_IF_TOO_LONG,
        synonyms=("ladder line dipole", "open wire dipole"),
        starts=search.level,
        least_waves=0.25,
        searched={"length_m": _short_doublet},
    ),
    "end-fed half-wave": ShapeSpec(
        end_fed,
        {
            "length_m": size.metres("length of the wire", 0.464),
            **_END_FED,
            "counterpoise_m": size.counterpoise(size.times("length_m", 0.1)),
        },
        "half-wave wire fed at one end against a short counterpoise",
        transformer="49:1",
        least_waves=0.44,
        top="end_height_m",
        is_resonant=False,
        first_end="fed end",
        synonyms=("efhw", "end fed", "endfed", "half wave end fed"),
        starts=_as_low_as_may_be,
        searched=_END_FED_SEARCHED,
    ),
    "random wire": ShapeSpec(
        end_fed,
        {
            "length_m": size.metres("length of the wire", 0.42),
            **_END_FED,
            "counterpoise_m": size.counterpoise(size.times("length_m", 0.24)),
        },
        "wire of no resonant length, fed at one end against a counterpoise",
        transformer="9:1",
        least_waves=0.2,
        is_resonant=False,
        top="end_height_m",
        first_end="fed end",
        synonyms=("end fed", "endfed", "efrw", "rw", "long wire", "longwire"),
        starts=_as_low_as_may_be,
        searched=_END_FED_SEARCHED,
    ),
    "free wire": ShapeSpec(
        free_wire,
        {
            "feed_share": size.feed_share(
                "where it is fed, from the first point", 0.0, 0.95
            ),
            "counterpoise_m": size.counterpoise(lambda sizes: 0.05 * sizes.wave_m),
        },
        "any wire, point by point",
        takes_points=True,
        is_resonant=False,
        top="",
        first_end="its own south",
    ),
}
"""Its shapes by name."""
