"""
Basic MUF of a hop and the share of days on which the layer returns a frequency.

The basic MUF is the highest frequency a layer returns over a hop length, in the
monthly median. Day by day it moves; the support law turns that spread into a
probability.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from geo.ionosphere.hops import E_MIRROR_HEIGHT_KM, MAX_HOP_F2_KM, sec_incidence

E_LOWER_RATIO, E_UPPER_RATIO = 0.95, 1.05
"""Lower and upper decile of the E-layer MUF over its median, ITU-R P.533-14
section 3.6 (from memory)."""

MAP_ERROR_DECILE = 0.14
"""Error of a mapped median of foF2 that one case in ten exceeds on either side."""

SCREENING_FACTOR = 1.05
"""E-layer screening frequency over foE sec i, ITU-R P.533-14 section 4."""


def distance_factor(
    hop_km: ArrayLike, longest_hop_km: ArrayLike
) -> NDArray[np.float64]:
    r"""
    Share C of the way from vertical incidence to the longest hop.

    Parameters
    ----------
    hop_km : array_like
        Hop length; clipped to the range 0 to ``longest_hop_km``. [km]
    longest_hop_km : array_like
        Longest F2 hop. [km]

    Returns
    -------
    factor : numpy.ndarray
        0 for a hop of no length, 1 for the longest.

    Notes
    -----
    .. math:: C_d = 0.74 - 0.591 Z - 0.424 Z^2 - 0.090 Z^3 + 0.088 Z^4
              + 0.181 Z^5 + 0.096 Z^6,\quad Z = 1 - 2d/d_{max}

    References
    ----------
    ITU-R P.533-14, section 3.5.1 (from memory; both ends checked).

    Examples
    --------
    >>> distance_factor([0.0, 3000.0, 4000.0], 4000.0).round(3)
    array([0.   , 0.942, 1.   ])
    """
    share = np.asarray(hop_km, dtype=float) / np.asarray(longest_hop_km, dtype=float)
    z = 1.0 - 2.0 * np.clip(share, 0.0, 1.0)
    series = ((((0.096 * z + 0.181) * z + 0.088) * z - 0.090) * z - 0.424) * z - 0.591
    return np.asarray(0.74 + series * z)


def m_factor(m3000f2: ArrayLike, fof2_over_foe: ArrayLike) -> NDArray[np.float64]:
    r"""
    Factor B that stands for M(3000)F2 once the E layer below is allowed for.

    Parameters
    ----------
    m3000f2 : array_like
        M(3000)F2, about 2 to 4.
    fof2_over_foe : array_like
        Ratio x of the critical frequencies; taken as 2 where smaller.

    Returns
    -------
    factor : numpy.ndarray
        Within 0.1 of M for 2.5 to 3.5.

    Notes
    -----
    .. math:: B = M - 0.124 + (M^2-4)\left[0.0215
              + 0.005\sin\left(\frac{7.854}{x} - 1.9635\right)\right]

    References
    ----------
    ITU-R P.533-14, section 3.5.1 (from memory; limits checked).

    Examples
    --------
    >>> m_factor(3.0, 2.67).round(2)
    np.float64(3.01)
    """
    m = np.asarray(m3000f2, dtype=float)
    x = np.maximum(np.asarray(fof2_over_foe, dtype=float), 2.0)
    ripple = 0.0215 + 0.005 * np.sin(7.854 / x - 1.9635)
    return np.asarray(m - 0.124 + (m**2 - 4.0) * ripple)


def longest_f2_hop_km(
    factor_b: ArrayLike, fof2_over_foe: ArrayLike
) -> NDArray[np.float64]:
    r"""
    Longest hop the F2 layer gives, at most 4000 km.

    Parameters
    ----------
    factor_b : array_like
        Factor B of `m_factor`.
    fof2_over_foe : array_like
        Ratio x of the critical frequencies; taken as 2 where smaller.

    Returns
    -------
    hop_km : numpy.ndarray
        Longest hop. [km]

    Notes
    -----
    .. math:: d_{max} = 4780 + \left(12610 + \frac{2140}{x^2}
              - \frac{49720}{x^4} + \frac{688900}{x^6}\right)
              \left(\frac{1}{B} - 0.303\right)

    The standard's limit of 4000 km is applied (from memory); without it the MUF at
    500 km comes out about 6 % lower and at 4000 km 6 % higher.

    References
    ----------
    ITU-R P.533-14, section 3.5.1 (from memory).

    Examples
    --------
    >>> longest_f2_hop_km(3.0, 2.67)
    array(4000.)
    """
    x = np.maximum(np.asarray(fof2_over_foe, dtype=float), 2.0)
    scale = 12610.0 + 2140.0 / x**2 - 49720.0 / x**4 + 688900.0 / x**6
    free = 4780.0 + scale * (1.0 / np.asarray(factor_b, dtype=float) - 0.303)
    return np.asarray(np.minimum(free, MAX_HOP_F2_KM))


def f2_muf_mhz(
    hop_km: ArrayLike,
    fof2_mhz: ArrayLike,
    foe_mhz: ArrayLike,
    m3000f2: ArrayLike,
    gyro_mhz: ArrayLike,
) -> NDArray[np.float64]:
    r"""
    Median basic MUF of one F2 hop.

    Parameters
    ----------
    hop_km : array_like
        Hop length. [km]
    fof2_mhz, foe_mhz : array_like
        Median critical frequencies at the control point. [MHz]
    m3000f2 : array_like
        M(3000)F2 there.
    gyro_mhz : array_like
        Electron gyrofrequency there at 300 km. [MHz]

    Returns
    -------
    muf_mhz : numpy.ndarray
        Basic MUF; NaN where the hop is longer than the layer's longest. [MHz]

    Notes
    -----
    .. math:: \left[1 + \frac{C_d}{C_{3000}}(B-1)\right] f_oF2
              + \frac{f_H}{2}\left(1 - \frac{d}{d_{max}}\right)

    At no distance this is foF2 + fH/2, the critical frequency of the extraordinary
    wave.

    References
    ----------
    ITU-R P.533-14, section 3.5.1 (from memory; limits checked).

    Examples
    --------
    >>> f2_muf_mhz([0.0, 500.0, 3000.0], 8.0, 3.0, 3.0, 1.2).round(1)
    array([ 8.6, 10.4, 24.1])
    """
    hop = np.asarray(hop_km, dtype=float)
    fof2 = np.asarray(fof2_mhz, dtype=float)
    ratio = fof2 / np.asarray(foe_mhz, dtype=float)
    factor_b = m_factor(m3000f2, ratio)
    longest = longest_f2_hop_km(factor_b, ratio)
    reach = distance_factor(hop, longest) / distance_factor(3000.0, longest)
    extraordinary = 0.5 * np.asarray(gyro_mhz, dtype=float) * (1.0 - hop / longest)
    muf = (1.0 + reach * (factor_b - 1.0)) * fof2 + extraordinary
    return np.asarray(np.where(hop <= longest, muf, np.nan))


def e_muf_mhz(takeoff_deg: ArrayLike, foe_mhz: ArrayLike) -> NDArray[np.float64]:
    """
    Median basic MUF of one E hop, by the secant law at 110 km.

    Parameters
    ----------
    takeoff_deg : array_like
        Take-off angle of the hop. [deg]
    foe_mhz : array_like
        Critical frequency of the E layer at the control point. [MHz]

    Returns
    -------
    muf_mhz : numpy.ndarray
        Basic MUF. [MHz]

    References
    ----------
    ITU-R P.533-14, section 3.3 (from memory).

    Examples
    --------
    >>> e_muf_mhz(10.1, 3.0).round(1)
    np.float64(11.9)
    """
    secant = sec_incidence(takeoff_deg, E_MIRROR_HEIGHT_KM)
    return np.asarray(secant * np.asarray(foe_mhz, dtype=float))


def screening_mhz(takeoff_deg: ArrayLike, foe_mhz: ArrayLike) -> NDArray[np.float64]:
    """
    Frequency below which the E layer keeps an F2 ray from getting through.

    Parameters
    ----------
    takeoff_deg : array_like
        Take-off angle of the F2 hop. [deg]
    foe_mhz : array_like
        Critical frequency of the E layer where the ray crosses it. [MHz]

    Returns
    -------
    screening_mhz : numpy.ndarray
        Screening frequency. [MHz]

    References
    ----------
    ITU-R P.533-14, section 4 (from memory).

    Examples
    --------
    >>> screening_mhz(90.0, 3.0).round(2)
    np.float64(3.15)
    """
    return np.asarray(SCREENING_FACTOR * e_muf_mhz(takeoff_deg, foe_mhz))


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
    Widen the deciles of the MUF by what the maps of medians do not know.

    Parameters
    ----------
    lower_ratio, upper_ratio : array_like
        Day-to-day deciles of foF2 over its median.
    unsounded : array_like, optional
        Share of the map's error that remains where foF2 was sounded near by.

    Returns
    -------
    lower_ratio, upper_ratio : numpy.ndarray
        Deciles of what a day may bring, seen from the map.

    Notes
    -----
    Against a year of public ionograms at five stations the maps are off by 14.5 % rms
    in all, of which the days make about 9 %; the rest, 11 % rms or 14 % at a decile, is
    the map's own and is put in quadrature (the project's choice).

    Examples
    --------
    >>> [float(r.round(2)) for r in with_map_error(0.87, 1.13)]
    [0.81, 1.19]
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


def screened_share(
    frequency_mhz: ArrayLike, takeoff_deg: ArrayLike, foe_mhz: ArrayLike
) -> NDArray[np.float64]:
    """
    Share of days on which the E layer stops a ray to a higher layer.

    Parameters
    ----------
    frequency_mhz : array_like
        Working frequency. [MHz]
    takeoff_deg, foe_mhz : array_like
        As in `screening_mhz`. All broadcast. [deg], [MHz]

    Returns
    -------
    share : numpy.ndarray
        0 to 1.
    """
    return e_support(frequency_mhz, screening_mhz(takeoff_deg, foe_mhz))


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
