"""
Wires that are one wire turned about an upright axis: solved as one.

A feed on the axis drives all turns alike, so that one of them stands for all: every
equation is a sum over the turns of its other side, and nothing is left out.
"""

from __future__ import annotations

import numpy as np

from advisor.antenna.wires import SAME_PLACE_M, Wire, WireModel
from geo.arrays import Ints

# Directions that differ by less are one. [rad]
_ALIKE_RAD = 1e-9


def first_of_turns(model: WireModel) -> Ints:
    """
    Find for each wire the first of those that are itself, turned about the axis.

    Parameters
    ----------
    model : WireModel
        Wires, feeds and loads.

    Returns
    -------
    first : numpy.ndarray
        Shape (number of wires,), an index; a wire's own where it is no other's turn,
        as all are unless feeds and loads stand on one upright axis and every wire
        off it points at it and has equally many equals all round.

    Examples
    --------
    >>> from advisor.antenna.wires import Source
    >>> tips = [(0, 5, 1), (5, 0, 1), (0, -5, 1), (-5, 0, 1)]
    >>> radials = [Wire((0, 0, 1), tip, 0.001) for tip in tips]
    >>> mast = Wire((0, 0, 1), (0, 0, 6), 0.001)
    >>> first_of_turns(WireModel((mast, *radials), (Source(0, 0.025),))).tolist()
    [0, 1, 1, 1, 1]
    """
    alone = np.arange(len(model.wires))
    start, end = (
        np.array([ends[:2] for ends in each]) @ [1.0, 1j]
        for each in zip(*((w.start_m, w.end_m) for w in model.wires), strict=True)
    )
    axis = start[next(model.ports())[0].wire]
    inner, outer = np.abs(start - axis), np.abs(end - axis)
    upright = np.maximum(inner, outer) < SAME_PLACE_M * 1e-3
    if not all(upright[port.wire] for port, _ in model.ports()):
        return alone
    turns: dict[tuple[object, ...], list[int]] = {}
    for index, wire in enumerate(model.wires):
        if not upright[index]:
            key = _key(wire, float(inner[index]), float(outer[index]))
            turns.setdefault(key, []).append(index)
    first = alone.copy()
    count = len(next(iter(turns.values()), ()))
    for members in turns.values():
        far = np.where(outer > inner, end, start)[members] - axis
        near = np.where(outer > inner, start, end)[members] - axis
        step = 2.0 * np.pi / len(members)
        bearing = np.angle(far / far[0]) + _ALIKE_RAD
        bearing = np.sort(bearing % (2.0 * np.pi)) - _ALIKE_RAD
        even = np.abs(bearing - step * np.arange(len(members))).max() < _ALIKE_RAD
        aslant = np.abs(np.imag(near * np.conj(far))) / np.abs(far)
        if len(members) != count or not even or aslant.max() > SAME_PLACE_M * 1e-3:
            return alone
        first[members] = members[0]
    return first


def _key(wire: Wire, inner_m: float, outer_m: float) -> tuple[object, ...]:
    """Gather what turns of one wire have in common."""
    ends = np.rint(np.array([inner_m, outer_m, wire.start_m[2], wire.end_m[2]]) / 1e-9)
    made = (wire.radius_m, wire.conductivity_s_m)
    return (*ends.tolist(), *made, wire.insulation_m, wire.insulation_eps_r)
