"""
Where: places typed by a person, and targets turned into weighted sample points.

A place is a locator or ``lat,lon``. A target is a place, a UN M49 region, an ISO
3166 country, or a ring around the station; whatever it is, it becomes a handful of
points on the ground whose weights sum to one, so that the rest of the program need
not know which it was.
"""

from __future__ import annotations

import math
import re
from collections.abc import Collection, Mapping
from dataclasses import replace
from functools import cache
from typing import Annotated, Final

import numpy as np
from numpy.typing import ArrayLike

from geo.angles import without_minutes
from geo.arrays import Floats
from geo.countries import (
    WORLD,
    alpha2_codes,
    areas,
    call_area,
    called_by,
    code_of,
    countries_of,
    letter_codes,
    regions_meant,
    sample_rows,
    spellings,
    target_names,
    words_of,
)
from geo.errors import InputError, near_matches
from geo.fields import record
from geo.locator import latlon_to_locator, locator_to_latlon
from geo.records import ContentRecord
from geo.sphere import EARTH_CIRCUMFERENCE_KM, EARTH_RADIUS_KM, destination, distance_km
from geo.tables import read_table

_LAND: Final = "land area, Natural Earth 1:110 million"
_LAND_SMALL: Final = "land area and place from memory (no outline at 1:110 million)"
_BEARINGS: Final = 8
_RING_WIDTH_KM: Final = 400.0
_MOST_POINTS: Final = 12
_OWN_PLACE_KM: Final = 0.1
_PEOPLE: Final = "people in its large cities, from memory"
_FEW_CITIES: Final = 4
_OPERATORS: Final = "operators by country, of about 2000 to 2020, from memory"

_WIDE_KM: Final = 2000.0
"""A country whose land points lie farther apart is no longer one hop of the E layer
across: where in it people are then changes band and hour. The project's choice. [km]"""

WEIGHTINGS: Final = ("usual", "area", "operators")
"""What the sample points of a target may be weighted by."""

_NUMBER: Final = r"(\d+(?:\.\d+)?)"
_WITHIN: Final = re.compile(rf"within\s+{_NUMBER}\s*km", re.I)
_BETWEEN: Final = re.compile(rf"{_NUMBER}\s*(?:-|–|to)\s*{_NUMBER}\s*km", re.I)
_RING_LIKE: Final = re.compile(r"within\b.*|.*\d\s*(?:km|mi(les)?)|\d+\s*-\s*\d+", re.I)
_LOCATOR_LIKE: Final = re.compile(r"[A-Za-z]{2}\d.*")
_COORDINATE: Final = re.compile(r"(?P<number>.*?)\s*(?P<letter>[NSEW]?)", re.I)


@record
class Place:
    """
    One point on the ground.

    Attributes
    ----------
    lat_deg : float
        Latitude -90 to 90, north positive. [deg]
    lon_deg : float
        Longitude -180 to 180, east positive. [deg]
    label : str
        The place as it was given.

    Raises
    ------
    InputError
        If a coordinate is out of range or not finite.
    """

    lat_deg: Annotated[float, ("minimum", -90), ("maximum", 90)]
    lon_deg: Annotated[float, ("minimum", -180), ("maximum", 180)]
    label: str

    def __post_init__(self) -> None:
        if not (abs(self.lat_deg) <= 90.0 and abs(self.lon_deg) <= 180.0):
            raise InputError(
                f"place '{self.label}': latitude {self.lat_deg:g} must be -90 to 90 "
                f"and longitude {self.lon_deg:g} must be -180 to 180"
            )


class Target(ContentRecord):
    """
    Where to reach, as weighted points on the ground.

    Attributes
    ----------
    name : str
        What to call it, with the code of the standard it comes from.
    kind : str
        ``"region"``, ``"country"``, ``"point"`` or ``"ring"``.
    lat_deg, lon_deg : numpy.ndarray, shape (N,)
        The points, read-only. [deg]
    weight : numpy.ndarray, shape (N,)
        Share of the target each point stands for, read-only; the sum is 1.
    weight_source : str
        What the weights mean and where they come from.
    by_operators : bool
        Whether the weights say where operators are rather than where land is.
    """

    name: str
    kind: str
    lat_deg: Floats
    lon_deg: Floats
    weight: Floats
    weight_source: str
    by_operators: bool = False


def parse_place(text: str) -> Place:
    """
    Understand a locator or a pair of coordinates.

    Parameters
    ----------
    text : str
        Locator of 4, 6 or 8 characters, or ``lat,lon`` in decimal degrees, either
        signed (north and east positive) or with a letter N, S, E, W behind. With
        letters, minutes and seconds may follow and the comma may be left out.

    Returns
    -------
    place : Place
        A locator's centre labelled with the locator, or the point labelled with
        its coordinates.

    Raises
    ------
    InputError
        If it is neither, or a number is out of range or not finite. When the two
        coordinates seem to be swapped, the message says so.

    Examples
    --------
    >>> parse_place("QE37").label, parse_place("QE37").lon_deg
    ('QE37', 147.0)
    >>> parse_place("42.88S, 147.33E")
    Place(lat_deg=-42.88, lon_deg=147.33, label='-42.88, 147.33')
    >>> parse_place("42°52.8'S 147°19.8'E").label
    '-42.88, 147.33'
    """
    asked = " ".join(text.split())
    asked = without_minutes(asked)
    if "," in asked:
        return _parse_coordinates(asked)
    if not _LOCATOR_LIKE.fullmatch(asked):
        city = _cities().get(words_of(asked))
        near = ""
        if city is not None:
            where = f"{_plain(city.lat_deg)},{_plain(city.lon_deg)}"
            near = f"; {city.label} is at '{where}'"
        raise InputError(
            f"place '{asked}' is neither a locator of 4, 6 or 8 characters (QE37pd) "
            f"nor 'lat,lon' in decimal degrees (-42.88,147.33), as maps show them{near}"
        )
    lat_deg, lon_deg = locator_to_latlon(asked)
    return Place(lat_deg, lon_deg, latlon_to_locator(lat_deg, lon_deg, len(asked)))


def resolve_target(text: str, origin: Place, weights: str = "usual") -> Target:
    """
    Turn what was asked for into weighted sample points.

    Parameters
    ----------
    text : str
        A UN M49 region (``"035"``, ``"35"`` or ``"South-eastern Asia"``), an ISO
        3166 country (``"JP"``, ``"JPN"``, ``"392"`` or ``"Japan"``), a locator,
        ``lat,lon``, a ring (``"within 800 km"``, ``"800-2500 km"``), a prefix of call
        signs (``"VK"``, ``"W6"``; ``"prefix LU"`` where two letters are a country's
        code as well; ``"W6"`` and its like are a call area), a part of a country
        (``"California"``, ``"Kanto"``) or a large city. Names need neither capitals,
        accents nor their official word order.
    origin : Place
        The station, around which a ring is drawn.
    weights : str, optional
        One of `WEIGHTINGS`: by ``"area"``, or a region by where its ``"operators"``
        are, a country by the people in its large cities if it has four. The
        ``"usual"`` is by area, but for a country over 2000 km across, which is by its
        large cities. A place and a ring are weighted by area in any case.

    Returns
    -------
    target : Target
        Up to 12 points of a region, up to 5 of a country, one of a place, 24 to 64
        of a ring.

    Raises
    ------
    InputError
        If nothing of that kind is known; the message lists near matches. If the
        place is the station's own, the weighting is unknown, or no operators are
        known of in a region.

    Notes
    -----
    M49 numbers countries as ISO 3166 does, so three digits are never ambiguous,
    and two letters are always a country because a locator has digits. Regions and
    countries are weighted by land area: M49 counts all of the Russian Federation
    to Europe, so most of the weight of 150 Europe and 151 Eastern Europe lies in
    Siberia. World (001) is refused because a dozen points cannot stand for it.

    By operators, each country of a region has its count of operators spread over its
    own points, which are its large cities if it is wide; then the points that weigh
    least join their nearest neighbour, one by one, until a dozen are left.

    Examples
    --------
    >>> hobart = parse_place("QE37pd")
    >>> target = resolve_target("south eastern asia", hobart)
    >>> target.name, target.kind, len(target.weight)
    ('South-eastern Asia (M49 035)', 'region', 12)
    >>> resolve_target("within 800 km", hobart).name
    'within 800 km of QE37pd'
    """
    if weights not in WEIGHTINGS:
        raise InputError(
            f"weights '{weights}' are not known: give {' or '.join(WEIGHTINGS)}"
        )
    asked = without_minutes(" ".join(text.split()))
    within = _WITHIN.fullmatch(asked)
    if within:
        return _ring(asked, 0.0, float(within[1]), origin)
    between = _BETWEEN.fullmatch(asked)
    if between:
        return _ring(asked, float(between[1]), float(between[2]), origin)
    signed = called_by(asked)
    if signed is not None:
        number, prefix = signed
        parts = call_area(prefix, alpha2_codes()[number])
        if parts:
            return _part_of_country(parts, f", call sign {prefix}")
        target = _country(number, weights)
        return replace(target, name=f"{target.name[:-1]}, call sign {prefix})")
    with_digit = any(letter.isdigit() for letter in asked)
    if ("," in asked and with_digit) or _LOCATOR_LIKE.fullmatch(asked):
        return _point(parse_place(asked), origin)
    code = code_of(asked)
    if code == WORLD:
        raise InputError(
            "target 'World' is too wide for a few sample points: name a region such "
            "as 'Europe', or several"
        )
    if code is not None and code in alpha2_codes():
        return _country(code, weights)
    if code is not None:
        return _where_operators_are(code) if weights == "operators" else _area(code)
    city = _cities().get(words_of(asked))
    if city is not None:
        return _point(city, origin)
    if words_of(asked) in areas():
        return _part_of_country([areas()[words_of(asked)]])
    if _RING_LIKE.fullmatch(asked):
        raise InputError(
            f"ring '{asked}' is not understood: write 'within 800 km' or "
            "'800-2500 km'; a mile is 1.609 km"
        )
    towns = (place.label for place in _cities().values())
    known = [*spellings(), *towns, *read_table("areas").columns["area"]]
    hint = regions_meant(asked) or near_matches(asked, known)
    raise InputError(
        f"target '{asked}' is not known{': ' + hint if hint else ''} "
        "(a UN M49 region or ISO 3166 country by number, code or name, a state, a "
        "call-sign prefix, a large city, a locator, 'lat,lon', 'within 800 km' or "
        "'800-2500 km')"
    )


@cache
def _cities() -> Mapping[tuple[str, ...], Place]:
    """Large cities by the words of their names."""
    table = read_table("cities")
    lat, lon = table.numbers("lat_deg"), table.numbers("lon_deg")
    return {
        words_of(name): Place(float(lat[i]), float(lon[i]), name)
        for i, name in enumerate(table.columns["city"])
    }


def _part_of_country(parts: Collection[str], more: str = "") -> Target:
    """Target of a state, or of several, with their large towns as points."""
    table = read_table("areas")
    here = [i for i, each in enumerate(table.columns["area"]) if each in parts]
    lat, lon, weight = _gathered(
        *(table.numbers(name)[here] for name in ("lat_deg", "lon_deg", "millions"))
    )
    names = list(dict.fromkeys(table.columns["area"][i] for i in here))
    named = names[0] if len(names) == 1 else f"call area of {len(names)} parts"
    name = f"{named} ({table.columns['alpha2'][here[0]]}{more})"
    return _target(name, "country", lat, lon, weight, _PEOPLE, by_operators=True)


def _country(code: str, weights: str) -> Target:
    """Target of a country, by land or by people."""
    by_land = _area(code)
    lat, lon = by_land.lat_deg, by_land.lon_deg
    across_km = distance_km(lat[:, None], lon[:, None], lat, lon).max()
    is_by_people = weights == "operators" or (
        weights == "usual" and across_km > _WIDE_KM
    )
    return _where_people_are(code) if is_by_people else by_land


def _where_people_are(code: str) -> Target:
    """Target of a country with its large cities as points, if it has a few."""
    table = read_table("cities")
    alpha2 = alpha2_codes()[code]
    here = [i for i, each in enumerate(table.columns["alpha2"]) if each == alpha2]
    if len(here) < _FEW_CITIES:
        return _area(code)
    lat, lon, weight = _gathered(
        *(table.numbers(name)[here] for name in ("lat_deg", "lon_deg", "millions"))
    )
    name = f"{target_names()[code]} (ISO {alpha2})"
    return _target(name, "country", lat, lon, weight, _PEOPLE, by_operators=True)


def _parse_coordinates(asked: str) -> Place:
    """Read ``lat,lon`` with signs or letters."""
    parts = [part.strip() for part in asked.split(",")]
    if len(parts) != 2:
        raise InputError(
            f"place '{asked}' has {len(parts)} parts: give 'lat,lon' with decimal "
            "points, such as -42.88,147.33"
        )
    (lat_deg, lat_letter), (lon_deg, lon_letter) = (
        _coordinate(part, asked) for part in parts
    )
    first_is_lon = lat_letter in ("E", "W")
    second_is_lat = lon_letter in ("N", "S")
    if first_is_lon and second_is_lat:
        raise InputError(
            f"place '{asked}' looks swapped: latitude comes first, "
            f"try '{_plain(lon_deg)},{_plain(lat_deg)}'"
        )
    if first_is_lon or second_is_lat:
        raise InputError(
            f"place '{asked}': the first number is the latitude (N or S), the second "
            "the longitude (E or W)"
        )
    if abs(lat_deg) > 90.0:
        turned = f"'{_plain(lon_deg)},{_plain(lat_deg)}'"
        may_be_turned = abs(lat_deg) <= 180.0 and abs(lon_deg) <= 90.0
        hint = f"; if the two are swapped, try {turned}" if may_be_turned else ""
        raise InputError(
            f"place '{asked}': latitude {lat_deg:g} must be -90 to 90{hint}"
        )
    if abs(lon_deg) > 180.0:
        raise InputError(
            f"place '{asked}': longitude {lon_deg:g} must be -180 to 180; west is "
            "negative"
        )
    return Place(lat_deg, lon_deg, f"{_plain(lat_deg)}, {_plain(lon_deg)}")


def _coordinate(part: str, asked: str) -> tuple[float, str]:
    """Value and letter of one coordinate; S and W turn the sign."""
    tidy = part.replace("−", "-").replace("°", "")
    match = _COORDINATE.fullmatch(tidy)
    number, letter = (match["number"], match["letter"].upper()) if match else ("", "")
    try:
        value = float(number)
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        raise InputError(
            f"place '{asked}': '{part}' is not a number of decimal degrees such as "
            "-42.88 or 42.88S"
        )
    if letter and number.startswith(("-", "+")):
        raise InputError(
            f"place '{asked}': '{part}' has both a sign and a letter; give one of them"
        )
    return (-value if letter and letter in "SW" else value), letter


def _plain(value_deg: float) -> str:
    """Up to four decimals without trailing zeros or a minus before zero."""
    return f"{round(value_deg, 4) + 0.0:.4f}".rstrip("0").rstrip(".")


def _target(
    name: str,
    kind: str,
    lat_deg: ArrayLike,
    lon_deg: ArrayLike,
    weight: ArrayLike,
    weight_source: str,
    *,
    by_operators: bool = False,
) -> Target:
    """Bring the weights to a sum of one."""
    share = np.array(weight, dtype=np.float64)
    share /= share.sum()
    lat, lon = np.array(lat_deg, np.float64), np.array(lon_deg, np.float64)
    return Target(name, kind, lat, lon, share, weight_source, by_operators)


def check_away(place: Place, origin: Place) -> None:
    """
    Refuse a place that is the station's own.

    Parameters
    ----------
    place, origin : Place
        The target and the station.

    Raises
    ------
    InputError
        If they are one: there is no bearing from one to the other.
    """
    away_km = distance_km(origin.lat_deg, origin.lon_deg, place.lat_deg, place.lon_deg)
    if away_km < _OWN_PLACE_KM:
        raise InputError(
            f"target '{place.label}' is the station's own place, so it has no bearing: "
            "name another, or a ring about you such as 'within 100 km'"
        )


def _point(place: Place, origin: Place) -> Target:
    """Target of a single place."""
    check_away(place, origin)
    where = f"{_plain(place.lat_deg)}, {_plain(place.lon_deg)}"
    name = place.label if place.label == where else f"{place.label} ({where})"
    return _target(name, "point", [place.lat_deg], [place.lon_deg], [1.0], "one point")


def _ring(asked: str, inner_km: float, outer_km: float, origin: Place) -> Target:
    """Points on rings around the origin, each weighing as much as its ground."""
    furthest_km = EARTH_CIRCUMFERENCE_KM / 2.0
    if not inner_km < outer_km <= furthest_km:
        raise InputError(
            f"ring '{asked}': the outer distance must be larger than the inner and "
            f"at most {furthest_km:.0f} km"
        )
    rings = min(max(math.ceil((outer_km - inner_km) / _RING_WIDTH_KM), 3), 8)
    edge_km = np.linspace(inner_km, outer_km, rings + 1)
    ground = -np.diff(np.cos(edge_km / EARTH_RADIUS_KM))
    away_km = (edge_km[:-1] + edge_km[1:]) / 2.0
    # Every other ring is turned by half a step, so that no bearing is favoured.
    turn = np.arange(rings)[:, np.newaxis] % 2 / 2.0
    bearing = 360.0 / _BEARINGS * (np.arange(_BEARINGS) + turn)
    lat, lon = destination(
        origin.lat_deg, origin.lon_deg, bearing, away_km[:, np.newaxis]
    )
    reach = f"within {outer_km:g} km of" if not inner_km else ""
    return _target(
        f"{reach or f'{inner_km:g}-{outer_km:g} km from'} {origin.label}",
        "ring",
        lat.ravel(),
        lon.ravel(),
        np.repeat(ground, _BEARINGS),
        "area of the ring on the ground, land and sea alike",
    )


def _area(code: str) -> Target:
    """Target of a region or country from the table of sample points."""
    alpha2 = alpha2_codes().get(code)
    kind, standard = (
        ("country", "ISO " + alpha2) if alpha2 else ("region", "M49 " + code)
    )
    rows = sample_rows()[code]
    lat, lon, weight = ([float(row[i]) for row in rows] for i in range(3))
    outlined = any(row[3] == "outline" for row in rows)
    return _target(
        f"{target_names()[code]} ({standard})",
        kind,
        lat,
        lon,
        weight,
        _LAND if outlined else _LAND_SMALL,
    )


def _where_operators_are(code: str) -> Target:
    """Target of a region with the points of its countries, by their operators."""
    operators = _operators()
    name = f"{target_names()[code]} (M49 {code})"
    inside = [each for each in countries_of(code) if each in operators]
    if not inside:
        raise InputError(
            f"no operators are known of in {name}: use weights by area there"
        )
    each = [(_country(country, "usual"), operators[country]) for country in inside]
    lat, lon, weight = _gathered(
        np.concatenate([there.lat_deg for there, _ in each]),
        np.concatenate([there.lon_deg for there, _ in each]),
        np.concatenate([there.weight * count for there, count in each]),
    )
    return _target(name, "region", lat, lon, weight, _OPERATORS, by_operators=True)


def _gathered(
    lat_deg: Floats, lon_deg: Floats, weight: Floats
) -> tuple[Floats, Floats, Floats]:
    """Let the lightest point join its nearest neighbour until few are left."""
    lat, lon, share = lat_deg.copy(), lon_deg.copy(), weight.copy()
    while share.size > _MOST_POINTS:
        least = int(share.argmin())
        away = distance_km(lat[least], lon[least], lat, lon)
        away[least] = np.inf
        share[int(away.argmin())] += share[least]
        lat, lon, share = (np.delete(each, least) for each in (lat, lon, share))
    return lat, lon, share


@cache
def _operators() -> Mapping[str, float]:
    """Count of operators by numeric code of the country."""
    table = read_table("operators")
    counts = zip(table.columns["alpha2"], table.numbers("operators"), strict=True)
    numeric = letter_codes()
    return {numeric[letters]: float(count) for letters, count in counts}
