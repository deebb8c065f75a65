"""
Where the sun stands: the point under it, its zenith angle, rise, set, twilight.

The place of the sun comes from skyfield with the JPL kernel DE421 that the
package skyfield-data carries, so nothing is ever fetched and any date from 1899
to 2053 works. The point under the sun is found once for each time; every zenith
angle after that is one line of spherical trigonometry, and rise and set are where
the angles of two neighbouring minutes lie on either side of the horizon.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache, lru_cache
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from geo.arrays import Floats, Times
from geo.errors import InputError
from geo.sphere import EARTH_RADIUS_KM

REFRACTION_AND_RADIUS_DEG = 0.833
"""Depth of the sun's centre at rise and set: 34' of air, 16' of its radius. [deg]"""

CIVIL_TWILIGHT_DEG = 6.0
"""Depth of the sun's centre where civil twilight begins or ends. [deg]"""

NAUTICAL_TWILIGHT_DEG = 12.0
"""Depth of the sun's centre where nautical twilight begins or ends. [deg]"""

FIRST_DAY = np.datetime64("1899-07-30", "D")
"""First whole day of the kernel DE421, with a day to spare."""

LAST_DAY = np.datetime64("2053-10-08", "D")
"""Last whole day of the kernel DE421."""

_DAY = np.timedelta64(1, "D")
_EPOCH_DAY = np.datetime64("1970-01-01", "D")
_MINUTE = np.arange(24 * 60 + 1)
_HOURS = np.arange(25).astype("timedelta64[h]")
_PARALLAX_DEG = 8.794 / 3600.0  # of the sun on the horizon (IAU 1976, from memory)


@dataclass(frozen=True)
class SunEvents:
    """
    What the sun does at one place in 24 hours; NaT where it does not happen.

    Attributes
    ----------
    height_km : float
        Height at which ``rise`` and ``set`` are seen, above the ground. [km]
    rise, set : numpy.datetime64
        First sunrise and first sunset of the window at ``height_km``. [UTC]
    civil_dawn, civil_dusk : numpy.datetime64
        The sun's centre 6 deg below the horizon of the ground. [UTC]
    nautical_dawn, nautical_dusk : numpy.datetime64
        The sun's centre 12 deg below the horizon of the ground. [UTC]
    always_up, always_down : bool
        Polar day and polar night at ``height_km``: no rise and no set because
        the sun stays on one side of that horizon.
    """

    height_km: float
    rise: np.datetime64
    set: np.datetime64
    civil_dawn: np.datetime64
    civil_dusk: np.datetime64
    nautical_dawn: np.datetime64
    nautical_dusk: np.datetime64
    always_up: bool
    always_down: bool


@cache
def _timescale() -> Any:
    """Read skyfield's built-in time scale, once."""
    from skyfield.functions import load_bundled_npy
    from skyfield.timelib import Timescale

    # As skyfield.api.load.timescale() does, which takes the network's libraries along.
    data = load_bundled_npy("iers.npz")
    day = data["tt_jd_minus_arange"]
    day = day + np.arange(len(day))
    recent = day, (data["delta_t_1e7"] / 1e7).round(7)
    return Timescale(recent, data["leap_dates"], data["leap_offsets"])


def _refuse_outside(times: Times) -> None:
    """Refuse times that the kernel lacks."""
    outside = ~((times >= FIRST_DAY) & (times < LAST_DAY + _DAY))
    if outside.any():
        raise InputError(
            f"the sun's place is known from {FIRST_DAY} to {LAST_DAY}, not on"
            f" {times[outside][0]}: ask for a date between them"
        )


@lru_cache(maxsize=32)
def _subsolar(stamps: bytes) -> tuple[Floats, Floats]:
    """Point under the sun at times given as the bytes of datetime64[s]; read-only."""
    from importlib.resources import as_file, files

    from skyfield.jpllib import SpiceKernel

    times = np.frombuffer(stamps, dtype="datetime64[s]")
    day = times.astype("datetime64[D]")
    second_of_day = (times - day) / np.timedelta64(1, "s")
    # Counted by calendar day, so that skyfield puts the leap seconds in.
    moment = _timescale().utc(
        1970, 1, 1 + (day - _EPOCH_DAY).astype(np.int64), 0, 0, second_of_day
    )
    with as_file(files("skyfield_data") / "data" / "de421.bsp") as path:
        kernel = SpiceKernel(str(path))
        try:
            sun = kernel["earth"].at(moment).observe(kernel["sun"]).apparent()
        finally:
            kernel.close()
    right_ascension, declination, _ = sun.radec("date")
    lon = 15.0 * (right_ascension.hours - moment.gast)
    lat = np.array(declination.degrees, dtype=np.float64)
    lon = np.array((lon + 180.0) % 360.0 - 180.0, dtype=np.float64)
    lat.flags.writeable = lon.flags.writeable = False
    return lat, lon


def subsolar_point(times: Times) -> tuple[Floats, Floats]:
    """
    Point of the Earth that has the sun overhead.

    Parameters
    ----------
    times : numpy.ndarray
        UTC, datetime64, shape (T,), from 1899-07-30 to 2053-10-08.

    Returns
    -------
    lat_deg, lon_deg : numpy.ndarray
        Apparent declination of the sun and the longitude whose meridian it
        crosses, -180 to 180 east positive, each of shape (T,). [deg]

    Raises
    ------
    InputError
        If a time lies outside the kernel.

    Notes
    -----
    Apparent place of date (light time, aberration, nutation) and apparent
    sidereal time. The sun's parallax of 0.002 deg is left out. Before 1972 UTC is
    counted at a fixed 10 s from atomic time, which by 1900 is 45 s, or 0.2 deg of
    longitude, from the sun.

    Examples
    --------
    >>> lat, lon = subsolar_point(np.array(["2026-06-21T12:00"], "M8[s]"))
    >>> print(f"{lat[0]:.2f} {lon[0]:.2f}")
    23.44 0.45
    """
    when = np.atleast_1d(np.asarray(times, dtype="datetime64[s]"))
    _refuse_outside(when)
    return _subsolar(when.tobytes())


def subsolar_minutes(start: np.datetime64) -> tuple[Floats, Floats]:
    """
    Point under the sun at every minute of the 24 hours after a moment.

    Parameters
    ----------
    start : numpy.datetime64
        First minute, UTC, from 1899-07-30 to 2053-10-08.

    Returns
    -------
    lat_deg, lon_deg : numpy.ndarray
        As from `subsolar_point`, each of shape (1441,); the longitude counts on
        past -180. [deg]

    Raises
    ------
    InputError
        If the start lies outside the kernel.

    Notes
    -----
    Straight lines between points an hour apart, off by 3e-6 deg at most: in an hour
    neither the declination nor the equation of time bends by more. A leap second is
    spread over its hour.

    Examples
    --------
    >>> lat, lon = subsolar_minutes(np.datetime64("2026-06-21T12:00"))
    >>> print(f"{lat[60]:.2f} {lon[60]:.2f}")
    23.44 -14.54
    """
    begin = np.array([start], dtype="datetime64[s]")
    _refuse_outside(begin)
    # The kernel reaches the end of a window that begins on its last day.
    lat, lon = _subsolar((begin + _HOURS).tobytes())
    turned = np.unwrap(lon, period=360.0)
    return np.interp(_MINUTE, _MINUTE[::60], lat), np.interp(
        _MINUTE, _MINUTE[::60], turned
    )


def zenith_deg(
    lat_deg: ArrayLike,
    lon_deg: ArrayLike,
    subsolar_lat_deg: ArrayLike,
    subsolar_lon_deg: ArrayLike,
) -> Floats:
    """
    Angle between the sun and the point overhead, without refraction.

    Parameters
    ----------
    lat_deg, lon_deg : array_like
        Place. [deg]
    subsolar_lat_deg, subsolar_lon_deg : array_like
        Point under the sun; broadcasts with the place, so that (T, 1) against
        (P,) gives (T, P). [deg]

    Returns
    -------
    zenith_deg : numpy.ndarray
        0 with the sun overhead, 90 on the horizon, 180 at the antipode; NaN
        where an input is NaN or the latitude of the place is impossible. [deg]

    Notes
    -----
    ``cos z = sin(lat) sin(dec) + cos(lat) cos(dec) cos(hour angle)``, the
    spherical law of cosines. With a geodetic latitude the angle is measured from
    the plumb line.

    Examples
    --------
    >>> zenith_deg(52.0, 5.0, 0.0, 5.0).round(6)
    np.float64(52.0)
    """
    place_lat = np.asarray(lat_deg, dtype=np.float64)
    lat = np.radians(np.where(np.abs(place_lat) <= 90.0, place_lat, np.nan))
    dec = np.radians(np.asarray(subsolar_lat_deg, dtype=np.float64))
    hour_angle = np.radians(
        np.asarray(lon_deg, dtype=np.float64)
        - np.asarray(subsolar_lon_deg, dtype=np.float64)
    )
    cosine = np.sin(lat) * np.sin(dec) + np.cos(lat) * np.cos(dec) * np.cos(hour_angle)
    angle: Floats = np.degrees(np.arccos(np.clip(cosine, -1.0, 1.0)))
    return angle


def local_mean_hour(lon_deg: ArrayLike, times: Times) -> Floats:
    """
    Local mean time: UTC plus one hour for each 15 deg of longitude.

    Parameters
    ----------
    lon_deg : array_like
        Longitude, east positive. [deg]
    times : numpy.ndarray
        UTC, datetime64; broadcasts with the longitude.

    Returns
    -------
    hour : numpy.ndarray
        0 to 24. The equation of time, up to 16 minutes, is not in it. [h]

    Examples
    --------
    >>> local_mean_hour([0.0, 150.0, -75.0], np.datetime64("2026-03-01T18:30", "s"))
    array([18.5,  4.5, 13.5])
    """
    when = np.asarray(times, dtype="datetime64[s]")
    hour = (when - when.astype("datetime64[D]")) / np.timedelta64(1, "h")
    east = np.asarray(lon_deg, dtype=np.float64) / 15.0
    return np.asarray((hour + east) % 24.0, dtype=np.float64)


def horizon_deg(height_km: float) -> float:
    """
    Elevation of the sun's centre at which it rises or sets at a height.

    Parameters
    ----------
    height_km : float
        Height above the ground, 0 or more. [km]

    Returns
    -------
    horizon_deg : float
        Negative: below the horizontal. [deg]

    Notes
    -----
    ``-0.833 deg - acos(R / (R + h))`` with R = 6371 km: the usual almanac depth
    for air and the sun's radius, and the dip of the horizon seen from h. That a
    grazing ray is bent a second time on its way up to a layer is left out.

    Examples
    --------
    >>> horizon_deg(0.0)
    -0.833
    >>> print(round(horizon_deg(300.0), 2))
    -18.08
    """
    dip = np.degrees(np.arccos(EARTH_RADIUS_KM / (EARTH_RADIUS_KM + height_km)))
    return float(-REFRACTION_AND_RADIUS_DEG - dip)


def sun_events(
    lat_deg: float, lon_deg: float, start: np.datetime64, height_km: float = 0.0
) -> SunEvents:
    """
    Sunrise, sunset and twilight in the 24 hours after a moment.

    Parameters
    ----------
    lat_deg, lon_deg : float
        Place, -90 to 90 and -180 to 180. [deg]
    start : numpy.datetime64
        Beginning of the window, UTC.
    height_km : float, optional
        Height at which rise and set are wanted: 0 for the ground, 110 and 300
        for the E and F2 layers above the place. [km]

    Returns
    -------
    events : SunEvents
        Times to the second; NaT where the sun does not cross that line within
        the window.

    Raises
    ------
    InputError
        If the latitude or the height is impossible or the date lies outside the
        kernel.

    Notes
    -----
    Close to the edge of polar day or night a window may hold a rise without a
    set or the reverse. Where a line is crossed twice in one direction the first
    time is given; a sun that shows or hides for less than a minute is not noticed.

    Examples
    --------
    >>> sun_events(0.0, 0.0, np.datetime64("2026-12-05")).rise
    np.datetime64('2026-12-05T05:46:53')
    """
    if not height_km >= 0.0:
        raise InputError(f"height {height_km:g} km is below the ground: use 0 or more")
    horizon = horizon_deg(height_km)
    elevation = _elevation_deg(lat_deg, lon_deg, start)
    rise, fall = _crossings(elevation, horizon, start)
    civil_dawn, civil_dusk = _crossings(elevation, -CIVIL_TWILIGHT_DEG, start)
    nautical_dawn, nautical_dusk = _crossings(elevation, -NAUTICAL_TWILIGHT_DEG, start)
    one_sided = bool(np.isnat(rise) and np.isnat(fall))
    lit = elevation[0] > horizon
    return SunEvents(
        height_km=float(height_km),
        rise=rise,
        set=fall,
        civil_dawn=civil_dawn,
        civil_dusk=civil_dusk,
        nautical_dawn=nautical_dawn,
        nautical_dusk=nautical_dusk,
        always_up=bool(one_sided and lit),
        always_down=bool(one_sided and not lit),
    )


def rise_and_set(
    lat_deg: float, lon_deg: float, start: np.datetime64
) -> tuple[np.datetime64, np.datetime64]:
    """
    Sunrise and sunset on the ground in the 24 hours after a moment.

    Parameters
    ----------
    lat_deg, lon_deg : float
        Place, -90 to 90 and -180 to 180. [deg]
    start : numpy.datetime64
        Beginning of the window, UTC.

    Returns
    -------
    rise, set : numpy.datetime64
        As in `sun_events`.

    Raises
    ------
    InputError
        If the latitude is impossible or the date lies outside the kernel.

    Examples
    --------
    >>> rise_and_set(0.0, 0.0, np.datetime64("2026-12-05"))[0]
    np.datetime64('2026-12-05T05:46:53')
    """
    elevation = _elevation_deg(lat_deg, lon_deg, start)
    return _crossings(elevation, horizon_deg(0.0), start)


def _elevation_deg(lat_deg: float, lon_deg: float, start: np.datetime64) -> Floats:
    """Elevation of the sun's centre seen from the ground, each minute, (1441,)."""
    if not abs(lat_deg) <= 90.0:
        raise InputError(f"latitude {lat_deg:g} is outside -90 to 90 degrees")
    zenith = zenith_deg(lat_deg, lon_deg, *subsolar_minutes(start))
    # Near polar day, where the sun grazes the horizon, the parallax is minutes.
    return 90.0 - zenith - _PARALLAX_DEG * np.sin(np.radians(zenith))


def _crossings(
    elevation_deg: Floats, horizon_deg: float, start: np.datetime64
) -> tuple[np.datetime64, np.datetime64]:
    """First rise through a line, and first fall, to the second; NaT if none."""
    above = elevation_deg - horizon_deg
    begin = np.array([start], dtype="datetime64[s]")

    def first(above: Floats) -> np.datetime64:
        before = np.flatnonzero((above[:-1] < 0.0) & (above[1:] >= 0.0))[:1]
        if not before.size:
            return np.datetime64("NaT", "s")
        low, high = above[before], above[before + 1]
        second = np.rint(60.0 * (before + low / (low - high))).astype("timedelta64[s]")
        crossed: np.datetime64 = (begin + second)[0]
        return crossed

    return first(above), first(-above)


def month_phase(times: Times) -> Floats:
    """
    Month of the year counted at its middle.

    Parameters
    ----------
    times : numpy.ndarray of datetime64
        UTC.

    Returns
    -------
    month : numpy.ndarray
        1.0 in mid-January, 6.5 at the turn from June to July, below 12.6.

    Examples
    --------
    >>> month_phase(np.array(["2026-01-16T12", "2026-07-01"], "M8[s]")).round(2)
    array([1. , 6.5])
    """
    months = times.astype("datetime64[M]")
    later = (months + np.timedelta64(1, "M")).astype("datetime64[s]")
    length = later - months.astype("datetime64[s]")
    gone = (times.astype("datetime64[s]") - months.astype("datetime64[s]")) / length
    return np.asarray(months.astype(np.int64) % 12 + 0.5 + gone)
