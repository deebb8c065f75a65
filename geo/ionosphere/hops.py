"""
Hop geometry: what a mirror at a given height does to rays from the ground.

A hop leaves the ground at the take-off angle, travels straight to the mirror and comes
down symmetrically. So thin a layer is sporadic E; for the others, which bend a ray over
many kilometres, it is a comparison and a first guess of where a ray is turned (their
rays: `geo.ionosphere.rays`).
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
