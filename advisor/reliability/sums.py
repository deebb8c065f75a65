"""Sums over some of many rows, without the time it takes to load sparse matrices."""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from geo.arrays import Floats, Indices


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
        rank = np.arange(row.size) - np.searchsorted(row, row)
        order = np.argsort(rank, kind="stable")
        ends = np.cumsum([0, *np.bincount(rank)])
        # The first of every row, the second of every row that has one, and so on.
        rounds = [order[start:end] for start, end in pairwise(ends)]
        self._rounds = [(row[n], column[n], weight[n, None]) for n in rounds]
        self._rows = rows

    def __matmul__(self, values: Floats) -> Floats:
        total = np.zeros((self._rows, values.shape[1]))
        for row, column, weight in self._rounds:
            total[row] += weight * values[column]
        return total
