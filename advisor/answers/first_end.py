"""Which end of a wire its bearing starts from, where the two ends differ."""

from __future__ import annotations

from collections.abc import Collection

from advisor.antenna.pattern import Pattern
from advisor.antenna.shapes.registry import SHAPES, settle
from advisor.station.setup import SetUp, lowest_mhz

# Names of ends do not depend on the band; lengths left to their defaults do.
_ANY_MHZ = 7.0


def first_end(setup: SetUp, patterns: Collection[Pattern]) -> str:
    """
    Name the end of a wire that its bearing starts from.

    Every shape is made running towards azimuth 0 from its first end, so the bearing
    points from that end along the wire.

    Parameters
    ----------
    setup : SetUp
        The set-up.
    patterns : collection of Pattern
        Its pattern on each band it works on.

    Returns
    -------
    end : str
        Such as ``fed end`` or ``high end``; empty where the wire may run either way,
        or has no bearing.
    """
    if all(each.is_reversible for each in patterns):
        return ""
    return end_of_shape(setup)


def end_of_shape(setup: SetUp) -> str:
    """
    Name the first end of a wire by its shape alone.

    Parameters
    ----------
    setup : SetUp
        The set-up.

    Returns
    -------
    end : str
        Empty for shapes whose ends are alike.

    Examples
    --------
    >>> end_of_shape(SetUp("wire", "sloper", ("40 m",)))
    'high end'
    >>> end_of_shape(SetUp("wire", "dipole", ("40 m",)))
    ''
    """
    end = SHAPES[setup.shape].first_end
    if isinstance(end, str):
        return end
    mhz = lowest_mhz(setup, _ANY_MHZ)
    return end(settle(setup.shape, mhz, dict(setup.dimensions)))
