"""The weak signal above the MUF: its limits, and day by day against by the month."""

import numpy as np
import pytest

from advisor.propagation.above_muf import above_muf_loss_db, long_above_muf_loss_db
from advisor.propagation.muf import ratio_exceeded
from advisor.reliability.chance import reliability

RATIO = np.linspace(0.2, 6.0, 2000)


@pytest.mark.parametrize(
    "law",
    [
        above_muf_loss_db,
        lambda ratio: above_muf_loss_db(ratio, layer="E"),
        lambda ratio: above_muf_loss_db(ratio, slope_db=60.0),
        long_above_muf_loss_db,
    ],
)
def test_nothing_up_to_the_muf_and_never_less_above(law):
    loss = law(RATIO)
    assert np.all(loss[RATIO <= 1.0] == 0.0)
    assert np.all(np.diff(loss) >= 0.0)
    assert np.all(loss[RATIO > 1.0] >= 5.0)
    assert np.isnan(law([0.0, -1.0, np.nan])).all()


def test_greatest_losses():
    """ITU-R P.533-14 section 5.2 (from memory): 60, 58 and 80 dB at most."""
    assert above_muf_loss_db(10.0) == 60.0
    assert above_muf_loss_db(10.0, layer="E") == 58.0
    assert long_above_muf_loss_db(10.0) == 80.0


# Days in ten by margin [dB] and frequency over median MUF, worked by another program:
# without a signal above the MUF of the day, and with it.
WORKED = {
    10.0: ([6.5, 4.1, 1.8, 0.7, 0.0], [7.0, 5.4, 3.1, 1.6, 0.6]),
    20.0: ([7.6, 4.8, 2.1, 0.8, 0.0], [8.9, 7.9, 6.2, 4.5, 3.0]),
    30.0: ([7.9, 5.0, 2.1, 0.8, 0.0], [9.8, 9.3, 8.6, 7.7, 6.7]),
    40.0: ([7.9, 5.0, 2.1, 0.8, 0.0], [10.0, 9.9, 9.7, 9.4, 8.9]),
}


@pytest.mark.parametrize("margin", WORKED)
def test_chance_day_by_day(margin):
    """MUF of the days 0.82 to 1.18 of the median, deciles of the ratio 9.8 and 14.5."""
    days = (np.arange(2000) + 0.5) / 2000.0
    muf = ratio_exceeded(days, 0.82, 1.18)
    silent, weak = WORKED[margin]
    for ratio, none, some in zip((0.9, 1.0, 1.1, 1.2, 1.3), silent, weak, strict=True):
        over = ratio / muf
        works = reliability(np.full(over.shape, margin), 9.8, 14.5)
        assert 10.0 * np.where(over <= 1.0, works, 0.0).mean() == pytest.approx(
            none, abs=0.06
        )
        works = reliability(margin - above_muf_loss_db(over), 9.8, 14.5)
        assert 10.0 * works.mean() == pytest.approx(some, abs=0.06)
