r"""
Chance that at least one of several stations can be worked under the same sky.

Stations of a region share the sky, its day and its lightning; they differ in antenna,
power and the noise around them. Treating each as a draw of its own, with the whole
chance of one, would count the sky anew for each and promise far too much. No answer
uses this yet.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike

from advisor.propagation.normal import log_normal_share
from geo.arrays import Floats

_NODES = 64


def at_least_one_of(
    count: ArrayLike,
    margin_db: ArrayLike,
    sky_sigma_db: ArrayLike,
    station_sigma_db: ArrayLike,
) -> Floats:
    r"""
    Give the chance that one of N stations of a kind can be worked.

    Parameters
    ----------
    count : array_like
        N, how many stations are there; 0 or more. Neighbours within 300 km are alike:
        count a cluster as the square root of its number (ours).
    margin_db : array_like
        Median margin towards the median station. [dB]
    sky_sigma_db : array_like
        Standard deviation of what they share: the day of the sky. [dB]
    station_sigma_db : array_like
        Standard deviation from one station to the next, positive. All broadcast. [dB]

    Returns
    -------
    chance : numpy.ndarray
        0 to 1.

    Notes
    -----
    .. math:: P(N) = \int \varphi(x) \left[1 - \left(1 -
              \Phi\left(\frac{M + s_{sky} x}{s_i}\right)\right)^N\right] dx

    by Gauss-Hermite quadrature. The best of 3, 10, 30 and 100 stations lies 0.8, 1.5,
    2.0 and 2.5 :math:`s_i` above the median one.

    Examples
    --------
    Ten listeners of whom the median one hears nothing on most days:

    >>> at_least_one_of([1, 10, 100], -10.0, 5.0, 8.0).round(2)
    array([0.14, 0.63, 0.95])
    """
    number, margin, sky, station = (
        np.asarray(v, dtype=float)[..., None]
        for v in (count, margin_db, sky_sigma_db, station_sigma_db)
    )
    nodes, weights = np.polynomial.hermite_e.hermegauss(_NODES)
    # The share that does not work, in the logarithm: many stations are a great power.
    silent = log_normal_share(-(margin + sky * nodes) / station)
    one = -np.expm1(number * silent)
    return np.asarray((one * weights).sum(axis=-1) / weights.sum())


def at_least_one_on_a_day(
    works: Sequence[ArrayLike], counts: Sequence[ArrayLike]
) -> Floats:
    r"""
    Give the chance on one kind of day, for stations of several classes.

    Parameters
    ----------
    works : sequence of array_like
        For each class the chance of one station on that kind of day, 0 to 1.
    counts : sequence of array_like
        How many there are of each class, 0 or more. All broadcast.

    Returns
    -------
    chance : numpy.ndarray
        :math:`1 - \prod_k (1 - p_k)^{N_k}`; the mean of it over the kinds of day, by
        their shares, is the chance.

    Examples
    --------
    >>> at_least_one_on_a_day([0.5, 0.1], [2, 10]).round(3)
    np.float64(0.913)
    """
    silent = np.ones(())
    for chance, count in zip(works, counts, strict=True):
        silent = silent * (1.0 - np.asarray(chance, dtype=float)) ** np.asarray(count)
    return np.asarray(1.0 - silent)
