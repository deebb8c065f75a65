"""Cubics between two nodes of a table: value, turning point, crossing."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

Ends = tuple[Array, Array, Array, Array]
"""Values at both nodes and changes there per step from node to node."""

_ROUNDS = 12


def cubic(u: Array, ends: Ends) -> tuple[Array, Array, Array]:
    """
    Cubic with given values and slopes at both nodes.

    Parameters
    ----------
    u : numpy.ndarray
        Place between the nodes, 0 to 1.
    ends : tuple of numpy.ndarray
        Values at both nodes and changes there per step.

    Returns
    -------
    value, change, bend : numpy.ndarray
        The cubic and its first two derivatives by ``u``.

    Examples
    --------
    >>> [float(part) for part in cubic(0.5, (0.0, 1.0, 1.0, 1.0))]
    [0.5, 1.0, 0.0]
    """
    y0, y1, m0, m1 = ends
    a, b = m0 + m1 - 2.0 * (y1 - y0), 3.0 * (y1 - y0) - 2.0 * m0 - m1
    value = y0 + u * (m0 + u * (b + u * a))
    return value, m0 + u * (2.0 * b + 3.0 * a * u), 2.0 * b + 6.0 * a * u


def turning(ends: Ends) -> Array:
    """
    Place at which the cubic turns, where its slopes at the nodes are of unlike sign.

    Parameters
    ----------
    ends : tuple of numpy.ndarray
        As for `cubic`.

    Returns
    -------
    u : numpy.ndarray
        Between 0 and 1; NaN where it does not turn, or twice.

    Examples
    --------
    >>> float(turning(tuple(np.array(e) for e in (1.0, 1.0, -1.0, 1.0))))
    0.5
    """
    y0, y1, m0, m1 = ends
    a, b = m0 + m1 - 2.0 * (y1 - y0), 3.0 * (y1 - y0) - 2.0 * m0 - m1
    with np.errstate(divide="ignore", invalid="ignore"):
        root = np.sqrt(b * b - 3.0 * a * m0)
        # The stable form of the root that lies between slopes of unlike signs.
        at = -m0 / (b + np.where(m0 < 0.0, root, -root))
    return np.where((m0 * m1 < 0.0) & (at > 0.0) & (at < 1.0), at, np.nan)


def crossing(
    low: Array, high: Array, goal: Array, ends: Ends, rising: NDArray[np.bool_]
) -> Array:
    """
    Place at which the cubic has a value: Newton, kept between two places.

    Parameters
    ----------
    low, high : numpy.ndarray
        Places on either side of the crossing.
    goal : numpy.ndarray
        The value.
    ends : tuple of numpy.ndarray
        As for `cubic`.
    rising : numpy.ndarray of bool
        Whether the cubic rises from ``low`` to ``high``.

    Returns
    -------
    u : numpy.ndarray
        The place.
    """
    low, high = low.copy(), high.copy()
    u = 0.5 * (low + high)
    for _ in range(_ROUNDS):
        value, slope, _ = cubic(u, ends)
        over = (value > goal) == rising
        high, low = np.where(over, u, high), np.where(over, low, u)
        with np.errstate(divide="ignore", invalid="ignore"):
            step = u - (value - goal) / slope
        u = np.where((step > low) & (step < high), step, 0.5 * (low + high))
    return u


def crossed(
    here: NDArray[np.bool_],
    after: NDArray[np.bool_],
    turn: Array,
    turned: NDArray[np.bool_],
    known: NDArray[np.bool_],
) -> tuple[tuple[NDArray[np.intp], ...], NDArray[np.bool_]]:
    """
    Find the steps on which a row of cubics crosses a value.

    Parameters
    ----------
    here, after : numpy.ndarray of bool
        Whether the value is exceeded at the lower and the upper node of each step.
    turn : numpy.ndarray
        Where the cubic turns, NaN where it does not.
    turned : numpy.ndarray of bool
        Whether the value is exceeded there.
    known : numpy.ndarray of bool
        Whether there is a cubic. All of one shape, or broadcasting.

    Returns
    -------
    cells : tuple of numpy.ndarray of int
        Indices of the steps, in their order; a step is named once for each crossing.
    late : numpy.ndarray of bool
        Whether the crossing lies behind the turn.
    """
    turns = np.isfinite(turn)
    middle = np.where(turns, turned, after)
    first = np.nonzero(known & (here != middle))
    second = np.nonzero(known & turns & (middle != after))
    cells = tuple(np.concatenate(pair) for pair in zip(first, second, strict=True))
    late = np.arange(cells[-1].size) >= first[-1].size
    order = np.lexsort((late, *cells[::-1]))
    return tuple(cell[order] for cell in cells), late[order]
