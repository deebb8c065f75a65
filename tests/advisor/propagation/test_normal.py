"""The normal law against the library that would take too long to load."""

import numpy as np
import pytest
from scipy import special

from advisor.propagation.normal import (
    log_normal_share,
    normal_deviate,
    normal_share,
)

DEVIATES = np.concatenate([np.linspace(-37.0, 9.0, 20_001), [0.0, -1e-300, 1e-9]])


def test_share_is_that_of_the_library():
    """Far out both round an exponent of 685, which leaves fewer digits."""
    np.testing.assert_allclose(
        normal_share(DEVIATES), special.ndtr(DEVIATES), rtol=5e-13
    )
    near = DEVIATES[np.abs(DEVIATES) < 6.0]
    np.testing.assert_allclose(normal_share(near), special.ndtr(near), rtol=2e-14)
    assert normal_share([-np.inf, np.inf]).tolist() == [0.0, 1.0]
    assert np.isnan(normal_share(np.nan))


def test_logarithm_of_it_too():
    deviates = np.concatenate([DEVIATES, [-1e3, -1e6, 30.0]])
    np.testing.assert_allclose(
        log_normal_share(deviates), special.log_ndtr(deviates), rtol=1e-13, atol=1e-16
    )


@pytest.mark.parametrize("low", [1e-300, 1e-12, 1e-3])
def test_deviate_is_that_of_the_library(low):
    share = np.concatenate([np.geomspace(low, 0.5, 4001), np.linspace(0.5, 1 - 1e-9)])
    found = normal_deviate(share)
    np.testing.assert_allclose(found, special.ndtri(share), rtol=1e-13, atol=1e-15)


def test_no_share_has_no_deviate():
    assert np.isnan(normal_deviate([0.0, 1.0, -0.1, 1.1, np.nan])).all()


def test_the_least_shares_are_told_without_a_warning():
    assert normal_deviate([1e-300, 5e-324]) == pytest.approx(-37.05, abs=0.01)
