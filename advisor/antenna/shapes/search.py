"""
What is at hand to hang a wire with, what a search may change, where it begins.

Geometry only. A range takes what is at hand and the least height; what a search starts
with takes the same and gives dimensions to set, whether they fit or not. Each entry of
a shape names those it goes by; what only one shape needs stands beside it.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np

from geo.arrays import Bools, Floats
from geo.errors import InputError
from geo.fields import record

MOST_SUPPORTS = 12
HIGHEST_SUPPORT_M = 60.0
MOST_WIRE_M = 2000.0

Sizes = dict[str, float]
"""Dimensions that are given, by name."""

LADDER = (1.0, 0.65, 0.4)
"""Shares of the height there is that a level wire is first tried at."""

_SAG_ROOM_M = 0.5
"""So much over the least height a level wire is hung, to sag in. [m]"""

FEED_SHARE = (0.1, 0.5)
"""Range of places of a feed along a wire, up to its middle. [1]"""

_LONGEST_M = 200.0


@record
class AtHand:
    """
    Supports, wire and space there are.

    Attributes
    ----------
    heights_m : tuple of float
        Height of every support, highest first. [m]
    apart_m : float or None
        Distance from one support to the next; None if they can be put anywhere.
        [m]
    wire_m : float or None
        Wire in all, counterpoise and radials too; None for enough. [m]
    free_deg : tuple of (float, float)
        Sectors of azimuth, from and to clockwise from true north, in which the wire
        may run; empty for all round. [deg]

    Raises
    ------
    geo.errors.InputError
        If a number is not possible.
    """

    heights_m: tuple[float, ...]
    apart_m: float | None = None
    wire_m: float | None = None
    free_deg: tuple[tuple[float, float], ...] = ()

    def __post_init__(self) -> None:
        if not 1 <= len(self.heights_m) <= MOST_SUPPORTS:
            raise InputError(
                f"{len(self.heights_m)} supports: give the height of 1 to "
                f"{MOST_SUPPORTS}, each with --pole-m"
            )
        for height in self.heights_m:
            _between("a support", height, 1.0, HIGHEST_SUPPORT_M)
        object.__setattr__(
            self, "heights_m", tuple(sorted(self.heights_m, reverse=True))
        )
        if self.apart_m is not None:
            _between("the distance between supports", self.apart_m, 0.5, 500.0)
        if self.wire_m is not None:
            _between("the wire at hand", self.wire_m, 1.0, MOST_WIRE_M)

    @property
    def pair_m(self) -> float:
        """Height at which two supports hold a level wire; that of the only one."""
        return self.heights_m[min(1, len(self.heights_m) - 1)]

    def may_point(self, azimuth_deg: Floats) -> Bools:
        """
        Say whether directions lie in the free sectors.

        Parameters
        ----------
        azimuth_deg : numpy.ndarray
            Directions, any number of turns. [deg]

        Returns
        -------
        free : numpy.ndarray of bool
            Ends of a sector are free.

        Examples
        --------
        >>> AtHand((9.0,), free_deg=((300.0, 60.0),)).may_point(np.array([0.0, 90.0]))
        array([ True, False])
        """
        azimuth = np.asarray(azimuth_deg, dtype=float)
        if not self.free_deg:
            return np.ones(azimuth.shape, dtype=bool)
        inside = [
            (azimuth - first) % 360.0 <= (last - first) % 360.0 + 1e-9
            for first, last in self.free_deg
        ]
        return np.asarray(np.any(inside, axis=0))


def free_sector(text: str) -> tuple[float, float]:
    """
    Read a free sector.

    Parameters
    ----------
    text : str
        Two azimuths with a hyphen between, clockwise, such as ``300-60``. [deg]

    Returns
    -------
    sector : tuple of float
        From and to. [deg]

    Raises
    ------
    geo.errors.InputError
        If it is not two azimuths, or the sector is empty.

    Examples
    --------
    >>> free_sector("300-60")
    (300.0, 60.0)
    """
    try:
        first, last = (float(part) for part in text.split("-"))
    except ValueError:
        first = last = math.nan
    if not (0.0 <= first <= 360.0 and 0.0 <= last <= 360.0 and first != last):
        raise InputError(
            f"free sector '{text}' is not two different azimuths of 0 to 360 degrees, "
            "clockwise with a hyphen between, such as 300-60"
        )
    return first, last


def _between(what: str, value: float, low: float, high: float) -> None:
    """Refuse a length that no site has."""
    if not low <= value <= high:
        raise InputError(f"{what} of {value:g} m is outside {low:g} to {high:g} m")


Range = tuple[float, float] | Callable[[AtHand, float], tuple[float, float]]
"""Ends of a range, or from what is at hand and the least height to them."""

Starts = Callable[[AtHand, float], list[Sizes]]
"""From what is at hand and the least height to dimensions to try."""


def to_pair(at_hand: AtHand, low_m: float) -> tuple[float, float]:
    """
    Range up to where two supports hold it.

    Parameters
    ----------
    at_hand : AtHand
        Supports, wire and space.
    low_m : float
        Least height. [m]

    Returns
    -------
    range_m : tuple of float
        Its ends. [m]
    """
    return low_m, at_hand.pair_m


def to_top(at_hand: AtHand, low_m: float) -> tuple[float, float]:
    """
    Range up to the highest support.

    Parameters
    ----------
    at_hand : AtHand
        Supports, wire and space.
    low_m : float
        Least height. [m]

    Returns
    -------
    range_m : tuple of float
        Its ends. [m]
    """
    return low_m, at_hand.heights_m[0]


def any_length(at_hand: AtHand, _: float) -> tuple[float, float]:
    """
    Range of lengths of a wire of which there may be so much.

    Parameters
    ----------
    at_hand : AtHand
        Supports, wire and space.
    _ : float
        Least height, which plays no part. [m]

    Returns
    -------
    range_m : tuple of float
        Its ends. [m]
    """
    return 2.0, min(at_hand.wire_m or _LONGEST_M, _LONGEST_M)


def level(at_hand: AtHand, clear_m: float) -> list[Sizes]:
    """
    Try a level wire at several heights up to the lower of two supports.

    Parameters
    ----------
    at_hand : AtHand
        Supports, wire and space.
    clear_m : float
        Height to keep. [m]

    Returns
    -------
    starts : list of dict
        Highest first. [m]
    """
    pair = at_hand.pair_m
    least_m = min(pair, clear_m + _SAG_ROOM_M)
    return [{"height_m": round(max(pair * share, least_m), 1)} for share in LADDER]


def sloping(upper: str, lower: str) -> Starts:
    """
    Try a wire that slopes from the top, down to several heights.

    Parameters
    ----------
    upper, lower : str
        Dimensions that are the heights of its ends.

    Returns
    -------
    starts : callable
        Gives the steepest last.
    """

    def tried(at_hand: AtHand, clear_m: float) -> list[Sizes]:
        top = at_hand.heights_m[0]
        ends = [
            {upper: top, lower: round(max(top * share, clear_m), 1)}
            for share in (0.75, 0.5, 0.25)
        ]
        return [{upper: top}, *ends]

    return tried
