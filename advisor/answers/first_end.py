"""Which end of a wire its bearing starts from, where the two ends differ."""

from __future__ import annotations

from collections.abc import Collection

from advisor.antenna.pattern import Pattern
from advisor.antenna.shapes.registry import settle
from advisor.station.setup import GROUND_MOUNTED, SetUp, lowest_mhz

_FED_FIRST = (
    "end-fed half-wave",
    "random wire",
    "inverted L",
    "half-square",
    "bottom-fed half-square",
)
"""Shapes fed at the end, the foot or the corner that their bearing starts from."""

_WITH_RADIALS = ("quarter-wave vertical", "half-wave vertical")

_MIDDLE = 0.5

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
    shape = setup.shape
    if shape in _FED_FIRST:
        return "fed end"
    if shape in _WITH_RADIALS:
        return "radial" if _sizes(setup)["radials_n"] == 1.0 else "first radial"
    if shape == "horizontal loop":
        return "fed corner"
    if shape == "free wire":
        return "its own south"
    if shape == GROUND_MOUNTED:
        return ""
    sizes = _sizes(setup)
    if shape == "sloper":
        high_m, low_m = sizes["high_m"], sizes["low_m"]
        return "" if high_m == low_m else "high end" if high_m > low_m else "low end"
    share = sizes.get("feed_share", _MIDDLE)
    if share == _MIDDLE:
        return ""
    return "end nearer the feed" if share < _MIDDLE else "end away from the feed"


def _sizes(setup: SetUp) -> dict[str, float]:
    """Fill in every dimension of a set-up that was left to its default."""
    mhz = lowest_mhz(setup, _ANY_MHZ)
    return settle(setup.shape, mhz, dict(setup.dimensions))
