"""Sheets with the station in the middle and north up: bearing and radius to x and y."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from geo.sphere import angle_between_deg


def at_bearing(
    bearing_deg: NDArray[np.float64] | float, radius: NDArray[np.float64] | float
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
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


def clearest(tried_deg: NDArray[np.float64], taken_deg: Sequence[float]) -> float:
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
