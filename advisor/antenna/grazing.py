"""What an antenna gives to the ground wave, read off its sky pattern."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from advisor.antenna.ground import Ground, complex_permittivity, reflection_vertical
from advisor.antenna.pattern import Pattern
from geo.arrays import Floats

_NOT_OVER_GROUND = 1e-3
"""Gain at the horizon above which a pattern cannot be one over real ground."""


def grazing_gain(pattern: Pattern, ground: Ground, azimuth_deg: ArrayLike) -> Floats:
    r"""
    Gain along a perfect ground of the same currents, vertically polarised.

    Parameters
    ----------
    pattern : Pattern
        Sky pattern over ``ground``.
    ground : Ground
        The ground it was worked out over.
    azimuth_deg : array_like
        Direction clockwise from the wire's bearing. [deg]

    Returns
    -------
    gain : numpy.ndarray
        Ratio over isotropic, 3 for a short lossless vertical.

    Notes
    -----
    Near the horizon the vertical field over real ground is the field of the currents
    themselves times :math:`1 + R_v`, which goes to 0 there; over a perfect ground the
    factor is 2. So

    .. math:: g = \lim_{\Delta\to 0} \frac{4\,G_v(\Delta)}{|1+R_v(\Delta)|^2}

    read at the lowest step of the pattern. By reciprocity the same limit holds for a
    horizontal wire, whose small ground wave comes from the tilt of the wave over lossy
    ground. A pattern in free space is returned as it stands at the horizon.

    References
    ----------
    K. A. Norton, Proc. IRE 25 (1937) 1203, for space and surface wave sharing one
    source term (from memory).
    """
    level = pattern.elevation_deg[1]
    towards = np.asarray(azimuth_deg, dtype=float)
    around = np.append(pattern.azimuth_deg, 360.0)
    at_horizon, above = (
        np.interp(towards % 360.0, around, np.append(row, row[0]))
        for row in pattern.vertical[:2]
    )
    if ground.is_perfect or float(at_horizon.max()) > _NOT_OVER_GROUND:
        return np.asarray(at_horizon)
    eps = complex_permittivity(ground, pattern.frequency_mhz)
    factor = np.abs(1.0 + reflection_vertical(level, eps)) ** 2
    return np.asarray(4.0 * above / factor)
