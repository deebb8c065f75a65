"""
Land or sea, from the outlines of the continents and larger islands.

The outlines (Natural Earth, 1:110 million) are drawn once onto a grid of a quarter of
a degree, so that asking for thousands of points costs next to nothing. They place a
coast within a few tens of kilometres and leave out most islands smaller than about
100 km: the Azores, the Canaries, Mauritius and the like are sea here, and all
lakes but the Caspian Sea are land. What is built on it must be able to bear that.

Roughly where a place is (`whereabouts`) is told by the part of the world, so that
swapped or mistyped coordinates are noticed. Outlines of countries are not shipped, and
the sample points are too few to tell a country by: of 54 large cities the nearest
point is in another country for 12. The part of the world holds far better, and is
enough to notice that 56,45 is not in Scotland.
"""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import ArrayLike

from geo.arrays import Bools, Floats
from geo.countries import WORLD, country_points, target_names
from geo.sphere import destination, distance_km
from geo.tables import read_arrays, read_table

CELL_DEG = 0.25
"""Width and height of a cell of the grid; 28 km, as fine as the outlines. [deg]"""

_COAST_KM = (50.0, 100.0)
"""Land this far away makes a coast of a place; the outlines are no finer. [km]"""

_ROWS, _COLUMNS = int(180.0 / CELL_DEG), int(360.0 / CELL_DEG)


def _closed_outlines() -> Floats:
    """
    Outlines as rings of (lon, lat), shape (N, 2), NaN between two of them.

    The table's outlines end where they meet the antimeridian; here each is led back
    to its first point along it, the one around the south pole by way of the pole.
    """
    points = read_arrays("land_110m")["xy"].astype(np.float64)
    rings = []
    for part in np.split(points, np.flatnonzero(np.isnan(points[:, 0]))):
        ring = part[~np.isnan(part[:, 0])]
        if not ring.size:
            continue
        way_back: list[tuple[float, float]] = []
        if not np.array_equal(ring[0], ring[-1]):
            (start, first), (end, last) = ring[0], ring[-1]
            start, end = np.copysign(180.0, start), np.copysign(180.0, end)
            pole = [] if start == end else [(end, -90.0), (start, -90.0)]
            way_back = [(end, last), *pole, (start, first), tuple(ring[0])]
        rings += [ring, np.array([*way_back, (np.nan, np.nan)])]
    return np.concatenate(rings)


@cache
def land_mask() -> Bools:
    """
    Grid of land, true where the middle of a cell lies inside an outline.

    Returns
    -------
    mask : numpy.ndarray of bool
        Shape (720, 1440), read-only: rows from the south pole up, columns from 180
        degrees west to the east. The same object on every call.

    Notes
    -----
    Along the middle of every row the outlines are crossed by turns inwards and
    outwards, so the number of crossings west of a cell's middle is odd on land.

    References
    ----------
    Natural Earth, land, 1:110 million (public domain).

    Examples
    --------
    >>> land_mask().shape
    (720, 1440)
    """
    x, y = (_closed_outlines() + np.array([180.0, 90.0])).T / CELL_DEG - 0.5
    # Rows whose middle lies from one end of each stretch up to, not with, the other.
    first = np.ceil(np.minimum(y[:-1], y[1:]))
    rows = np.ceil(np.maximum(y[:-1], y[1:])) - first
    stretch = np.flatnonzero(rows > 0.0)
    first, count = first[stretch].astype(int), rows[stretch].astype(int)
    before = np.repeat(np.cumsum(count) - count, count)
    row = np.repeat(first, count) + np.arange(count.sum()) - before
    start, end = np.repeat(stretch, count), np.repeat(stretch + 1, count)
    cut = x[start] + (row - y[start]) / (y[end] - y[start]) * (x[end] - x[start])
    column = np.ceil(cut).astype(int)
    inside = (row >= 0) & (row < _ROWS) & (column < _COLUMNS)
    cell = row[inside] * _COLUMNS + np.maximum(column[inside], 0)
    crossings = np.bincount(cell, minlength=_ROWS * _COLUMNS).reshape(_ROWS, _COLUMNS)
    mask = np.asarray(crossings.cumsum(axis=1) % 2 == 1)
    mask.flags.writeable = False
    return mask


def is_land(lat_deg: ArrayLike, lon_deg: ArrayLike) -> Bools:
    """
    Whether a place lies on land.

    Parameters
    ----------
    lat_deg : array_like
        Latitude, -90 to 90. [deg]
    lon_deg : array_like
        Longitude, any number of turns; broadcasts with ``lat_deg``. [deg]

    Returns
    -------
    land : numpy.ndarray of bool
        True on land, false at sea, on small islands, and where the place is NaN or
        beyond a pole.

    Notes
    -----
    A place counts as the middle of its cell does: near a coast read it as a coin
    toss within 30 km.

    Examples
    --------
    Kansas, the middle of the Atlantic, the south pole, the Azores (left out):

    >>> is_land([38.5, 30.0, -90.0, 38.7], [-98.0, -40.0, 0.0, -27.2])
    array([ True, False,  True, False])
    """
    lat, lon = np.broadcast_arrays(
        np.asarray(lat_deg, dtype=float), np.asarray(lon_deg, dtype=float)
    )
    valid = np.isfinite(lon) & (np.abs(lat) <= 90.0)
    up = np.where(valid, lat, 0.0) + 90.0
    east = (np.where(valid, lon, 0.0) + 180.0) % 360.0
    row = np.minimum((up / CELL_DEG).astype(int), _ROWS - 1)
    column = np.minimum((east / CELL_DEG).astype(int), _COLUMNS - 1)
    return np.asarray(valid & land_mask()[row, column])


def land_share(lat_deg: ArrayLike, lon_deg: ArrayLike) -> Floats:
    """
    Share of land about a place, which changes smoothly across a coast.

    Parameters
    ----------
    lat_deg : array_like
        Latitude, -90 to 90. [deg]
    lon_deg : array_like
        Longitude, any number of turns; broadcasts with ``lat_deg``. [deg]

    Returns
    -------
    share : numpy.ndarray
        0 to 1: what `is_land` says in the middles of the four cells around, by straight
        lines between them; NaN where the place is.

    Examples
    --------
    From the Atlantic into Portugal:

    >>> land_share(39.5, [-10.0, -9.4, -9.2, -8.0]).round(2)
    array([0.  , 0.45, 0.85, 1.  ])
    """
    north = (np.asarray(lat_deg, dtype=float) + 90.0) / CELL_DEG - 0.5
    north = np.clip(north, 0.0, _ROWS - 1.0)
    east = (np.asarray(lon_deg, dtype=float) + 180.0) / CELL_DEG - 0.5
    found = 0.0 * (north + east)
    known = np.isfinite(found)
    row, column = (
        np.floor(np.where(known, each, 0.0)).astype(int) for each in (north, east)
    )
    for up in (0, 1):
        for across in (0, 1):
            weight = np.abs(1 - up - (north - row)) * np.abs(
                1 - across - (east - column)
            )
            cell = np.minimum(row + up, _ROWS - 1), (column + across) % _COLUMNS
            found = found + weight * land_mask()[cell]
    return np.asarray(found)


def whereabouts(lat_deg: float, lon_deg: float) -> str:
    """
    Say roughly where a place is: land, coast or sea, and the nearest part of the world.

    Parameters
    ----------
    lat_deg : float
        Latitude, north positive. [deg]
    lon_deg : float
        Longitude, east positive. [deg]

    Returns
    -------
    words : str
        The part of the world is the UN M49 region of the nearest sample point of a
        country, so near a border it may be the neighbouring one.

    Examples
    --------
    >>> whereabouts(56.0, 45.0)
    'in or near Eastern Europe'
    >>> whereabouts(-5.95, 56.45)
    'at sea or on an island, nearest Eastern Africa'
    """
    region = _nearest_region(lat_deg, lon_deg)
    if is_land(lat_deg, lon_deg):
        return f"in or near {region}"
    around = np.arange(0.0, 360.0, 45.0)
    for away_km in _COAST_KM:
        if is_land(*destination(lat_deg, lon_deg, around, away_km)).any():
            return f"by the coast, in or near {region}"
    return f"at sea or on an island, nearest {region}"


def _nearest_region(lat_deg: float, lon_deg: float) -> str:
    """Name the smallest M49 region of the country with the nearest sample point."""
    codes, lat, lon = _points()
    nearest = int(distance_km(lat_deg, lon_deg, lat, lon).argmin())
    country = codes[nearest]
    region = _region_of()[country]
    return target_names()[country if region == WORLD else region]


@cache
def _points() -> tuple[tuple[str, ...], Floats, Floats]:
    """Code, latitude and longitude of every sample point of a country."""
    rows = country_points()
    lat, lon = np.array([row[1:] for row in rows]).T
    return tuple(row[0] for row in rows), lat, lon


@cache
def _region_of() -> dict[str, str]:
    """Smallest M49 region by numeric code of the country."""
    table = read_table("countries").columns
    return dict(zip(table["iso_numeric"], table["m49"], strict=True))
