"""
Hop geometry: what a mirror at a given height does to rays from the ground.

A hop leaves the ground at the take-off angle, travels straight to a mirror at the
*virtual* height of the layer and comes down symmetrically. Bending inside the layer
is not traced: it is absorbed into the mirror height. The same path read backwards
is the arrival angle, so every function here serves both ends.

The height that makes straight rays right depends, for the F2 layer, on the working
frequency against foF2, on the E layer below and on the hop length.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from geo.sphere import EARTH_RADIUS_KM

E_MIRROR_HEIGHT_KM = 110.0
"""Mirror height of E modes, ITU-R P.533-14 section 5.1 (from memory). [km]"""

MAX_HOP_E_KM = 2000.0
"""Longest E hop counted, ITU-R P.533-14 section 3.3 (from memory). [km]"""

MAX_HOP_F2_KM = 4000.0
"""Longest F2 hop counted, ITU-R P.533-14 section 3.5 (from memory). [km]"""

MAX_MIRROR_HEIGHT_KM = 800.0
"""Upper bound of the mirror height, ITU-R P.533-14 section 5.1. [km]"""

_DEEP_RATIO = 3.33
"""foF2/foE above which the E layer no longer retards the ray."""

_E1_TURNS = 4.0877
"""f/foF2 at which the cubic of the first branch has its maximum."""


def hop_length_km(takeoff_deg: ArrayLike, height_km: ArrayLike) -> NDArray[np.float64]:
    r"""
    Ground distance of one hop off a mirror.

    Parameters
    ----------
    takeoff_deg : array_like
        Elevation of the ray above the horizon, 0 to 90. [deg]
    height_km : array_like
        Mirror height, positive. Broadcasts with ``takeoff_deg``. [km]

    Returns
    -------
    hop_km : numpy.ndarray
        Great-circle length of the hop; NaN where an input is out of range. [km]

    Notes
    -----
    .. math:: d = 2R\left[\arccos\!\left(\frac{R\cos\Delta}{R+h}\right)
              -\Delta\right]

    from the law of sines in the triangle Earth centre, station, mirror point.

    References
    ----------
    ITU-R P.533-14, section 5.1, solved for the hop length.

    Examples
    --------
    >>> hop_length_km([0.0, 10.0, 30.0, 90.0], 300.0).round(0)
    array([3836., 2193.,  934.,    0.])
    """
    elevation = np.asarray(takeoff_deg, dtype=float)
    height = np.asarray(height_km, dtype=float)
    valid = (elevation >= 0.0) & (elevation <= 90.0) & (height > 0.0)
    delta = np.radians(np.where(valid, elevation, np.nan))
    with np.errstate(invalid="ignore"):
        half = np.arccos(EARTH_RADIUS_KM * np.cos(delta) / (EARTH_RADIUS_KM + height))
    return np.asarray(np.maximum(2.0 * EARTH_RADIUS_KM * (half - delta), 0.0))


def takeoff_angle_deg(hop_km: ArrayLike, height_km: ArrayLike) -> NDArray[np.float64]:
    r"""
    Take-off angle that makes one hop of a given length.

    Parameters
    ----------
    hop_km : array_like
        Great-circle length of the hop, not negative. [km]
    height_km : array_like
        Mirror height, positive. Broadcasts with ``hop_km``. [km]

    Returns
    -------
    takeoff_deg : numpy.ndarray
        Elevation; negative where the hop is too long for the height, so that the
        ray would have to leave below the horizon. NaN out of range. [deg]

    Notes
    -----
    .. math:: \Delta = \arctan\left(\cot\frac{d}{2R}
              - \frac{R}{R+h}\operatorname{cosec}\frac{d}{2R}\right)

    written with ``arctan2`` so that a hop of no length gives 90 degrees.

    References
    ----------
    ITU-R P.533-14, section 5.1.

    Examples
    --------
    >>> takeoff_angle_deg([0.0, 1000.0, 3000.0], 300.0).round(1)
    array([90. , 28.1,  4.3])
    """
    hop = np.asarray(hop_km, dtype=float)
    height = np.asarray(height_km, dtype=float)
    valid = (hop >= 0.0) & (hop <= np.pi * EARTH_RADIUS_KM) & (height > 0.0)
    half = np.where(valid, hop, np.nan) / (2.0 * EARTH_RADIUS_KM)
    rise = np.cos(half) - EARTH_RADIUS_KM / (EARTH_RADIUS_KM + height)
    return np.asarray(np.degrees(np.arctan2(rise, np.sin(half))))


def incidence_deg(takeoff_deg: ArrayLike, height_km: ArrayLike) -> NDArray[np.float64]:
    r"""
    Angle between the ray and the vertical where it meets a height.

    Parameters
    ----------
    takeoff_deg : array_like
        Elevation at the ground, -90 to 90. [deg]
    height_km : array_like
        Height above the ground, not negative. Broadcasts. [km]

    Returns
    -------
    incidence_deg : numpy.ndarray
        Angle of incidence, 0 for a vertical ray; NaN out of range. [deg]

    Notes
    -----
    .. math:: i = \arcsin\frac{R\cos\Delta}{R+h}

    References
    ----------
    ITU-R P.533-14, section 5.1.

    Examples
    --------
    >>> incidence_deg(0.0, 110.0).round(2)
    np.float64(79.43)
    """
    elevation = np.asarray(takeoff_deg, dtype=float)
    height = np.asarray(height_km, dtype=float)
    valid = (np.abs(elevation) <= 90.0) & (height >= 0.0)
    delta = np.radians(np.where(valid, elevation, np.nan))
    sine = EARTH_RADIUS_KM * np.cos(delta) / (EARTH_RADIUS_KM + height)
    return np.asarray(np.degrees(np.arcsin(sine)))


def sec_incidence(takeoff_deg: ArrayLike, height_km: ArrayLike) -> NDArray[np.float64]:
    """
    Secant of the angle of incidence at a height.

    Parameters
    ----------
    takeoff_deg : array_like
        Elevation at the ground, -90 to 90. [deg]
    height_km : array_like
        Height above the ground, positive. Broadcasts. [km]

    Returns
    -------
    secant : numpy.ndarray
        1 for a vertical ray, about 5.4 for a grazing one at 110 km; NaN out of
        range.

    References
    ----------
    ITU-R P.533-14, section 3.3 (the secant law on a spherical Earth).

    Examples
    --------
    >>> sec_incidence([90.0, 10.1], 110.0).round(2)
    array([1.  , 3.98])
    """
    cosine = np.cos(np.radians(incidence_deg(takeoff_deg, height_km)))
    return np.asarray(1.0 / cosine)


def ray_path_km(
    hop_km: ArrayLike, height_km: ArrayLike, hops: ArrayLike = 1
) -> NDArray[np.float64]:
    r"""
    Length of the ray over all hops from hop length and mirror height.

    By the law of cosines, so that a hop of no length gives twice the height.

    Parameters
    ----------
    hop_km : array_like
        Great-circle length of one hop, not negative. [km]
    height_km : array_like
        Mirror height, positive. [km]
    hops : array_like of int, optional
        Number of equal hops.

    Returns
    -------
    path_km : numpy.ndarray
        Virtual ray length. [km]

    Notes
    -----
    With :math:`r = R + h` the side opposite the half hop angle is

    .. math:: s^2 = h^2 + 4 R r \sin^2(d/4R), \qquad p' = 2 n s

    which equals :math:`2nR\sin(d/2R)/\cos(\Delta+d/2R)` of ITU-R P.533-14,
    section 5.2.

    Examples
    --------
    >>> ray_path_km([0.0, 1000.0], 300.0).round(0)
    array([ 600., 1186.])
    """
    quarter = np.asarray(hop_km, dtype=float) / (4.0 * EARTH_RADIUS_KM)
    height = np.asarray(height_km, dtype=float)
    radius = EARTH_RADIUS_KM + height
    side = np.sqrt(height**2 + 4.0 * EARTH_RADIUS_KM * radius * np.sin(quarter) ** 2)
    return np.asarray(2.0 * np.asarray(hops, dtype=float) * side)


def fewest_hops(distance_km: ArrayLike, max_hop_km: float) -> NDArray[np.int64]:
    """
    Smallest number of equal hops that covers a distance.

    Parameters
    ----------
    distance_km : array_like
        Great-circle distance, not negative. [km]
    max_hop_km : float
        Longest hop allowed. [km]

    Returns
    -------
    hops : numpy.ndarray of int
        At least 1.

    Examples
    --------
    >>> fewest_hops([0.0, 4000.0, 4001.0, 9000.0], 4000.0)
    array([1, 1, 2, 3])
    """
    share = np.asarray(distance_km, dtype=float) / max_hop_km
    return np.asarray(np.maximum(np.ceil(share - 1e-9), 1.0).astype(np.int64))


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
