"""
What a hop loses: spreading, absorption, ground reflection and the rest, in dB.

Each loss is one function under the name of what it is, so that the sum can be shown
line by line.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from advisor.antenna.ground import (
    complex_permittivity,
    ground_by_name,
    reflection_horizontal,
    reflection_vertical,
)
from geo.ionosphere.hops import sec_incidence

ABSORPTION_HEIGHT_KM = 100.0
"""Height at which a ray's slant through the absorbing region is taken. [km]"""

RESIDUAL_LOSS_DB = 8.72
"""The residual term Lz: everything the named losses leave out, ITU-R P.533-14
section 5.2 (from memory; older editions have 9.9). It was fitted together with the
standard's own absorption, which is replaced here by a closed form. [dB]"""


def spreading_db(
    frequency_mhz: ArrayLike, ray_path_km: ArrayLike
) -> NDArray[np.float64]:
    """
    Free-space loss between isotropic antennas along the ray.

    Parameters
    ----------
    frequency_mhz : array_like
        Working frequency. [MHz]
    ray_path_km : array_like
        Length of the ray over all hops. [km]

    Returns
    -------
    loss_db : numpy.ndarray
        Loss. [dB]

    References
    ----------
    ITU-R P.525-4, equation (4): 32.45 + 20 log f + 20 log d.

    Examples
    --------
    >>> spreading_db(10.0, 1000.0).round(2)
    np.float64(112.45)
    """
    return np.asarray(
        32.45
        + 20.0 * np.log10(np.asarray(frequency_mhz, dtype=float))
        + 20.0 * np.log10(np.asarray(ray_path_km, dtype=float))
    )


def absorption_index(zenith_deg: ArrayLike, r12: ArrayLike) -> NDArray[np.float64]:
    r"""
    How strongly the D region absorbs: 1 under an overhead sun at R12 = 0.

    Parameters
    ----------
    zenith_deg : array_like
        Solar zenith angle at the crossing. [deg]
    r12 : array_like
        Twelve-month smoothed sunspot number on the old scale.

    Returns
    -------
    index : numpy.ndarray
        At least 0.1, which is what remains at night.

    Notes
    -----
    .. math:: I = (1 + 0.0037 R_{12}) \cos^{1.3}(0.881\chi)

    References
    ----------
    Lucas and Haydon, ESSA Technical Report IER 1-ITSA 1 (1966), as revised later
    (from memory).

    Examples
    --------
    >>> absorption_index([0.0, 60.0, 120.0], 100.0).round(2)
    array([1.37, 0.71, 0.1 ])
    """
    chi = np.clip(np.asarray(zenith_deg, dtype=float), 0.0, 102.0)
    sun = np.maximum(np.cos(np.radians(0.881 * chi)), 0.0) ** 1.3
    return np.asarray(
        np.maximum((1.0 + 0.0037 * np.asarray(r12, dtype=float)) * sun, 0.1)
    )


def absorption_db(
    frequency_mhz: ArrayLike,
    takeoff_deg: ArrayLike,
    hops: ArrayLike,
    index: ArrayLike,
    gyro_mhz: ArrayLike,
) -> NDArray[np.float64]:
    r"""
    Absorption in the D region over all hops.

    Parameters
    ----------
    frequency_mhz : array_like
        Working frequency. [MHz]
    takeoff_deg : array_like
        Take-off angle. [deg]
    hops : array_like
        Number of hops; each crosses the region twice.
    index : array_like
        Mean absorption index over the path.
    gyro_mhz : array_like
        Mean gyrofrequency at 100 km over the path. [MHz]

    Returns
    -------
    loss_db : numpy.ndarray
        Monthly-median absorption. [dB]

    Notes
    -----
    .. math:: L_i = \frac{677.2\, n\, I \sec i_{100}}{(f+f_H)^{1.98} + 10.2}

    The charts of ITU-R P.533 are replaced by this closed form. It holds for
    non-auroral paths without winter anomaly. On 1.8 to 3.5 MHz it is too kind by
    up to about 6 dB, because the slow wave near reflection loses more.

    References
    ----------
    Lucas and Haydon, ESSA Technical Report IER 1-ITSA 1 (1966), as revised later
    (from memory).

    Examples
    --------
    >>> absorption_db(7.1, 90.0, 1, 1.0, 1.2).round(1)
    np.float64(8.9)
    """
    fall = (np.asarray(frequency_mhz) + np.asarray(gyro_mhz)) ** 1.98 + 10.2
    slant = sec_incidence(takeoff_deg, ABSORPTION_HEIGHT_KM)
    strength = 677.2 * np.asarray(hops, dtype=float) * np.asarray(index, dtype=float)
    return np.asarray(strength * slant / fall)


def reflection_loss_db(
    frequency_mhz: ArrayLike, takeoff_deg: ArrayLike, ground: str
) -> NDArray[np.float64]:
    r"""
    Loss of one reflection at the ground between two hops.

    Parameters
    ----------
    frequency_mhz : array_like
        Working frequency, positive. [MHz]
    takeoff_deg : array_like
        Elevation of the ray, 0 to 90. Broadcasts. [deg]
    ground : str
        Kind of ground, a name of `advisor.antenna.ground.ground_names`.

    Returns
    -------
    loss_db : numpy.ndarray
        0 at the horizon, over sea 0.1 to 1.6 above 3 degrees and up to 3 below, over
        land 2 to 4. NaN where an input is out of range. [dB]

    Notes
    -----
    .. math:: L = -10 \log_{10} \tfrac12 \left(|R_v|^2 + |R_h|^2\right)

    with the Fresnel coefficients of both polarisations: the ionosphere leaves the
    wave without a settled one, so that each carries half of the power. Smooth ground
    is assumed; hills and ice are not known of.

    ITU-R P.533 has 2 dB everywhere (from memory). Over 166 paths of 4000 to 9000 km
    all over the world the mean per touch is 2.0 dB here too, 0.4 to 3.5 dB from one
    path to the next (``docs/studies/ground_reflection.md``): the standard's figure is
    the mean that is told apart.

    References
    ----------
    ITU-R P.527-3 for the constants of sea water, ITU-R P.368 for those of land (from
    memory).

    Examples
    --------
    >>> reflection_loss_db([7.1, 14.1], 8.0, "sea water").round(1)
    array([0.4, 0.5])
    >>> reflection_loss_db(14.1, [5.0, 20.0], "land").round(1)
    array([2.6, 3.9])
    """
    eps = complex_permittivity(ground_by_name(ground), frequency_mhz)
    vertical = np.abs(reflection_vertical(takeoff_deg, eps)) ** 2
    horizontal = np.abs(reflection_horizontal(takeoff_deg, eps)) ** 2
    return np.asarray(-10.0 * np.log10(0.5 * (vertical + horizontal)))
