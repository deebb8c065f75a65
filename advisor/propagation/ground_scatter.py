r"""
The weak signal that the ground beyond the skip zone scatters back into it.

A band above the MUF over a short distance still goes out over flatter rays and lights
up the ground from the skip distance outwards. Of that a little comes back the way it
went, so that two stations inside the skip zone hear each other faintly, by the same
layer and from no one direction.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from geo.arrays import Floats

SIGMA0_DB = -30.0
"""Scattering cross-section of a square metre of ground, in square metres, at the
shallow angles at which hops come down: -25 over rough land and sea to -35 over smooth
(radar texts, from memory). [dB]"""

FARTHEST_KM = 4000.0
"""Longest hop, beyond which no ground is lit. [km]"""

_DISTANCES_KM = np.geomspace(100.0, 0.95 * FARTHEST_KM, 24)
"""Distances between which the skip distance is read on straight lines. [km]"""


def scatter_loss_db(skip_km: ArrayLike, group_km: ArrayLike) -> Floats:
    r"""
    Loss of scattering at the ground, beyond spreading along the way there and back.

    Parameters
    ----------
    skip_km : array_like
        Skip distance D, positive. [km]
    group_km : array_like
        Group path p of one hop to there; broadcasts. [km]

    Returns
    -------
    loss_db : numpy.ndarray
        About 30; infinite from 4000 km on, where no ground is lit. [dB]

    Notes
    -----
    By the radar equation, between isotropic antennas, a target of cross-section
    :math:`\sigma` brings :math:`10 \log (\pi p^2 / \sigma)` less than the free-space
    loss over 2p. The ground is lit all round from D to 4000 km, and weighs with the
    fourth power of D over its distance:

    .. math:: \sigma = \sigma_0 \int_D^{D_m} (D/r)^4\, 2 \pi r\, dr
              = \sigma_0\, \pi D^2 (1 - D^2/D_m^2)

    The two stations are taken to stand at one place; half a skip distance apart it is
    under 1 dB less. Focusing at the skip edge is left out, as is that the scattered
    wave may have another polarisation.

    References
    ----------
    Radar equation of a distributed target: any text on radar.

    Examples
    --------
    >>> scatter_loss_db([500.0, 1500.0, 3000.0], [800.0, 1700.0, 3100.0]).round(1)
    array([34.2, 31.7, 33.9])
    """
    skip = np.asarray(skip_km, dtype=float)
    lit = skip**2 * (1.0 - np.minimum(skip / FARTHEST_KM, 1.0) ** 2)
    with np.errstate(divide="ignore"):
        spread = 10.0 * np.log10(np.asarray(group_km, dtype=float) ** 2 / lit)
    return np.asarray(spread - SIGMA0_DB)


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
