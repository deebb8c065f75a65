r"""
What the D region and the foot of the E region take from a wave.

The strength of the region straight up and down is a table integrated from electron
densities that rockets measured; a ray crosses it twice a hop, and each crossing counts
with its own place, sun, field and E layer:

.. math:: L = \tfrac12 \sum_{\mathrm{crossings}}
          \frac{A_T\,\sec i_{110}\,\varphi(u)}{(f + f_L)^2},
          \qquad u = \frac{f \cos i_{110}}{f_oE}

:math:`\varphi` is what is left of the whole when a ray is returned by the E layer
(u below 1) or slowed by it, so that one formula serves E modes and those that get
through.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike

from geo.arrays import Floats, Ints, Times
from geo.ionosphere.hops import E_MIRROR_HEIGHT_KM, sec_incidence
from geo.ionosphere.layers import ABSORPTION_HEIGHT_KM, foe_mhz
from geo.magnetic import decimal_year_of, dip_and_gyro
from geo.records import ArrayRecord
from geo.sphere import EARTH_RADIUS_KM, destination
from geo.sun import month_phase, subsolar_point, zenith_deg
from geo.tables import read_table

CROSSING_HEIGHT_KM = 95.0
"""Height at which a ray is taken to cross the absorbing region. [km]"""

LAG_H = 0.25
"""How long the D region lags behind the sun. Measured lags go from 10 to 30 minutes
(E. V. Appleton, J. Atmos. Terr. Phys. 3 (1953) 282, from memory). [h]"""

DAY_FACTOR = 1.4
"""How much stronger absorption measured from the ground is by day than the densities of
rockets give: the textbook law fitted to vertical soundings stands 1.15 to 1.6 times
above the table, 1.4 times on average (from memory of that law)."""

_DAY_DEG, _NIGHT_DEG = 90.0, 100.0
"""Zenith angles up to which the day's factor holds and from which it is gone. [deg]"""

_NODE_KM = 150.0
"""Distance between the places at which the region along a path is read: the sun sinks
2.7 degrees on the way. [km]"""

_LEAST_SFU = 60.0
"""Flux below which the sun does not go; the table's slope is held there. [sfu]"""

_RETURN_U = np.array(
    [0.10, 0.16, 0.20, 0.25, 0.32, 0.40, 0.50, 0.63,
     0.79, 1.0, 1.26, 1.58, 2.0, 2.5, 3.2, 5.0]
)  # fmt: skip
_RETURN_SHARE = np.array(
    [0.37, 0.38, 0.42, 0.47, 0.55, 0.63, 0.71, 0.83,
     1.12, 1.29, 1.16, 1.08, 1.05, 1.03, 1.01, 1.00]
)  # fmt: skip


_LOG_RETURN_U = np.log(_RETURN_U)


@cache
def _strengths() -> tuple[Floats, ...]:
    """
    Logarithm of the table, its latitudes, fluxes and zenith angles.

    The table is (latitude, month, flux, zenith angle). On the equator the two halves of
    the world must agree, so that there it is the mean of a month and the one six on.
    """
    table = read_table("absorption")
    names = [name for name in table.columns if name.startswith("chi_")]
    zenith = np.array([float(name.split("_")[1]) for name in names])
    latitude, flux = (
        np.unique(table.numbers(name)) for name in ("latitude_deg", "f107_sfu")
    )
    body = np.stack([table.numbers(name) for name in names], axis=-1)
    body = body.reshape(latitude.size, 12, flux.size, zenith.size)
    body[0] = 0.5 * (body[0] + np.roll(body[0], 6, axis=0))
    found = np.log(body), latitude, flux, zenith
    for array in found:
        array.flags.writeable = False
    return found


def overhead_absorption(
    lat_deg: ArrayLike, month: ArrayLike, zenith_deg: ArrayLike, flux_sfu: ArrayLike
) -> Floats:
    r"""
    Strength of the absorbing region straight up and down.

    Parameters
    ----------
    lat_deg : array_like
        Latitude of the crossing; beyond 60 degrees that of 60 is taken. [deg]
    month : array_like
        Month of the year counted at its middle, `geo.sun.month_phase`.
    zenith_deg : array_like
        Zenith angle of the sun there, `LAG_H` ago. [deg]
    flux_sfu : array_like
        Solar flux at 10.7 cm. All broadcast. [sfu]

    Returns
    -------
    strength : numpy.ndarray
        :math:`A_T`: loss of the ordinary wave straight up and down, times
        :math:`(f + f_L)^2`; NaN where an input is NaN or the latitude is impossible.
        [dB MHz2]

    Notes
    -----
    Straight lines between latitudes, months (in the south six on), fluxes and zenith
    angles, in the last on the logarithm; held beyond 130 degrees. By day times
    `DAY_FACTOR`, from a zenith angle of 100 degrees as it stands.

    References
    ----------
    M. Friedrich, C. Pock, K. Torkar, J. Geophys. Res. Space Phys. 123 (2018) 6737,
    for the electron densities (FIRI-2018).

    Examples
    --------
    45 degrees north in January at noon, with the sun down, and in deep night:

    >>> overhead_absorption(45.0, 1.0, [60.0, 95.0, 130.0], 75.0).round(0)
    array([295.,  26.,   9.])
    """
    log_strength, latitudes, fluxes, zeniths = _strengths()
    lat, phase, zenith, flux = np.broadcast_arrays(
        *(np.asarray(v, dtype=float) for v in (lat_deg, month, zenith_deg, flux_sfu))
    )
    usable = np.isfinite(lat + phase + zenith + flux) & (np.abs(lat) <= 90.0)
    lat, phase, zenith, flux = (
        np.where(usable, v, 1.0) for v in (lat, phase, zenith, flux)
    )
    zenith = np.clip(zenith, zeniths[0], zeniths[-1])
    flux = np.maximum(flux, _LEAST_SFU)
    season = phase - 1.0 + 6.0 * (lat < 0.0)
    early = np.floor(season)
    later = season - early
    row, up = _place(np.minimum(np.abs(lat), latitudes[-1]), latitudes)
    level, more = _place(flux, fluxes)
    column, on = _place(zenith, zeniths)
    months = early.astype(np.int64) % 12, (early.astype(np.int64) + 1) % 12
    strength = np.zeros(lat.shape)
    for month_at, month_share in zip(months, (1.0 - later, later), strict=True):
        for side, share in ((0, 1.0 - up), (1, up)):
            for step, part in ((0, 1.0 - more), (1, more)):
                at = (row + side, month_at, level + step)
                here = log_strength[(*at, column)]
                there = log_strength[(*at, column + 1)]
                strength += (
                    month_share * share * part * np.exp((1.0 - on) * here + on * there)
                )
    by_day = np.interp(zenith, (_DAY_DEG, _NIGHT_DEG), (DAY_FACTOR, 1.0))
    return np.asarray(np.where(usable, by_day * strength, np.nan))


def _place(value: Floats, nodes: Floats) -> tuple[Ints, Floats]:
    """Node below and how far towards the next; goes on beyond the last."""
    low = np.clip(np.searchsorted(nodes, value, side="right") - 1, 0, nodes.size - 2)
    return low, (value - nodes[low]) / (nodes[low + 1] - nodes[low])


def returned_share(ratio: ArrayLike) -> Floats:
    """
    Part of the whole absorption that a ray meets, by how it stands to the E layer.

    Parameters
    ----------
    ratio : array_like
        Frequency times the cosine of the incidence at 110 km, over foE; 1 is where the
        ray just gets through.

    Returns
    -------
    share : numpy.ndarray
        0.37 for a ray turned round low down, 1.29 where it is slowed most, 1 well
        above; the median of many profiles.

    Notes
    -----
    Straight lines in the logarithm of the ratio. The middle 80 % of profiles lie a
    quarter of the share to either side below 1, a twentieth above 1.5.

    Examples
    --------
    >>> returned_share([0.05, 0.5, 1.0, 10.0])
    array([0.37, 0.71, 1.29, 1.  ])
    """
    log_ratio = np.log(np.maximum(np.asarray(ratio, dtype=float), _RETURN_U[0]))
    return np.asarray(np.interp(log_ratio, _LOG_RETURN_U, _RETURN_SHARE))


def crossing_loss_db(
    frequency_mhz: ArrayLike,
    takeoff_deg: ArrayLike,
    strength: ArrayLike,
    e_layer_mhz: ArrayLike,
    gyro_mhz: ArrayLike,
) -> Floats:
    r"""
    Absorption of one crossing, half of a hop.

    Parameters
    ----------
    frequency_mhz : array_like
        Working frequency. [MHz]
    takeoff_deg : array_like
        Take-off angle, not negative. [deg]
    strength : array_like
        :math:`A_T` at the crossing, `overhead_absorption`. [dB MHz2]
    e_layer_mhz : array_like
        Critical frequency of the E layer there. [MHz]
    gyro_mhz : array_like
        Gyrofrequency along the field's steep part at 100 km, :math:`|f_H \sin I|`, the
        dip being I. All broadcast. [MHz]

    Returns
    -------
    loss_db : numpy.ndarray
        Loss of the ordinary wave. [dB]

    Notes
    -----
    Against direct integration through the densities: 0.1 to 0.6 dB rms a hop for rays
    through the E layer, 0.1 to 0.3 dB at night from 3.6 MHz up; 2.4 dB (7 MHz) to 6 dB
    (3.6 MHz) for rays off the E layer by day; on 1.85 MHz 2 dB at night and 12 by day.

    Examples
    --------
    Half a hop on 7.1 MHz at 10 degrees, by day through a weak E layer:

    >>> crossing_loss_db(7.1, 10.0, 250.0, 1.0, 1.1).round(1)
    np.float64(7.9)
    """
    frequency = np.asarray(frequency_mhz, dtype=float)
    slant = sec_incidence(takeoff_deg, E_MIRROR_HEIGHT_KM)
    share = returned_share(frequency / (slant * np.asarray(e_layer_mhz, dtype=float)))
    fall = (frequency + np.asarray(gyro_mhz, dtype=float)) ** 2
    return np.asarray(0.5 * np.asarray(strength, dtype=float) * slant * share / fall)


def crossing_distance_km(takeoff_deg: ArrayLike) -> Floats:
    r"""
    Distance along the ground from where a ray touches it to where it crosses.

    Parameters
    ----------
    takeoff_deg : array_like
        Elevation of the ray at the ground, 0 to 90. [deg]

    Returns
    -------
    distance_km : numpy.ndarray
        :math:`R\,(\arccos\frac{R\cos\beta}{R+95} - \beta)`. [km]

    Examples
    --------
    >>> crossing_distance_km([0.0, 10.0, 90.0]).round(0)
    array([1093.,  444.,    0.])
    """
    beta = np.radians(np.asarray(takeoff_deg, dtype=float))
    radius = EARTH_RADIUS_KM + CROSSING_HEIGHT_KM
    angle = np.arccos(EARTH_RADIUS_KM * np.cos(beta) / radius) - beta
    return np.asarray(EARTH_RADIUS_KM * angle)


class DRegion(ArrayRecord):
    """
    The absorbing region along P paths at T hours, read every 150 km.

    Attributes
    ----------
    read : numpy.ndarray
        Shape (P, T, N, 3): the logarithms of `overhead_absorption` and of the critical
        frequency of the E layer, and the gyrofrequency of `crossing_loss_db`.
    """

    read: Floats

    def loss_db(
        self,
        path: Ints,
        hour: Ints,
        frequency_mhz: ArrayLike,
        takeoff_deg: ArrayLike,
        touches_km: Sequence[Floats],
    ) -> Floats:
        """
        Absorption of rays over all their hops, two crossings each.

        Parameters
        ----------
        path, hour : numpy.ndarray of int
            Which path and hour each ray belongs to.
        frequency_mhz : array_like
            Working frequency. [MHz]
        takeoff_deg : array_like
            Take-off angle, taken as 0 where it is negative. [deg]
        touches_km : sequence of numpy.ndarray
            Where along the path the rays touch the ground: where they begin, then
            where each hop comes down. All broadcast. [km]

        Returns
        -------
        loss_db : numpy.ndarray
            Loss. [dB]
        """
        frequency = np.asarray(frequency_mhz, dtype=float)
        angle = np.maximum(np.asarray(takeoff_deg, dtype=float), 0.0)
        inset = crossing_distance_km(angle)
        slant = sec_incidence(angle, E_MIRROR_HEIGHT_KM)
        log_up = np.log(frequency / slant)
        hours, places, columns = self.read.shape[1:]
        row = (path * hours + hour) * places
        rows = self.read.reshape(-1, columns)
        whole: Floats = np.zeros(())
        for start, end in pairwise(touches_km):
            on_hop = np.minimum(inset, 0.5 * (end - start))
            for along in (start + on_hop, end - on_hop):
                # No angle is known for a ray there is none of: NaN stays so by log_up.
                place = np.clip(np.nan_to_num(along / _NODE_KM), 0.0, places - 1.0)
                low = np.minimum(place.astype(np.intp), places - 2)
                here = rows.take(row + low, axis=0)
                here += (place - low)[..., None] * (
                    rows.take(row + low + 1, axis=0) - here
                )
                share = np.interp(log_up - here[..., 1], _LOG_RETURN_U, _RETURN_SHARE)
                fall = (frequency + here[..., 2]) ** 2
                whole = whole + 0.5 * np.exp(here[..., 0]) * share / fall
        return np.asarray(slant * whole)


def d_region(
    lat_deg: float,
    lon_deg: float,
    bearing_deg: Floats,
    length_km: ArrayLike,
    times: Times,
    flux_sfu: Floats,
) -> DRegion:
    """
    Read the absorbing region along great circles from one place.

    Parameters
    ----------
    lat_deg, lon_deg : float
        Where they begin. [deg]
    bearing_deg : numpy.ndarray
        Shape (P,), where they go. [deg]
    length_km : array_like
        How far at most. [km]
    times : numpy.ndarray of datetime64[s]
        Shape (T,), UTC.
    flux_sfu : numpy.ndarray
        Shape (T,), solar flux at 10.7 cm. [sfu]

    Returns
    -------
    region : DRegion
        The region along them.

    Notes
    -----
    The magnetic field is that of the middle of the times.
    """
    # Paths along one bearing, to a tenth of a millimetre, share their places.
    bearing, which = np.unique(np.round(bearing_deg, 9), return_inverse=True)
    # The same places whatever other paths there are.
    away = _NODE_KM * np.arange(np.ceil(np.max(length_km) / _NODE_KM) + 2.0)
    lat, lon = destination(lat_deg, lon_deg, bearing[:, None], away)
    dip, gyro = dip_and_gyro(
        lat, lon, ABSORPTION_HEIGHT_KM, decimal_year_of(times).mean()
    )
    sub_lat, sub_lon = (each[:, None] for each in subsolar_point(times))
    lat, lon, flux = lat[:, None, :], lon[:, None, :], flux_sfu[:, None]
    zenith = zenith_deg(lat, lon, sub_lat, sub_lon + 15.0 * LAG_H)
    month = month_phase(times)[:, None]
    columns = (
        np.log(overhead_absorption(lat, month, zenith, flux)),
        np.log(foe_mhz(lat, sub_lat, lon - sub_lon, flux)),
        np.abs(gyro * np.sin(np.radians(dip)))[:, None, :],
    )
    return DRegion(np.stack(np.broadcast_arrays(*columns), axis=-1)[which])
