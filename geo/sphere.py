"""
Great circles on a sphere: distance, bearing, destination and the long way round.

The Earth is a sphere of 6371 km radius throughout, as ITU-R propagation methods
take it. Latitude is north-positive and longitude east-positive in degrees,
bearings run clockwise from true north. Every function broadcasts. Longitudes may
have any whole turns added; a latitude beyond the poles gives NaN.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from geo.arrays import Floats

EARTH_RADIUS_KM: Final = 6371.0
"""Mean radius of the Earth. [km]"""

EARTH_CIRCUMFERENCE_KM: Final = 2.0 * np.pi * EARTH_RADIUS_KM
"""Length of a great circle. [km]"""

# Below this many radians (under a micrometre) two points coincide or face each
# other exactly, and no direction is better than another.
_NO_DIRECTION_RAD: Final = 1e-13


def wrap_lon_deg(lon_deg: ArrayLike) -> Floats:
    """
    Bring a longitude into the range -180 to just under 180.

    Parameters
    ----------
    lon_deg : array_like
        Longitude or any angle. [deg]

    Returns
    -------
    wrapped_deg : numpy.float64 or numpy.ndarray
        The same direction in [-180, 180); a value already there is returned bit
        for bit. NaN where the input is not finite. [deg]

    Examples
    --------
    >>> wrap_lon_deg([147.33, 180.0, -190.0, 725.0])
    array([ 147.33, -180.  ,  170.  ,    5.  ])
    """
    lon = np.asarray(lon_deg, dtype=np.float64)
    lon = np.where(np.isfinite(lon), lon, np.nan)
    wrapped = lon - 360.0 * np.floor((lon + 180.0) / 360.0)
    # The sum in the brackets may round across a turn at either edge.
    wrapped = np.where(wrapped < -180.0, wrapped + 360.0, wrapped)
    return np.where(wrapped >= 180.0, wrapped - 360.0, wrapped)[()]


def angle_between_deg(a_deg: ArrayLike, b_deg: ArrayLike) -> Floats:
    """
    Smallest angle between two bearings.

    Parameters
    ----------
    a_deg, b_deg : array_like
        Two bearings, any number of turns. [deg]

    Returns
    -------
    angle_deg : numpy.float64 or numpy.ndarray
        Unsigned difference, 0 to 180. [deg]

    Examples
    --------
    >>> angle_between_deg(350.0, [10.0, 170.0, 260.0])
    array([ 20., 180.,  90.])
    """
    difference = np.subtract(a_deg, b_deg, dtype=np.float64)
    return np.abs(wrap_lon_deg(difference))


def distance_km(
    lat1: ArrayLike, lon1: ArrayLike, lat2: ArrayLike, lon2: ArrayLike
) -> Floats:
    """
    Length of the short great-circle path between two points.

    Parameters
    ----------
    lat1, lon1 : array_like
        First point. [deg]
    lat2, lon2 : array_like
        Second point. [deg]

    Returns
    -------
    distance_km : numpy.float64 or numpy.ndarray
        0 to half the circumference (20 015 km). NaN where a latitude is beyond a
        pole or an input is not finite. [km]

    Notes
    -----
    The angle is the arc tangent of the cross product over the scalar product of
    the two position vectors, which keeps full precision for near and for opposite
    points alike, where the arc cosine and the haversine each lose half the digits.

    Examples
    --------
    >>> distance_km(0.0, 0.0, 0.0, 90.0)
    np.float64(10007.543)
    >>> distance_km(-42.88, 147.33, [-42.88, 42.88], [147.33, -32.67]).round(3)
    array([    0.   , 20015.087])
    """
    east, north, along = _offsets(lat1, lon1, lat2, lon2)
    return EARTH_RADIUS_KM * np.arctan2(np.hypot(east, north), along)


def bearing_deg(
    lat1: ArrayLike, lon1: ArrayLike, lat2: ArrayLike, lon2: ArrayLike
) -> Floats:
    """
    Bearing on which the short great-circle path leaves the first point.

    Parameters
    ----------
    lat1, lon1 : array_like
        Where the path starts. [deg]
    lat2, lon2 : array_like
        Where it goes. [deg]

    Returns
    -------
    bearing_deg : numpy.float64 or numpy.ndarray
        Clockwise from true north, 0 to just under 360. Zero where the two points
        coincide or are exact opposites, since every direction serves there. At a
        pole, north is taken along the meridian ``lon1``. NaN where a latitude is
        beyond a pole or an input is not finite. [deg]

    Examples
    --------
    >>> bearing_deg(0.0, 0.0, [10.0, 0.0, -10.0, 0.0], [0.0, 10.0, 0.0, -10.0])
    array([  0.,  90., 180., 270.])
    """
    east, north, _ = _offsets(lat1, lon1, lat2, lon2)
    turned = np.mod(np.degrees(np.arctan2(east, north)), 360.0)
    nowhere = np.hypot(east, north) < _NO_DIRECTION_RAD
    return np.where(nowhere | (turned >= 360.0), 0.0, turned)[()]


def destination(
    lat: ArrayLike, lon: ArrayLike, bearing_deg: ArrayLike, distance_km: ArrayLike
) -> tuple[Floats, Floats]:
    """
    Point reached along a great circle.

    Parameters
    ----------
    lat, lon : array_like
        Where the path starts. [deg]
    bearing_deg : array_like
        Initial bearing, clockwise from true north. [deg]
    distance_km : array_like
        How far along; more than half the circumference is the long way round, a
        negative length goes backwards. [km]

    Returns
    -------
    lat, lon : numpy.float64 or numpy.ndarray
        Where the path ends, longitude in [-180, 180). NaN where the starting
        latitude is beyond a pole or an input is not finite. [deg]

    Examples
    --------
    >>> lat, lon = destination(0.0, 179.0, 90.0, 222.39)
    >>> lat.round(2), lon.round(2)
    (np.float64(0.0), np.float64(-179.0))
    """
    start = _latitude_rad(lat)
    azimuth = np.radians(wrap_lon_deg(bearing_deg))
    length = np.asarray(distance_km, dtype=np.float64)
    arc = np.where(np.isfinite(length), length, np.nan) / EARTH_RADIUS_KM
    forward = np.sin(arc) * np.cos(azimuth)
    polar = np.sin(start) * np.cos(arc) + np.cos(start) * forward
    outward = np.cos(start) * np.cos(arc) - np.sin(start) * forward
    sideways = np.sin(arc) * np.sin(azimuth)
    end_lat = np.degrees(np.arctan2(polar, np.hypot(outward, sideways)))
    turned = np.degrees(np.arctan2(sideways, outward))
    end_lon = wrap_lon_deg(wrap_lon_deg(lon) + turned)
    # Where only the longitude is an array, the latitude takes its shape too.
    return end_lat + 0.0 * end_lon, end_lon


def long_path_km(distance_km: ArrayLike) -> Floats:
    """
    Length of the great-circle path the other way round.

    It leaves opposite to the short path.

    Parameters
    ----------
    distance_km : array_like
        Length of the short path. [km]

    Returns
    -------
    distance_km : numpy.float64 or numpy.ndarray
        Circumference minus the short path. [km]

    Examples
    --------
    >>> long_path_km(17_000.0).round(0)
    np.float64(23030.0)
    """
    return EARTH_CIRCUMFERENCE_KM - np.asarray(distance_km, dtype=np.float64)


def _latitude_rad(lat_deg: ArrayLike) -> Floats:
    """Latitude in radians, NaN beyond the poles."""
    lat = np.asarray(lat_deg, dtype=np.float64)
    return np.radians(np.where(np.abs(lat) <= 90.0, lat, np.nan))


def _offsets(
    lat1: ArrayLike, lon1: ArrayLike, lat2: ArrayLike, lon2: ArrayLike
) -> tuple[Floats, Floats, Floats]:
    """
    Second point in the frame of the first: towards east, north and up.

    The north term is the textbook difference rewritten with ``1 - cos x`` as
    ``2 sin^2(x/2)``, so that equal and opposite points give exact zeros.
    """
    phi1, phi2 = _latitude_rad(lat1), _latitude_rad(lat2)
    apart = np.radians(wrap_lon_deg(wrap_lon_deg(lon2) - wrap_lon_deg(lon1)))
    shortfall = 2.0 * np.sin(0.5 * apart) ** 2
    east = np.cos(phi2) * np.sin(apart)
    north = np.sin(phi2 - phi1) + np.sin(phi1) * np.cos(phi2) * shortfall
    along = np.cos(phi2 - phi1) - np.cos(phi1) * np.cos(phi2) * shortfall
    return east, north, along
