"""
The Earth's magnetic field: IGRF-14, and what radio work takes from it.

The field steers the ionosphere, so the numerical maps of :mod:`geo.ionosphere.maps` are
drawn in *modified dip*; its strength gives the gyrofrequency of the electrons,
and its horizontal direction is what a compass shows.

Positions are geodetic (WGS 84), heights are above the ellipsoid, years are
decimal. The table holds epochs from 1950 to 2030, and between epochs the
coefficients are linear in time, as IGRF prescribes. Later dates are our own rule: the
last published rate of change is continued to 2050. Done in the same way from each
past epoch, that is wrong after 20 years by 0.3 to 0.8 deg rms in dip and 0.6 to 1.1
deg rms in declination (latitudes to 60 deg); a field held still is about twice as
wrong. Outside 1950 to 2050 the field is held.
"""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING

import numpy as np

from geo.tables import read_table

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from geo.arrays import Floats

    Floats = Floats

REFERENCE_RADIUS_KM = 6371.2  # of the Gauss coefficients, not the mean Earth radius
WGS84_SEMI_MAJOR_KM = 6378.137
WGS84_FLATTENING = 1.0 / 298.257223563
MAX_DEGREE = 13
LAST_RATE_ENDS = 2050.0
GYRO_MHZ_PER_NT = 2.7992e-5  # e / (2 pi m_e)
_BLOCK = 1024  # places at a time, so that what is in between stays in the cache


@cache
def _coefficients() -> tuple[Floats, Floats, Floats]:
    """Return epochs (E,) and g, h (E, 14, 14), indexed by degree and order. [nT]."""
    table = read_table("igrf14")
    names = [name for name in table.columns if name.startswith("nt_")]
    years = np.array([float(name[3:]) for name in names])
    degree = table.numbers("degree").astype(int)
    order = table.numbers("order").astype(int)
    values = np.stack([table.numbers(name) for name in names])
    shape = (len(names), MAX_DEGREE + 1, MAX_DEGREE + 1)
    g, h = np.zeros(shape), np.zeros(shape)
    cosine = order >= 0
    g[:, degree[cosine], order[cosine]] = values[:, cosine]
    h[:, degree[~cosine], -order[~cosine]] = values[:, ~cosine]
    return years, g, h


def _at_year(decimal_year: Floats) -> tuple[Floats, Floats]:
    """Return g and h at each year, (14, 14, Y). [nT]."""
    years, g, h = _coefficients()
    year = np.clip(decimal_year, years[0], LAST_RATE_ENDS)
    i = np.clip(np.searchsorted(years, year, side="right") - 1, 0, len(years) - 2)
    part = (year - years[i]) / (years[i + 1] - years[i])

    def between(table: Floats) -> Floats:
        change = table[i + 1] - table[i]
        return np.moveaxis(table[i] + part[:, None, None] * change, 0, -1)

    return between(g), between(h)


def _geocentric(lat_rad: Floats, height_km: Floats) -> tuple[Floats, Floats]:
    """Return geocentric latitude [rad] and radius [km] of a geodetic position."""
    e2 = WGS84_FLATTENING * (2.0 - WGS84_FLATTENING)
    normal = WGS84_SEMI_MAJOR_KM / np.sqrt(1.0 - e2 * np.sin(lat_rad) ** 2)
    from_axis = (normal + height_km) * np.cos(lat_rad)
    above_equator = (normal * (1.0 - e2) + height_km) * np.sin(lat_rad)
    return np.arctan2(above_equator, from_axis), np.hypot(from_axis, above_equator)


def field_nt(
    lat_deg: ArrayLike,
    lon_deg: ArrayLike,
    height_km: ArrayLike,
    decimal_year: ArrayLike,
) -> tuple[Floats, Floats, Floats]:
    r"""
    Evaluate the Earth's main magnetic field, IGRF-14 to degree 13.

    Parameters
    ----------
    lat_deg : array_like
        Geodetic latitude, -90 to 90, poles included. [deg]
    lon_deg : array_like
        Longitude, east positive, any turn. [deg]
    height_km : array_like
        Height above the ellipsoid. [km]
    decimal_year : array_like
        Date as a decimal year (see :func:`decimal_year_of`). A scalar is quickest;
        an array broadcasts with the positions. Outside 1950 to 2050 the field is
        held. [year]

    Returns
    -------
    north_nt, east_nt, down_nt : numpy.ndarray
        Components along geodetic north, east and down, in the broadcast shape of
        the arguments. NaN where an argument is NaN or the latitude is impossible.
        At a pole "north" is along the meridian given. [nT]

    Notes
    -----
    .. math:: V = a\sum_{n=1}^{13}\left(\frac{a}{r}\right)^{n+1}\sum_{m=0}^{n}
              (g_n^m\cos m\lambda + h_n^m\sin m\lambda)\,P_n^m(\cos\theta)

    with :math:`a` = 6371.2 km and :math:`\mathbf{B} = -\nabla V`, turned from the
    geocentric to the geodetic vertical. The crust and the currents of the
    ionosphere (some 100 nT) are not in the model.

    References
    ----------
    IAGA Working Group V-MOD, IGRF-14, doi 10.5281/zenodo.14012302. Alken et al.,
    "International Geomagnetic Reference Field: the thirteenth generation", Earth,
    Planets and Space 73:49, 2021.

    Examples
    --------
    >>> north, east, down = field_nt(51.5, 0.0, 0.0, 2025.0)
    >>> [round(float(c), -2) for c in (north, east, down)]
    [19500.0, 300.0, 45000.0]
    """
    lat, lon, height, year = (
        np.asarray(a, dtype=float) for a in (lat_deg, lon_deg, height_km, decimal_year)
    )
    shape = np.broadcast_shapes(lat.shape, lon.shape, height.shape, year.shape)
    place_shape = np.broadcast_shapes(lat.shape, lon.shape, height.shape)
    if year.size > 1:
        place_shape = shape
        year = np.broadcast_to(year, shape)
    lat, lon, height = (
        np.broadcast_to(a, place_shape).ravel() for a in (lat, lon, height)
    )
    year = year.ravel()
    field = np.empty((3, lat.size))
    for first in range(0, lat.size, _BLOCK):
        part = slice(first, first + _BLOCK)
        when = year[part] if year.size > 1 else year
        field[:, part] = _field_at(lat[part], lon[part], height[part], when)
    north, east, down = field.reshape(3, *shape)
    return north, east, down


def _field_at(
    lat: Floats, lon: Floats, height: Floats, year: Floats
) -> tuple[Floats, Floats, Floats]:
    """Field components at a few places, arrays (P,); ``year`` (P,) or (1,)."""
    lat_rad = np.radians(np.where(np.abs(lat) <= 90.0, lat, np.nan))
    centric_rad, radius_km = _geocentric(lat_rad, height)
    outward, southward, east = _summed(
        np.sin(centric_rad),
        np.cos(centric_rad),
        REFERENCE_RADIUS_KM / radius_km,
        np.radians(lon),
        *_at_year(year),
    )
    tilt = lat_rad - centric_rad
    north = -southward * np.cos(tilt) - outward * np.sin(tilt)
    down = -outward * np.cos(tilt) + southward * np.sin(tilt)
    return north, east, down


@cache
def _steps() -> list[tuple[Floats, Floats, float, Floats]]:
    """Factors of the recursion at each degree: up, back, diagonal, of the slope."""
    order, steps = np.arange(MAX_DEGREE + 1)[:, None], []
    for n in range(MAX_DEGREE + 1):
        norm = np.sqrt(n * n - order[:n] ** 2)
        back = np.sqrt(np.maximum((n - 1) ** 2 - order[:n] ** 2, 0)) / norm
        diagonal = np.sqrt((2 * n - 1) / (2 * n)) if n else 1.0
        lower = np.sqrt(n * n - order[1 : n + 1] ** 2)
        steps.append(((2 * n - 1) / norm, back, diagonal, lower))
    return steps


def _summed(
    cos_theta: Floats,
    sin_theta: Floats,
    ratio: Floats,
    lon_rad: Floats,
    g: Floats,
    h: Floats,
) -> tuple[Floats, Floats, Floats]:
    """
    Sum the series: field outwards, southwards and eastwards.

    Parameters
    ----------
    cos_theta, sin_theta : numpy.ndarray
        Of the colatitude, shape (P,).
    ratio : numpy.ndarray
        Reference radius over the distance from the centre, (P,).
    lon_rad : numpy.ndarray
        Longitude, (P,). [rad]
    g, h : numpy.ndarray
        Coefficients, (14, 14, P) or (14, 14, 1). [nT]

    Returns
    -------
    outward, southward, east : numpy.ndarray
        (P,). [nT]

    Notes
    -----
    ``w[m]`` is the Schmidt semi-normalised Legendre function of degree n and order m,
    from order 1 up divided by the sine of the colatitude, so that the poles are
    ordinary; times ``ratio`` to the power n + 2. From one degree to the next it has
    one recursion, and its change with the colatitude follows from it.
    """
    order = np.arange(MAX_DEGREE + 1)[:, None]
    shape = (MAX_DEGREE + 1, cos_theta.size)
    w, before, spare = np.zeros(shape), np.zeros(shape), np.zeros(shape)
    # Cosine and sine parts of the three sums, order by order.
    out, out_h, south, south_h, along, along_h = np.zeros((6, *shape))
    square = ratio * ratio
    w[0] = square
    near, level = ratio * cos_theta, ratio * sin_theta
    for n in range(1, MAX_DEGREE + 1):
        w, before, spare = spare, w, before
        up, back, diagonal, lower = _steps()[n]
        w[:n] = up * near * before[:n] - back * square * spare[:n]
        w[n] = diagonal * level * before[n - 1] if n > 1 else ratio * square
        slope = n * cos_theta * w[1 : n + 1] - lower * ratio * before[1 : n + 1]
        gn, hn, here = g[n, : n + 1], h[n, 1 : n + 1], w[: n + 1]
        out[: n + 1] += (n + 1) * gn * here
        out_h[1 : n + 1] += (n + 1) * hn * here[1:]
        south[0] -= np.sqrt(n * (n + 1) / 2) * gn[0] * sin_theta * w[1]
        south[1 : n + 1] += gn[1:] * slope
        south_h[1 : n + 1] += hn * slope
        along[1 : n + 1] += gn[1:] * here[1:]
        along_h[1 : n + 1] += hn * here[1:]
    angle = order * lon_rad
    cos_m, sin_m = np.cos(angle), np.sin(angle)
    outward = out * cos_m + out_h * sin_m
    outward[1:] *= sin_theta
    southward = -south * cos_m - south_h * sin_m
    east = order * (along * sin_m - along_h * cos_m)
    # Added in one order however many the places, to the last bit.
    first, second, third = (
        each.cumsum(axis=0)[-1] for each in (outward, southward, east)
    )
    return first, second, third


def decimal_year_of(times: ArrayLike) -> Floats:
    """
    Date as a decimal year, leap years allowed for.

    Parameters
    ----------
    times : array_like of datetime64
        UTC.

    Returns
    -------
    decimal_year : numpy.ndarray
        Same shape; NaN for not-a-time. [year]

    Examples
    --------
    >>> float(decimal_year_of("2026-07-02T12:00"))
    2026.5
    """
    when = np.asarray(times, dtype="datetime64[s]")
    start = when.astype("datetime64[Y]")
    length = (start + np.timedelta64(1, "Y")).astype("datetime64[s]") - start
    whole = np.where(np.isnat(when), np.nan, start.astype(np.int64) + 1970.0)
    return np.asarray(whole + (when - start) / length, dtype=float)


def dip_deg(
    lat_deg: ArrayLike,
    lon_deg: ArrayLike,
    height_km: ArrayLike,
    decimal_year: ArrayLike,
) -> Floats:
    """
    Magnetic dip (inclination): angle of the field below the horizontal.

    Parameters
    ----------
    lat_deg, lon_deg : array_like
        Geodetic latitude and east longitude. [deg]
    height_km : array_like
        Height above the ellipsoid; 300 km for the numerical maps. [km]
    decimal_year : array_like
        Date as a decimal year. [year]

    Returns
    -------
    dip_deg : numpy.ndarray
        -90 to 90, positive where the field points down (north of the magnetic
        equator). NaN as in :func:`field_nt`. [deg]
    """
    return dip_and_gyro(lat_deg, lon_deg, height_km, decimal_year)[0]


def dip_and_gyro(
    lat_deg: ArrayLike,
    lon_deg: ArrayLike,
    height_km: ArrayLike,
    decimal_year: ArrayLike,
) -> tuple[Floats, Floats]:
    """
    Dip and gyrofrequency from one evaluation of the field.

    Parameters
    ----------
    lat_deg, lon_deg : array_like
        Geodetic latitude and east longitude. [deg]
    height_km : array_like
        Height above the ellipsoid. [km]
    decimal_year : array_like
        Date as a decimal year. [year]

    Returns
    -------
    dip_deg : numpy.ndarray
        As `dip_deg`. [deg]
    gyro_mhz : numpy.ndarray
        As `gyro_mhz`. [MHz]
    """
    north, east, down = field_nt(lat_deg, lon_deg, height_km, decimal_year)
    level = np.hypot(north, east)
    gyro = GYRO_MHZ_PER_NT * np.sqrt(level**2 + down**2)
    return np.degrees(np.arctan2(down, level)), gyro


def declination_deg(
    lat_deg: ArrayLike,
    lon_deg: ArrayLike,
    height_km: ArrayLike,
    decimal_year: ArrayLike,
) -> Floats:
    """
    Declination: true bearing of the direction a compass calls north.

    Parameters
    ----------
    lat_deg, lon_deg : array_like
        Geodetic latitude and east longitude. [deg]
    height_km : array_like
        Height above the ellipsoid; 0 km for a hand compass. [km]
    decimal_year : array_like
        Date as a decimal year. [year]

    Returns
    -------
    declination_deg : numpy.ndarray
        -180 to 180, positive to the east: true bearing = compass bearing +
        declination. NaN as in :func:`field_nt`. [deg]
    """
    north, east, _ = field_nt(lat_deg, lon_deg, height_km, decimal_year)
    return np.degrees(np.arctan2(east, north))


def gyro_mhz(
    lat_deg: ArrayLike,
    lon_deg: ArrayLike,
    height_km: ArrayLike,
    decimal_year: ArrayLike,
) -> Floats:
    r"""
    Electron gyrofrequency.

    Parameters
    ----------
    lat_deg, lon_deg : array_like
        Geodetic latitude and east longitude. [deg]
    height_km : array_like
        Height above the ellipsoid: 300 km for the F2 layer, 100 km for absorption
        (ITU-R P.533-14 section 2, from memory). [km]
    decimal_year : array_like
        Date as a decimal year. [year]

    Returns
    -------
    gyro_mhz : numpy.ndarray
        0.6 to 1.8 near the Earth. NaN as in :func:`field_nt`. [MHz]

    Notes
    -----
    .. math:: f_H = \frac{e B}{2\pi m_e} = 2.7992\times10^{-5}\,B_\mathrm{nT}
    """
    return dip_and_gyro(lat_deg, lon_deg, height_km, decimal_year)[1]


def modip_deg(lat_deg: ArrayLike, dip_deg: ArrayLike) -> Floats:
    r"""
    Convert dip to modified dip, the latitude of the numerical maps.

    Parameters
    ----------
    lat_deg : array_like
        Geographic latitude, -90 to 90. [deg]
    dip_deg : array_like
        Magnetic dip at 300 km. [deg]

    Returns
    -------
    modip_deg : numpy.ndarray
        -90 to 90; at a geographic pole, 90 with the sign of the dip. NaN where
        the latitude is impossible. [deg]

    Notes
    -----
    .. math:: \mu = \arctan\frac{I}{\sqrt{\cos\varphi}}, \quad I \text{ in radians}

    It follows the magnetic equator at low latitudes and the circles of latitude
    near the poles.

    References
    ----------
    ITU-R P.1239, section 2 (the modified magnetic dip of K. Rawer).

    Examples
    --------
    >>> float(modip_deg(60.0, 70.0))
    59.94
    >>> float(modip_deg(90.0, 86.0))
    90.0
    """
    lat = np.asarray(lat_deg, dtype=float)
    lat_rad = np.radians(np.where(np.abs(lat) <= 90.0, lat, np.nan))
    root = np.sqrt(np.cos(lat_rad).clip(min=0.0))
    modip: Floats = np.degrees(np.arctan2(np.radians(dip_deg), root))
    return modip


def dip_latitude_deg(dip_deg: ArrayLike) -> Floats:
    r"""
    Latitude at which a plain dipole would have this dip.

    Parameters
    ----------
    dip_deg : array_like
        Magnetic dip, -90 to 90. [deg]

    Returns
    -------
    dip_latitude_deg : numpy.ndarray
        -90 to 90. [deg]

    Notes
    -----
    .. math:: \tan I = 2\tan\varphi_m

    Examples
    --------
    >>> float(dip_latitude_deg(45.0))
    26.565
    """
    dip_rad = np.radians(dip_deg)
    return np.degrees(np.arctan2(np.sin(dip_rad), 2.0 * np.cos(dip_rad)))


def geomagnetic_latitude_deg(
    lat_deg: ArrayLike, lon_deg: ArrayLike, decimal_year: ArrayLike
) -> Floats:
    """
    Latitude from the axis of the centred dipole of IGRF-14.

    Parameters
    ----------
    lat_deg, lon_deg : array_like
        Latitude and east longitude on the sphere; a geodetic latitude used here
        is up to 0.2 deg off. [deg]
    decimal_year : array_like
        Date as a decimal year, broadcasts with the position. [year]

    Returns
    -------
    geomagnetic_latitude_deg : numpy.ndarray
        -90 to 90, positive in the hemisphere of the pole in the Canadian Arctic.
        NaN where the latitude is impossible. [deg]

    Notes
    -----
    The axis lies along minus (g11, h11, g10), the terms of degree one.

    Examples
    --------
    >>> float(geomagnetic_latitude_deg(40.0, -75.0, 2025.0))
    49.2
    """
    lat, lon, year = (
        np.asarray(a, dtype=float) for a in (lat_deg, lon_deg, decimal_year)
    )
    g, h = _at_year(year.ravel())  # of one year, however many the places
    axis = -np.stack([g[1, 1], h[1, 1], g[1, 0]]).reshape((3, *year.shape))
    axis /= np.sqrt((axis**2).sum(axis=0))
    lat_rad = np.radians(np.where(np.abs(lat) <= 90.0, lat, np.nan))
    lon_rad = np.radians(lon)
    along = (
        axis[0] * np.cos(lat_rad) * np.cos(lon_rad)
        + axis[1] * np.cos(lat_rad) * np.sin(lon_rad)
        + axis[2] * np.sin(lat_rad)
    )
    latitude: Floats = np.degrees(np.arcsin(along.clip(-1.0, 1.0)))
    return latitude
