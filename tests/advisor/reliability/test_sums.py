"""Sums of some rows against a library's sparse matrices."""

import numpy as np
import pytest
from scipy.sparse import csr_array

from advisor.reliability.sums import RowSums


@pytest.mark.parametrize("seed", range(5))
def test_product_is_that_of_a_sparse_matrix_to_the_last_bit(seed):
    dice = np.random.default_rng(seed)
    whole = dice.normal(size=(40, 30)) * (dice.random((40, 30)) < 0.1)
    row, column = np.nonzero(whole)
    values = dice.normal(size=(30, 7))
    sums = RowSums(whole[row, column], column, row, 40)
    np.testing.assert_array_equal(sums @ values, csr_array(whole) @ values)
    # Few columns are summed in another way.
    np.testing.assert_array_equal(sums @ values[:, :2], (sums @ values)[:, :2])


def test_nothing_at_all_is_nothing():
    none = np.empty(0, np.intp)
    assert not (RowSums(np.empty(0), none, none, 3) @ np.ones((2, 2))).any()
    assert not (RowSums(np.empty(0), none, none, 3) @ np.ones((2, 9))).any()
