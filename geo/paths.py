"""
Paths from one station to many places, and the control points of the standard.

A control point is where a layer's values are read for a purpose: the middle of the
path, 1000 km in from each end, half a hop in from each end, a quarter of the path in
from each end (two hops of sporadic E), and the two ends.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from geo.ionosphere.hops import MAX_HOP_E_KM, MAX_HOP_F2_KM, fewest_hops
from geo.records import ArrayRecord
from geo.sphere import bearing_deg, destination, distance_km, long_path_km

MID, NEAR_1000, FAR_1000, NEAR_HALF_HOP, FAR_HALF_HOP = range(5)
NEAR_QUARTER, FAR_QUARTER, NEAR_END, FAR_END = range(5, 9)
"""Places of the control points on the last axis of `Paths.control_lat_deg`."""

CONTROL_POINTS = 9

LONGEST_E_PATH_KM = 4000.0
"""Longest path with E modes, ITU-R P.533-14 section 3.3 (from memory). [km]"""

_INSET_KM = 1000.0


@dataclass(frozen=True, eq=False)
class Paths(ArrayRecord):
    """
    Great-circle paths from one station to P places.

    Attributes
    ----------
    lat_deg, lon_deg : numpy.ndarray
        Shape (P,), the far ends. [deg]
    distance_km : numpy.ndarray
        Shape (P,), along the path taken (short or long). [km]
    bearing_deg : numpy.ndarray
        Shape (P,), at my end, clockwise from true north. [deg]
    far_bearing_deg : numpy.ndarray
        Shape (P,), bearing at the far end back towards me. [deg]
    f2_hops : numpy.ndarray of int
        Shape (P,), fewest F2 hops.
    control_lat_deg, control_lon_deg : numpy.ndarray
        Shape (P, 9), in the order of the module's constants. [deg]
    """

    lat_deg: NDArray[np.float64]
    lon_deg: NDArray[np.float64]
    distance_km: NDArray[np.float64]
    bearing_deg: NDArray[np.float64]
    far_bearing_deg: NDArray[np.float64]
    f2_hops: NDArray[np.int64]
    control_lat_deg: NDArray[np.float64]
    control_lon_deg: NDArray[np.float64]


def paths_to(
    from_lat_deg: float,
    from_lon_deg: float,
    lat_deg: ArrayLike,
    lon_deg: ArrayLike,
    *,
    long_path: bool = False,
) -> Paths:
    """
    Lay the great-circle paths from one station to many places.

    Parameters
    ----------
    from_lat_deg, from_lon_deg : float
        The station. [deg]
    lat_deg, lon_deg : array_like
        Shape (P,), the far ends. [deg]
    long_path : bool, optional
        Go the long way round.

    Returns
    -------
    paths : Paths
        Distances, bearings and control points.

    Notes
    -----
    Control points of ITU-R P.533-14, Table 1 (from memory): paths up to 2000 km use
    the middle alone; up to 4000 km also the points 1000 km in from each end; beyond,
    also those half a hop in from each end. Points not called for fall on the middle,
    so that a mean or a minimum over them is right for every length.

    Examples
    --------
    >>> p = paths_to(0.0, 0.0, [0.0], [60.0])
    >>> p.distance_km.round(0), p.f2_hops
    (array([6672.]), array([2]))
    """
    lat = np.atleast_1d(np.asarray(lat_deg, dtype=float))
    lon = np.atleast_1d(np.asarray(lon_deg, dtype=float))
    distance = distance_km(from_lat_deg, from_lon_deg, lat, lon)
    bearing = bearing_deg(from_lat_deg, from_lon_deg, lat, lon)
    back = bearing_deg(lat, lon, from_lat_deg, from_lon_deg)
    if long_path:
        distance = long_path_km(distance)
        bearing, back = (bearing + 180.0) % 360.0, (back + 180.0) % 360.0
    hops = fewest_hops(distance, MAX_HOP_F2_KM)
    middle = 0.5 * distance
    inset = np.where(distance > MAX_HOP_E_KM, _INSET_KM, middle)
    half_hop = 0.5 * distance / hops
    along = np.stack(
        [
            middle,
            inset,
            distance - inset,
            half_hop,
            distance - half_hop,
            0.25 * distance,
            0.75 * distance,
            np.zeros_like(distance),
            distance,
        ],
        axis=-1,
    )
    control_lat, control_lon = destination(
        from_lat_deg, from_lon_deg, bearing[:, None], along
    )
    # Rounding along the path must not move the far end itself.
    control_lat[:, FAR_END], control_lon[:, FAR_END] = lat, lon
    return Paths(lat, lon, distance, bearing, back, hops, control_lat, control_lon)


def at_control(values: NDArray[np.float64]) -> NDArray[np.float64]:
    """
    Reorder values at the control points of paths to the axes of hop modes.

    Parameters
    ----------
    values : numpy.ndarray
        Shape (T, P * 9), or (P * 9,) where time is of no account, in the order of
        ``control_lat_deg.ravel()``.

    Returns
    -------
    values : numpy.ndarray
        Shape (P, T, 1, 1, 9), T = 1 in the second case.
    """
    shape = (values.shape[-1] // CONTROL_POINTS, CONTROL_POINTS)
    shaped = np.atleast_2d(values).reshape(-1, *shape)
    return shaped.transpose(1, 0, 2)[:, :, None, None, :]
