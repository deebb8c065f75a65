"""Cells, circles and paths around a place as points of longitude and latitude."""

from __future__ import annotations

import math

import numpy as np

from geo.antimeridian import Part, cut_area, cut_line
from geo.arrays import Floats
from geo.places import Place
from geo.sphere import EARTH_CIRCUMFERENCE_KM, destination

_STEP_KM = 200.0
_STEP_DEG = 2.5
"""How far apart points are along a way and along an arc."""

_NEAR_POLE = math.sin(math.radians(88.0))
_ABOUT_POLE_KM = np.array([-60.0, -20.0, -5.0, -1.0, 0.0, 1.0, 5.0, 20.0, 60.0])
"""Where a way passes within two degrees of a pole, points lie so far from there."""

_KM_PER_DEG = EARTH_CIRCUMFERENCE_KM / 360.0


def cell(
    place: Place, near_km: float, far_km: float, from_deg: float, to_deg: float
) -> tuple[Part, ...]:
    """
    Outline a piece of a ring around a place, cut for the flat map.

    Parameters
    ----------
    place : Place
        The middle of the ring.
    near_km, far_km : float
        Its edges, 0 to half the Earth's circumference. [km]
    from_deg, to_deg : float
        Bearings it lies between, clockwise, at most half a turn. [deg]

    Returns
    -------
    parts : tuple of numpy.ndarray
        See `geo.antimeridian.cut_area`. [deg]
    """
    count = max(1, math.ceil((to_deg - from_deg) / _STEP_DEG))
    turns = np.linspace(from_deg, to_deg, count + 1)
    back = turns[::-1]
    # Counterclockwise: out on the far bearing, back along the rim, in on the near one.
    out, home = (
        _along(place, bearing, near_km, far_km) for bearing in (to_deg, from_deg)
    )
    away_km = np.concatenate(
        [out, np.full(back.size, far_km), home[::-1], np.full(turns.size, near_km)]
    )
    bearing = np.concatenate(
        [np.full(out.size, to_deg), back, np.full(home.size, from_deg), turns]
    )
    lat, lon = destination(place.lat_deg, place.lon_deg, bearing, away_km)
    return cut_area(lon, lat)


def disc(place: Place, radius_km: float) -> tuple[Part, ...]:
    """
    Outline all that lies within a distance of a place, cut for the flat map.

    Parameters
    ----------
    place : Place
        The middle.
    radius_km : float
        The distance, above 0, up to half the Earth's circumference. [km]

    Returns
    -------
    parts : tuple of numpy.ndarray
        See `geo.antimeridian.cut_area`; four quarters where both poles lie within.
        [deg]
    """
    if radius_km >= _KM_PER_DEG * (90.0 + abs(place.lat_deg)):
        quarters = (cell(place, 0.0, radius_km, a, a + 90.0) for a in range(0, 360, 90))
        return tuple(part for parts in quarters for part in parts)
    turns = -np.arange(0.0, 360.0, _STEP_DEG)
    lat, lon = destination(place.lat_deg, place.lon_deg, turns, radius_km)
    return cut_area(lon, lat)


def circle(place: Place, radius_km: float) -> tuple[Part, ...]:
    """
    Draw the line at a distance from a place, cut for the flat map.

    Parameters
    ----------
    place : Place
        The middle.
    radius_km : float
        The distance. [km]

    Returns
    -------
    parts : tuple of numpy.ndarray
        See `geo.antimeridian.cut_line`. [deg]
    """
    turns = np.linspace(0.0, 360.0, round(360.0 / _STEP_DEG) + 1)
    lat, lon = destination(place.lat_deg, place.lon_deg, turns, radius_km)
    return cut_line(lon, lat)


def way(place: Place, bearing_deg: float, length_km: float) -> tuple[Part, ...]:
    """
    Draw a great circle from a place, cut for the flat map.

    Parameters
    ----------
    place : Place
        Where it begins.
    bearing_deg : float
        Its bearing there. [deg]
    length_km : float
        Its length; more than half the Earth's circumference is the long way. [km]

    Returns
    -------
    parts : tuple of numpy.ndarray
        See `geo.antimeridian.cut_line`. [deg]
    """
    away_km = _along(place, bearing_deg, 0.0, length_km)
    lat, lon = destination(place.lat_deg, place.lon_deg, bearing_deg, away_km)
    return cut_line(lon, lat)


def _along(place: Place, bearing_deg: float, near_km: float, far_km: float) -> Floats:
    """Distances along a bearing, close together where it passes a pole."""
    count = max(1, math.ceil((far_km - near_km) / _STEP_KM))
    steps = np.linspace(near_km, far_km, count + 1)
    lat, turned = math.radians(place.lat_deg), math.radians(bearing_deg)
    across, up = math.cos(lat) * math.cos(turned), math.sin(lat)
    if math.hypot(across, up) < _NEAR_POLE:
        return steps
    # Where sin(latitude) along the way is greatest; least half the Earth farther on.
    north_km = _KM_PER_DEG * math.degrees(math.atan2(across, up))
    half_km = 0.5 * EARTH_CIRCUMFERENCE_KM
    met = north_km + half_km * np.arange(-1.0, 3.0)[:, None] + _ABOUT_POLE_KM
    return np.unique(
        np.concatenate([steps, met[(met > near_km) & (met < far_km)].ravel()])
    )
