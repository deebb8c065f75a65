"""The weak signal above the MUF: its limits, and day by day against by the month."""

import numpy as np
import pytest
from scipy.stats import norm

from advisor.propagation.above_muf import MOST_DB, PATCHES, above_muf_loss_db
from advisor.propagation.muf import ratio_exceeded

RATIO = np.linspace(0.2, 6.0, 2000)


def test_nothing_up_to_the_muf_and_never_less_above():
    loss = above_muf_loss_db(RATIO)
    assert np.all(loss[RATIO <= 1.0] == 0.0)
    assert np.all(np.diff(loss) >= 0.0)
    assert np.all(loss[RATIO > 1.0] >= 5.0)
    assert loss[-1] == MOST_DB
    assert np.isnan(above_muf_loss_db([0.0, -1.0, np.nan])).all()


def test_the_published_law_just_above_the_muf(outside):
    check = outside("ITU-R P.533-14, section 5.2", "from memory")
    over = np.array([0.001, 0.02, 0.05, 0.07])
    check.near(
        "loss of F2 just above the MUF [dB]", above_muf_loss_db(1.0 + over),
        36.0 * np.sqrt(over) + 5.0, abs=0.01, why="one formula",
    )  # fmt: skip


@pytest.mark.parametrize("sigmas", [3.0, 5.0, 7.0])
def test_far_above_it_is_the_share_of_patches(sigmas):
    """The upper tail of the normal law, by scipy."""
    loss = above_muf_loss_db(1.0 + sigmas * PATCHES)
    assert loss == pytest.approx(-10.0 * np.log10(norm.sf(sigmas)), abs=1e-6)


def test_day_by_day_more_is_there_than_below_the_muf_alone():
    """A median a tenth too low: more days have a weak signal than a strong one."""
    days = (np.arange(2000) + 0.5) / 2000.0
    over = 1.1 / ratio_exceeded(days, 0.82, 1.18)
    loss = above_muf_loss_db(over)
    assert np.mean(over <= 1.0) < np.mean(loss < 30.0) < np.mean(loss < 60.0) < 1.0
