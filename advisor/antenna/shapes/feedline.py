"""
The outside of a coaxial line: a wire that hangs from the feedpoint.

What flows inside the line stays inside. The shield's outer surface is joined to one
side of the feed and carries what it likes, unless a choke is in its way.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from advisor.antenna.shapes.parts import Conductor, HungWire
from advisor.antenna.wires import SAME_PLACE_M, Load, Wire
from geo.arrays import Floats

# How far a line is led aside on its way down, over its drop: common practice, no
# source.
_LEAN = 0.5

LYING_M = 0.02
"""How high a line lies on the ground: grass, and half its thickness. [m]"""

SHIELD = Conductor(0.00175, insulation_m=0.00075, insulation_eps_r=3.5)
"""Shield and PVC sheath of a line of 5 mm; others change little. From memory."""


def with_line(
    hung: HungWire,
    length_m: float,
    away_deg: float = 90.0,
    choke_ohm: float = 0.0,
    choke_at_m: float = 0.0,
) -> HungWire:
    """
    Hang the outside of a line on a feedpoint.

    It drops straight down, or aslant where a wire does, and goes on over the ground.
    Its other end is open: a radio that is not earthed.

    Parameters
    ----------
    hung : HungWire
        A shape as hung.
    length_m : float
        Length of the line, positive. [m]
    away_deg : float, optional
        Which way it lies, clockwise from the wire. [deg]
    choke_ohm : float, optional
        Resistance that a choke puts into the outside; 0 for no choke. [ohm]
    choke_at_m : float, optional
        Its distance from the feedpoint, 0 up to the length of the line. [m]

    Returns
    -------
    hung : HungWire
        With the line, which counts neither as wire nor as counterpoise.

    Examples
    --------
    >>> from advisor.antenna.shapes.registry import hang
    >>> dipole = hang("dipole", 14.1, {"height_m": 8.0, "sag_m": 0.0})
    >>> [round(piece.length_m, 2) for piece in with_line(dipole, 20.0).line]
    [7.98, 12.02]
    """
    feed, away = np.array(hung.feed_point_m), np.radians(away_deg)
    out = np.array([np.sin(away), np.cos(away), 0.0])
    way = _LEAN * out - [0.0, 0.0, 1.0] if _hangs_down(hung) else np.array([0, 0, -1.0])
    way /= np.linalg.norm(way)
    drop_m = min((feed[2] - LYING_M) / -way[2], length_m)
    foot, pieces = feed, []
    if drop_m > LYING_M:
        foot = feed + drop_m * way
        pieces.append(_piece(feed, foot))
    rest_m = length_m - max(drop_m, 0.0)
    if rest_m > LYING_M:
        pieces.append(_piece(foot, foot + rest_m * out))
    if not choke_ohm:
        return replace(hung, line=tuple(pieces))
    first = len(hung.wires) + len(hung.earth)
    at_m, place = choke_at_m, first
    for piece in pieces[:-1]:
        if at_m > piece.length_m:
            at_m, place = at_m - piece.length_m, place + 1
    at_m = min(at_m, pieces[place - first].length_m)
    choke = Load(place, at_m, choke_ohm)
    return replace(hung, line=tuple(pieces), loads=(*hung.loads, choke))


def _piece(start_m: Floats, end_m: Floats) -> Wire:
    (a, b, c), (d, e, f) = start_m.tolist(), end_m.tolist()
    return SHIELD.wire((a, b, c), (d, e, f), "feed line")


def _hangs_down(hung: HungWire) -> bool:
    """Whether a wire falls from the feedpoint, where the line would be in its way."""
    feed = np.array(hung.feed_point_m)
    return any(
        np.linalg.norm(feed - end) < SAME_PLACE_M and sense * wire.direction[2] < -0.9
        for wire in hung.wires + hung.earth
        for end, sense in ((wire.start_m, 1.0), (wire.end_m, -1.0))
    )
