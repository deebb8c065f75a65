"""Losses of a hop but for the D region: limits, constants."""

import numpy as np
import pytest

from advisor.propagation.losses import (
    RESIDUAL_LOSS_DB,
    reflection_loss_db,
    spreading_db,
)


def test_ten_times_as_far_or_as_high_loses_twenty_decibels():
    """Spreading goes with the squares of distance and frequency (ITU-R P.525)."""
    near = spreading_db(3.6, 100.0)
    assert spreading_db(3.6, 1000.0) - near == pytest.approx(20.0)
    assert spreading_db(36.0, 100.0) - near == pytest.approx(20.0)


def test_the_ground_never_gives_power_back():
    """A reflection loses power at any angle, on any band, over land and sea."""
    angle = np.linspace(0.0, 90.0, 91)[:, None]
    for ground in ("land", "sea water"):
        lost = reflection_loss_db([1.85, 7.1, 28.5], angle, ground)
        assert np.all(lost >= -1e-9)
        assert np.all(lost[1:] > 0.0)


def test_constants_of_the_standard():
    """ITU-R P.533-14 section 5.2 (from memory): Lz."""
    assert RESIDUAL_LOSS_DB == 8.72
