"""
Roughly where a place is, so that swapped or mistyped coordinates are noticed.

Outlines of countries are not shipped, and the sample points are too few to tell a
country by: of 54 large cities the nearest point is in another country for 12. The part
of the world holds far better, and is enough to notice that 56,45 is not in Scotland.
"""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import NDArray

from geo.land import is_land
from geo.places import country_points, target_names
from geo.sphere import destination, distance_km
from geo.tables import read_table

_COAST_KM = (50.0, 100.0)
"""Land this far away makes a coast of a place; the outlines are no finer. [km]"""

_WORLD = "001"


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
    return target_names()[country if region == _WORLD else region]


@cache
def _points() -> tuple[tuple[str, ...], NDArray[np.float64], NDArray[np.float64]]:
    """Code, latitude and longitude of every sample point of a country."""
    rows = country_points()
    lat, lon = np.array([row[1:] for row in rows]).T
    return tuple(row[0] for row in rows), lat, lon


@cache
def _region_of() -> dict[str, str]:
    """Smallest M49 region by numeric code of the country."""
    table = read_table("countries").columns
    return dict(zip(table["iso_numeric"], table["m49"], strict=True))
