"""
Paths from one station to many places, and the stations along them.

The layers are read at stations at equal parts of every path, the two ends and the
middle among them; what lies between is read off by straight lines.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from geo.records import ArrayRecord
from geo.sphere import bearing_deg, destination, distance_km, long_path_km

STATIONS = 25
"""How many stations a path has, its ends among them."""

NEAR_END, NEAR_QUARTER, MID, FAR_QUARTER, FAR_END = range(0, STATIONS, 6)
"""Places of some of them on the last axis of `Paths.control_lat_deg`: the ends, the
middle and the quarters."""


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
    control_lat_deg, control_lon_deg : numpy.ndarray
        Shape (P, 25), the stations in their order from my end. [deg]
    """

    lat_deg: NDArray[np.float64]
    lon_deg: NDArray[np.float64]
    distance_km: NDArray[np.float64]
    bearing_deg: NDArray[np.float64]
    far_bearing_deg: NDArray[np.float64]
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
        Distances, bearings and stations.

    Examples
    --------
    >>> p = paths_to(0.0, 0.0, [0.0], [60.0])
    >>> p.distance_km.round(0), p.control_lon_deg[0, MID].round(1)
    (array([6672.]), np.float64(30.0))
    """
    lat = np.atleast_1d(np.asarray(lat_deg, dtype=float))
    lon = np.atleast_1d(np.asarray(lon_deg, dtype=float))
    distance = distance_km(from_lat_deg, from_lon_deg, lat, lon)
    bearing = bearing_deg(from_lat_deg, from_lon_deg, lat, lon)
    back = bearing_deg(lat, lon, from_lat_deg, from_lon_deg)
    if long_path:
        distance = long_path_km(distance)
        bearing, back = (bearing + 180.0) % 360.0, (back + 180.0) % 360.0
    along = distance[:, None] * np.linspace(0.0, 1.0, STATIONS)
    control_lat, control_lon = destination(
        from_lat_deg, from_lon_deg, bearing[:, None], along
    )
    # Rounding along the path must not move the far end itself.
    control_lat[:, FAR_END], control_lon[:, FAR_END] = lat, lon
    return Paths(lat, lon, distance, bearing, back, control_lat, control_lon)


def at_stations(values: NDArray[np.float64]) -> NDArray[np.float64]:
    """
    Reorder values of the layers at the stations of paths.

    Parameters
    ----------
    values : numpy.ndarray
        Shape (T, P * 25), or (P * 25,) where time is of no account, in the order of
        ``control_lat_deg.ravel()``.

    Returns
    -------
    values : numpy.ndarray
        Shape (P, T, 25), T = 1 in the second case.
    """
    rows = np.atleast_2d(values)
    return rows.reshape(len(rows), -1, STATIONS).transpose(1, 0, 2)


def between_stations(
    values: NDArray[np.float64], part: ArrayLike
) -> NDArray[np.float64]:
    """
    Read values between the stations of paths.

    Parameters
    ----------
    values : numpy.ndarray
        Shape (..., 25).
    part : array_like
        Shape (n,), parts of the way from my end, 0 to 1.

    Returns
    -------
    values : numpy.ndarray
        Shape (..., n), by straight lines.

    Examples
    --------
    >>> between_stations(np.arange(25.0), [0.0, 0.5, 0.51]).round(2)
    array([ 0.  , 12.  , 12.24])
    """
    place = np.asarray(part, dtype=float) * (STATIONS - 1)
    first = np.minimum(place.astype(np.intp), STATIONS - 2)
    low, high = values[..., first], values[..., first + 1]
    return np.asarray(low + (place - first) * (high - low))
