"""Geometry of straight stretches: how near two come, and where to cut one."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from geo.arrays import Floats

# How much longer a segment may get per metre of distance from a feed or an end.
GROWTH = 1.0


def closest_approach(
    start_a: ArrayLike, end_a: ArrayLike, start_b: ArrayLike, end_b: ArrayLike
) -> tuple[float, float, float]:
    """
    Find where two straight stretches come closest.

    Parameters
    ----------
    start_a, end_a, start_b, end_b : array_like
        Shape (3,) each, the ends; neither stretch has zero length. [m]

    Returns
    -------
    at_a, at_b : float
        Distances from both starts to the closest points; of several, the first
        found. [m]
    gap : float
        Distance between those points. [m]

    Examples
    --------
    >>> closest_approach((0, 0, 0), (4, 0, 0), (1, -1, 2), (1, 3, 2))
    (1.0, 1.0, 2.0)
    """
    a, b = np.asarray(start_a, float), np.asarray(start_b, float)
    span_a, span_b = np.asarray(end_a, float) - a, np.asarray(end_b, float) - b
    length_a, length_b = float(np.linalg.norm(span_a)), float(np.linalg.norm(span_b))
    da, db = span_a / length_a, span_b / length_b
    cosine, between = float(da @ db), b - a
    # The foot of the common perpendicular; on parallel stretches, or with that foot
    # off an end, one of the four ends is nearest.
    places = [0.0, length_a, float(between @ da), float((between + span_b) @ da)]
    if 1.0 - cosine**2 > 1e-12:
        foot = between @ da - cosine * (between @ db)
        places.insert(0, float(foot / (1.0 - cosine**2)))
    best = (0.0, 0.0, np.inf)
    for place in places:
        s = min(max(place, 0.0), length_a)
        t = min(max(float((a + s * da - b) @ db), 0.0), length_b)
        gap = float(np.linalg.norm(a + s * da - b - t * db))
        if gap < best[2]:
            best = (s, t, gap)
    return best


def cut_stretch(
    span_m: float,
    size_m: tuple[float, float],
    fed: tuple[bool, bool],
    *,
    most_m: float,
    least_m: float,
) -> Floats:
    """
    Cut a stretch into segments whose lengths follow the sizes at its ends.

    Parameters
    ----------
    span_m : float
        Length of the stretch. [m]
    size_m : tuple of float
        Wanted segment length at start and end. [m]
    fed : tuple of bool
        Whether there is a feed at start and end; the segment there is exactly as
        long as wanted.
    most_m, least_m : float
        Longest and shortest segment; the shortest gives way where the stretch
        itself, or the size at a feed, is shorter. [m]

    Returns
    -------
    cuts : numpy.ndarray
        Distances of the segments' ends from the start, 0 and ``span_m`` too. [m]

    Examples
    --------
    >>> cuts = cut_stretch(4.0, (0.5, 1.0), (True, False), most_m=1.0, least_m=0.1)
    >>> cuts.round(2)
    array([0.  , 0.5 , 1.23, 2.15, 3.08, 4.  ])
    """
    head = [size_m[0]] if fed[0] else []
    tail = [size_m[1]] if fed[1] else []
    rest = span_m - sum(head) - sum(tail)
    if rest < 0.4 * (sum(head) + sum(tail)):
        # Room for a few only: equal ones keep both sides of the gap alike.
        count = max(int(np.round(span_m / min([*head, *tail]))), 1)
        return np.linspace(0.0, span_m, count + 1)
    # Close at both ends, where sizes change fastest.
    s = 0.5 * rest * (1.0 - np.cos(np.linspace(0.0, np.pi, 257)))
    size = np.minimum(size_m[0] + GROWTH * s, size_m[1] + GROWTH * (rest - s))
    density = 1.0 / np.minimum(size, most_m)
    steps = 0.5 * (density[1:] + density[:-1]) * np.diff(s)
    rank = np.concatenate([[0.0], np.cumsum(steps)])
    count = max(min(int(np.ceil(rank[-1] - 0.2)), int(rest / least_m)), 1)
    middle = np.interp(np.linspace(0.0, rank[-1], count + 1), rank, s)
    first, last = ([0.0] if head else []), ([span_m] if tail else [])
    return np.concatenate([first, sum(head) + middle, last])
