"""
Closed wires: horizontal loop, delta loop.

As all shapes they run towards +y, bearing 0, from the end that is named first.
"""

from __future__ import annotations

import math

import numpy as np

from advisor.antenna.shapes import dimensions as size
from advisor.antenna.shapes import search
from advisor.antenna.shapes.parts import (
    LEAST_APEX_DEG,
    Conductor,
    HungWire,
    Support,
    path_wires,
    whole_number,
)
from advisor.antenna.shapes.spec import ShapeSpec
from advisor.antenna.wires import Point, Source
from geo.errors import InputError

_LEAST_SIDE_DEG = 20.0
"""Sides of a triangle rise by this at least, or its base pulls the corners down and its
halves cancel: common practice, no source. [deg]"""

# Rise over length of a triangle with equal sides, a little flattened.
_RISE = 0.279

# The same where the sides rise by no more than they must, and a little for rounding.
_LEAST_RISE = 0.01 + 0.5 * math.tan(math.radians(0.5 * _LEAST_SIDE_DEG))


def horizontal_loop(
    *, length_m: float, height_m: float, corners_n: float, conductor: Conductor
) -> HungWire:
    """
    Hang a level loop with equal sides, fed at its south corner.

    Parameters
    ----------
    length_m : float
        Length all round. [m]
    height_m : float
        Height. [m]
    corners_n : float
        Number of corners, whole: 3, 4 or more. [1]
    conductor : Conductor
        What it is made of.

    Returns
    -------
    hung : HungWire
        Wires round the origin, from the south corner eastwards.
    """
    corners = whole_number("corners_n", corners_n)
    circle_m = length_m / (2.0 * corners * math.sin(math.pi / corners))
    turn = math.pi - 2.0 * math.pi * np.arange(corners) / corners
    points: list[Point] = [
        (float(circle_m * np.sin(a)), float(circle_m * np.cos(a)), height_m)
        for a in turn
    ]
    wires = path_wires([*points, points[0]], conductor)
    supports = tuple(
        Support(f"corner {number}", *point)
        for number, point in enumerate(points, start=1)
    )
    return HungWire(wires, Source(0, 0.0), supports, length_m)


def delta_loop(
    *,
    length_m: float,
    apex_m: float,
    base_m: float,
    feed_share: float,
    conductor: Conductor,
) -> HungWire:
    """
    Hang a triangle by one corner, its base level below.

    Parameters
    ----------
    length_m : float
        Length all round. [m]
    apex_m, base_m : float
        Heights of the upper corner and of the base. [m]
    feed_share : float
        Where the base is fed: 0.5 in the middle (horizontal polarisation), 0 at
        its south corner (mostly vertical). [1]
    conductor : Conductor
        What it is made of.

    Returns
    -------
    hung : HungWire
        Wires from the south corner north along the base, up and back.

    Raises
    ------
    geo.errors.InputError
        If the loop is too short for the heights, or the base comes too low.
    """
    rise = apex_m - base_m
    side = (length_m**2 - 4.0 * rise**2) / (2.0 * length_m)
    apex_deg = 2.0 * math.degrees(math.atan2(0.5 * side, rise))
    if rise <= 0.0 or apex_deg < LEAST_APEX_DEG:
        raise InputError(
            f"{length_m:.2f} m round from {base_m:g} m up to {apex_m:g} m "
            f"opens by {max(apex_deg, 0.0):.0f} degrees at the top and must open by "
            f"{LEAST_APEX_DEG:g} or more; set the apex above the base, lower it, or "
            "take a longer wire"
        )
    south, north = (0.0, -0.5 * side, base_m), (0.0, 0.5 * side, base_m)
    apex = (0.0, 0.0, apex_m)
    wires = path_wires([south, north, apex, south], conductor)
    supports = (
        Support("apex", 0.0, 0.0, apex_m),
        Support("south corner", 0.0, -0.5 * side, base_m),
        Support("north corner", 0.0, 0.5 * side, base_m),
    )
    return HungWire(wires, Source(0, feed_share * side), supports, length_m)


def _corners(at_hand: search.AtHand, _: float) -> list[search.Sizes]:
    """Level loop: four corners or three, as high as so many supports hold them."""
    there = at_hand.heights_m
    return [
        {"height_m": there[min(corners, len(there)) - 1], "corners_n": float(corners)}
        for corners in ((4, 3) if len(there) > 3 else (3,))
    ]


def _by_the_apex(at_hand: search.AtHand, clear_m: float) -> list[search.Sizes]:
    """Triangle: apex at the top, fed in the middle of its base or at a corner."""
    top = at_hand.heights_m[0]
    bases: list[search.Sizes] = [{}, {"base_m": clear_m}]
    return [
        {"apex_m": top, **base, "feed_share": share}
        for base in bases
        for share in (0.5, 0.0)
    ]


def _apex(sizes: size.Settling) -> float:
    """As high as the sides reach over the base, or as people have if they rise so."""
    base_m, length_m = sizes.given("base_m") or 2.5, sizes["length_m"]
    rise_m = min(_RISE * length_m, size.USUAL_TOP_M - base_m)
    return base_m + max(rise_m, _LEAST_RISE * length_m)


def _base(sizes: size.Settling) -> float:
    """Low, or as far under an apex that was given as the sides reach."""
    if sizes.given("apex_m") is None:
        return 2.5
    return size.lower_end("apex_m", _RISE)(sizes)


def _low_base(at_hand: search.AtHand, low_m: float) -> tuple[float, float]:
    """Range of a base that leaves room for the sides."""
    return low_m, 0.6 * at_hand.heights_m[0]


SHAPES: dict[str, ShapeSpec] = {
    "horizontal loop": ShapeSpec(
        horizontal_loop,
        {
            "length_m": size.metres("length all round", 1.04),
            "height_m": size.height("height", size.fixed(8.0)),
            "corners_n": size.Dimension(
                "1", size.fixed(4.0), 3.0, 12.0, "number of corners"
            ),
        },
        "level loop of one wave round, fed at a corner",
        transformer="4:1",
        first_end="fed corner",
        synonyms=("loop", "sky loop", "skyloop", "square loop"),
        starts=_corners,
    ),
    "delta loop": ShapeSpec(
        delta_loop,
        {
            "length_m": size.metres("length all round", 1.04),
            "apex_m": size.height("height of the upper corner", _apex),
            "base_m": size.height("height of the base", _base),
            "feed_share": size.feed_share("where the base is fed", 0.0, 1.0),
        },
        "triangle of one wave round, held by one corner, fed in its base",
        top="apex_m",
        least_rise_deg=_LEAST_SIDE_DEG,
        synonyms=("loop", "delta"),
        starts=_by_the_apex,
        searched={"base_m": _low_base},
    ),
}
"""Its shapes by name."""
