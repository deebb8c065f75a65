"""
Days about the median MUF: how often a frequency is returned, and what comes above it.

The basic MUF is the highest frequency a layer returns over a hop length, in the
monthly median (`geo.ionosphere.ray_muf`). Day by day it moves; the support law turns
that spread into a probability.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from advisor.propagation.normal import normal_deviate
from geo.ionosphere.sounding import CORRELATION_KM

E_LOWER_RATIO, E_UPPER_RATIO = 0.95, 1.05
"""Lower and upper decile of the E-layer MUF over its median, ITU-R P.533-14
section 3.6 (from memory)."""

LONGEST_F2_KM = 4000.0
"""Hop at which ordinary and extraordinary wave go together, ITU-R P.533-14 section
3.5.1 (from memory). [km]"""

MAP_RMS = 0.145
"""Error of a mapped median of foF2: rms of the monthly medians of five stations over a
year, 2019, an ionosonde against the map. Nothing of it is spread of days. With R12 in
place of IG12 the map stands 10 % higher in that year, which may be in it."""

MAP_ERROR_DECILE = 1.2816 * MAP_RMS
"""What one month in ten exceeds on either side, were the errors normal."""


def apart_mhz(gyro_mhz: ArrayLike, hop_km: ArrayLike) -> NDArray[np.float64]:
    """
    How much higher the extraordinary wave is returned than the ordinary one.

    Parameters
    ----------
    gyro_mhz : array_like
        Electron gyrofrequency at the layer. [MHz]
    hop_km : array_like
        Length of the hop; broadcasts. [km]

    Returns
    -------
    apart_mhz : numpy.ndarray
        Half the gyrofrequency overhead, nothing from 4000 km. [MHz]

    References
    ----------
    ITU-R P.533-14, section 3.5.1 (from memory).

    Examples
    --------
    >>> apart_mhz(1.2, [0.0, 2000.0, 5000.0])
    array([0.6, 0.3, 0. ])
    """
    part = np.clip(np.asarray(hop_km, dtype=float) / LONGEST_F2_KM, 0.0, 1.0)
    return np.asarray(0.5 * np.asarray(gyro_mhz, dtype=float) * (1.0 - part))


def support_probability(
    frequency_mhz: ArrayLike,
    muf_mhz: ArrayLike,
    lower_ratio: ArrayLike,
    upper_ratio: ArrayLike,
) -> NDArray[np.float64]:
    r"""
    Share of the month's days on which the layer returns a frequency.

    Parameters
    ----------
    frequency_mhz : array_like
        Working frequency. [MHz]
    muf_mhz : array_like
        Median basic MUF of the mode. [MHz]
    lower_ratio, upper_ratio : array_like
        Lower and upper decile of the MUF over its median: below 1 and above 1.

    Returns
    -------
    support : numpy.ndarray
        0 to 1; 0 where the MUF is NaN (there is no such mode).

    Notes
    -----
    .. math:: F = 1.3 - \frac{0.8}{1 + \frac{1 - f/M}{1-\delta_l}} \;(f \le M),
              \qquad
              F = \frac{0.8}{1 + \frac{f/M - 1}{\delta_u - 1}} - 0.3 \;(f > M)

    held within 0 and 1. It is 0.9, 0.5 and 0.1 at the lower decile, the median and
    the upper decile.

    References
    ----------
    ITU-R P.533-14, section 3.6 (from memory; the three points checked).

    Examples
    --------
    >>> support_probability([8.5, 10.0, 11.5], 10.0, 0.85, 1.15).round(2)
    array([0.9, 0.5, 0.1])
    """
    muf = np.asarray(muf_mhz, dtype=float)
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = np.asarray(frequency_mhz, dtype=float) / muf
        below = np.maximum(1.0 - ratio, 0.0) / (1.0 - np.asarray(lower_ratio))
        above = np.maximum(ratio - 1.0, 0.0) / (np.asarray(upper_ratio) - 1.0)
    share = np.where(ratio <= 1.0, 1.3 - 0.8 / (1.0 + below), 0.8 / (1.0 + above) - 0.3)
    return np.asarray(np.nan_to_num(np.clip(share, 0.0, 1.0), nan=0.0))


def with_map_error(
    lower_ratio: ArrayLike, upper_ratio: ArrayLike, unsounded: ArrayLike = 1.0
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """
    Widen the deciles of foF2 and the MUF by what the maps of medians do not know.

    Parameters
    ----------
    lower_ratio, upper_ratio : array_like
        Day-to-day deciles of foF2 over its median.
    unsounded : array_like, optional
        Share of the map's error that remains where foF2 was sounded near by.

    Returns
    -------
    lower_ratio, upper_ratio : numpy.ndarray
        Deciles of what a day may bring, seen from the map: the band of the chance.

    Notes
    -----
    Medians of single months stand 14.5 % rms off the map (`MAP_RMS`), 18.6 % at a
    decile. In one month that is a shift for all its days; over the months that an
    answer may stand for it is put in quadrature with their spread, which leaves the
    mean chance right and tells nothing of how all-or-nothing one month is. At two
    reflection points it then differs as the days do (`joint_share`; the project's
    choice).

    Examples
    --------
    >>> [float(r.round(2)) for r in with_map_error(0.87, 1.13)]
    [0.77, 1.23]
    """
    error = MAP_ERROR_DECILE * np.asarray(unsounded, dtype=float)
    lower = 1.0 - np.hypot(1.0 - np.asarray(lower_ratio, dtype=float), error)
    upper = 1.0 + np.hypot(np.asarray(upper_ratio, dtype=float) - 1.0, error)
    return lower, upper


def e_support(frequency_mhz: ArrayLike, muf_mhz: ArrayLike) -> NDArray[np.float64]:
    """
    Share of days on which the E layer returns a frequency; F1 has the same spread.

    Parameters
    ----------
    frequency_mhz, muf_mhz : array_like
        As in `support_probability`. [MHz]

    Returns
    -------
    support : numpy.ndarray
        0 to 1; 0 where the MUF is NaN.
    """
    return support_probability(frequency_mhz, muf_mhz, E_LOWER_RATIO, E_UPPER_RATIO)


def f2_support(
    frequency_mhz: ArrayLike,
    muf_mhz: ArrayLike,
    lower_ratio: ArrayLike,
    upper_ratio: ArrayLike,
    unsounded: ArrayLike,
) -> NDArray[np.float64]:
    """
    Share of days on which the F2 layer returns a frequency, map error included.

    Parameters
    ----------
    frequency_mhz, muf_mhz : array_like
        As in `support_probability`. [MHz]
    lower_ratio, upper_ratio, unsounded : array_like
        As in `with_map_error`. All broadcast.

    Returns
    -------
    support : numpy.ndarray
        0 to 1; 0 where the MUF is NaN.
    """
    ratios = with_map_error(lower_ratio, upper_ratio, unsounded)
    return support_probability(frequency_mhz, muf_mhz, *ratios)


def ratio_exceeded(
    share: ArrayLike, lower_ratio: ArrayLike, upper_ratio: ArrayLike
) -> NDArray[np.float64]:
    """
    Ratio to its median that the MUF exceeds on a share of days.

    Parameters
    ----------
    share : array_like
        Share of days, above 0 and below 1.
    lower_ratio, upper_ratio : array_like
        Deciles over the median, as in `support_probability`, whose inverse this is.

    Returns
    -------
    ratio : numpy.ndarray
        1 for a share of one half.

    References
    ----------
    ITU-R P.533-14, section 3.6, solved for the frequency.

    Examples
    --------
    >>> ratio_exceeded([0.9, 0.5, 0.1], 0.85, 1.15).round(2)
    array([0.85, 1.  , 1.15])
    """
    days = np.asarray(share, dtype=float)
    below = 0.8 / (1.3 - np.maximum(days, 0.5)) - 1.0
    above = 0.8 / (0.3 + np.minimum(days, 0.5)) - 1.0
    lower = 1.0 - below * (1.0 - np.asarray(lower_ratio, dtype=float))
    upper = 1.0 + above * (np.asarray(upper_ratio, dtype=float) - 1.0)
    return np.asarray(np.where(days >= 0.5, lower, upper))


_GAUSS, _GAUSS_WEIGHT = np.polynomial.legendre.leggauss(8)


def joint_share(share: ArrayLike, apart_km: ArrayLike) -> NDArray[np.float64]:
    r"""
    Share of days on which the layer returns a frequency at a row of points.

    Parameters
    ----------
    share : array_like
        Shape (..., n), share of days on which it does at each of them, in their order.
    apart_km : array_like
        From one to the next; broadcasts with (..., n - 1). [km]

    Returns
    -------
    share : numpy.ndarray
        Shape (...).

    Notes
    -----
    The ranks of the day at two points d apart are taken as normal with the correlation

    .. math:: \rho = e^{-d/L},\quad L = 2000\ \text{km}

    which is also the law by which a sounding holds elsewhere
    (`geo.ionosphere.sounding`); and the points as a chain, each of which goes by its
    neighbour. Both shares one half give :math:`1/4 + \arcsin\rho/2\pi`. Klobuchar and
    Johanson (1977, abstract) find stations 2400 km apart in longitude still correlated
    by 0.87, which would be L = 17 000 km: the truth for medians of storms and quiet
    days together lies between; a lesser correlation is the more cautious.

    Examples
    --------
    >>> joint_share([0.5, 0.5], [[0.0], [3000.0], [1e6]]).round(2)
    array([0.5 , 0.29, 0.25])
    """
    each = np.asarray(share, dtype=float)
    if each.shape[-1] == 1:
        return np.asarray(each[..., 0])
    level = normal_deviate(np.clip(each, 1e-9, 1.0 - 1e-9))
    one, other = level[..., :-1], level[..., 1:]
    rho = np.exp(-np.asarray(apart_km, dtype=float) / CORRELATION_KM)
    # Orthant probability by the integral over the correlation (Drezner and Wesolowsky,
    # J. Statist. Comput. Simul. 35, 101, 1990).
    half = 0.5 * np.arcsin(np.minimum(rho, 1.0 - 1e-9))
    squares, product = one**2 + other**2, 2.0 * one * other
    total = np.zeros(np.broadcast_shapes(squares.shape, half.shape))
    for x, weight in zip(_GAUSS, _GAUSS_WEIGHT, strict=True):
        sine = np.sin(half * (1.0 + x))
        total += weight * np.exp((product * sine - squares) / (2.0 * (1.0 - sine**2)))
    lesser = np.minimum(each[..., :-1], each[..., 1:])
    pair = each[..., :-1] * each[..., 1:] + half * total / (2.0 * np.pi)
    pair = np.clip(pair, 0.0, lesser)
    with np.errstate(divide="ignore", invalid="ignore"):
        given = np.where(each[..., :-1] > 0.0, pair / each[..., :-1], 0.0)
    return np.asarray(each[..., 0] * given.prod(axis=-1))
