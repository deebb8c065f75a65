"""
What a list in a station file may be: points of wires, parts on them, the horizon.

Each check takes what a file or an option held, as those of `advisor.station.checks` do.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from advisor.station.checks import Check, number, shown
from geo.errors import InputError


def points(value: Any) -> tuple[tuple[float, float, float], ...]:
    """
    Accept a list of points in space.

    Parameters
    ----------
    value : object
        What came.

    Returns
    -------
    points_m : tuple of tuple of float
        East, north and up of each, within 1 km. [m]

    Raises
    ------
    InputError
        If it is not a list of at least two such points.
    """
    coordinate = number(-1000.0, 1000.0, "m")
    return tuple(
        (coordinate(east), coordinate(north), coordinate(up))
        for east, north, up in _lists(value, ("east", "north", "up"), "metres")
    )


def parts(**allowed: Check) -> Check:
    """
    Make a check for a list of parts, each a list of figures.

    Parameters
    ----------
    **allowed : callable
        By name of the figure, what it may be, in their order.

    Returns
    -------
    check : callable
        Returns a tuple of tuples.

    Examples
    --------
    >>> parts(at=number(0.0, 10.0, "m"), henry=number(0.0, 1.0, "H"))([[5, 0.1]])
    ((5.0, 0.1),)
    """

    def check(value: Any) -> tuple[tuple[float, ...], ...]:
        return tuple(
            tuple(
                one(figure) for one, figure in zip(allowed.values(), each, strict=True)
            )
            for each in _lists(value, tuple(allowed), "its order", least=1)
        )

    return check


def _lists(
    value: Any, names: tuple[str, ...], unit: str, *, least: int = 2
) -> Iterator[list[Any] | tuple[Any, ...]]:
    """Read a list of lists, each of what the names say."""
    form = f"[{', '.join(names)}]"
    if not isinstance(value, list | tuple) or len(value) < least:
        what = "at least two points as" if least > 1 else "a list of one or more"
        raise InputError(
            f"{shown(value)} is not allowed: give {what} [{form}, ...] in {unit}"
        )
    for point in value:
        if not isinstance(point, list | tuple) or len(point) != len(names):
            raise InputError(
                f"{shown(point)} is not allowed: give {len(names)} numbers, {form} in "
                f"{unit}"
            )
        yield point


def skyline(value: Any) -> tuple[tuple[float, float], ...]:
    """
    Accept a skyline: elevation of the horizon by azimuth.

    Parameters
    ----------
    value : object
        What came.

    Returns
    -------
    horizon_deg : tuple of (float, float)
        Azimuth and elevation of each point, by rising azimuth. [deg]

    Raises
    ------
    InputError
        If it is not a list of at least two such points in order.

    Examples
    --------
    >>> skyline([[0, 3], [180, 12.5]])
    ((0.0, 3.0), (180.0, 12.5))
    """
    azimuth = number(0.0, 360.0, "deg from true north, the first of each pair")
    elevation = number(0.0, 60.0, "deg above the horizon, the second of each pair")
    found: list[tuple[float, float]] = []
    for point in _lists(value, ("azimuth", "elevation"), "degrees"):
        found.append((azimuth(point[0]), elevation(point[1])))
        if len(found) > 1 and found[-1][0] <= found[-2][0]:
            raise InputError(
                f"azimuth {found[-1][0]:g} comes after {found[-2][0]:g}: put the "
                "points in order of rising azimuth"
            )
    if found[-1][0] - found[0][0] == 360.0:
        raise InputError("azimuths 0 and 360 are one direction: give one of them")
    return tuple(found)


def slopes(value: Any) -> tuple[tuple[float, float, float], ...]:
    """
    Accept points of the ground around a place.

    Parameters
    ----------
    value : object
        What came.

    Returns
    -------
    points : tuple of (float, float, float)
        Azimuth, distance and height over the ground at the place. [deg], [m], [m]

    Raises
    ------
    InputError
        If it is not a list of such points, or one is there twice.

    Examples
    --------
    >>> slopes([[0, 200, -40], [180, 100, 5]])
    ((0.0, 200.0, -40.0), (180.0, 100.0, 5.0))
    """
    kinds = (
        number(0.0, 359.999, "deg from true north, the first of each point"),
        number(1.0, 100_000.0, "m away, the second of each point"),
        number(-5000.0, 5000.0, "m over the ground at the place, the third"),
    )
    found = tuple(
        tuple(kind(each) for kind, each in zip(kinds, point, strict=True))
        for point in _lists(
            value, ("azimuth", "distance", "height"), "deg, m, m", least=1
        )
    )
    if len({point[:2] for point in found}) < len(found):
        raise InputError("two points are at the same azimuth and distance: give one")
    return found
