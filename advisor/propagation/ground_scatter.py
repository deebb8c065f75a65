r"""
The weak signal that the ground beyond the skip zone scatters back into it.

A band above the MUF over a short distance still goes out over flatter rays and lights
up the ground from the skip distance outwards. Of that a little comes back, so that two
stations inside the skip zone hear each other faintly, from no one direction: on every
bearing from the ground that the layer there lets both of them reach.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from geo.arrays import Floats
from geo.ionosphere import maps
from geo.ionosphere.layers import F2_HEIGHT_KM, Layers
from geo.magnetic import decimal_year_of, dip_and_gyro, modip_deg
from geo.paths import MID, STATIONS, Paths
from geo.sphere import bearing_deg, destination

SIGMA0_DB = -30.0
"""Scattering cross-section of a square metre of ground, in square metres, at the
shallow angles at which hops come down: -25 over rough land and sea to -35 over smooth
(radar texts, from memory). [dB]"""

FARTHEST_KM = 4000.0
"""Longest hop, beyond which no ground is lit. [km]"""

BEARINGS, ASIDE_KM = 8, 1500.0
"""On how many bearings, an even number, ground is looked for, and how far out the layer
is asked for: under the middle of hops of 3000 km. [1], [km]"""

_DISTANCES_KM = np.geomspace(100.0, 0.95 * FARTHEST_KM, 24)
"""Distances between which the skip distance is read on straight lines. [km]"""


def lit_around(
    skip_km: ArrayLike, distance_km: ArrayLike, aside_deg: ArrayLike
) -> Floats:
    r"""
    Ground on one bearing that both ends light up, by how much each of it tells.

    Parameters
    ----------
    skip_km : array_like
        Skip distance D on that bearing, positive; NaN where none. [km]
    distance_km : array_like
        From end to end, d. [km]
    aside_deg : array_like
        Angle between the bearing, from the middle of the path, and the path. All
        broadcast. [deg]

    Returns
    -------
    lit : numpy.ndarray
        For a radian of bearings; 0 where no ground is lit. [km⁻²]

    Notes
    -----
    A patch at r₁ and r₂ from the ends tells by :math:`1/(r_1^2 r_2^2)`. With x its
    distance from the middle and q half of d,

    .. math:: \int \frac{x\,dx}{(x^2 + q^2)^2 - 4 x^2 q^2 \cos^2\beta}
              = \frac{1}{2k} \Bigl[\arctan\frac{x^2 - q^2\cos 2\beta}{k}\Bigr],
              \quad k = q^2 |\sin 2\beta|

    from where the nearer end reaches the ground, r = D, to where the farther one does
    no more, r = 4000 km. For d = 0 it is :math:`(D^{-2} - D_m^{-2})/2`.

    Examples
    --------
    >>> (1e6 * lit_around(1500.0, [0.1, 1000.0], 22.5)).round(2)
    array([0.19, 0.1 ])
    """
    skip, half, turn = np.broadcast_arrays(
        np.asarray(skip_km, dtype=float),
        0.5 * np.asarray(distance_km, dtype=float),
        np.radians(np.asarray(aside_deg, dtype=float)),
    )
    along, across = half * np.abs(np.cos(turn)), (half * np.sin(turn)) ** 2
    nearest = along + np.sqrt(np.maximum(skip**2 - across, 0.0))
    farthest = np.sqrt(np.maximum(FARTHEST_KM**2 - across, 0.0)) - along
    low, high = nearest**2, np.maximum(farthest, nearest) ** 2
    shift = -(half**2) * np.cos(2.0 * turn)
    # Never quite 0, with which it would be 0 / 0.
    k = np.maximum(half**2 * np.abs(np.sin(2.0 * turn)), 1.0)
    angle = np.arctan2(k * (high - low), k**2 + (high + shift) * (low + shift))
    return np.asarray(np.nan_to_num(0.5 * angle / k))


def scatter_loss_db(lit: ArrayLike, group_km: ArrayLike) -> Floats:
    r"""
    Loss of scattering at the ground, beyond spreading along the way there and back.

    Parameters
    ----------
    lit : array_like
        Sum of `lit_around` over all bearings, with group paths for distances. [km⁻²]
    group_km : array_like
        Group path p of one hop to which the spreading is taken; broadcasts. [km]

    Returns
    -------
    loss_db : numpy.ndarray
        About 30; infinite where no ground is lit. [dB]

    Notes
    -----
    By the radar equation, between isotropic antennas, ground of cross-section
    :math:`\sigma_0` a square metre brings :math:`\sigma_0 / 4\pi \int dA / (p_1^2
    p_2^2)` of what a hop of unit length would, which is :math:`\sigma_0 p^2 / \pi`
    times that integral of what is left over 2p in free space. Focusing at the skip edge
    is left out, as is that the scattered wave may have another polarisation.

    References
    ----------
    Radar equation of a distributed target: any text on radar.

    Examples
    --------
    >>> scatter_loss_db(2.0 * np.pi * lit_around(1500.0, 0.0, 0.0), 1500.0).round(1)
    np.float64(30.7)
    """
    with np.errstate(divide="ignore"):
        gained = 10.0 * np.log10(np.asarray(lit, dtype=float))
    path = np.asarray(group_km, dtype=float)
    return np.asarray(
        -SIGMA0_DB - gained - 20.0 * np.log10(path) + 10.0 * np.log10(np.pi)
    )


def muf_around(
    paths: Paths, layers: Layers, near: NDArray[np.intp]
) -> tuple[Floats, Floats]:
    """
    Tell how much stronger the layer is on bearings around the middle of a path.

    Parameters
    ----------
    paths : Paths
        P paths.
    layers : Layers
        Layers at their stations, T hours.
    near : numpy.ndarray of int
        Shape (K,), which of the paths.

    Returns
    -------
    aside_deg : numpy.ndarray
        Shape (8,), bearings against that of the path. [deg]
    ratio : numpy.ndarray
        Shape (K, T, 8): median MUF over 3000 km `ASIDE_KM` away over that at the
        middle, by the maps. What was sounded or told of a storm holds for both.
    """
    lat, lon = (
        each.reshape(-1, STATIONS)[near, MID]
        for each in (paths.control_lat_deg, paths.control_lon_deg)
    )
    aside = (np.arange(BEARINGS) + 0.5) * 360.0 / BEARINGS
    ahead = bearing_deg(lat, lon, paths.lat_deg[near], paths.lon_deg[near])
    around = destination(
        lat[:, None], lon[:, None], ahead[:, None] + aside, np.full(BEARINGS, ASIDE_KM)
    )
    lat, lon = (
        np.concatenate([middle[:, None], ring], axis=1).ravel()
        for middle, ring in zip((lat, lon), around, strict=True)
    )
    year = decimal_year_of(layers.times).mean()
    dip, _ = dip_and_gyro(lat, lon, F2_HEIGHT_KM, year)
    points = maps.prepare_points(lat, lon, modip_deg(lat, dip))
    muf = maps.fof2_mhz(points, layers.times, layers.ig12) * maps.m3000f2(
        points, layers.times, layers.r12
    )
    each = muf.reshape(layers.times.size, near.size, 1 + BEARINGS).transpose(1, 0, 2)
    return aside, np.asarray(each[..., 1:] / each[..., :1])


def skip_km(known_mhz: ArrayLike, wanted_mhz: ArrayLike) -> Floats:
    """
    Read the distance from which on a frequency comes down.

    Parameters
    ----------
    known_mhz : array_like
        Shape (..., N), MUF over the N `distances_km`. [MHz]
    wanted_mhz : array_like
        Shape (...). [MHz]

    Returns
    -------
    skip_km : numpy.ndarray
        Shape (...); the nearest looked at where it comes down from there on, NaN where
        it comes down nowhere. [km]

    Examples
    --------
    >>> muf = 10.0 + distances_km() / 200.0
    >>> skip_km(muf, 20.0).round(), skip_km(muf, 40.0)
    (np.float64(2000.0), array(nan))
    """
    # A lower layer may hide farther distances: what came down nearer still does.
    known = np.maximum.accumulate(np.asarray(known_mhz, dtype=float), axis=-1)
    wanted = np.asarray(wanted_mhz, dtype=float)[..., None]
    below = (known < wanted).sum(axis=-1, keepdims=True)
    shape = np.broadcast_shapes(known.shape[:-1], below.shape[:-1])
    known = np.broadcast_to(known, (*shape, known.shape[-1]))
    high = np.clip(below, 1, known.shape[-1] - 1)
    low_mhz, high_mhz = (
        np.take_along_axis(known, high - step, axis=-1) for step in (1, 0)
    )
    near, far = _DISTANCES_KM[high - 1], _DISTANCES_KM[high]
    with np.errstate(divide="ignore", invalid="ignore"):
        part = np.clip((wanted - low_mhz) / (high_mhz - low_mhz), 0.0, 1.0)
    found = near + np.nan_to_num(part) * (far - near)
    return np.asarray(np.where(below < known.shape[-1], found, np.nan)[..., 0])


def distances_km() -> Floats:
    """
    Distances over which the MUF is wanted to read a skip distance from.

    Returns
    -------
    distances_km : numpy.ndarray
        Shape (N,), rising. [km]
    """
    return _DISTANCES_KM
