"""
Lines and areas on the sphere cut for flat maps, where longitudes end at 180 degrees.

What crosses the antimeridian becomes two or more parts, each within -180 to 180
degrees, with a point on the cut in both; what goes over a pole follows the edge of the
flat map. Points are taken to be joined by straight lines in longitude and latitude, so
they should lie close together.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike

from geo.arrays import Floats
from geo.sphere import wrap_lon_deg

Part = Floats
"""Shape (N, 2): longitude and latitude of the points of one part. [deg]"""

_POLE_DEG = 1e-5
"""Closer than this a point is the pole, whose longitude says nothing. [deg]"""

_SAME_DEG = 1e-9
_TURN_DEG = 360.0
_DECIMALS = 6
"""Digits kept: a tenth of a metre."""


def cut_line(lon_deg: ArrayLike, lat_deg: ArrayLike) -> tuple[Part, ...]:
    """
    Cut a line at the antimeridian.

    Parameters
    ----------
    lon_deg, lat_deg : array_like
        Shape (N,), its points. [deg]

    Returns
    -------
    parts : tuple of numpy.ndarray
        Shape (N, 2) each, longitude first, in the order of the line. A part of one
        point is left out. [deg]

    References
    ----------
    RFC 7946, section 3.1.9.

    Examples
    --------
    >>> [part.tolist() for part in cut_line([170.0, -170.0], [0.0, 10.0])]
    [[[170.0, 0.0], [180.0, 5.0]], [[-180.0, 5.0], [-170.0, 10.0]]]
    """
    lon = wrap_lon_deg(np.asarray(lon_deg, dtype=float))
    lat = np.asarray(lat_deg, dtype=float)
    parts: list[list[tuple[float, float]]] = [[]]
    for i, (x, y) in enumerate(zip(lon.tolist(), lat.tolist(), strict=True)):
        if _is_pole(y):
            # Up along one meridian, down along another.
            pole = float(np.copysign(90.0, y))
            if parts[-1]:
                parts[-1].append((parts[-1][-1][0], pole))
            parts.append([])
            if i + 1 < lon.size:
                parts[-1].append((float(lon[i + 1]), pole))
            continue
        if parts[-1]:
            x0, y0 = parts[-1][-1]
            step = x - x0
            if abs(step) > 0.5 * _TURN_DEG:
                side = float(np.copysign(180.0, x0 if x0 else -x))
                whole = _TURN_DEG - abs(step)
                share = (180.0 - abs(x0)) / whole if whole else 0.0
                cut = y0 + share * (y - y0)
                parts[-1].append((side, cut))
                parts.append([(-side, cut)])
        parts[-1].append((x, y))
    tidy = (_tidy(part) for part in parts)
    return tuple(part for part in tidy if len(part) > 1)


def cut_area(lon_deg: ArrayLike, lat_deg: ArrayLike) -> tuple[Part, ...]:
    """
    Cut an area at the antimeridian and open it at a pole it holds.

    Parameters
    ----------
    lon_deg, lat_deg : array_like
        Shape (N,), its outline, seen from above with the area on the left. The first
        point need not be repeated. [deg]

    Returns
    -------
    parts : tuple of numpy.ndarray
        Shape (N, 2) each, longitude first: closed outlines that run counterclockwise
        on the flat map. Parts without an area are left out. [deg]

    Raises
    ------
    ValueError
        If the area holds both poles or is more than the flat map can show as areas
        without holes.

    References
    ----------
    RFC 7946, sections 3.1.6 and 3.1.9.

    Examples
    --------
    >>> for part in cut_area([170, -170, -170, 170], [0, 0, 9, 9]):
    ...     print(part.tolist())
    [[180.0, 9.0], [170.0, 9.0], [170.0, 0.0], [180.0, 0.0], [180.0, 9.0]]
    [[-180.0, 0.0], [-170.0, 0.0], [-170.0, 9.0], [-180.0, 9.0], [-180.0, 0.0]]
    """
    outline = _unrolled(
        wrap_lon_deg(np.asarray(lon_deg, dtype=float)),
        np.asarray(lat_deg, dtype=float),
    )
    if not outline or _signed_area(outline) <= 0.0:
        if not outline or abs(_signed_area(outline)) < _SAME_DEG:
            return ()
        raise ValueError("the area is on the right of its outline, or holds both poles")
    longitudes = [x for x, _ in outline]
    first = int(np.floor((min(longitudes) + 180.0) / _TURN_DEG))
    last = int(np.ceil((max(longitudes) + 180.0) / _TURN_DEG))
    parts = []
    for turn in range(first, max(last, first + 1)):
        shifted = [(x - _TURN_DEG * turn, y) for x, y in outline]
        for right in _clipped(shifted, -180.0, 1.0):
            parts += _clipped(right, 180.0, -1.0)
    tidy = (_tidy([*part, part[0]]) for part in parts)
    return tuple(
        part for part in tidy if len(part) > 3 and _signed_area(part.tolist()) > 0.0
    )


def _is_pole(lat_deg: float) -> bool:
    """Whether a latitude is that of a pole."""
    return abs(lat_deg) > 90.0 - _POLE_DEG


def _unrolled(lon: Floats, lat: Floats) -> list[tuple[float, float]]:
    """
    Lay an outline flat: longitudes run on beyond 180; a pole becomes an edge.

    At a pole on the outline the longitude turns through the angle of the area there;
    round a pole within it, it turns through 360 degrees and the edge of the map closes
    it.
    """
    points = list(zip(lon.tolist(), lat.tolist(), strict=True))
    start = next((i for i, (_, y) in enumerate(points) if not _is_pole(y)), None)
    if start is None:
        return []
    points = points[start:] + points[:start] + [points[start]]
    flat = [points[0]]
    turn_at: float | None = None
    for x, y in points[1:]:
        x0, y0 = flat[-1]
        if _is_pole(y):
            turn_at = float(np.copysign(90.0, y))
            if y0 != turn_at:
                flat.append((x0, turn_at))
            continue
        step = float(wrap_lon_deg(x - x0))
        if turn_at is not None:
            # The area is on the left: to the west when going north.
            step = step % _TURN_DEG
            step -= _TURN_DEG if turn_at > 0.0 and step else 0.0
            flat.append((x0 + step, turn_at))
            turn_at = None
        flat.append((x0 + step, y))
    turned = flat[-1][0] - flat[0][0]
    if abs(turned) < 1.0:
        return flat[:-1]
    # Eastwards with the area on the left: it holds the north pole.
    pole = float(np.copysign(90.0, turned))
    return [*flat, (flat[-1][0], pole), (flat[0][0], pole)]


def _signed_area(points: Sequence[Sequence[float]]) -> float:
    """Area on the flat map, positive if the outline runs counterclockwise."""
    x, y = np.array(points, dtype=float).T
    x = x - x[0]
    return float(0.5 * np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y))


def _clipped(
    outline: list[tuple[float, float]], at_deg: float, side: float
) -> list[list[tuple[float, float]]]:
    """
    Keep what lies east (side 1) or west (side -1) of a meridian.

    The outline is split into chains on that side; their ends, sorted by latitude, are
    joined in pairs along the meridian.
    """
    inside = [side * (x - at_deg) > _SAME_DEG for x, _ in outline]
    if all(inside):
        return [outline]
    if not any(inside):
        return []
    count = len(outline)
    start = next(i for i in range(count) if not inside[i] and inside[(i + 1) % count])
    chains: list[list[tuple[float, float]]] = []
    for k in range(count):
        i, j = (start + k) % count, (start + k + 1) % count
        if not inside[i] and inside[j]:
            chains.append([_crossing(outline[i], outline[j], at_deg), outline[j]])
        elif inside[i] and inside[j]:
            chains[-1].append(outline[j])
        elif inside[i]:
            chains[-1].append(_crossing(outline[i], outline[j], at_deg))
    ends = sorted(
        [(chain[0][1], 0, c) for c, chain in enumerate(chains)]
        + [(chain[-1][1], 1, c) for c, chain in enumerate(chains)],
    )
    follows = {}
    for one, other in zip(ends[::2], ends[1::2], strict=True):
        for (_, is_end, c), (_, _, d) in ((one, other), (other, one)):
            if is_end:
                follows[c] = d
    parts = []
    waiting = set(range(len(chains)))
    while waiting:
        first = min(waiting)
        part: list[tuple[float, float]] = []
        chain = first
        while chain in waiting:
            waiting.remove(chain)
            part += chains[chain]
            chain = follows.get(chain, first)
        parts.append(part)
    return parts


def _crossing(
    one: tuple[float, float], other: tuple[float, float], at_deg: float
) -> tuple[float, float]:
    """Point where a straight line meets a meridian."""
    share = (at_deg - one[0]) / (other[0] - one[0])
    return at_deg, one[1] + share * (other[1] - one[1])


def _tidy(points: Sequence[tuple[float, float]]) -> Part:
    """Round the points and leave out those that repeat the one before."""
    rounded = np.round(np.array(points, dtype=float).reshape(-1, 2), _DECIMALS) + 0.0
    if len(rounded) < 2:
        return rounded
    new = np.any(np.diff(rounded, axis=0) != 0.0, axis=1)
    kept: Part = rounded[np.concatenate([[True], new])]
    return kept
