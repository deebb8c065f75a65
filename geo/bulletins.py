"""
Files of space-weather offices and ionosondes: from their text to numbers.

What such files are like was seen in real ones of 2023 to 2026; old and new forms are
read, for both lie about in archives. All times are UTC. A figure that is missing,
marked as bad or out of range is NaN, and so never used; a text that is no such file at
all is an error.
"""

from __future__ import annotations

import json
import re
from datetime import UTC, datetime
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from geo.errors import InputError
from geo.solar import LEAST_FLUX_SFU, MOST_FLUX_SFU

Floats = NDArray[np.float64]
Times = NDArray[np.datetime64]

NOON = "Noon"
"""Of three readings a day at Penticton this one is F10.7; the others stray from it with
the sun's height."""

XRAY_RANGE_W_M2 = (1e-9, 1e-1)
"""From below what the detector sees to ten times the largest flare. [W/m2]"""

FOF2_RANGE_MHZ = (0.5, 25.0)
"""What an ionosonde may show. [MHz]"""

HMF2_RANGE_KM = (150.0, 600.0)
"""Where the F2 layer may have its peak. [km]"""

LEAST_CONFIDENCE = 40.0
"""Score of 100 from which a reading by a program is used. The project's choice."""

_IONOSONDE_PLACE = re.compile(
    r"GEO \(\s*([\d.]+)\s*([NS])\s+([\d.]+)\s*([EW])\s*\)(?:, URSI-Code (\w+))?"
)

_PLASMA_MHZ = 8.98e-6
_LEAST_POINTS = 100
_TO_LAT_DEG, _MOST_APART_DEG = 60.0, 45.0
"""A map that ends nearer to the equator or leaves out more of a circle of latitude is
one of a region: the project's choice. [deg]"""

_MAP_PATH = re.compile(r"/products/glotec/(?:\w+/)*\w+\.geojson")

_NOON_HOUR = 20
_OUTLOOK_ROW = re.compile(
    r"^(\d{4} [A-Z][a-z]{2} \d\d)\s+(\d+)\s+(\d+)\s+(\d+)\s*$", re.MULTILINE
)
_LONG_BAND = "0.1-0.8nm"


class Flux(NamedTuple):
    """
    Noon readings of the 10.7 cm flux, the oldest first.

    Attributes
    ----------
    times : numpy.ndarray
        When, datetime64[s], (N,).
    flux_sfu : numpy.ndarray
        The reading, (N,). [sfu]
    mean_sfu : numpy.ndarray
        Mean over 90 days that goes with it, NaN where none is told, (N,). [sfu]
    """

    times: Times
    flux_sfu: Floats
    mean_sfu: Floats


class Kp(NamedTuple):
    """
    Kp in blocks of three hours, the oldest first.

    Attributes
    ----------
    times : numpy.ndarray
        When a block begins, datetime64[s], (N,).
    kp : numpy.ndarray
        Planetary index, 0 to 9, (N,).
    is_observed : numpy.ndarray
        Whether it was measured, if only as an estimate; else it is a forecast, (N,).
    """

    times: Times
    kp: Floats
    is_observed: NDArray[np.bool_]


class Outlook(NamedTuple):
    """
    Outlook day by day.

    Attributes
    ----------
    times : numpy.ndarray
        Day, datetime64[s], (N,).
    flux_sfu : numpy.ndarray
        10.7 cm flux, (N,). [sfu]
    ap : numpy.ndarray
        Mean of the day, the index Ap, (N,). [2 nT]
    """

    times: Times
    flux_sfu: Floats
    ap: Floats


class Xrays(NamedTuple):
    """
    Soft X-rays of the sun minute by minute, the oldest first.

    Attributes
    ----------
    times : numpy.ndarray
        When, datetime64[s], (N,).
    flux_w_m2 : numpy.ndarray
        From 0.1 to 0.8 nm; NaN where electrons spoil it, (N,). [W/m2]
    """

    times: Times
    flux_w_m2: Floats


class ElectronMap(NamedTuple):
    """
    F2 layer over a grid, from measured electron content.

    Attributes
    ----------
    lat_deg, lon_deg : numpy.ndarray
        Rising, (A,) and (B,). [deg]
    fof2_mhz, hmf2_km : numpy.ndarray
        Critical frequency and height of the peak, NaN where there is none, (A, B).
        [MHz], [km]
    """

    lat_deg: Floats
    lon_deg: Floats
    fof2_mhz: Floats
    hmf2_km: Floats


class Ionosonde(NamedTuple):
    """
    Readings of one ionosonde, the oldest first.

    Attributes
    ----------
    name : str
        Its code, or what the file calls it.
    lat_deg, lon_deg : float
        Where it stands. [deg]
    times : numpy.ndarray
        When, datetime64[s], (N,).
    fof2_mhz, hmf2_km : numpy.ndarray
        Critical frequency and height of the F2 peak, (N,); NaN where it was not read,
        or by a program of little confidence. [MHz], [km]
    """

    name: str
    lat_deg: float
    lon_deg: float
    times: Times
    fof2_mhz: Floats
    hmf2_km: Floats


def noon_flux(text: str) -> Flux:
    """
    Read readings of the 10.7 cm flux.

    Parameters
    ----------
    text : str
        JSON: records with ``time_tag``, ``flux``, and where there are several a day
        ``reporting_schedule`` and ``ninety_day_mean``.

    Returns
    -------
    flux : Flux
        Of noon alone. Without a schedule those of 20 UTC count, noon at Penticton.

    Raises
    ------
    InputError
        If it is another file.

    Examples
    --------
    >>> noon_flux('[{"time_tag": "2026-06-12T20:00:00", "flux": 128}]').flux_sfu
    array([128.])
    """
    rows = []
    for row in _records(text):
        time = _time(row.get("time_tag", row.get("TimeStamp")))
        hour = time.astype("datetime64[h]").astype(int) % 24
        schedule = row.get("reporting_schedule")
        if schedule == NOON or (schedule is None and hour == _NOON_HOUR):
            flux = _number(row.get("flux", row.get("Flux")))
            rows.append((time, flux, _number(row.get("ninety_day_mean"))))
    times, flux, mean = _columns(rows, 3)
    return Flux(
        times, *(_within(v, LEAST_FLUX_SFU, MOST_FLUX_SFU) for v in (flux, mean))
    )


def kp_blocks(text: str) -> Kp:
    """
    Read Kp as observed, or observed and forecast.

    Parameters
    ----------
    text : str
        JSON: records with ``time_tag`` and ``Kp`` or ``kp``, or, as it was before
        April 2026, lists under a list of names. ``observed`` tells a forecast.

    Returns
    -------
    kp : Kp
        In order, each block once.

    Raises
    ------
    InputError
        If it is another file.

    Examples
    --------
    >>> kp_blocks('[["time_tag","Kp"],["2026-03-30 00:00:00.000","1.33"]]').kp
    array([1.33])
    """
    rows = [
        (
            _time(row.get("time_tag")),
            _number(row.get("Kp", row.get("kp"))),
            float(row.get("observed") != "predicted"),
        )
        for row in _records(text)
    ]
    times, kp, observed = _columns(rows, 3)
    return Kp(times, _within(kp, 0.0, 9.0), observed > 0.0)


def outlook(text: str) -> Outlook:
    """
    Read the outlook for 27 days.

    Parameters
    ----------
    text : str
        Lines of a date, flux, A index and largest Kp.

    Returns
    -------
    outlook : Outlook
        The days that are told; there may be gaps.

    Raises
    ------
    InputError
        If no line is such.

    Examples
    --------
    >>> outlook("2026 Aug 17     130          15          4").ap
    array([15.])
    """
    rows = []
    for day, flux, ap, _ in _OUTLOOK_ROW.findall(text):
        try:
            date = datetime.strptime(day, "%Y %b %d")
        except ValueError:
            continue
        rows.append((np.datetime64(date, "s"), _number(flux), _number(ap)))
    if not rows:
        raise InputError("it has no day of an outlook")
    times, flux_sfu, ap_index = _columns(rows, 3)
    return Outlook(
        times,
        _within(flux_sfu, LEAST_FLUX_SFU, MOST_FLUX_SFU),
        _within(ap_index, 0.0, 400.0),
    )


def xrays(text: str) -> Xrays:
    """
    Read soft X-rays.

    Parameters
    ----------
    text : str
        JSON: records with ``time_tag``, ``energy``, ``flux`` and whether electrons
        spoil it, a word that the service misspells. Two bands alternate.

    Returns
    -------
    xrays : Xrays
        Of the band that flares are classed by.

    Raises
    ------
    InputError
        If it is another file.

    Examples
    --------
    >>> xrays(
    ...     '[{"time_tag": "2026-12-05T12:00:00Z", "flux": 1e-8,'
    ...     ' "energy": "0.05-0.4nm"}, {"time_tag": "2026-12-05T12:00:00Z",'
    ...     ' "flux": 2e-6, "energy": "0.1-0.8nm"}]'
    ... ).flux_w_m2
    array([2.e-06])
    """
    rows = []
    for row in _records(text):
        if row.get("energy") == _LONG_BAND:
            spoilt = row.get("electron_contaminaton", row.get("electron_contamination"))
            flux = np.nan if spoilt is True else _number(row.get("flux"))
            rows.append((_time(row.get("time_tag")), flux))
    times, flux_w_m2 = _columns(rows, 2)
    return Xrays(times, _within(flux_w_m2, *XRAY_RANGE_W_M2))


def newest_map(text: str) -> tuple[str, np.datetime64]:
    """
    Find the newest map in an index of maps.

    Parameters
    ----------
    text : str
        JSON: records with ``url``, a path at the service, and ``time_tag``.

    Returns
    -------
    path : str
        Where it is.
    time : numpy.datetime64
        Of when it is, UTC.

    Raises
    ------
    InputError
        If there is none.
    """
    found = [
        (_time(row.get("time_tag")), row["url"])
        for row in _records(text)
        if _MAP_PATH.fullmatch(str(row.get("url")))
    ]
    found = [each for each in found if not np.isnat(each[0])]
    if not found:
        raise InputError("it names no map")
    time, path = max(found)
    return path, time


def electron_map(text: str) -> ElectronMap:
    """
    Read a map of the F2 layer.

    Parameters
    ----------
    text : str
        GeoJSON: points of a grid with ``NmF2`` in 1/m3 and ``hmF2`` in km.

    Returns
    -------
    found : ElectronMap
        The grid; what a flag of quality means is not documented, so it is not used.

    Raises
    ------
    InputError
        If it is no such map, or three quarters of it are missing.

    Notes
    -----
    foF2 is the plasma frequency of the peak, ``8.98e-6 sqrt(NmF2)`` MHz.
    """
    (data,) = _records(text)[:1] or [{}]
    lat, lon, density, height = ([] for _ in range(4))
    features = data.get("features")
    for feature in features if isinstance(features, list) else ():
        try:
            east, north = feature["geometry"]["coordinates"][:2]
            known = feature["properties"]
            density.append(_number(known.get("NmF2")))
            height.append(_number(known.get("hmF2")))
        except (TypeError, KeyError, ValueError, AttributeError):
            raise InputError("what it holds has another form than expected") from None
        lat.append(_number(north))
        lon.append(_number(east))
    places = (
        _within(np.array(lat), -90.0, 90.0),
        # 180 is -180.
        (_within(np.array(lon), -180.0, 360.0) + 180.0) % 360.0 - 180.0,
    )
    if len(lat) < _LEAST_POINTS or not np.isfinite(places).all():
        raise InputError("it is no map of the whole world")
    (lats, row), (lons, column) = (
        np.unique(each, return_inverse=True) for each in places
    )
    apart = np.diff(lons, append=lons[0] + 360.0)
    if max(-lats[-1], lats[0]) > -_TO_LAT_DEG or apart.max() > _MOST_APART_DEG:
        raise InputError("it is no map of the whole world")
    if lats.size * lons.size > 2 * len(lat):
        raise InputError("its points make no grid")
    grids = []
    for values, (low, high) in (
        (_PLASMA_MHZ * np.sqrt(np.maximum(density, 0.0)), FOF2_RANGE_MHZ),
        (np.array(height), HMF2_RANGE_KM),
    ):
        grid = np.full((lats.size, lons.size), np.nan)
        grid[row, column] = _within(values, low, high)
        grids.append(grid)
    if np.isfinite(grids[0]).mean() < 0.25:
        raise InputError("most of the map is missing")
    return ElectronMap(lats, lons, *grids)


def radiation_scale(text: str) -> tuple[float, np.datetime64]:
    """
    Read the level of solar radiation storms, NOAA's S scale.

    Parameters
    ----------
    text : str
        JSON: a mapping of days, ``"0"`` of which is now; its figures are strings.

    Returns
    -------
    scale : float
        0 to 5; NaN where none is told.
    time : numpy.datetime64
        Of when it is, UTC; NaT where none is told.

    Raises
    ------
    InputError
        If it is another file.

    Examples
    --------
    >>> radiation_scale(
    ...     '{"0": {"DateStamp": "2026-09-06", "TimeStamp": "17:24:00",'
    ...     ' "S": {"Scale": "1", "Text": "minor"}}}'
    ... )
    (1.0, np.datetime64('2026-09-06T17:24:00'))
    """
    now = _records(text)[0].get("0") if text.lstrip()[:1] == "{" else None
    storm = now.get("S") if isinstance(now, dict) else None
    if not (isinstance(now, dict) and isinstance(storm, dict)):
        raise InputError("it has no scales of now")
    scale = _within(np.array(_number(storm.get("Scale"))), 0.0, 5.0)
    return float(scale), _time(f"{now.get('DateStamp')}T{now.get('TimeStamp')}")


def ionosonde(text: str) -> Ionosonde:
    """
    Read a table of ionospheric characteristics as GIRO gives them.

    Parameters
    ----------
    text : str
        Lines of comment that name the place and, last, the columns; then a time, a
        confidence score, and for each characteristic a value and a mark of two letters.

    Returns
    -------
    found : Ionosonde
        Readings with a score from `LEAST_CONFIDENCE` on; 999 is a reading by hand.

    Raises
    ------
    InputError
        If it is another file, or one without foF2.
    """
    place = _IONOSONDE_PLACE.search(text)
    heads = [line.split()[1:] for line in text.splitlines() if line.startswith("#")]
    heads = [head for head in heads if head[:2] == ["Time", "CS"]]
    if place is None or not heads or "foF2" not in heads[-1]:
        raise InputError("it is no table of an ionosonde: place or column foF2 lacks")
    head = heads[-1]
    at = [head.index(name) if name in head else None for name in ("foF2", "hmF2")]
    rows = []
    for line in text.splitlines():
        cells = line.split()
        if line.startswith("#") or len(cells) != len(head):
            continue
        sure = _number(cells[1]) >= LEAST_CONFIDENCE
        figures = (_number(cells[i]) if sure and i else np.nan for i in at)
        rows.append((_time(cells[0]), *figures))
    times, fof2, height = _columns(rows, 3)
    north, east = (
        float(place[i]) * (-1.0 if place[i + 1] in "SW" else 1.0) for i in (1, 3)
    )
    return Ionosonde(
        place[5] or "the ionosonde",
        north,
        east - 360.0 if east > 180.0 else east,
        times,
        _within(fof2, *FOF2_RANGE_MHZ),
        _within(height, *HMF2_RANGE_KM),
    )


def _records(text: str) -> list[dict[str, Any]]:
    """Rows as mappings; a first row of names is taken as such."""
    try:
        data = json.loads(text)
    except (ValueError, RecursionError):
        raise InputError("what it holds is not JSON") from None
    if isinstance(data, dict):
        data = [data]
    if isinstance(data, list) and data and isinstance(data[0], list):
        names, *rows = data
        if all(isinstance(row, list) and len(row) == len(names) for row in rows):
            data = [dict(zip(map(str, names), row, strict=True)) for row in rows]
    if not (isinstance(data, list) and all(isinstance(row, dict) for row in data)):
        raise InputError("what it holds has another form than expected")
    return data


def _time(value: Any) -> np.datetime64:
    """Read a time tag, UTC whether it says so or not; NaT if it is none."""
    try:
        moment = datetime.fromisoformat(value)
        if moment.tzinfo is not None:
            moment = moment.astimezone(UTC).replace(tzinfo=None)
        return np.datetime64(moment, "s")
    except (TypeError, ValueError, OverflowError):
        return np.datetime64("NaT", "s")


def _number(value: Any) -> float:
    """Read a number; NaN if it is none."""
    try:
        return np.nan if isinstance(value, bool) else float(value)
    except (TypeError, ValueError, OverflowError):
        return np.nan


def _within(values: Floats, low: float, high: float) -> Floats:
    """Values with NaN for those out of range."""
    return np.where((values >= low) & (values <= high), values, np.nan)


def _columns(rows: list[tuple[Any, ...]], width: int) -> tuple[Any, ...]:
    """Turn rows that begin with a time into arrays in order, each time once."""
    timed = {row[0]: row for row in rows if not np.isnat(row[0])}
    times, *rest = (
        zip(*(timed[when] for when in sorted(timed)), strict=True)
        if timed
        else [()] * width
    )
    return (
        np.array(times, dtype="datetime64[s]"),
        *(np.array(each, dtype=float) for each in rest),
    )
