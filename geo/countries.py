"""
Countries and regions: their codes, names, call signs and sample points.

Regions are those of UN M49, countries those of ISO 3166, call signs by the Radio
Regulations.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping
from functools import cache
from types import MappingProxyType
from typing import Final

from geo.tables import read_table

WORLD: Final = "001"
"""Code of the whole world in UN M49."""

_BY_CALL_SIGN: Final = re.compile(
    r"(prefix\s+)?([A-Za-z]\d?|[A-Za-z]{2}\d?|\d[A-Za-z]\d?)", re.I
)
_NO_CALL_SIGN: Final = frozenset({"EU", "OC", "DX", "UK"})

_CONTINENT_LETTERS: Final = {"EU": "150", "OC": "009"}
"""Letters in use for continents that are no ISO 3166 country; AF, AS, NA and SA are."""

_OTHER_NAMES: Final = {
    "australasia": ("053", "009"),
    "far east": ("030", "035"),
    "middle east": ("145",),
    "near east": ("145",),
    "scandinavia": ("154",),
    "nordic countries": ("154",),
    "balkans": ("039",),
    "balkan": ("039",),
    "pacific": ("009",),
    "america": ("019", "021", "005"),
    "latin america": ("419",),
}
"""Names that are no M49 region, and the regions they may mean."""

_UNSAID: Final = frozenset({"the", "of", "and"})


def called_by(asked: str) -> tuple[str, str] | None:
    """
    Find the country that is asked for by a prefix of call signs.

    Parameters
    ----------
    asked : str
        What was typed.

    Returns
    -------
    country : (str, str) or None
        Its three-digit code, and the prefix.
    """
    named = _BY_CALL_SIGN.fullmatch(asked)
    if named is None or asked.upper() in _NO_CALL_SIGN:
        return None
    prefix = named[2].upper()
    country = country_of_call_sign(prefix)
    # Two letters are a country first.
    if not country or not (named[1] or code_of(asked) is None):
        return None
    return letter_codes()[country], prefix


def country_of_call_sign(prefix: str) -> str:
    """
    Say to which country a prefix of call signs is allotted.

    Parameters
    ----------
    prefix : str
        Its first one to four characters, such as ``VK``, ``W6`` or ``9V1``.

    Returns
    -------
    alpha2 : str
        ISO 3166 code by the Radio Regulations, Appendix 42 (from memory); empty if no
        country has it, or several have.

    Examples
    --------
    >>> [country_of_call_sign(each) for each in ("VK3", "w6", "A2", "9V1", "V")]
    ['AU', 'US', 'BW', 'SG', '']
    """
    asked = prefix.upper()
    for start in (asked[:2], asked[:1]):
        # A letter and a figure: of a series of such, or a letter's own call area.
        if start == asked[:1] and len(asked) > 1 and not asked[1].isdigit():
            break
        holders = {
            alpha2
            for first, last, alpha2 in _call_series()
            if first[: len(start)] <= start <= last[: len(start)]
        }
        if holders:
            return holders.pop() if len(holders) == 1 else ""
    return ""


_AREA_SERIES: Final = {
    "US": r"[KNW][A-GI-KM-OQ-Z]?|A[A-GI-K]",
    "CA": "V[AE]",
    "AU": "VK",
    "JP": "J[A-S]",
}
"""Series of call signs whose figure tells the part of the country."""


@cache
def areas() -> Mapping[tuple[str, ...], str]:
    """
    List the states, provinces and other parts of countries that can be named.

    Returns
    -------
    names : mapping of tuple of str to str
        Name of the part by its words, see :func:`words_of`, alone and with the letters
        of its country.
    """
    table = read_table("areas").columns
    return {
        words_of(f"{area} {letters}"): area
        for area, alpha2 in zip(table["area"], table["alpha2"], strict=True)
        for letters in ("", alpha2)
    } | {
        words_of(f"{area.removesuffix(' State')} {alpha2}"): area
        for area, alpha2 in zip(table["area"], table["alpha2"], strict=True)
    }


def call_area(prefix: str, alpha2: str) -> tuple[str, ...]:
    """
    Say which parts of a country a prefix of call signs is from.

    Parameters
    ----------
    prefix : str
        With its figure.
    alpha2 : str
        The country it is allotted to.

    Returns
    -------
    areas : tuple of str
        Their names in order; empty where figures tell nothing.

    Examples
    --------
    >>> [call_area(each, each_of) for each, each_of in (("K6", "US"), ("VK", "AU"))]
    [('California',), ()]
    """
    series = re.fullmatch(rf"(?:{_AREA_SERIES.get(alpha2, ' ')})(\d)", prefix)
    wanted = {(alpha2, series[1] if series else prefix), (alpha2, prefix)}
    found = {
        row["area"]
        for row in read_table("areas").rows()
        if (row["alpha2"], row["call"]) in wanted
    }
    return tuple(sorted(found))


@cache
def _call_series() -> tuple[tuple[str, str, str], ...]:
    """First and last of each run of series, and the country."""
    table = read_table("call_series").columns
    return tuple(zip(table["first"], table["last"], table["alpha2"], strict=True))


def regions_meant(asked: str) -> str:
    """
    Offer the regions that a name or the letters of a continent may mean.

    Parameters
    ----------
    asked : str
        What was typed.

    Returns
    -------
    offer : str
        A hint for an error message, empty if there is none.
    """
    if asked.upper() == "DX":
        return "for all that is far give a ring such as '3000-15000 km'"
    letters = _CONTINENT_LETTERS.get(asked.upper())
    meant = (letters,) if letters else _OTHER_NAMES.get(asked.casefold(), ())
    offers = [f"{code} ({target_names()[code]})" for code in meant]
    return f"for the region give {' or '.join(offers)}" if offers else ""


@cache
def target_names() -> Mapping[str, str]:
    """
    List the regions and countries that can be named as a target.

    Returns
    -------
    names : mapping of str to str
        Three-digit code to shown name: M49 regions first, then ISO 3166
        countries, each by code.

    Examples
    --------
    >>> target_names()["035"], target_names()["410"]
    ('South-eastern Asia', 'South Korea')
    """
    names = {row["code"]: row["name"] for row in read_table("m49_regions").rows()}
    del names[WORLD]
    for row in read_table("countries").rows():
        names[row["iso_numeric"]] = row["everyday"] or row["name"]
    return MappingProxyType(names)


def country_points() -> tuple[tuple[str, float, float], ...]:
    """
    List the sample points of every country.

    Returns
    -------
    points : tuple of (str, float, float)
        Numeric code of the country, latitude and longitude. [deg]

    Examples
    --------
    >>> "372" in {code for code, _, _ in country_points()}
    True
    """
    return tuple(
        (code, float(row[0]), float(row[1]))
        for code in alpha2_codes()
        for row in sample_rows().get(code, ())
    )


@cache
def countries_of(code: str) -> tuple[str, ...]:
    """
    List the countries in a region.

    Parameters
    ----------
    code : str
        Three-digit code of the region.

    Returns
    -------
    codes : tuple of str
        Their numeric codes, in file order.
    """
    regions = read_table("m49_regions").rows()
    wanted = {code}
    for row in regions:
        if row["code"] == code:
            wanted |= set(row["includes"].split())
    for _ in regions:
        wanted |= {row["code"] for row in regions if row["parent"] in wanted}
    return tuple(
        row["iso_numeric"]
        for row in read_table("countries").rows()
        if row["m49"] in wanted
    )


@cache
def sample_rows() -> Mapping[str, list[tuple[str, ...]]]:
    """
    Read the sample points of every region and country.

    Returns
    -------
    rows : mapping of str to list
        Latitude, longitude, weight and origin of each point, by three-digit code.
    """
    table = read_table("target_points").columns
    found: dict[str, list[tuple[str, ...]]] = {}
    columns = (table[name] for name in ("lat_deg", "lon_deg", "weight", "origin"))
    for code, *row in zip(table["code"], *columns, strict=True):
        found.setdefault(code, []).append(tuple(row))
    return found


@cache
def alpha2_codes() -> Mapping[str, str]:
    """
    Read the letters of every country.

    Returns
    -------
    codes : mapping of str to str
        ISO alpha-2 code by numeric code.
    """
    table = read_table("countries").columns
    return dict(zip(table["iso_numeric"], table["alpha2"], strict=True))


def code_of(asked: str) -> str | None:
    """
    Look a region or country up by number, letters or name.

    Parameters
    ----------
    asked : str
        What was typed.

    Returns
    -------
    code : str or None
        Its three-digit code.
    """
    if asked.isascii() and asked.isdigit():
        code = asked.zfill(3)
        return code if code in target_names() or code == WORLD else None
    return letter_codes().get(asked.upper()) or _names_by_words().get(words_of(asked))


@cache
def letter_codes() -> Mapping[str, str]:
    """
    Read the number of every country.

    Returns
    -------
    codes : mapping of str to str
        Numeric code by ISO alpha-2 and alpha-3 code.
    """
    table = read_table("countries").columns
    return {
        letters: code
        for column in ("alpha2", "alpha3")
        for letters, code in zip(table[column], table["iso_numeric"], strict=True)
    }


@cache
def spellings() -> Mapping[str, str]:
    """
    List every name of a region or country that is understood.

    Returns
    -------
    codes : mapping of str to str
        Three-digit code by name.
    """
    found = {row["name"]: row["code"] for row in read_table("m49_regions").rows()}
    for row in read_table("countries").rows():
        for name in (row["name"], row["everyday"], *row["also"].split(";")):
            if name:
                found[name] = row["iso_numeric"]
    return found


@cache
def _names_by_words() -> Mapping[tuple[str, ...], str]:
    """Numeric code by the words of a name, see :func:`words_of`."""
    return {words_of(name): code for name, code in spellings().items()}


def words_of(name: str) -> tuple[str, ...]:
    """
    Take a name apart into what tells it from others.

    Official names turn their words round ("Korea (Republic of)"), people do not.

    Parameters
    ----------
    name : str
        As typed, or from a table.

    Returns
    -------
    words : tuple of str
        In alphabetical order, without accents, capitals or articles.
    """
    plain = unicodedata.normalize("NFKD", re.sub(r"['’.]", "", name.casefold()))
    letters = "".join(mark for mark in plain if not unicodedata.combining(mark))
    words = (("saint" if w == "st" else w) for w in re.findall(r"[a-z0-9]+", letters))
    return tuple(sorted(word for word in words if word not in _UNSAID))
