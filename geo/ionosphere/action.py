r"""
Hops over layers that change along the path: what a ray keeps is its action.

Over one hop the action is

.. math:: J = P - K\theta = 2\int\sqrt{\mu^2 - K^2/r^2}\;dr

from the ground (or, for a ray that passes over it, from the lowest point) to the
apogee; P is the phase path. It falls with K by :math:`dJ/dK = -\theta`. In a layer
that changes slowly along the path J stays and K, hence the elevation, does not:

* within a hop, K changes by :math:`dK = \partial J/\partial\theta` at constant K, half
  of it before and half behind the apogee;
* from hop to hop, K is such that J is the same at the next reflection point
  (`geo.ionosphere.chain`). Where that asks for K beyond the Earth's radius, the ray
  misses the ground and goes on from layer to layer until the layer is lower or denser
  again.

Where a ray comes to a place at which another layer turns it (E here, F2 there), J
jumps and K is kept. Bends out of the great circle are left out.

Adiabatic invariance is textbook mechanics; the rule for the ends of a tilted hop was
derived here and is held against an integration of the ray equations in the tests.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from geo.ionosphere.profile import Profile
from geo.ionosphere.rays import Array, inside
from geo.records import ArrayRecord
from geo.sphere import EARTH_RADIUS_KM


class Hops(ArrayRecord):
    """
    Whole hops by Bouguer's constant, the profile the same all along.

    Attributes
    ----------
    action_km : numpy.ndarray
        J; NaN where nothing turns the ray. [km]
    ground_km : numpy.ndarray
        Distance from one touch of the ground to the next, or from one lowest point to
        the next. [km]
    group_km, apogee_km : numpy.ndarray
        Group path and greatest height. [km]
    piece : numpy.ndarray of int
        Piece of the profile that turns the ray; -1 for none.
    slope_km_rad : numpy.ndarray
        Change of the distance with `elevation_deg`, of size 0 if not asked for.
        [km/rad]
    """

    action_km: Array
    ground_km: Array
    group_km: Array
    apogee_km: Array
    piece: NDArray[np.int64]
    slope_km_rad: Array


def bouguer(elevation_deg: ArrayLike) -> Array:
    """
    Bouguer's constant over the Earth's radius, carried on smoothly past the horizon.

    Parameters
    ----------
    elevation_deg : array_like
        Take-off angle; negative for a ray that passes over the ground. [deg]

    Returns
    -------
    k : numpy.ndarray
        The cosine, or 2 less the cosine below 0: -10 passes 97 km up.

    Examples
    --------
    >>> bouguer([60.0, 0.0, -10.0]).round(4)
    array([0.5   , 1.    , 1.0152])
    """
    angle = np.asarray(elevation_deg, dtype=float)
    cosine = np.cos(np.radians(angle))
    return np.asarray(np.where(angle < 0.0, 2.0 - cosine, cosine))


def elevation_deg(k: ArrayLike) -> Array:
    """
    Elevation for a Bouguer constant, the inverse of `bouguer`.

    Parameters
    ----------
    k : array_like
        Over the Earth's radius, 0 to 2.

    Returns
    -------
    elevation_deg : numpy.ndarray
        Negative for a ray that misses the ground. [deg]
    """
    ratio = np.asarray(k, dtype=float)
    angle = np.degrees(np.arccos(np.clip(1.0 - np.abs(1.0 - ratio), -1.0, 1.0)))
    return np.asarray(np.where(ratio > 1.0, -angle, angle))


def free_leg(k: Array, bottom: Array) -> tuple[Array, Array]:
    """
    Straight part of a ray from the ground, or its lowest point, up to the layers.

    Parameters
    ----------
    k : numpy.ndarray
        `bouguer` of the elevation.
    bottom : numpy.ndarray
        Earth's radius over that of the lowest edge; broadcasts.

    Returns
    -------
    angle : numpy.ndarray
        At the Earth's centre. [rad]
    length : numpy.ndarray
        In Earth radii.
    """
    down = np.arccos(np.minimum(k, 1.0))
    angle = np.arccos(np.minimum(k * bottom, 1.0)) - down
    far = np.sqrt(np.maximum(1.0 / bottom**2 - k * k, 0.0))
    return angle, far - np.sin(down)


def hops(
    profile: Profile, frequency_mhz: ArrayLike, k: ArrayLike, *, slope: bool = False
) -> Hops:
    """
    Trace hops by Bouguer's constant.

    Parameters
    ----------
    profile : Profile
        One or many.
    frequency_mhz : array_like
        Working frequency. [MHz]
    k : array_like
        `bouguer` of the elevation; all broadcast.
    slope : bool, optional
        Whether ``slope_km_rad`` is wanted.

    Returns
    -------
    hops : Hops
        NaN where nothing turns the ray.

    Examples
    --------
    >>> from geo.ionosphere.profile import single_layer
    >>> layer = single_layer(7.0, 290.0, 80.0)
    >>> hop = hops(layer, 10.1, bouguer([20.0, -3.0]))
    >>> hop.ground_km.round(0), hop.action_km.round(0)
    (array([1152., 3241.]), array([169.,  68.]))
    """
    ratio = np.asarray(k, dtype=float)
    half = inside(profile, frequency_mhz, ratio, slope=slope, paths=True)
    bottom = profile.edge[0]
    angle, length = free_leg(ratio, bottom)
    scale = 2.0 * EARTH_RADIUS_KM
    theta = angle + half.theta
    change = half.theta_slope
    if slope:
        # dK/d(elevation) is minus the sine on either side of the horizon.
        sine = np.sqrt(np.maximum(1.0 - (1.0 - np.abs(1.0 - ratio)) ** 2, 0.0))
        rise = np.sqrt(np.maximum(1.0 - (ratio * bottom) ** 2, 1e-12))
        change = sine * (bottom / rise - half.theta_slope) - (ratio <= 1.0)
    return Hops(
        action_km=scale * (length + half.phase - ratio * theta),
        ground_km=scale * theta,
        group_km=scale * (length + half.group),
        apogee_km=EARTH_RADIUS_KM / half.top - EARTH_RADIUS_KM,
        piece=half.piece,
        slope_km_rad=scale * change,
    )
