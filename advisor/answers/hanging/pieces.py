"""
Wire and cord as they lie in the bag: what a shape takes, cut from pieces.

A part is cut whole from one piece: a joint up in the air is one more thing to break.
"""

from __future__ import annotations

import numpy as np

from advisor.antenna.shapes.parts import HungWire

_LEAST_M = 0.05


def parts_m(hung: HungWire) -> list[float]:
    """
    List the lengths a shape is cut into.

    Parameters
    ----------
    hung : HungWire
        A shape as hung.

    Returns
    -------
    parts_m : list of float
        From the feed to each end of its wire, or all of a loop; then counterpoise or
        each radial. [m]
    """
    own = hung.own_wires
    fed = hung.wires[hung.feed.wire]
    before = own[: own.index(fed)] if fed in own else ()
    at_m = sum(wire.length_m for wire in before) + hung.feed.at_m
    whole_m = sum(wire.length_m for wire in own)
    is_loop = np.allclose(own[0].start_m, own[-1].end_m, atol=1e-6)
    parts = [whole_m] if is_loop else [at_m, whole_m - at_m]
    parts += [wire.length_m for wire in hung.below_wires]
    return [part for part in parts if part > _LEAST_M]


def why_not_cut(parts: list[float], pieces: tuple[float, ...], what: str) -> str | None:
    """
    Say why parts cannot be cut from pieces.

    Parameters
    ----------
    parts : list of float
        Lengths needed. [m]
    pieces : tuple of float
        Lengths there are. [m]
    what : str
        What they are of.

    Returns
    -------
    reason : str or None
        None if each part can be cut from one piece, longest parts first, each from
        the shortest piece that still holds it.

    Examples
    --------
    >>> why_not_cut([5.1, 5.1], (6.0, 6.0), "wire")
    >>> why_not_cut([10.2, 3.0], (6.0, 9.0), "wire")
    '10.2 m and 3.0 m of wire cannot be cut from pieces of 6 m and 9 m'
    """
    left = sorted(pieces)
    for part in sorted(parts, reverse=True):
        place = next((k for k, m in enumerate(left) if m >= part - 1e-6), None)
        if place is None:
            needs = " and ".join(f"{each:.1f} m" for each in parts)
            there = " and ".join(f"{each:g} m" for each in pieces)
            return f"{needs} of {what} cannot be cut from pieces of {there}"
        left[place] -= part
        left.sort()
    return None
