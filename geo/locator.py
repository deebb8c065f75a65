"""
Grid locators: the letters and digits that name a square on the map.

The system of IARU Region 1 (VHF Managers Handbook, definition from memory): pairs
of characters, longitude first, each pair dividing the one before. Counting starts
at 180 west, 90 south.

===========  ===========  ==================  =============
pair         characters   width (longitude)   height
===========  ===========  ==================  =============
field        A-R          20 deg              10 deg
square       0-9          2 deg               1 deg
subsquare    A-X          5 min               2.5 min
extended     0-9          30 s                15 s
===========  ===========  ==================  =============
"""

from __future__ import annotations

import math
from typing import Final, NamedTuple

from geo.errors import InputError


class _Pair(NamedTuple):
    """One level of division."""

    name: str
    symbols: str
    allowed: str


_PAIRS: Final = (
    _Pair("a field", "ABCDEFGHIJKLMNOPQR", "A-R"),
    _Pair("a square", "0123456789", "0-9"),
    _Pair("a subsquare", "abcdefghijklmnopqrstuvwx", "A-X"),
    _Pair("an extended square", "0123456789", "0-9"),
)
_LENGTHS: Final = (4, 6, 8)


def locator_to_latlon(text: str) -> tuple[float, float]:
    """
    Centre of a grid locator.

    Parameters
    ----------
    text : str
        Locator of 4, 6 or 8 characters, capitals or not.

    Returns
    -------
    lat_deg, lon_deg : float
        Centre of the area it names, north and east positive. [deg]

    Raises
    ------
    InputError
        If the length is another, or a pair is outside its alphabet; the message
        names the pair and what it may hold.

    Examples
    --------
    >>> locator_to_latlon("JJ00")
    (0.5, 1.0)
    >>> lat, lon = locator_to_latlon("qe37pd")
    >>> round(lat, 3), round(lon, 3)
    (-42.854, 147.292)
    """
    digits = _digits(text)
    lat_count = lon_count = 0
    cells = 1
    for pair, (lon_digit, lat_digit) in zip(_PAIRS, digits, strict=False):
        base = len(pair.symbols)
        lon_count = lon_count * base + lon_digit
        lat_count = lat_count * base + lat_digit
        cells *= base
    # Whole cells and one division keep the centre exact to the last bit.
    lat_deg = (2 * lat_count + 1) * 90.0 / cells - 90.0
    lon_deg = (2 * lon_count + 1) * 180.0 / cells - 180.0
    return lat_deg, lon_deg


def latlon_to_locator(lat_deg: float, lon_deg: float, characters: int = 6) -> str:
    """
    Grid locator that holds a point.

    Parameters
    ----------
    lat_deg : float
        Latitude, -90 to 90; the north pole itself counts to the last row. [deg]
    lon_deg : float
        Longitude, any number of turns. [deg]
    characters : int, optional
        Length: 4, 6 or 8.

    Returns
    -------
    locator : str
        Field in capitals, subsquare in small letters, as commonly written.

    Raises
    ------
    InputError
        If the length is another, the latitude is beyond a pole, or a number is
        not finite.

    Examples
    --------
    >>> latlon_to_locator(-42.854, 147.292)
    'QE37pd'
    >>> latlon_to_locator(0.0, 0.0, 8)
    'JJ00aa00'
    """
    if characters not in _LENGTHS:
        raise InputError(
            f"a locator of {characters} characters: the length must be 4, 6 or 8"
        )
    if not (math.isfinite(lat_deg) and math.isfinite(lon_deg)) or abs(lat_deg) > 90.0:
        raise InputError(
            f"no locator for latitude {lat_deg:g}, longitude {lon_deg:g}: give a "
            "latitude from -90 to 90 and a longitude in degrees"
        )
    pairs = _PAIRS[: characters // 2]
    cells = math.prod(len(pair.symbols) for pair in pairs)
    lon_count = math.floor((lon_deg + 180.0) * cells / 360.0) % cells
    lat_count = min(math.floor((lat_deg + 90.0) * cells / 180.0), cells - 1)
    locator = ""
    for pair in reversed(pairs):
        lon_count, lon_digit = divmod(lon_count, len(pair.symbols))
        lat_count, lat_digit = divmod(lat_count, len(pair.symbols))
        locator = pair.symbols[lon_digit] + pair.symbols[lat_digit] + locator
    return locator


def _digits(text: str) -> list[tuple[int, int]]:
    """Place of each pair's two characters in that pair's alphabet."""
    locator = text.strip()
    if len(locator) not in _LENGTHS:
        raise InputError(
            f"locator '{locator}' has {len(locator)} characters: give 4, 6 or 8, "
            "such as QE37 or QE37pd"
        )
    digits = []
    for place, pair in enumerate(_PAIRS[: len(locator) // 2]):
        came = locator[2 * place : 2 * place + 2]
        alphabet = pair.symbols.upper()
        found = [alphabet.find(symbol) for symbol in came.upper()]
        if len(found) != 2 or min(found) < 0:
            raise InputError(
                f"locator '{locator}': pair {place + 1}, '{came}', is not "
                f"{pair.name}; both characters must be {pair.allowed}"
            )
        digits.append((found[0], found[1]))
    return digits
