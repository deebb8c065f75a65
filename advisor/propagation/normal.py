"""
The normal law, without the time it takes to load a library for it.

A command needs three functions of it; `scipy.special` takes as long to load as a short
answer takes to work out.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from geo.arrays import Floats

# Cody's rational functions, lowest power first, last the one that is doubled up on.
_ERF = (
    (3.16112374387056560e0, 1.13864154151050156e2, 3.77485237685302021e2,
     3.20937758913846947e3, 1.85777706184603153e-1),
    (2.36012909523441209e1, 2.44024637934444173e2, 1.28261652607737228e3,
     2.84423683343917062e3),
)  # fmt: skip
_ERFCX = (
    (5.64188496988670089e-1, 8.88314979438837594e0, 6.61191906371416295e1,
     2.98635138197400131e2, 8.81952221241769090e2, 1.71204761263407058e3,
     2.05107837782607147e3, 1.23033935479799725e3, 2.15311535474403846e-8),
    (1.57449261107098347e1, 1.17693950891312499e2, 5.37181101862009858e2,
     1.62138957456669019e3, 3.29079923573345963e3, 4.36261909014324716e3,
     3.43936767414372164e3, 1.23033935480374942e3),
)  # fmt: skip
_ERFCX_FAR = (
    (3.05326634961232344e-1, 3.60344899949804439e-1, 1.25781726111229246e-1,
     1.60837851487422766e-2, 6.58749161529837803e-4, 1.63153871373020978e-2),
    (2.56852019228982242e0, 1.87295284992346047e0, 5.27905102951428412e-1,
     6.05183413124413191e-2, 2.33520497626869185e-3),
)  # fmt: skip
_NEAR, _FAR = 0.46875, 4.0

_LEAST_SHARE = 1e-300
"""Share that lesser ones are taken for: 37 deviations out."""


def _ratio(rational: tuple[tuple[float, ...], tuple[float, ...]], x: Floats) -> Floats:
    """Evaluate a rational function in the order in which its author did."""
    above, below = rational
    top, bottom = above[-1] * x, x
    for a, b in zip(above[:-2], below[:-1], strict=True):
        top, bottom = (top + a) * x, (bottom + b) * x
    found: Floats = (top + above[-2]) / (bottom + below[-1])
    return found


def _scaled_tail(y: Floats) -> Floats:
    """Give exp(y²) erfc(y) from `_NEAR` on."""
    inverse = 1.0 / np.maximum(y, _FAR) ** 2
    far = np.sqrt(inverse) * (np.pi**-0.5 - inverse * _ratio(_ERFCX_FAR, inverse))
    scaled: Floats = np.where(y <= _FAR, _ratio(_ERFCX, np.minimum(y, _FAR)), far)
    return scaled


def normal_share(deviate: ArrayLike) -> Floats:
    """
    Share of a normal law below a deviate.

    Parameters
    ----------
    deviate : array_like
        Standard deviations from the mean.

    Returns
    -------
    share : numpy.ndarray
        0 to 1, good to 2e-13 of itself; NaN where the deviate is. [1]

    References
    ----------
    W. J. Cody, "Rational Chebyshev approximations for the error function", Mathematics
    of Computation 23 (1969), 631-637 (from memory).

    Examples
    --------
    >>> normal_share([-1.2815515655446004, 0.0])
    array([0.1, 0.5])
    """
    x = np.asarray(deviate, dtype=float)
    y = x / np.sqrt(2.0)
    size = np.abs(y)
    near = np.clip(y, -_NEAR, _NEAR)
    tail = 0.5 * np.exp(-0.5 * x**2) * _scaled_tail(np.maximum(size, _NEAR))
    share = np.where(y < 0.0, tail, 1.0 - tail)
    whole: Floats = np.where(
        size < _NEAR, 0.5 + 0.5 * near * _ratio(_ERF, near**2), share
    )
    return whole


def log_normal_share(deviate: ArrayLike) -> Floats:
    """
    Logarithm of the share of a normal law below a deviate.

    Parameters
    ----------
    deviate : array_like
        Standard deviations from the mean.

    Returns
    -------
    logarithm : numpy.ndarray
        Natural, finite however far below the mean. [1]

    Examples
    --------
    >>> log_normal_share([-40.0, 0.0])
    array([-804.6084,   -0.6931])
    """
    x = np.asarray(deviate, dtype=float)
    low = np.maximum(-x / np.sqrt(2.0), _NEAR)
    with np.errstate(over="ignore"):
        below = np.log(0.5 * _scaled_tail(low)) - low**2
    return np.where(low > _NEAR, below, np.log1p(-normal_share(-np.maximum(x, -1.0))))


def normal_deviate(share: ArrayLike) -> Floats:
    """
    Deviate below which a share of a normal law lies.

    Parameters
    ----------
    share : array_like
        Above 0 and below 1. [1]

    Returns
    -------
    deviate : numpy.ndarray
        Standard deviations from the mean, 37 at most; NaN where the share is out of
        range.

    Notes
    -----
    Formula 26.2.23 of Abramowitz and Stegun, "Handbook of Mathematical Functions", 1964
    (from memory), good to 5e-4, and two of Halley's steps, each of which triples the
    digits.

    Examples
    --------
    >>> normal_deviate([0.1, 0.5]).round(4)
    array([-1.2816,  0.    ])
    """
    p = np.asarray(share, dtype=float)
    p = np.where((p > 0.0) & (p < 1.0), p, np.nan)
    lesser = np.maximum(np.minimum(p, 1.0 - p), _LEAST_SHARE)
    t = np.sqrt(-2.0 * np.log(lesser))
    x = (2.515517 + t * (0.802853 + t * 0.010328)) / (
        1.0 + t * (1.432788 + t * (0.189269 + t * 0.001308))
    ) - t
    for _ in range(2):
        miss = (normal_share(x) - lesser) * np.sqrt(2.0 * np.pi) * np.exp(0.5 * x**2)
        x = x - miss / (1.0 + 0.5 * x * miss)
    deviate: Floats = np.where(p < 0.5, x, -x)
    return deviate
