"""
Amateur bands from 1.8 to 54 MHz and the radio region a place lies in.

Nothing here needs more than the standard library, so that a command can offer
the band names before anything heavy is loaded.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from functools import cache

from geo.errors import InputError, near_matches
from geo.tables import read_table

BAND_NAMES = (
    "160 m",
    "80 m",
    "60 m",
    "40 m",
    "30 m",
    "20 m",
    "17 m",
    "15 m",
    "12 m",
    "10 m",
    "6 m",
)
"""Every band, lowest frequency first."""

IARU_REGIONS = (1, 2, 3)

_LEAST_KHZ = 1000.0
"""A bare number from here on can only be kHz."""

_SPOKEN = re.compile(r"(?P<figure>\d+(\.\d+)?|\.\d+)\s*(?P<unit>m|mhz|khz)?")


@dataclass(frozen=True)
class Band:
    """
    One amateur band in one radio region.

    Attributes
    ----------
    name : str
        One of `BAND_NAMES`.
    low_mhz, high_mhz : float
        Edges. [MHz]
    planning_mhz : float
        The frequency a plan is made for, a project choice. [MHz]
    iaru_region : int
        Region whose edges these are: 1, 2 or 3.
    called_mhz : float
        The figure the band is called by, as in "the 14 MHz band". [MHz]
    widest_hz : float
        Widest emission the band plan has room for; infinite where none is held.
        [Hz]
    note : str
        What a licence holder should look up; may be empty.
    reference : str
        Where the edges were taken from.
    """

    name: str
    low_mhz: float
    high_mhz: float
    planning_mhz: float
    iaru_region: int = 1
    called_mhz: float = math.nan
    widest_hz: float = math.inf
    note: str = ""
    reference: str = ""


def bands_for_region(iaru_region: int) -> tuple[Band, ...]:
    """
    Return every band with the edges of one radio region.

    National licence conditions prevail over all of them.

    Parameters
    ----------
    iaru_region : int
        1 (Europe, Africa, northern Asia), 2 (the Americas) or 3 (southern Asia
        and Oceania).

    Returns
    -------
    bands : tuple of Band
        In the order of `BAND_NAMES`.

    Raises
    ------
    InputError
        If the region is not 1, 2 or 3.

    Examples
    --------
    >>> bands_for_region(2)[1].high_mhz
    4.0
    """
    if iaru_region not in IARU_REGIONS:
        raise InputError(f"no IARU region {iaru_region}: it is 1, 2 or 3")
    return _all_bands()[iaru_region]


def band_by_name(text: str, iaru_region: int = 1) -> Band:
    """
    Find a band by wavelength or by frequency.

    Parameters
    ----------
    text : str
        A wavelength (``"20 m"``, ``"20m"``, ``"20"``) or a frequency in or
        naming the band (``"14 MHz"``, ``"14"``, ``"14.06"``, ``"14060 kHz"``).
    iaru_region : int, optional
        Region whose edges are wanted. Those of Region 1, the default, lie inside
        those of the other two.

    Returns
    -------
    band : Band
        The band.

    Raises
    ------
    InputError
        If no band fits, or if two do, as with ``"10"``.

    Examples
    --------
    >>> band_by_name("20m").name, band_by_name("14 MHz").name
    ('20 m', '20 m')
    """
    bands = bands_for_region(iaru_region)
    spoken = _SPOKEN.fullmatch(text.strip().casefold())
    found: list[Band] = []
    if spoken:
        figure, unit = float(spoken["figure"]), spoken["unit"]
        if unit in (None, "m"):
            found += [band for band in bands if band.name == f"{figure:g} m"]
        if unit != "m":
            mhz = figure / 1000.0 if unit == "khz" else figure
            found += [band for band in bands if _is_called(band, mhz)]
    if len(found) == 1:
        return found[0]
    if found:
        raise InputError(
            f"band {text!r} could be {found[0].name} or {found[1].name}:"
            f" write '{text.strip()}m' or '{text.strip()}MHz'"
        )
    raise InputError(_unknown_band(text, spoken))


def iaru_region_of(lat_deg: float, lon_deg: float) -> int:
    """
    Say in which radio region a place lies.

    An approximation: lines A, B and C of the Radio Regulations are followed as
    great circles, but the land borders east of line A, where whole countries
    belong to Region 1 and all of Iran to Region 3, are coarse (some 30 km).
    Near such a border name the region yourself.

    Parameters
    ----------
    lat_deg : float
        Latitude, north positive. [deg]
    lon_deg : float
        Longitude, east positive, -180 to 180. [deg]

    Returns
    -------
    region : int
        1, 2 or 3.

    Notes
    -----
    ITU Radio Regulations Article 5, Nos. 5.2 to 5.9, from memory; borders after
    Natural Earth 1:110 million.

    Examples
    --------
    >>> iaru_region_of(-32.4, 20.8), iaru_region_of(45.0, -75.0)
    (1, 2)
    """
    rings = _region_rings()
    for ring, region in (
        ("region 2", 2),
        ("Iran", 3),
        ("region 1", 1),
        ("region 1 east", 1),
    ):
        if any(
            _is_inside(lat_deg, lon_deg + turn, rings[ring])
            for turn in (-360.0, 0.0, 360.0)
        ):
            return region
    return 3


@cache
def _all_bands() -> dict[int, tuple[Band, ...]]:
    """Read the table of bands, by region."""
    bands = read_table("bands").records(Band, name="band", reference="status")
    return {
        region: tuple(each for each in bands if each.iaru_region == region)
        for region in IARU_REGIONS
    }


def _is_called(band: Band, mhz: float) -> bool:
    """Whether a frequency lies in a band or is the one it is called by."""
    return mhz == band.called_mhz or band.low_mhz <= mhz <= band.high_mhz


def _unknown_band(text: str, spoken: re.Match[str] | None) -> str:
    """Word the error for a band that is none; name the nearest one."""
    parts = [part.strip() for part in re.split(r"[,;]", text) if part.strip()]
    if len(parts) > 1:
        return _several_bands(text, parts)
    close = near_matches(text.strip(), BAND_NAMES)
    figure = float(spoken["figure"]) if spoken else 0.0
    if spoken and not spoken["unit"] and _LEAST_KHZ <= figure < 1e6:
        named = [band for band in _all_bands()[1] if _is_called(band, figure / 1000.0)]
        if named:
            khz = text.strip()
            return (
                f"band {text[:40]!r} reads as kHz: {named[0].name}; write "
                f"'{khz}kHz' or '{named[0].name}'"
            )
        figure /= 1000.0
        close = f"read as kHz, the nearest is {_nearest_to(figure)}"
    elif spoken and 1e-3 < float(spoken["figure"]) < 1e6:
        figure, unit = float(spoken["figure"]), spoken["unit"]
        mhz = {"m": 300.0 / figure, "khz": figure / 1000.0}.get(unit, figure)
        close = f"the nearest is {_nearest_to(mhz)}"
    return (
        f"no amateur band {text[:40]!r}{f' ({close})' if close else ''}: give one of"
        f" {', '.join(BAND_NAMES)}, or a frequency inside one"
    )


def _nearest_to(mhz: float) -> str:
    """Name the band nearest to a frequency in MHz."""
    near = min(_all_bands()[1], key=lambda band: abs(math.log(band.low_mhz / mhz)))
    return near.name


def _several_bands(text: str, parts: list[str]) -> str:
    """Word the error for a decimal comma, or for several bands in one."""
    pointed = text.strip().replace(",", ".")
    for figure in (pointed,) if re.fullmatch(r"\d+,\d{3}\D*", text.strip()) else ():
        try:
            name = band_by_name(figure).name
        except InputError:
            continue
        return f"band {text[:40]!r}: write it with a decimal point, {figure} ({name})"
    each = " ".join(f"--band {part!r}" for part in parts[:4])
    return (
        f"band {text[:40]!r} names {len(parts)}: give one each time, {each}, or a list "
        "of texts in a file"
    )


@cache
def _region_rings() -> dict[str, tuple[tuple[float, float], ...]]:
    """Read the outlines of the radio regions as (latitude, longitude) corners."""
    rings: dict[str, list[tuple[float, float]]] = {}
    for row in read_table("radio_regions").rows():
        corner = float(row["latitude_deg"]), float(row["longitude_deg"])
        rings.setdefault(row["ring"], []).append(corner)
    return {name: tuple(corners) for name, corners in rings.items()}


def _is_inside(
    lat_deg: float, lon_deg: float, ring: tuple[tuple[float, float], ...]
) -> bool:
    """Count the sides, taken as great circles, that lie north of a place."""
    inside = False
    for (lat1, lon1), (lat2, lon2) in zip(ring, ring[1:] + ring[:1], strict=True):
        if (lon1 <= lon_deg) == (lon2 <= lon_deg):
            continue
        inside ^= _great_circle_lat(lat1, lon1, lat2, lon2, lon_deg) > lat_deg
    return inside


def _great_circle_lat(
    lat1: float, lon1: float, lat2: float, lon2: float, lon_deg: float
) -> float:
    """Latitude at which a great circle through two points crosses a meridian."""
    first, second, third = (math.radians(lon) for lon in (lon1, lon2, lon_deg))
    slope = math.tan(math.radians(lat1)) * math.sin(second - third) + math.tan(
        math.radians(lat2)
    ) * math.sin(third - first)
    return math.degrees(math.atan(slope / math.sin(second - first)))
