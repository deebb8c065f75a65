"""F1 layer: its MUF on the middle distances where it can carry a hop by summer day."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

SHORTEST_F1_KM, LONGEST_F1_KM = 2000.0, 3400.0
"""Distances for which the F1 MUF is given, ITU-R P.1240 (from memory). [km]"""


def f1_muf_mhz(
    distance_km: ArrayLike, fof1_mhz: ArrayLike, r12: ArrayLike
) -> NDArray[np.float64]:
    r"""
    Median basic MUF of one F1 hop.

    Parameters
    ----------
    distance_km : array_like
        Hop length, 2000 to 3400. [km]
    fof1_mhz : array_like
        Critical frequency of the F1 layer at the middle; NaN where there is no such
        layer. [MHz]
    r12 : array_like
        Twelve-month smoothed sunspot number on the old scale. All broadcast.

    Returns
    -------
    muf_mhz : numpy.ndarray
        Basic MUF; NaN where the distance is out of range. [MHz]

    Notes
    -----
    .. math:: MUF = f_oF_1\,[J_0 - 0.01\,(J_0 - J_{100})\,R_{12}]

    .. math:: J_0 = 0.16 + 2.64\cdot10^{-3} D - 0.40\cdot10^{-6} D^2,\quad
              J_{100} = -0.52 + 2.69\cdot10^{-3} D - 0.39\cdot10^{-6} D^2

    References
    ----------
    ITU-R P.1240, annex 1 (from memory).

    Examples
    --------
    >>> f1_muf_mhz([1900.0, 2500.0, 3000.0], 5.0, 50.0).round(2)
    array([  nan, 20.07, 21.3 ])
    """
    distance = np.asarray(distance_km, dtype=float)
    inside = (distance >= SHORTEST_F1_KM) & (distance <= LONGEST_F1_KM)
    d = np.where(inside, distance, np.nan)
    j0 = 0.16 + 2.64e-3 * d - 0.40e-6 * d**2
    j100 = -0.52 + 2.69e-3 * d - 0.39e-6 * d**2
    factor = j0 - 0.01 * (j0 - j100) * np.asarray(r12, dtype=float)
    return np.asarray(factor * np.asarray(fof1_mhz, dtype=float))
