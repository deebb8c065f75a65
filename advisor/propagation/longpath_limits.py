"""
Limits of the window of frequencies that a path beyond 9000 km carries.

The lower one is set by absorption, the upper one by the F2 layer at both ends. What
the field is between and past them is in `advisor.propagation.longpath`.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from geo.ionosphere.hops import (
    MAX_HOP_F2_KM,
    fewest_hops,
    incidence_deg,
    ray_path_km,
    takeoff_angle_deg,
)
from geo.sphere import EARTH_RADIUS_KM

MIRROR_HEIGHT_KM = 300.0
"""Mirror height of every hop, ITU-R P.533-14 section 5.3 (from memory). [km]"""

ABSORBING_HEIGHT_KM = 90.0
"""Height at which rays cross the absorbing region, same section. [km]"""

# W, X and Y for azimuths east-west and north-south.
_EAST_WEST, _NORTH_SOUTH = (0.1, 1.2, 0.6), (0.2, 0.2, 0.4)

_MONTHS = np.arange(1.0, 13.0)
_ANOMALY_60N = np.array(
    [1.30, 1.15, 1.03, 1.0, 1.0, 1.0, 1.0, 1.0, 1.0, 1.03, 1.15, 1.30]
)
_EXCESS_ONE_END = np.array([0.05, 0.02, 0, 0, 0, 0, 0, 0, 0, 0, 0.02, 0.05])
_EXCESS_BOTH_ENDS = np.array([0.10, 0.05, 0, 0, 0, 0, 0, 0, 0, 0, 0.05, 0.10])
_TEMPERATE_DEG = 35.0

_EVENING_HOURS = 3.0
_EVENING_RATE = 0.23


def equal_hops(
    distance_km: ArrayLike,
) -> tuple[NDArray[np.int64], NDArray[np.float64], NDArray[np.float64]]:
    """
    Cut paths into the fewest equal hops of at most 4000 km.

    Parameters
    ----------
    distance_km : array_like
        Great-circle length of the path. [km]

    Returns
    -------
    hops : numpy.ndarray
        How many.
    hop_km : numpy.ndarray
        Length of each; NaN for a negative distance. [km]
    takeoff_deg : numpy.ndarray
        Take-off angle off a mirror at `MIRROR_HEIGHT_KM`. [deg]

    References
    ----------
    ITU-R P.533-14, section 5.3 (from memory).
    """
    distance = np.asarray(distance_km, dtype=float)
    distance = np.where(distance >= 0.0, distance, np.nan)
    hops = fewest_hops(np.nan_to_num(distance), MAX_HOP_F2_KM)
    hop = np.asarray(distance / hops)
    return hops, hop, takeoff_angle_deg(hop, MIRROR_HEIGHT_KM)


def reference_muf_mhz(fof2_mhz: ArrayLike, m3000f2: ArrayLike) -> NDArray[np.float64]:
    """
    Median MUF of a 4000 km hop, the fg of the method.

    Parameters
    ----------
    fof2_mhz : array_like
        Critical frequency at a control point. [MHz]
    m3000f2 : array_like
        M(3000)F2 there.

    Returns
    -------
    muf_mhz : numpy.ndarray
        1.1 foF2 M(3000)F2. [MHz]

    References
    ----------
    ITU-R P.1240 (from memory): F2(4000)MUF is 1.1 times F2(3000)MUF.

    Examples
    --------
    >>> reference_muf_mhz(8.0, 3.0).round(1)
    np.float64(26.4)
    """
    product = np.asarray(fof2_mhz, dtype=float) * np.asarray(m3000f2, dtype=float)
    return np.asarray(1.1 * product)


def upper_limit_mhz(
    muf_mhz: ArrayLike,
    muf_noon_mhz: ArrayLike,
    muf_least_mhz: ArrayLike,
    middle_bearing_deg: ArrayLike,
) -> NDArray[np.float64]:
    r"""
    Upper limit fM of the window at one control point.

    Parameters
    ----------
    muf_mhz : array_like
        `reference_muf_mhz` at the control point and hour, positive. [MHz]
    muf_noon_mhz : array_like
        The same at the control point's local noon, positive. [MHz]
    muf_least_mhz : array_like
        The least of the 24 hours. [MHz]
    middle_bearing_deg : array_like
        Bearing of the path at its middle, either way. All broadcast. [deg]

    Returns
    -------
    upper_mhz : numpy.ndarray
        fM; of the two control points of a path the lower counts. NaN where a MUF is
        not positive. [MHz]

    Notes
    -----
    .. math:: f_M = K f_g,\quad K = 1.2 + W\frac{f_g}{f_{g,noon}}
       + X\left[\left(\frac{f_{g,noon}}{f_g}\right)^{1/3} - 1\right]
       + Y\left(\frac{f_{g,min}}{f_{g,noon}}\right)^2

    with W, X, Y of 0.1, 1.2, 0.6 for an east-west path and 0.2, 0.2, 0.4 for a
    north-south one, in proportion to the angle between.

    References
    ----------
    ITU-R P.533-14, section 5.3 (from memory).

    Examples
    --------
    >>> upper_limit_mhz(20.0, 20.0, 8.0, [0.0, 90.0]).round(2)
    array([29.28, 27.92])
    """
    muf, noon = (
        np.where(value > 0.0, value, np.nan)
        for value in (
            np.asarray(muf_mhz, dtype=float),
            np.asarray(muf_noon_mhz, dtype=float),
        )
    )
    off_east = np.abs(np.asarray(middle_bearing_deg, dtype=float) % 180.0 - 90.0) / 90.0
    w, x, y = (
        east + (north - east) * off_east
        for east, north in zip(_EAST_WEST, _NORTH_SOUTH, strict=True)
    )
    least = np.asarray(muf_least_mhz, dtype=float) / noon
    factor = 1.2 + w * muf / noon + x * (np.cbrt(noon / muf) - 1.0) + y * least**2
    return np.asarray(factor * muf)


def crossing_distances_km(distance_km: ArrayLike) -> NDArray[np.float64]:
    """
    Where along a path its rays cross the absorbing region.

    Parameters
    ----------
    distance_km : array_like
        Shape (P,), great-circle lengths, positive. [km]

    Returns
    -------
    along_km : numpy.ndarray
        Shape (P, C): distance from my end of every crossing at 90 km height, two for
        each of the fewest hops of at most 4000 km; NaN past a path's last. [km]

    References
    ----------
    ITU-R P.533-14, section 5.3 (from memory).

    Examples
    --------
    >>> crossing_distances_km([3000.0, 8000.0]).round(0)
    array([[ 691., 2309.,   nan,   nan],
           [1148., 2852., 5148., 6852.]])
    """
    hops, hop, takeoff = equal_hops(np.atleast_1d(distance_km))
    rise = 90.0 - takeoff - incidence_deg(takeoff, ABSORBING_HEIGHT_KM)
    in_by = EARTH_RADIUS_KM * np.radians(rise)
    number = np.arange(int(hops.max(initial=1)))
    start = number * hop[:, None]
    along = np.stack([start + in_by[:, None], start + (hop - in_by)[:, None]], axis=-1)
    along[number >= hops[:, None]] = np.nan
    return np.asarray(along.reshape(hop.size, -1))


def seasonal_factor(
    latitude_deg: ArrayLike, far_latitude_deg: ArrayLike, month: ArrayLike
) -> NDArray[np.float64]:
    """
    Seasonal factor I of the absorption, by the latitudes of the two ends.

    Parameters
    ----------
    latitude_deg, far_latitude_deg : array_like
        Geographic latitudes of the ends. [deg]
    month : array_like
        Month counted at its middle: 1 is mid-January, 6.5 the turn from June to
        July. All broadcast.

    Returns
    -------
    factor : numpy.ndarray
        1 to 1.1: more in the winter of ends beyond 35 degrees.

    References
    ----------
    ITU-R P.533-14, section 5.3 (from memory, middling confidence).

    Examples
    --------
    >>> seasonal_factor(52.0, [48.0, 10.0, -40.0], 1.0)
    array([1.1 , 1.05, 1.05])
    """
    ends = [np.asarray(v, dtype=float) for v in (latitude_deg, far_latitude_deg)]
    phase = np.asarray(month, dtype=float)
    excess = np.zeros(())
    for sign, shift in ((1.0, 0.0), (-1.0, 6.0)):
        count = sum((sign * end > _TEMPERATE_DEG).astype(int) for end in ends)
        one, both = (
            np.interp(phase + shift, _MONTHS, values, period=12.0)
            for values in (_EXCESS_ONE_END, _EXCESS_BOTH_ENDS)
        )
        excess = excess + np.where(count == 1, one, 0.0) + np.where(count == 2, both, 0)
    return np.asarray(1.0 + excess)


def winter_anomaly(latitude_deg: ArrayLike, month: ArrayLike) -> NDArray[np.float64]:
    """
    Winter-anomaly factor Aw of the absorption.

    Parameters
    ----------
    latitude_deg : array_like
        Geographic latitude of the middle of the path, -90 to 90. [deg]
    month : array_like
        Month counted at its middle, as in `seasonal_factor`. Broadcasts.

    Returns
    -------
    factor : numpy.ndarray
        1 up to 30 degrees and at the poles, at most 1.3 at 60 degrees in mid-winter.

    References
    ----------
    ITU-R P.533-14, section 5.3 (from memory, middling confidence).

    Examples
    --------
    >>> winter_anomaly([60.0, 45.0, -60.0], [1.0, 1.0, 7.0])
    array([1.3 , 1.15, 1.3 ])
    """
    latitude = np.asarray(latitude_deg, dtype=float)
    phase = np.asarray(month, dtype=float) + np.where(latitude < 0.0, 6.0, 0.0)
    at_60 = np.interp(phase, _MONTHS, _ANOMALY_60N, period=12.0)
    share = np.interp(np.abs(latitude), (30.0, 60.0, 90.0), (0.0, 1.0, 0.0))
    return np.asarray(1.0 + (at_60 - 1.0) * share)


def night_limit_mhz(distance_km: ArrayLike) -> NDArray[np.float64]:
    """
    Lower limit of the window by night.

    Parameters
    ----------
    distance_km : array_like
        Great-circle length of the path, not negative. [km]

    Returns
    -------
    lower_mhz : numpy.ndarray
        sqrt(D / 3000). [MHz]

    References
    ----------
    ITU-R P.533-14, section 5.3 (from memory).

    Examples
    --------
    >>> night_limit_mhz(12000.0)
    array(2.)
    """
    distance = np.asarray(distance_km, dtype=float)
    return np.asarray(np.sqrt(np.where(distance >= 0.0, distance, np.nan) / 3000.0))


def lower_limit_mhz(
    zenith_deg: ArrayLike,
    distance_km: ArrayLike,
    r12: ArrayLike,
    gyro_mhz: ArrayLike,
    seasonal: ArrayLike,
    anomaly: ArrayLike,
) -> NDArray[np.float64]:
    r"""
    Lower limit fL of the window at one hour.

    Parameters
    ----------
    zenith_deg : array_like
        Shape (..., C): solar zenith angle at the crossings of
        `crossing_distances_km`; NaN where there is no crossing. [deg]
    distance_km : array_like
        Great-circle length of the path, positive. [km]
    r12 : array_like
        Twelve-month smoothed sunspot number on the old scale.
    gyro_mhz : array_like
        Mean gyrofrequency at 100 km along the path. [MHz]
    seasonal, anomaly : array_like
        Factors of `seasonal_factor` and `winter_anomaly`. All broadcast with the
        leading axes of ``zenith_deg``.

    Returns
    -------
    lower_mhz : numpy.ndarray
        fL, never below `night_limit_mhz`; the slow fall after sunset is put in by
        `evening_decay`. [MHz]

    Notes
    -----
    .. math:: f_L = \left\{5.3\,I\left[\frac{(1+0.009 R_{12})\sum\sqrt{\cos\chi}}
       {\cos i_{90}\,\ln(9.5\cdot10^6/p')}\right]^{1/2} - f_H\right\} A_w

    References
    ----------
    ITU-R P.533-14, section 5.3 (from memory, constants with middling confidence).

    Examples
    --------
    >>> day, night = [60.0] * 6, [120.0] * 6
    >>> lower_limit_mhz([day, night], 12000.0, 60.0, 1.2, 1.0, 1.0).round(1)
    array([11.7,  2. ])
    """
    sun = np.cos(np.radians(np.asarray(zenith_deg, dtype=float)))
    lit = np.sqrt(np.maximum(np.nan_to_num(sun, nan=0.0), 0.0)).sum(axis=-1)
    hops, hop, takeoff = equal_hops(distance_km)
    slope = np.cos(np.radians(incidence_deg(takeoff, ABSORBING_HEIGHT_KM)))
    length = np.log(9.5e6 / ray_path_km(hop, MIRROR_HEIGHT_KM, hops))
    strength = (1.0 + 0.009 * np.asarray(r12, dtype=float)) * lit / (slope * length)
    root = 5.3 * np.asarray(seasonal, dtype=float) * np.sqrt(strength)
    limit = (root - np.asarray(gyro_mhz, dtype=float)) * np.asarray(anomaly)
    return np.asarray(np.maximum(limit, night_limit_mhz(distance_km)))


def evening_decay(lower_mhz: ArrayLike, distance_km: ArrayLike) -> NDArray[np.float64]:
    r"""
    Let the lower limit fall slowly for the three hours after sunset.

    Parameters
    ----------
    lower_mhz : array_like
        Shape (T, ...): `lower_limit_mhz` at T equal steps that together make one
        day, which is taken to repeat. [MHz]
    distance_km : array_like
        Great-circle length of the path; broadcasts with the trailing axes. [km]

    Returns
    -------
    lower_mhz : numpy.ndarray
        Shape (T, ...): never below the input. [MHz]

    Notes
    -----
    From the moment :math:`t=0` at which the falling limit reaches twice its night
    value :math:`f_{LN}`, read between the steps on a straight line,

    .. math:: f_L = 2 f_{LN} e^{-0.23 t}

    until it meets the night value three hours later.

    References
    ----------
    ITU-R P.533-14, section 5.3 (from memory).

    Examples
    --------
    >>> day = np.where(np.arange(24) < 12, 8.0, 2.0)
    >>> evening_decay(day, 12000.0)[10:16].round(2)
    array([8.  , 8.  , 3.7 , 2.94, 2.34, 2.  ])
    """
    raw = np.asarray(lower_mhz, dtype=float)
    night = night_limit_mhz(distance_km)
    start = 2.0 * night
    step_hours = 24.0 / raw.shape[0]
    before = np.roll(raw, 1, axis=0)
    falls = (before > start) & (raw <= start)
    drop = np.where(falls, before - raw, 1.0)
    since = np.where(falls, (start - raw) / drop * step_hours, np.inf)
    limit = raw
    for _ in range(int(np.ceil(_EVENING_HOURS / step_hours)) + 1):
        decayed = np.where(
            since <= _EVENING_HOURS, start * np.exp(-_EVENING_RATE * since), 0.0
        )
        limit = np.maximum(limit, decayed)
        since = np.roll(since, 1, axis=0) + step_hours
    return np.asarray(limit)
