r"""
What a measured foF2 says about the layer around it, hours and distances away.

A map gives the median of a month. One sounding tells how far the layer stands off
that median here and now, and the layer near by, an hour later, mostly stands off the
same way. How much is carried over is a matter of correlation: all of it at the place
and hour of the sounding, half of it some 1400 km away or two hours later, nothing on
the other side of the world or the next day. With what is known the day-to-day spread
shrinks too.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from geo.sphere import distance_km as great_circle_km

CORRELATION_KM = 2000.0
"""Distance over which the correlation of two places' departures from their medians
falls to 1/e. The project's choice: 0.7 is left at 700 km, less than the 1800 km north
to south and 2900 km east to west at which the total electron content still has 0.7
(J. A. Klobuchar and J. M. Johanson, AFGL-TR-77-0185 (1977), from memory). [km]"""

CORRELATION_HOURS = 3.0
"""Time over which it falls to 1/e; the project's choice, no source. [h]"""

READING_VARIANCE = 0.02
"""Variance of a sounding's own error over that of the departures from the map: 2 % of
foF2, or 0.15 MHz in 7, against 14.5 %. The project's choice."""

LEAST_SPREAD = 0.35
"""However near the sounding, at least this share of the spread remains: the layer is
tilted and rippled below the scale of any network. The project's choice."""


def correlation(distance_km: ArrayLike, hours: ArrayLike) -> NDArray[np.float64]:
    r"""
    Correlation of two departures of foF2 from its median.

    Parameters
    ----------
    distance_km : array_like
        Great-circle distance of the two places. [km]
    hours : array_like
        Time between them, its sign of no effect. Broadcasts. [h]

    Returns
    -------
    correlation : numpy.ndarray
        1 at the same place and hour, above 0.

    Notes
    -----
    .. math:: \rho = e^{-d/2000\,\mathrm{km}} e^{-|t|/3\,\mathrm{h}}

    The exponential is a valid correlation of distances on a sphere; a bell curve is
    not, and would let several soundings contradict each other into nonsense.

    Examples
    --------
    >>> correlation([0.0, 1386.0, 0.0], [0.0, 0.0, 3.0]).round(2)
    array([1.  , 0.5 , 0.37])
    """
    apart = np.asarray(distance_km, dtype=float) / CORRELATION_KM
    later = np.abs(np.asarray(hours, dtype=float)) / CORRELATION_HOURS
    return np.asarray(np.exp(-apart - later))


def hours_between(times: ArrayLike, since: ArrayLike) -> NDArray[np.float64]:
    """
    Hours from one moment to another.

    Parameters
    ----------
    times, since : array_like of datetime64
        UTC; they broadcast.

    Returns
    -------
    hours : numpy.ndarray
        Positive if ``times`` is later. [h]

    Examples
    --------
    >>> hours_between("2026-12-05T12:30", "2026-12-05T12:00")
    array(0.5)
    """
    span = np.asarray(times, dtype="datetime64[s]") - np.asarray(
        since, dtype="datetime64[s]"
    )
    return np.asarray(span / np.timedelta64(3600, "s"))


def carried_over(
    lat_deg: ArrayLike,
    lon_deg: ArrayLike,
    times: ArrayLike,
    sounded_lat_deg: ArrayLike,
    sounded_lon_deg: ArrayLike,
    sounded_times: ArrayLike,
    ratio: ArrayLike,
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    r"""
    Best guess of foF2 over its median, and how much of its spread remains.

    Parameters
    ----------
    lat_deg, lon_deg : array_like
        Places asked about, (P,). [deg]
    times : array_like of datetime64
        Moments asked about, (T,), UTC.
    sounded_lat_deg, sounded_lon_deg : array_like
        Places of the soundings, (K,). [deg]
    sounded_times : array_like of datetime64
        Moments of the soundings, (K,), UTC.
    ratio : array_like
        Sounded foF2 over its median there and then, (K,), positive.

    Returns
    -------
    factor : numpy.ndarray
        Shape (T, P): what the median is to be multiplied by; 1 far away, and
        everywhere if every ratio is 1.
    spread : numpy.ndarray
        Shape (T, P): share of the day-to-day spread that remains, `LEAST_SPREAD` at a
        sounding, 1 far away.

    Notes
    -----
    Least squares on the logarithms (simple kriging): with :math:`C` the correlations
    of the soundings among themselves, :math:`c` those with the place asked about and
    :math:`w = (C + 0.02\,I)^{-1} c`,

    .. math:: \ln f = w \cdot \ln r,\qquad s^2 = 1 - w \cdot c

    so that two soundings side by side count hardly more than one.

    References
    ----------
    C. E. Rasmussen and C. K. I. Williams, Gaussian Processes for Machine Learning
    (2006), equations (2.25) and (2.26).

    Examples
    --------
    At the sounding and 1421 km east of it, at the same hour:

    >>> noon = np.datetime64("2026-12-05T12:00")
    >>> factor, spread = carried_over([50, 50], [10, 30], noon, 50, 10, noon, 1.2)
    >>> factor.round(2), spread.round(2)
    (array([[1.2 , 1.09]]), array([[0.35, 0.87]]))
    """
    lat, lon = (np.atleast_1d(np.asarray(v, dtype=float)) for v in (lat_deg, lon_deg))
    when = np.atleast_1d(np.asarray(times, dtype="datetime64[s]"))
    at_lat, at_lon, departure = (
        np.atleast_1d(np.asarray(value, dtype=float))
        for value in (sounded_lat_deg, sounded_lon_deg, np.log(ratio))
    )
    at_time = np.atleast_1d(np.asarray(sounded_times, dtype="datetime64[s]"))
    among = correlation(
        great_circle_km(at_lat[:, None], at_lon[:, None], at_lat, at_lon),
        hours_between(at_time[:, None], at_time),
    )
    to_each = correlation(
        great_circle_km(at_lat[:, None, None], at_lon[:, None, None], lat, lon),
        hours_between(when[:, None], at_time[:, None, None]),
    )
    flat = to_each.reshape(at_lat.size, -1)
    weight = np.linalg.solve(among + READING_VARIANCE * np.eye(at_lat.size), flat)
    body = (when.size, lat.size)
    factor = np.exp(departure @ weight).reshape(body)
    left = 1.0 - (weight * flat).sum(axis=0).reshape(body)
    return factor, np.maximum(np.sqrt(np.maximum(left, 0.0)), LEAST_SPREAD)
