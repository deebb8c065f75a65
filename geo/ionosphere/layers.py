"""
What the layers of the ionosphere are like over some places at some times.

:func:`layers_at` gathers into one record, :class:`Layers`, everything the hops of
a path need to know of the sky: the critical frequencies of the E, F1, F2 and
sporadic E layers, how far the F2 layer strays from its median, and the magnetic
field it lives in. The F2 and sporadic E layers come from the numerical maps in
:mod:`geo.ionosphere.maps`; the E and F1 layers follow the sun, by the formulas here.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import ArrayLike, NDArray

from geo import magnetic, solar, sun
from geo.ionosphere import maps, variability
from geo.ionosphere.index import ig12_at
from geo.ionosphere.profile import f1_share, hmf2_km
from geo.ionosphere.ray_muf import consistent_hmf2_km
from geo.records import ArrayRecord

TROPIC_DEG = 12.0
LOW_LATITUDE_DEG = 32.0
WIDEST_NOON_ZENITH_DEG = 80.0
TWILIGHT_FROM_ZENITH_DEG = 73.0
F2_HEIGHT_KM = 300.0
ABSORPTION_HEIGHT_KM = 100.0

_PLACES_AT_ONCE = 8192
"""Places worked out together: what the maps are summed from is 2.4 kB a place."""


def hours_since_sunset(
    lat_deg: ArrayLike, declination_deg: ArrayLike, hour_angle_deg: ArrayLike
) -> NDArray[np.float64]:
    """
    Time since the sun's centre passed the horizon of a spherical Earth.

    Parameters
    ----------
    lat_deg : array_like
        Latitude. [deg]
    declination_deg : array_like
        Declination of the sun, latitude of the subsolar point. [deg]
    hour_angle_deg : array_like
        Longitude of the place less that of the subsolar point, any number of
        turns; all three broadcast. [deg]

    Returns
    -------
    hours : numpy.ndarray
        0 at sunset up to the length of the night; NaN by day; infinity where
        the sun has not risen at all. [h]

    Notes
    -----
    Sunset is at the hour angle ``arccos(-tan(lat) tan(dec))``, no refraction.

    Examples
    --------
    >>> hours_since_sunset(0.0, 10.0, [0.0, 90.0, 180.0, 225.0])
    array([nan,  0.,  6.,  9.])
    """
    cosine = -np.tan(np.radians(np.asarray(lat_deg, dtype=np.float64))) * np.tan(
        np.radians(np.asarray(declination_deg, dtype=np.float64))
    )
    sunset_deg = np.degrees(np.arccos(np.clip(cosine, -1.0, 1.0)))
    after_deg = (np.asarray(hour_angle_deg, dtype=np.float64) - sunset_deg) % 360.0
    night = (cosine > -1.0) & (after_deg <= 360.0 - 2.0 * sunset_deg)
    hours = np.where(night, after_deg / 15.0, np.nan)
    return np.where(cosine >= 1.0, np.inf, hours)


def _foe_sun_factor(
    zenith_deg: NDArray[np.float64],
    sunset_hours: NDArray[np.float64],
    power: NDArray[np.float64],
) -> NDArray[np.float64]:
    """Return factor D of P.1239: the sun's height by day, decay by night."""
    bend_deg = 6.27e-13 * np.maximum(zenith_deg - 50.0, 0.0) ** 8
    raised_deg = np.where(
        zenith_deg > TWILIGHT_FROM_ZENITH_DEG, zenith_deg - bend_deg, zenith_deg
    )
    day = np.maximum(np.cos(np.radians(raised_deg)), 0.0) ** power
    evening = np.exp(-1.4 * sunset_hours)
    low_sun = np.exp(25.2 - 0.28 * zenith_deg)
    night = 0.072**power * np.fmax(evening, low_sun)
    return np.where(zenith_deg < 90.0, day, night)


def foe_mhz(
    lat_deg: ArrayLike,
    declination_deg: ArrayLike,
    hour_angle_deg: ArrayLike,
    flux_sfu: ArrayLike,
) -> NDArray[np.float64]:
    r"""
    Monthly median critical frequency of the E layer.

    Parameters
    ----------
    lat_deg : array_like
        Latitude, -90 to 90. [deg]
    declination_deg : array_like
        Declination of the sun. [deg]
    hour_angle_deg : array_like
        Longitude of the place less that of the subsolar point. [deg]
    flux_sfu : array_like
        Monthly mean of the 10.7 cm flux; all four broadcast. [sfu]

    Returns
    -------
    foe_mhz : numpy.ndarray
        From a floor of 0.4 to 0.6 at night to 4.5; NaN where an input is NaN or
        the latitude is impossible. [MHz]

    Notes
    -----
    ITU-R P.1239 section 4 (the method of Muggleton and of Kouris), constants
    agreed with an open-source reference model, night law and floor from memory:

    .. math:: (f_oE)^4 = A B C D

    with A for the flux, B and C for the season and latitude, D for the hour. In
    twilight D continues the sun's height past the horizon; after sunset it
    decays by 1.4 an hour, and before sunrise it grows as the sun comes within
    some degrees. The branches of D join at a zenith angle of 73 deg within
    0.003 MHz and at 90 deg within 0.003 MHz. One step is in the published form:
    the exponent changes at latitude 12 deg (0.15 MHz at sunrise and sunset, nothing
    with the sun high).

    Examples
    --------
    Noon, two hours before sunset and midnight at the equator at equinox:

    >>> foe_mhz(0.0, 0.0, [0.0, 60.0, 180.0], 100.0).round(2)
    array([3.68, 2.93, 0.44])
    """
    lat = np.asarray(lat_deg, dtype=np.float64)
    lat = np.where(np.abs(lat) <= 90.0, lat, np.nan)
    declination = np.asarray(declination_deg, dtype=np.float64)
    hour_angle = np.asarray(hour_angle_deg, dtype=np.float64)
    flux = np.asarray(flux_sfu, dtype=np.float64)

    by_flux = 1.0 + 0.0094 * (flux - 66.0)
    noon_deg = np.minimum(np.abs(lat - declination), WIDEST_NOON_ZENITH_DEG)
    cos_lat = np.cos(np.radians(lat))
    low = np.abs(lat) < LOW_LATITUDE_DEG
    season_power = np.where(low, -1.93 + 1.92 * cos_lat, 0.11 - 0.49 * cos_lat)
    by_season = np.cos(np.radians(noon_deg)) ** season_power
    by_latitude = np.where(low, 23.0 + 116.0 * cos_lat, 92.0 + 35.0 * cos_lat)
    by_sun = _foe_sun_factor(
        sun.zenith_deg(lat, hour_angle, declination, 0.0),
        hours_since_sunset(lat, declination, hour_angle),
        np.where(np.abs(lat) <= TROPIC_DEG, 1.31, 1.20),
    )
    floor = 0.004 * (1.0 + 0.021 * flux) ** 2
    fourth_power = np.maximum(by_flux * by_season * by_latitude * by_sun, floor)
    return np.asarray(fourth_power**0.25, dtype=np.float64)


def fof1_zenith_limit_deg(
    geomagnetic_lat_deg: ArrayLike, r12: ArrayLike
) -> NDArray[np.float64]:
    """
    Lowest sun with which an F1 layer stands out from the F2 layer.

    Parameters
    ----------
    geomagnetic_lat_deg : array_like
        Geomagnetic latitude, its sign of no effect. [deg]
    r12 : array_like
        Smoothed sunspot number, old scale; broadcasts.

    Returns
    -------
    zenith_deg : numpy.ndarray
        Largest zenith angle of the sun. [deg]

    Notes
    -----
    DuCharme, Petrie and Eyfrig, Radio Science 6, 369 (1971) and 8, 837 (1973),
    the form of ITU-R P.1239 section 3 (page numbers from memory; constants agreed
    with an open-source reference model).

    Examples
    --------
    >>> fof1_zenith_limit_deg(50.0, [0.0, 100.0]).round(1)
    array([67.3, 64.5])
    """
    lat = np.abs(np.asarray(geomagnetic_lat_deg, dtype=np.float64))
    quiet = 49.84733 + 0.349504 * lat
    active = 38.96113 + 0.509932 * lat
    return np.asarray(quiet + 0.01 * (active - quiet) * np.asarray(r12))


def fof1_mhz(
    geomagnetic_lat_deg: ArrayLike, zenith_deg: ArrayLike, r12: ArrayLike
) -> NDArray[np.float64]:
    """
    Monthly median critical frequency of the F1 layer.

    Parameters
    ----------
    geomagnetic_lat_deg : array_like
        Geomagnetic latitude, its sign of no effect. [deg]
    zenith_deg : array_like
        Zenith angle of the sun. [deg]
    r12 : array_like
        Smoothed sunspot number, old scale; all three broadcast.

    Returns
    -------
    fof1_mhz : numpy.ndarray
        3 to 6; NaN where there is no F1 layer, that is with the sun below
        :func:`fof1_zenith_limit_deg`. [MHz]

    Notes
    -----
    Sources as for :func:`fof1_zenith_limit_deg`.

    Examples
    --------
    >>> fof1_mhz(40.0, [20.0, 60.0, 100.0], 50.0).round(2)
    array([4.84, 4.25,  nan])
    """
    lat = np.abs(np.asarray(geomagnetic_lat_deg, dtype=np.float64))
    zenith = np.asarray(zenith_deg, dtype=np.float64)
    spots = np.asarray(r12, dtype=np.float64)
    quiet = 4.35 + 0.0058 * lat - 0.00012 * lat**2
    active = 5.348 + 0.0110 * lat - 0.00023 * lat**2
    power = 0.093 + 0.0046 * lat - 0.000054 * lat**2 + 0.0003 * spots
    overhead = quiet + 0.01 * (active - quiet) * spots
    present = zenith <= np.minimum(fof1_zenith_limit_deg(lat, spots), 90.0)
    cosine = np.cos(np.radians(np.where(present, zenith, np.nan)))
    return np.asarray(overhead * cosine**power)


class Layers(ArrayRecord):
    """
    The sky over P places at T times; read-only, made by :func:`layers_at`.

    Critical frequencies are medians of the month for the ordinary wave.

    Attributes
    ----------
    lat_deg, lon_deg : numpy.ndarray
        Places, (P,). [deg]
    times : numpy.ndarray
        UTC, datetime64[s], (T,).
    r12 : numpy.ndarray
        Smoothed sunspot number, old scale, (T,).
    ig12 : numpy.ndarray
        Index for which foF2 is read, `geo.ionosphere.index.ig12_at`, (T,).
    flux_sfu : numpy.ndarray
        10.7 cm flux that goes with it, (T,). [sfu]
    zenith_deg : numpy.ndarray
        Zenith angle of the sun, (T, P). [deg]
    local_hour : numpy.ndarray
        Local mean time, 0 to 24, (T, P). [h]
    winter_share : numpy.ndarray
        1 at midwinter of the place, 0 at its midsummer, (T, P).
    fof2_mhz, m3000f2 : numpy.ndarray
        F2 layer: critical frequency and M(3000) factor, (T, P). [MHz], [1]
    fof2_lower_ratio, fof2_upper_ratio : numpy.ndarray
        Lower and upper decile of the days of the month over the median, (T, P).
    foe_mhz : numpy.ndarray
        E layer, (T, P). [MHz]
    fof1_mhz : numpy.ndarray
        F1 layer, NaN where there is none, (T, P). [MHz]
    f1_share : numpy.ndarray
        How far it stands out, 0 to 1, as in `geo.ionosphere.profile.f1_share`, (T, P).
    hmf2_km : numpy.ndarray
        Height of the F2 peak, such that rays give the M(3000) of the map, (T, P). [km]
    foes_lower_mhz, foes_mhz, foes_upper_mhz : numpy.ndarray
        Sporadic E: lower decile, median, upper decile of the days, (T, P). [MHz]
    gyro_mhz, gyro_100km_mhz : numpy.ndarray
        Electron gyrofrequency at 300 km and at 100 km, (P,). [MHz]
    dip_deg, modip_deg : numpy.ndarray
        Magnetic dip and modified dip at 300 km, (P,). [deg]
    geomagnetic_lat_deg : numpy.ndarray
        Latitude from the axis of the centred dipole, (P,). [deg]
    fadeout_mhz : numpy.ndarray
        Frequency that loses 1 dB more than on a quiet day, straight up and down
        again; 0 unless there is a flare or a storm of protons, (T, P). [MHz]
    unsounded : numpy.ndarray
        Share of the error of the mapped medians that remains, 1 unless foF2 was
        sounded near by, (T, P).
    """

    lat_deg: NDArray[np.float64]
    lon_deg: NDArray[np.float64]
    times: NDArray[np.datetime64]
    r12: NDArray[np.float64]
    ig12: NDArray[np.float64]
    flux_sfu: NDArray[np.float64]
    zenith_deg: NDArray[np.float64]
    local_hour: NDArray[np.float64]
    winter_share: NDArray[np.float64]
    fof2_mhz: NDArray[np.float64]
    m3000f2: NDArray[np.float64]
    fof2_lower_ratio: NDArray[np.float64]
    fof2_upper_ratio: NDArray[np.float64]
    foe_mhz: NDArray[np.float64]
    fof1_mhz: NDArray[np.float64]
    f1_share: NDArray[np.float64]
    hmf2_km: NDArray[np.float64]
    foes_lower_mhz: NDArray[np.float64]
    foes_mhz: NDArray[np.float64]
    foes_upper_mhz: NDArray[np.float64]
    gyro_mhz: NDArray[np.float64]
    gyro_100km_mhz: NDArray[np.float64]
    dip_deg: NDArray[np.float64]
    modip_deg: NDArray[np.float64]
    geomagnetic_lat_deg: NDArray[np.float64]
    fadeout_mhz: NDArray[np.float64]
    unsounded: NDArray[np.float64]


def layers_at(
    lat_deg: ArrayLike, lon_deg: ArrayLike, times: ArrayLike, r12: ArrayLike
) -> Layers:
    """
    Describe the sky over some places at some times.

    Parameters
    ----------
    lat_deg, lon_deg : array_like
        Places, (P,) or scalar; an impossible latitude gives NaN there. [deg]
    times : array_like of datetime64
        UTC, (T,) or scalar, from 1899-07-30 to 2053-10-08.
    r12 : array_like
        Smoothed sunspot number, old scale, (T,) or scalar. Below 0 the flux is that
        of 0.

    Returns
    -------
    layers : Layers
        The record; its arrays cannot be written to.

    Raises
    ------
    InputError
        If a time lies outside the range of the sun's place.

    Notes
    -----
    The magnetic field is that of the middle of the times.

    Examples
    --------
    >>> sky = layers_at(51.5, -0.1, np.datetime64("2026-12-05T12:00"), 58.0)
    >>> sky.foe_mhz.shape, sky.foe_mhz.round(1).item()
    ((1, 1), 2.6)
    """
    when = np.atleast_1d(np.asarray(times, dtype="datetime64[s]"))
    lat, lon = np.broadcast_arrays(
        np.atleast_1d(np.asarray(lat_deg, dtype=np.float64)),
        np.atleast_1d(np.asarray(lon_deg, dtype=np.float64)),
    )
    spots = np.broadcast_to(np.asarray(r12, dtype=np.float64), when.shape)
    index = ig12_at(when, spots)
    flux = solar.flux_from_r12(np.maximum(spots, 0.0))

    year = magnetic.decimal_year_of(when).mean()
    # Paths out along one bearing share stations; the field is dear, so each
    # place is worked out once.
    places, which = np.unique(lat + 1j * lon, return_inverse=True)
    place = places.real, places.imag
    dip, gyro = (
        each[which] for each in magnetic.dip_and_gyro(*place, F2_HEIGHT_KM, year)
    )
    gyro_100km = magnetic.gyro_mhz(*place, ABSORPTION_HEIGHT_KM, year)[which]
    modip = magnetic.modip_deg(lat, dip)
    pole_lat = magnetic.geomagnetic_latitude_deg(*place, year)[which]

    sub_lat, sub_lon = (angle[:, None] for angle in sun.subsolar_point(when))
    zenith = sun.zenith_deg(lat, lon, sub_lat, sub_lon)
    hour = sun.local_mean_hour(lon, when[:, None])
    winter = variability.winter_share(when, lat)
    parts = range(0, max(lat.size, 1), _PLACES_AT_ONCE)
    blocks = [slice(first, first + _PLACES_AT_ONCE) for first in parts]
    fof2, m3000f2, foes_lower, foes, foes_upper = (
        np.concatenate(each, axis=-1)
        for each in zip(
            *(_off_maps(lat[b], lon[b], modip[b], when, index, spots) for b in blocks),
            strict=True,
        )
    )
    lower_ratio, upper_ratio = variability.fof2_decile_ratios(
        magnetic.dip_latitude_deg(dip), hour, winter
    )
    foe = foe_mhz(lat, sub_lat, lon - sub_lon, flux[:, None])
    fof1 = fof1_mhz(pole_lat, zenith, spots[:, None])
    limit = np.minimum(fof1_zenith_limit_deg(pole_lat, spots[:, None]), 90.0)
    ledge = np.where(np.isfinite(fof1), f1_share(zenith, limit), 0.0)
    arrays = {
        "lat_deg": lat,
        "lon_deg": lon,
        "times": when,
        "r12": spots,
        "ig12": index,
        "flux_sfu": flux,
        "zenith_deg": zenith,
        "local_hour": hour,
        "winter_share": winter,
        "fof2_mhz": fof2,
        "m3000f2": m3000f2,
        "fof2_lower_ratio": lower_ratio,
        "fof2_upper_ratio": upper_ratio,
        "foe_mhz": foe,
        "fof1_mhz": fof1,
        "f1_share": ledge,
        "hmf2_km": _peak_km(m3000f2, foe, fof1, fof2, ledge, spots[:, None]),
        "foes_lower_mhz": foes_lower,
        "foes_mhz": foes,
        "foes_upper_mhz": foes_upper,
        "gyro_mhz": gyro,
        "gyro_100km_mhz": gyro_100km,
        "dip_deg": dip,
        "modip_deg": modip,
        "geomagnetic_lat_deg": pole_lat,
        "fadeout_mhz": np.zeros(zenith.shape),
        "unsounded": np.ones(zenith.shape),
    }
    return Layers(**arrays)


def _off_maps(
    lat_deg: NDArray[np.float64],
    lon_deg: NDArray[np.float64],
    modip_deg: NDArray[np.float64],
    when: NDArray[np.datetime64],
    index: NDArray[np.float64],
    spots: NDArray[np.float64],
) -> tuple[NDArray[np.float64], ...]:
    """Read foF2, M(3000)F2 and three of foEs off the maps, each (T, P)."""
    points = maps.prepare_points(lat_deg, lon_deg, modip_deg)
    return (
        maps.fof2_mhz(points, when, index),
        maps.m3000f2(points, when, spots),
        *maps.foes_mhz(points, when, spots),
    )


def _peak_km(
    m3000f2: NDArray[np.float64],
    foe: NDArray[np.float64],
    fof1: NDArray[np.float64],
    fof2: NDArray[np.float64],
    ledge: NDArray[np.float64],
    r12: NDArray[np.float64],
) -> NDArray[np.float64]:
    """
    Height of the F2 peak, (T, P).

    By night the published formula gives the M(3000) of the map within 2 % in nine cases
    of ten (8 % at worst); where there is an F1 layer the height is sought among the
    rays.
    """
    height = hmf2_km(m3000f2, fof2, foe, r12)
    hour, place = np.nonzero(ledge > 0.0)
    for first in range(0, hour.size, _PLACES_AT_ONCE):
        lit = tuple(axis[first : first + _PLACES_AT_ONCE] for axis in (hour, place))
        each = (a[lit] for a in (m3000f2, foe, fof1, fof2, height, ledge))
        height[lit] = consistent_hmf2_km(*each)
    return height


Sky = Callable[[ArrayLike, ArrayLike, ArrayLike, ArrayLike], Layers]
"""What gives layers as `layers_at` does: from latitude, longitude, time and R12."""
