"""Spots on a plot where a wire may hang, and the station that stands on one."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from pathlib import Path

from advisor.station.station import Station
from geo.errors import InputError, one_line
from geo.places import parse_place
from geo.sphere import destination
from geo.terrain import read_tile, terrain_around

FARTHEST_M = 1000.0
"""Farther off it is another place, with its own grid locator and noise. [m]"""

_FORM = "name, bearing and distance, such as 'south edge 180deg 40m'"
_SPOT = re.compile(
    r"(?P<name>.*\S)\s+(?P<deg>\d+(?:\.\d+)?)\s*(?:degrees|deg|\N{DEGREE SIGN})"
    r"[\s,]+(?P<m>\d+(?:\.\d+)?)\s*m"
)


@dataclass(frozen=True)
class Spot:
    """
    Where a wire may hang instead of at the station's own place.

    Attributes
    ----------
    name : str
        What it is called.
    azimuth_deg : float
        From the place, clockwise from true north. [deg]
    distance_m : float
        From the place. [m]
    """

    name: str
    azimuth_deg: float
    distance_m: float


def read_spot(text: str) -> Spot:
    """
    Read a spot as a person says it.

    Parameters
    ----------
    text : str
        Its name, bearing with ``deg`` and distance with ``m``.

    Returns
    -------
    spot : Spot
        The spot.

    Raises
    ------
    geo.errors.InputError
        If it is none, or over `FARTHEST_M` away.

    Examples
    --------
    >>> read_spot("south edge 180deg 40m")
    Spot(name='south edge', azimuth_deg=180.0, distance_m=40.0)
    """
    said = one_line(text)
    found = _SPOT.fullmatch(text.strip())
    if found is None:
        raise InputError(f"spot '{said}': give its {_FORM}")
    name, azimuth, distance = found["name"], float(found["deg"]), float(found["m"])
    if azimuth > 360.0 or not 0.0 < distance <= FARTHEST_M:
        raise InputError(
            f"spot '{said}': its bearing is 0 to 360 deg and its distance up to "
            f"{FARTHEST_M:g} m"
        )
    return Spot(one_line(name), azimuth, distance)


def standing_on(station: Station, spot: Spot) -> Station:
    """
    Move a station to a spot of its plot: only the ground around it is another.

    Parameters
    ----------
    station : Station
        With the ground around its own place.
    spot : Spot
        Where it goes.

    Returns
    -------
    station : Station
        The same, with ground and skyline as they are from there.

    Raises
    ------
    geo.errors.InputError
        If nothing is said of the ground, or a tile does not reach.
    """
    own = station.hills
    if own is None:
        raise InputError(
            f"spot '{spot.name}': nothing is known of the ground: give terrain or "
            "slopes in the station file"
        )
    if station.terrain:
        place = parse_place(station.place)
        lat, lon = destination(
            place.lat_deg, place.lon_deg, spot.azimuth_deg, 1e-3 * spot.distance_m
        )
        tiles = [read_tile(Path(name)) for name in station.terrain]
        hills = terrain_around(tiles, float(lat), float(lon))
    else:
        hills = own.seen_from(spot.azimuth_deg, spot.distance_m)
    is_own_line = station.horizon == own.skyline()
    horizon = hills.skyline() if is_own_line else station.horizon
    return replace(station, hills=hills, horizon=horizon)
