r"""
Chance that at least one of several stations can be worked under the same sky.

Stations of a region share the sky, its day and its lightning, and they share my noise;
they differ in antenna, power and the noise around them. Treating each as a draw of its
own, with the whole chance of one, would count the sky anew for each and promise far too
much.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike

from advisor.propagation.normal import log_normal_share, normal_deviate
from geo.arrays import Floats

_NODES = 64
_CERTAIN = 1e-9
"""Nearer than this to nothing or all a chance is that for any number of stations."""

_DEVIATES, _COMMONS = np.linspace(-6.0, 6.0, 241), np.linspace(0.0, 0.98, 50)
"""Chances, as deviates of a normal law, and shares in common between which
`read_at_least_one` reads on straight lines: within 0.002."""


def at_least_one_of(count: ArrayLike, chance: ArrayLike, common: ArrayLike) -> Floats:
    r"""
    Give the chance that one of N stations of a kind can be worked.

    Parameters
    ----------
    count : array_like
        N, how many stations are there; 0 or more. Neighbours within 300 km are alike:
        count a cluster as the square root of its number (ours).
    chance : array_like
        That one of them picked at random can be worked, 0 to 1.
    common : array_like
        Part of the variance of the signal-to-noise ratio that all of them share, at
        least 0 and below 1. All broadcast.

    Returns
    -------
    chance : numpy.ndarray
        0 to 1; for one station what was given.

    Notes
    -----
    With :math:`p` the chance of one and :math:`\rho` the common part,

    .. math:: P(N) = \int \varphi(x) \left[1 - \left(1 -
              \Phi\left(\frac{\Phi^{-1}(p) + \sqrt\rho\,x}{\sqrt{1 - \rho}}\right)
              \right)^N\right] dx

    by Gauss-Hermite quadrature: the ratio of each station is normal, and so is what
    they share.

    Examples
    --------
    Ten listeners of whom one picked at random hears me on one day in seven:

    >>> at_least_one_of([1, 10, 100], 0.1446, 25.0 / 89.0).round(2)
    array([0.14, 0.63, 0.95])
    """
    number, one, shared = (
        np.asarray(v, dtype=float)[..., None] for v in (count, chance, common)
    )
    nodes, weights = np.polynomial.hermite_e.hermegauss(_NODES)
    threshold = normal_deviate(np.clip(one, _CERTAIN, 1.0 - _CERTAIN))
    # The share that does not work, in the logarithm: many stations are a great power.
    silent = log_normal_share(
        -(threshold + np.sqrt(shared) * nodes) / np.sqrt(1.0 - shared)
    )
    found = (-np.expm1(number * silent) * weights).sum(axis=-1) / weights.sum()
    number, one = number[..., 0], one[..., 0]
    sure = (one >= 1.0 - _CERTAIN) & (number > 0.0)
    return np.where(sure, 1.0, np.where(one <= _CERTAIN, 0.0, found))


@lru_cache(maxsize=4)
def _table(count: int) -> Floats:
    """Chances for all pairs of `_DEVIATES` and `_COMMONS`."""
    chance = np.exp(log_normal_share(_DEVIATES))
    found = at_least_one_of(count, chance[:, None], _COMMONS)
    # The ends stand for nothing and all.
    found[0], found[-1] = 0.0, 1.0
    return found


def read_at_least_one(count: int, chance: Floats, common: Floats) -> Floats:
    """
    Read `at_least_one_of` for very many chances.

    Parameters
    ----------
    count : int
        How many stations are there, 1 or more.
    chance : numpy.ndarray
        As there.
    common : numpy.ndarray
        As there, up to 0.98; broadcasts.

    Returns
    -------
    chance : numpy.ndarray
        Never less than that of one.

    Examples
    --------
    >>> read_at_least_one(10, np.array([0.0, 0.1446, 1.0]), np.array(0.28)).round(2)
    array([0.  , 0.63, 1.  ])
    """
    table = _table(count)
    deviate = normal_deviate(np.clip(chance, _CERTAIN, 1.0 - _CERTAIN))
    across = [
        (np.clip((value - axis[0]) / (axis[1] - axis[0]), 0.0, axis.size - 1.0), axis)
        for value, axis in ((deviate, _DEVIATES), (common, _COMMONS))
    ]
    (row, column) = (
        np.minimum(place.astype(np.intp), axis.size - 2) for place, axis in across
    )
    down, right = across[0][0] - row, across[1][0] - column
    upper, lower = (
        table[row + step, column] * (1.0 - right)
        + table[row + step, column + 1] * right
        for step in (0, 1)
    )
    found = np.maximum(upper + down * (lower - upper), chance)
    return np.where(chance > _CERTAIN, found, 0.0)
