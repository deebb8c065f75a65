"""
What is at hand to hang a wire with, what a search may change, where it begins.

Geometry only. A range takes what is at hand and the least height; what a search starts
with takes the same and gives dimensions to set, whether they fit or not. Each entry of
a shape names those it goes by; what only one shape needs stands beside it.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from itertools import combinations
from typing import Any

import numpy as np

from advisor.antenna.shapes.places import (
    HIGHEST_SUPPORT_M,
    LOWEST_SUPPORT_M,
    Post,
    checked_posts,
    pair_heights,
)
from geo.arrays import Bools, Floats
from geo.errors import InputError
from geo.fields import record

MOST_SUPPORTS = 12
MOST_WIRE_M = 2000.0
MOST_PIECES = 20

Sizes = dict[str, float]
"""Dimensions that are given, by name."""

_LEVELS = 4
"""A level wire is tried at so many heights, each as high as some pair holds it."""

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
        Distance from one support to the next; None if they can be put anywhere. Of
        supports with a place, the greatest. [m]
    wire_m : float or None
        Wire in all, counterpoise and radials too; None for enough. [m]
    free_deg : tuple of (float, float)
        Sectors of azimuth, from and to clockwise from true north, in which the wire
        may run; empty for all round. [deg]
    posts : tuple of Post
        Supports that stand in a place of their own; empty if none is given.
    pieces_m : tuple of float
        Pieces of wire, if there are several; empty for one. [m]
    cords_m : tuple of float
        Pieces of cord; empty for enough. [m]

    Raises
    ------
    geo.errors.InputError
        If a number is not possible.
    """

    heights_m: tuple[float, ...]
    apart_m: float | None = None
    wire_m: float | None = None
    free_deg: tuple[tuple[float, float], ...] = ()
    posts: tuple[Post, ...] = ()
    pieces_m: tuple[float, ...] = ()
    cords_m: tuple[float, ...] = ()

    @classmethod
    def standing(cls, posts: Sequence[Post], **more: Any) -> AtHand:
        """
        Take supports that stand in a place of their own.

        Parameters
        ----------
        posts : sequence of Post
            The supports.
        **more
            What else is at hand.

        Returns
        -------
        at_hand : AtHand
            What there is.
        """
        gaps = [one.away_m(other) for one, other in combinations(posts, 2)]
        heights = tuple(post.height_m for post in posts)
        there = checked_posts(posts)
        return cls(heights, max(gaps, default=None), posts=there, **more)

    def __post_init__(self) -> None:
        if not 1 <= len(self.heights_m) <= MOST_SUPPORTS:
            raise InputError(
                f"{len(self.heights_m)} supports: give the height of 1 to "
                f"{MOST_SUPPORTS}, each with --support, or --pole-m if it can be put "
                "anywhere"
            )
        for height in self.heights_m:
            _between("a support", height, LOWEST_SUPPORT_M, HIGHEST_SUPPORT_M)
        object.__setattr__(
            self, "heights_m", tuple(sorted(self.heights_m, reverse=True))
        )
        if self.apart_m is not None:
            _between("the distance between supports", self.apart_m, 0.5, 600.0)
        if self.wire_m is not None:
            _between("the wire at hand", self.wire_m, 1.0, MOST_WIRE_M)
        for what, pieces in (("wire", self.pieces_m), ("cord", self.cords_m)):
            if len(pieces) > MOST_PIECES:
                raise InputError(
                    f"{len(pieces)} pieces of {what}: give {MOST_PIECES} at most"
                )
            for piece in pieces:
                _between(f"a piece of {what}", piece, 0.5, MOST_WIRE_M)

    @property
    def levels_m(self) -> list[float]:
        """Heights at which two of the supports hold a level wire, highest first."""
        if self.posts:
            return pair_heights(self.posts)
        return [self.heights_m[min(1, len(self.heights_m) - 1)]]

    @property
    def pair_m(self) -> float:
        """Height at which two supports hold a level wire; that of the only one."""
        return self.levels_m[0]

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


def level(at_hand: AtHand, _: float) -> list[Sizes]:
    """
    Try a level wire as high as two supports hold it.

    Parameters
    ----------
    at_hand : AtHand
        Supports, wire and space.
    _ : float
        Height to keep, which plays no part. [m]

    Returns
    -------
    starts : list of dict
        Highest first. [m]
    """
    return [{"height_m": height} for height in at_hand.levels_m[:_LEVELS]]


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
