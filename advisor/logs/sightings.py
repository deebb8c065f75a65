"""
What logs and files of spots say was heard, as rows without call signs.

A row is one signal that was heard, or one contact; who it was is a number. Readers make
rows of text (`advisor.logs.adif`, `advisor.logs.columns`); `gather` puts them together.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import fields
from functools import lru_cache
from itertools import starmap
from typing import Any, NamedTuple

import numpy as np

from advisor.station.bands import band_by_name
from advisor.station.emissions import emission_by_name
from geo.arrays import Bools, Floats, Indices, Names, Times
from geo.errors import InputError
from geo.fields import Count, record
from geo.places import Place, parse_place, resolve_target
from geo.records import ArrayRecord
from geo.solar import r12_at
from geo.sphere import distance_km

HEARD, HEARD_ME, CONTACT = "heard", "heard me", "contact"
WAYS = (HEARD, HEARD_ME, CONTACT)
"""Who heard whom: I the far end, the far end me, both each other."""

NOT = "not "
"""Put before a way: listened for, called, and nothing."""

_SEVERAL = 200_000
_MOMENT = re.compile(
    r"(\d{4}-\d\d-\d\d)[T ](\d\d:\d\d)(:\d\d)?(?:\.\d+)?(?:Z|[+-]00:?00| ?UTC)?"
)
_SMALL_KM = 800.0
_LEAST_DB, _MOST_DB = -60.0, 120.0


class Row(NamedTuple):
    """One row as text; empty where it says nothing."""

    line: int
    time: str
    band: str
    own: str
    far: str
    who: str
    way: str
    emission: str = ""
    hear_db: str = ""
    heard_db: str = ""
    own_power_w: str = ""
    far_power_w: str = ""


@record
class Broken:
    """
    A row that could not be used.

    Attributes
    ----------
    file : str
        Name of its file.
    line : int
        Line of a table, or number of the record in a log, from 1.
    why : str
        What is wrong with it.
    """

    file: str
    line: Count
    why: str


class Sightings(ArrayRecord):
    """
    N rows that were understood.

    Attributes
    ----------
    times : numpy.ndarray of datetime64[s]
        Shape (N,), UTC.
    band : numpy.ndarray of str
        Shape (N,), names of bands.
    own_lat_deg, own_lon_deg : numpy.ndarray
        Shape (N,), my place; NaN where the row does not say. [deg]
    far_lat_deg, far_lon_deg : numpy.ndarray
        Shape (N,), place of the far end. [deg]
    who : numpy.ndarray of int
        Shape (N,), a number for each far end that was named.
    way : numpy.ndarray of int
        Shape (N,), place in `WAYS`.
    worked : numpy.ndarray of bool
        Shape (N,), False where it was tried in vain.
    emission : numpy.ndarray of str
        Shape (N,), name of the emission; empty where it is not known.
    hear_db, heard_db : numpy.ndarray
        Shape (N,), signal over noise in 2.5 kHz here and at the far end; NaN where it
        was not told. [dB]
    own_power_w, far_power_w : numpy.ndarray
        Shape (N,), power; NaN where it was not told. [W]
    broken : tuple of Broken
        Rows that were not understood.
    """

    times: Times
    band: Names
    own_lat_deg: Floats
    own_lon_deg: Floats
    far_lat_deg: Floats
    far_lon_deg: Floats
    who: Indices
    way: Indices
    worked: Bools
    emission: Names
    hear_db: Floats
    heard_db: Floats
    own_power_w: Floats
    far_power_w: Floats
    broken: tuple[Broken, ...] = ()


def gather(
    files: Iterable[tuple[str, Iterable[Row | Broken]]],
) -> Sightings:
    """
    Put the rows of several files together.

    Parameters
    ----------
    files : iterable of (str, iterable of (Row or Broken))
        Name of each file and its rows.

    Returns
    -------
    sightings : Sightings
        Rows in order of time. What cannot be read is among ``broken``; who the far end
        was is a number from here on.

    Examples
    --------
    >>> row = Row(1, "2026-12-05T14:02Z", "20 m", "KF07jo", "JO62", "a", "heard")
    >>> gather([("log", [row, row._replace(time="noon")])]).broken[0].why
    "time 'noon' is not like 2026-12-05T14:02Z"
    """
    people: dict[tuple[str, str], int] = {}
    read, broken = [], []
    for name, rows in files:
        for row in rows:
            if isinstance(row, Broken):
                broken.append(row)
                continue
            try:
                read.append(_understood(row, people))
            except InputError as error:
                broken.append(Broken(name, row.line, str(error)))
    read.sort(key=lambda each: str(each[0]))
    columns = list(zip(*read, strict=True)) or [()] * 14
    kinds = ("datetime64[s]", str, *[float] * 4, int, int, bool, str, *[float] * 4)
    arrays = starmap(np.array, zip(columns, kinds, strict=True))
    names = (each.name for each in fields(Sightings))
    told: dict[str, Any] = dict(zip(names, [*arrays, tuple(broken)], strict=True))
    return Sightings(**told)


def _understood(row: Row, people: dict[tuple[str, str], int]) -> tuple[object, ...]:
    """Values of a row in the order of `Sightings`."""
    found = _MOMENT.fullmatch(row.time.strip())
    if not found:
        raise InputError(f"time {row.time[:30]!r} is not like 2026-12-05T14:02Z")
    try:
        moment = np.datetime64(f"{found[1]}T{found[2]}{found[3] or ''}", "s")
    except ValueError:
        raise InputError(f"there is no time {row.time[:30]!r}") from None
    _check_sun(found[1][:7])
    way = " ".join(row.way.lower().split())
    worked = not way.startswith(NOT)
    way = way.removeprefix(NOT)
    if way not in WAYS:
        raise InputError(f"way {row.way[:30]!r} is none of {', '.join(WAYS)}")
    if not row.far.strip():
        raise InputError("no place of the far end")
    far = _far_place(row.far)
    return (
        moment,
        _band(row.band),
        *(_place(row.own) if row.own.strip() else (np.nan, np.nan)),
        *far,
        people.setdefault((row.who, row.far.upper()), len(people)),
        WAYS.index(way),
        worked,
        _emission(row.emission),
        _figure(row.hear_db, "ratio", _LEAST_DB, _MOST_DB),
        _figure(row.heard_db, "ratio", _LEAST_DB, _MOST_DB),
        _figure(row.own_power_w, "power", 1e-6, 1e5),
        _figure(row.far_power_w, "power", 1e-6, 1e5),
    )


@lru_cache(maxsize=10_000)
def _check_sun(month: str) -> None:
    """Refuse a month that the table of solar activity does not reach."""
    r12_at(np.array([f"{month}-15"], dtype="datetime64[s]"))


@lru_cache(maxsize=_SEVERAL)
def _band(text: str) -> str:
    """Name of the band of a name or a frequency in MHz."""
    plain = text.strip()
    if not plain:
        raise InputError("no band and no frequency")
    try:
        mhz = float(plain)
    except ValueError:
        return band_by_name(plain).name
    for region in (1, 2, 3):
        try:
            return band_by_name(f"{mhz}MHz", region).name
        except InputError:
            continue
    raise InputError(f"{mhz:g} MHz is in none of the bands told of")


@lru_cache(maxsize=_SEVERAL)
def _place(text: str) -> tuple[float, float]:
    """Latitude and longitude of a locator or of degrees."""
    place = parse_place(text.strip())
    return place.lat_deg, place.lon_deg


@lru_cache(maxsize=_SEVERAL)
def _far_place(text: str) -> tuple[float, float]:
    """Latitude and longitude of the far end, the middle of a country if it is small."""
    if any(letter.isdigit() for letter in text):
        return _place(text)
    target = resolve_target(text.strip(), Place(0.0, 0.0, ""))
    lat, lon = (
        float(np.average(each, weights=target.weight))
        for each in (target.lat_deg, target.lon_deg)
    )
    apart = distance_km(lat, lon, target.lat_deg, target.lon_deg)
    if target.kind != "country" or apart.max() > _SMALL_KM:
        raise InputError(f"{text[:40]!r} is no place: a locator is wanted")
    return lat, lon


@lru_cache(maxsize=1000)
def _emission(text: str) -> str:
    """Name of an emission in the table; empty for one that is not."""
    try:
        return emission_by_name(text).name
    except InputError:
        return ""


def _figure(text: str, what: str, least: float, most: float) -> float:
    """Read a number that may be missing."""
    if not text.strip():
        return float("nan")
    try:
        value = float(text)
    except ValueError:
        value = float("nan")
    if not least <= value <= most:
        raise InputError(
            f"{what} {text[:20]!r} is no number from {least:g} to {most:g}"
        )
    return value


def decoded_text(raw: bytes) -> str:
    """
    Read the letters of a file.

    Parameters
    ----------
    raw : bytes
        What is in it.

    Returns
    -------
    text : str
        One letter a byte, since programs count the bytes of a field in a log; what is
        asked of a row is plain letters and figures.
    """
    return raw.removeprefix(b"\xef\xbb\xbf").decode("latin-1")
