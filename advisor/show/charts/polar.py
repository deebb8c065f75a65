"""Sheets with the station in the middle and north up: bearing and radius to x and y."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from geo.arrays import Floats
from geo.sphere import angle_between_deg


def at_bearing(
    bearing_deg: Floats | float, radius: Floats | float
) -> tuple[Floats, Floats]:
    """
    Place a bearing and a radius on a sheet with north up.

    Parameters
    ----------
    bearing_deg : float or numpy.ndarray
        Clockwise from north. [deg]
    radius : float or numpy.ndarray
        Distance from the middle.

    Returns
    -------
    x, y : numpy.ndarray
        To the right and up.

    Examples
    --------
    >>> [float(v.round(6)) for v in at_bearing(90.0, 2.0)]
    [2.0, 0.0]
    """
    turn = np.radians(bearing_deg)
    return np.asarray(radius * np.sin(turn)), np.asarray(radius * np.cos(turn))


def spot(bearing_deg: float, radius: float) -> tuple[float, float]:
    """
    Place one point, as `at_bearing` does many.

    Parameters
    ----------
    bearing_deg : float
        Clockwise from north. [deg]
    radius : float
        Distance from the middle.

    Returns
    -------
    x, y : float
        To the right and up.

    Examples
    --------
    >>> spot(180.0, 2.0)[1]
    -2.0
    """
    x, y = at_bearing(bearing_deg, radius)
    return float(x), float(y)


def clearest(tried_deg: Floats, taken_deg: Sequence[float]) -> float:
    """
    Pick the bearing farthest from all that are taken.

    Parameters
    ----------
    tried_deg : numpy.ndarray
        Bearings to pick from. [deg]
    taken_deg : sequence of float
        Bearings where something stands. [deg]

    Returns
    -------
    bearing_deg : float
        The first of the clearest. [deg]

    Examples
    --------
    >>> clearest(np.array([45.0, 135.0, 225.0]), [30.0, 200.0])
    135.0
    """
    apart = angle_between_deg(tried_deg[:, None], np.array(taken_deg)[None, :])
    return float(tried_deg[np.argmax(apart.min(axis=1))])


def apart(bearings_deg: Sequence[float], least_deg: float) -> list[float]:
    """
    Move bearings that lie close together apart, each as little as that takes.

    Parameters
    ----------
    bearings_deg : sequence of float
        In any order. [deg]
    least_deg : float
        How far each is to be from the next. [deg]

    Returns
    -------
    moved_deg : list of float
        In the order given, runs of close ones about their mean. [deg]

    Examples
    --------
    >>> apart([29.0, 270.0, 21.0], 12.0)
    [31.0, 270.0, 19.0]
    """
    if not bearings_deg:
        return []
    # Once round, beginning after the widest gap.
    rising = np.sort(np.asarray(bearings_deg, dtype=np.float64) % 360.0)
    gaps = np.diff(np.append(rising, rising[0] + 360.0))
    first = float(rising[(int(np.argmax(gaps)) + 1) % rising.size])
    along = (np.asarray(bearings_deg) - first) % 360.0
    runs: list[list[int]] = []
    middles: list[float] = []
    for k in np.argsort(along, kind="stable").tolist():
        runs.append([k])
        middles.append(float(along[k]))
        while len(runs) > 1 and middles[-1] - middles[-2] < 0.5 * least_deg * (
            len(runs[-1]) + len(runs[-2])
        ):
            run = runs.pop(-2) + runs.pop()
            middles[-2:] = [float(np.mean(along[run]))]
            runs.append(run)
    moved = [0.0] * len(bearings_deg)
    for run, middle in zip(runs, middles, strict=True):
        for place, k in enumerate(run):
            off = least_deg * (place - 0.5 * (len(run) - 1))
            moved[k] = (first + middle + off) % 360.0
    return moved
