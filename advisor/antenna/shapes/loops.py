"""
Shapes of closed wires: one function each, from dimensions to a `HungWire`.

As in `advisor.antenna.shapes.open`, where the open wires are, all run towards +y.
"""

from __future__ import annotations

import math

import numpy as np

from advisor.antenna.shapes.parts import (
    LEAST_APEX_DEG,
    LEAST_HEIGHT_M,
    Conductor,
    HungWire,
    Support,
    check_clear,
    path_wires,
    whole_number,
)
from advisor.antenna.wires import Point, Source
from geo.errors import InputError


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
    wires = path_wires([*points, points[0]], conductor, "loop")
    check_clear("horizontal loop", wires, LEAST_HEIGHT_M)
    supports = tuple(
        Support(f"corner {number}", *point)
        for number, point in enumerate(points, start=1)
    )
    return HungWire("horizontal loop", wires, Source(0, 0.0), supports, length_m)


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
            f"delta loop: {length_m:.2f} m round from {base_m:g} m up to {apex_m:g} m "
            f"opens by {max(apex_deg, 0.0):.0f} degrees at the top and must open by "
            f"{LEAST_APEX_DEG:g} or more; set the apex above the base, lower it, or "
            "take a longer wire"
        )
    south, north = (0.0, -0.5 * side, base_m), (0.0, 0.5 * side, base_m)
    apex = (0.0, 0.0, apex_m)
    wires = path_wires([south, north, apex, south], conductor, "delta loop")
    check_clear("delta loop", wires, LEAST_HEIGHT_M)
    supports = (
        Support("apex", 0.0, 0.0, apex_m),
        Support("south corner", 0.0, -0.5 * side, base_m),
        Support("north corner", 0.0, 0.5 * side, base_m),
    )
    return HungWire(
        "delta loop", wires, Source(0, feed_share * side), supports, length_m
    )
