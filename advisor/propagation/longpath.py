r"""
Paths beyond 9000 km: one field for the whole path instead of a sum of hop modes.

Over many hops single modes lose their meaning. The standard then draws one window of
frequencies, from a lower limit set by absorption to an upper limit set by the F2
layer at both ends, and gives the field inside as a share of the free-space field.
Nothing is cut at the limits: past them the same formula goes on falling smoothly,
below the window as absorption does, with the inverse square of frequency. On 12 000
km with a window from 6 to 20 MHz it falls 9 dB from 6 to 5.4 MHz and 11 dB from 20 to
22 MHz, so that a weak-signal contact sees less signal rather than none.

Between 7000 and 9000 km both methods are blended. All functions take the working
values at control points and know nothing of maps or clocks. The limits of the window
are worked out in `advisor.propagation.longpath_limits`.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from advisor.propagation.longpath_limits import MIRROR_HEIGHT_KM, equal_hops
from geo.ionosphere.hops import ray_path_km
from geo.sphere import EARTH_RADIUS_KM

SHORT_LIMIT_KM, LONG_LIMIT_KM = 7000.0, 9000.0
"""Below the first the hop modes count alone, above the second this method, ITU-R
P.533-14 section 5.4. [km]"""


GAIN_TAKEOFF_DEG = (0.0, 8.0)
"""The gain that counts is the greatest between these elevations. [deg]"""

_MOST_FOCUS_DB = 15.0
_OFFSET_DB = -30.0
_LY_DB = -0.17
_FREE_SPACE_3_MW = 139.6
# E in dB(1 uV/m) for 1 kW, received by an isotropic antenna: 30 dB from kW to W and
# 107.2 dB of 20 log f + Pr, ITU-R P.533-14 section 6.
_FIELD_TO_LOSS_DB = 137.2


def focus_gain_db(distance_km: ArrayLike) -> NDArray[np.float64]:
    r"""
    Gain by the convergence of rays on the sphere towards the antipode.

    Parameters
    ----------
    distance_km : array_like
        Great-circle length of the path, 0 to 40030. [km]

    Returns
    -------
    gain_db : numpy.ndarray
        At most 15; NaN for a negative length. [dB]

    Notes
    -----
    .. math:: G_{ap} = 10 \log_{10}\frac{D}{R\,|\sin(D/R)|}

    References
    ----------
    ITU-R P.533-14, section 5.3 (from memory).

    Examples
    --------
    >>> focus_gain_db([0.0, 10007.5, 20015.0]).round(2)
    array([ 0.  ,  1.96, 15.  ])
    """
    angle = np.asarray(distance_km, dtype=float) / EARTH_RADIUS_KM
    angle = np.where(angle >= 0.0, angle, np.nan)
    spread = np.maximum(np.abs(np.sinc(angle / np.pi)), 1e-6)
    return np.asarray(np.minimum(10.0 * np.log10(1.0 / spread), _MOST_FOCUS_DB))


def window_share(
    frequency_mhz: ArrayLike,
    lower_mhz: ArrayLike,
    upper_mhz: ArrayLike,
    gyro_mhz: ArrayLike,
) -> NDArray[np.float64]:
    r"""
    Share of the free-space field (in dB) that the window leaves at a frequency.

    Parameters
    ----------
    frequency_mhz : array_like
        Working frequency. [MHz]
    lower_mhz, upper_mhz : array_like
        Limits fL and fM of the window. [MHz]
    gyro_mhz : array_like
        Mean gyrofrequency along the path. All broadcast. [MHz]

    Returns
    -------
    share : numpy.ndarray
        0 at both limits, positive between (0.39 at most for 6 to 20 MHz), negative
        outside. NaN goes through.

    Notes
    -----
    With :math:`u, l, m` the squares of :math:`f+f_H, f_L+f_H, f_M+f_H`, the
    standard's

    .. math:: 1 - \frac{m}{m+l}\left(\frac{l}{u} + \frac{u}{m}\right)
       = -\frac{(u-l)(u-m)}{u\,(l+m)}

    is symmetrical in both limits, so that it would call the gap of a *closed* window
    (fL above fM) open. Of that case the standard, as far as known, says nothing. The
    project takes the worse of two windows of no width, one at each limit: it joins
    without a step where fL = fM and falls as the gap widens.

    References
    ----------
    ITU-R P.533-14, section 5.3 (from memory; zeros checked).

    Examples
    --------
    >>> window_share([3.0, 6.0, 12.0, 20.0, 25.0], 6.0, 20.0, 1.2).round(2)
    array([-1.67,  0.  ,  0.39, -0.  , -0.44])
    """
    gyro = np.asarray(gyro_mhz, dtype=float)
    u, low, high = (
        (np.asarray(value, dtype=float) + gyro) ** 2
        for value in (frequency_mhz, lower_mhz, upper_mhz)
    )
    standard = -(u - low) * (u - high) / (u * (low + high))
    closed = -np.maximum((u - low) ** 2 / low, (u - high) ** 2 / high) / (2.0 * u)
    return np.asarray(np.where(low > high, closed, standard))


def long_path_loss_db(
    frequency_mhz: ArrayLike,
    distance_km: ArrayLike,
    lower_mhz: ArrayLike,
    upper_mhz: ArrayLike,
    gyro_mhz: ArrayLike,
) -> NDArray[np.float64]:
    r"""
    Median loss of a long path between isotropic antennas.

    Parameters
    ----------
    frequency_mhz : array_like
        Working frequency. [MHz]
    distance_km : array_like
        Great-circle length of the path, not negative. [km]
    lower_mhz, upper_mhz : array_like
        Limits of the window at the hour. [MHz]
    gyro_mhz : array_like
        Mean gyrofrequency along the path. All broadcast. [MHz]

    Returns
    -------
    loss_db : numpy.ndarray
        Loss such that received power is transmitted power plus both gains minus it,
        everything included: no residual term is to be added. For both gains take
        the greatest between 0 and 8 degrees of elevation. NaN for a negative
        length. [dB]

    Notes
    -----
    .. math:: E_l = E_0\,s - 30.0 + P_t + G_{tl} + G_{ap} - L_y,
       \quad E_0 = 139.6 - 20\log p',\quad L_y = -0.17

    in dB(1 uV/m) with :math:`s` of `window_share` and power in dB(1 kW). With
    :math:`P_r = E_l + G_r - 20\log f - 107.2` and 30 dB from kilowatt to watt the
    loss is :math:`137.2 + 20\log f - (E_l - P_t - G_{tl})`. (The hop-mode formula of
    the same standard prints 136.6 for the exact 137.2; it is not used here.) In the
    middle of the window, at 12 000 km, that is 27 dB more than free space for 6 to 20
    MHz and 14 dB for 5 to 30 MHz, focusing included.

    References
    ----------
    ITU-R P.533-14, sections 5.3 and 6 (from memory; the free-space constants were
    recomputed, -30.0 and -0.17 have middling confidence).

    Examples
    --------
    >>> long_path_loss_db([6.0, 12.0, 20.0], 12000.0, 6.0, 20.0, 1.2).round(1)
    array([179.6, 163.4, 190.1])
    """
    hops, hop, _takeoff = equal_hops(distance_km)
    path = ray_path_km(hop, MIRROR_HEIGHT_KM, hops)
    free = _FREE_SPACE_3_MW - 20.0 * np.log10(path)
    share = window_share(frequency_mhz, lower_mhz, upper_mhz, gyro_mhz)
    field = free * share + _OFFSET_DB + focus_gain_db(distance_km) - _LY_DB
    log_f = np.log10(np.asarray(frequency_mhz, dtype=float))
    return np.asarray(_FIELD_TO_LOSS_DB + 20.0 * log_f - field)


def blend_loss_db(
    distance_km: ArrayLike, hop_loss_db: ArrayLike, long_loss_db: ArrayLike
) -> NDArray[np.float64]:
    r"""
    Join the loss by hop modes and the loss of a long path.

    Parameters
    ----------
    distance_km : array_like
        Great-circle length of the path. [km]
    hop_loss_db : array_like
        Loss by the sum of hop modes; inf where there is none. [dB]
    long_loss_db : array_like
        `long_path_loss_db`. All broadcast. [dB]

    Returns
    -------
    loss_db : numpy.ndarray
        The first up to 7000 km, the second from 9000 km, between them blended. [dB]

    Notes
    -----
    The standard blends fields as :math:`X = 10^{E/100}`, straight in distance. A
    constant added to both fields is added to the result, so the rule serves losses
    just as well; the signals with both antennas' gains may be passed with their sign
    turned round.

    References
    ----------
    ITU-R P.533-14, section 5.4 (from memory).

    Examples
    --------
    >>> blend_loss_db([6000.0, 8000.0, 9500.0], 130.0, 150.0).round(1)
    array([130. , 138.9, 150. ])
    """
    distance = np.asarray(distance_km, dtype=float)
    share = np.interp(distance, (SHORT_LIMIT_KM, LONG_LIMIT_KM), (0.0, 1.0))
    short, long = (
        10.0 ** (-np.asarray(loss, dtype=float) / 100.0)
        for loss in (hop_loss_db, long_loss_db)
    )
    with np.errstate(divide="ignore"):
        return np.asarray(-100.0 * np.log10(short + share * (long - short)))
