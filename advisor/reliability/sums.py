"""Sums over some of many rows, without the time it takes to load sparse matrices."""

from __future__ import annotations

from functools import cached_property
from itertools import pairwise

import numpy as np

from geo.arrays import Floats, Indices

_NARROW = 4
"""Columns up to which they are summed one by one."""


class RowSums:
    """
    A matrix that is nearly all zero, made to be multiplied with.

    Parameters
    ----------
    weight : numpy.ndarray
        Shape (N,), what is not zero.
    column, row : numpy.ndarray of int
        Shape (N,), where it stands; ``row`` ascends.
    rows : int
        How many rows there are.

    Examples
    --------
    >>> sums = RowSums(np.array([1.0, 2.0]), np.array([0, 1]), np.array([0, 0]), 2)
    >>> sums @ np.array([[10.0], [1.0]])
    array([[12.],
           [ 0.]])
    """

    def __init__(self, weight: Floats, column: Indices, row: Indices, rows: int):
        self._weight, self._column, self._row = weight, column, row
        self._rows = rows

    @cached_property
    def _rounds(self) -> list[tuple[Indices, Indices, Floats]]:
        """The first of every row, the second of every row that has one, and so on."""
        rank = np.arange(self._row.size) - np.searchsorted(self._row, self._row)
        order = np.argsort(rank, kind="stable")
        ends = np.cumsum([0, *np.bincount(rank)])
        rounds = [order[start:end] for start, end in pairwise(ends)]
        return [(self._row[n], self._column[n], self._weight[n, None]) for n in rounds]

    def __matmul__(self, values: Floats) -> Floats:
        if values.shape[1] <= _NARROW:
            # Added in the same order, so that the last digits are the same too.
            each = (self._weight * one[self._column] for one in values.T)
            sums = [np.bincount(self._row, one, self._rows) for one in each]
            return np.stack(sums, axis=1, dtype=float)
        total = np.zeros((self._rows, values.shape[1]))
        for row, column, weight in self._rounds:
            total[row] += weight * values[column]
        return total
