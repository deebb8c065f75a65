"""
Mirror-reflection height of the F2 layer: where the straight-ray hop bends.

The height that makes straight rays right depends on how hard the wave is pressed:
on the working frequency against foF2, on the E layer below and on the hop length.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

MAX_MIRROR_HEIGHT_KM = 800.0
"""Upper bound of the mirror height, ITU-R P.533-14 section 5.1. [km]"""

_DEEP_RATIO = 3.33
"""foF2/foE above which the E layer no longer retards the ray."""


_E1_TURNS = 4.0877
"""f/foF2 at which the cubic of the first branch has its maximum."""


def layer_height_parameter_km(
    m3000f2: ArrayLike, fof2_over_foe: ArrayLike, r12: ArrayLike
) -> NDArray[np.float64]:
    r"""
    Height parameter H of the F2 layer.

    Parameters
    ----------
    m3000f2 : array_like
        M(3000)F2, about 2 to 4.
    fof2_over_foe : array_like
        Ratio x of the critical frequencies; taken as 1.8 where smaller.
    r12 : array_like
        Twelve-month smoothed sunspot number on the scale of the maps.

    Returns
    -------
    height_km : numpy.ndarray
        H, 140 km below the height of the layer's peak. [km]

    Notes
    -----
    .. math:: H = \frac{1490}{M + \Delta M} - 316,\quad
              \Delta M = \frac{0.18}{y-1.4} + \frac{0.096\,(R_{12}-25)}{150},\quad
              y = \max(x, 1.8)

    References
    ----------
    ITU-R P.533-14, section 5.1, and P.1239-3, section 2 (from memory; joins and
    limits checked).

    Examples
    --------
    >>> layer_height_parameter_km(3.0, 4.0, 60.0).round(0)
    np.float64(166.)
    """
    ratio = np.maximum(np.asarray(fof2_over_foe, dtype=float), 1.8)
    lift = 0.18 / (ratio - 1.4) + 0.096 * (np.asarray(r12, dtype=float) - 25.0) / 150.0
    return np.asarray(1490.0 / (np.asarray(m3000f2, dtype=float) + lift) - 316.0)


def f2_mirror_height_km(
    frequency_mhz: ArrayLike,
    hop_km: ArrayLike,
    fof2_mhz: ArrayLike,
    foe_mhz: ArrayLike,
    m3000f2: ArrayLike,
    r12: ArrayLike,
) -> NDArray[np.float64]:
    """
    Mirror height of an F2 hop.

    Parameters
    ----------
    frequency_mhz : array_like
        Working frequency. [MHz]
    hop_km : array_like
        Great-circle length of one hop. [km]
    fof2_mhz, foe_mhz : array_like
        Critical frequencies at the reflection point. [MHz]
    m3000f2 : array_like
        M(3000)F2 there.
    r12 : array_like
        Twelve-month smoothed sunspot number on the scale of the maps.

    Returns
    -------
    height_km : numpy.ndarray
        Mirror height, at most 800. All inputs broadcast; NaN goes through. [km]

    Notes
    -----
    Three branches, chosen by x = foF2/foE and by f/foF2. The printed branches do not
    meet where f = foF2: there is a step of a few tens of kilometres for short hops.
    It is kept, as the standard has it. The cubic of the first branch turns down at
    f = 4.09 foF2 and would run below the ground beyond 7; no layer returns that, but
    a height is still asked for, so f is held there.

    References
    ----------
    ITU-R P.533-14, section 5.1 (from memory; joins and limits checked).

    Examples
    --------
    >>> f2_mirror_height_km([5.0, 12.0, 20.0], [500.0, 1500.0, 3000.0],
    ...                     8.0, 2.0, 3.0, 60.0).round(0)
    array([226., 261., 325.])
    """
    fof2 = np.asarray(fof2_mhz, dtype=float)
    ratio = fof2 / np.asarray(foe_mhz, dtype=float)
    ratio_to_fof2 = np.asarray(frequency_mhz, dtype=float) / fof2
    hop = np.asarray(hop_km, dtype=float)
    height_h = layer_height_parameter_km(m3000f2, ratio, r12)
    with np.errstate(over="ignore", invalid="ignore"):
        deep = np.where(
            ratio_to_fof2 >= 1.0,
            _height_above_critical_km(ratio_to_fof2, hop, height_h),
            _height_below_critical_km(ratio_to_fof2, hop, height_h),
        )
        height = np.where(
            ratio > _DEEP_RATIO, deep, _height_over_e_km(ratio, hop, height_h)
        )
    return np.asarray(np.minimum(height, MAX_MIRROR_HEIGHT_KM))


def _height_above_critical_km(
    ratio_to_fof2: NDArray[np.float64],
    hop_km: NDArray[np.float64],
    height_h: NDArray[np.float64],
) -> NDArray[np.float64]:
    """Branch (a): foF2/foE above 3.33, f at or above foF2."""
    # Outside the branch the polynomials overflow to no purpose: hold the argument.
    x = np.clip(ratio_to_fof2, 1.0, _E1_TURNS)
    e1 = ((-0.09707 * x + 0.6870) * x - 0.7506) * x + 0.6
    low = np.minimum(x, 1.71)
    f1 = np.where(
        x <= 1.71,
        (((-1.862 * low + 12.95) * low - 32.03) * low + 33.50) * low - 10.91,
        1.21 + 0.2 * x,
    )
    mid = np.minimum(x, 3.7)
    g = np.where(
        x <= 3.7,
        (((-2.102 * mid + 19.50) * mid - 63.15) * mid + 90.47) * mid - 44.73,
        19.25,
    )
    a1 = 140.0 + (height_h - 47.0) * e1
    b1 = 150.0 + (height_h - 17.0) * f1 - a1
    reach = (hop_km - (160.0 + (height_h + 43.0) * g)) / (height_h + 140.0)
    fading = (b1 >= 0.0) & (reach >= 0.0)
    return np.asarray(a1 + b1 * np.where(fading, 2.4 ** -np.maximum(reach, 0.0), 1.0))


def _height_below_critical_km(
    ratio_to_fof2: NDArray[np.float64],
    hop_km: NDArray[np.float64],
    height_h: NDArray[np.float64],
) -> NDArray[np.float64]:
    """Branch (b): foF2/foE above 3.33, f below foF2."""
    z = np.clip(ratio_to_fof2, 0.1, 1.0)
    a2 = 151.0 + (height_h - 47.0) * ((0.1906 * z + 0.00583) * z + 0.1936)
    b2 = 141.0 + (height_h - 24.0) * ((0.645 * z + 0.883) * z + 0.162) - a2
    df = np.minimum(0.115 * hop_km / (z * (height_h + 140.0)), 0.65)
    b = (((-7.535 * df + 15.75) * df - 8.834) * df - 0.378) * df + 1.0
    return np.asarray(a2 + b2 * np.where(b2 >= 0.0, b, 1.0))


def _height_over_e_km(
    ratio: NDArray[np.float64],
    hop_km: NDArray[np.float64],
    height_h: NDArray[np.float64],
) -> NDArray[np.float64]:
    """Branch (c): foF2/foE at most 3.33, so that the E layer retards the ray."""
    y = np.clip(ratio, 1.8, _DEEP_RATIO)
    j = ((-0.7126 * y + 5.863) * y - 16.13) * y + 16.07
    u = 8e-5 * (height_h - 80.0) * (1.0 + 11.0 * y**-2.2) + 1.2e-3 * height_h * y**-3.6
    return np.asarray(115.0 + height_h * j + u * hop_km)
