"""The chance: what it degenerates to, and what may never happen."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from advisor.link.chance import chance, reliability, signal_deciles_db
from advisor.link.modes import E_MODES, MODES

CELLS = 4
probabilities = hnp.arrays(float, (CELLS, MODES), elements=st.floats(0.0, 1.0))
margins = hnp.arrays(float, (CELLS, MODES), elements=st.floats(-60.0, 60.0))


def no_screening(screened):
    """E modes are never screened."""
    screened = screened.copy()
    screened[:, :E_MODES] = 0.0
    return screened


def sampled(support, screened, margin, upper, lower, count=400):
    """The same average over a grid of ranks, one day at a time, without pieces."""
    ranks = (np.arange(count) + 0.5) / count
    days = np.zeros((count, count))
    power = 10.0 ** (margin / 10.0)
    for i, u in enumerate(ranks):
        total = np.zeros(count)
        for m in range(MODES):
            if m < E_MODES:
                total += power[m] * (u > 1.0 - support[m])
            elif u <= 1.0 - screened[m]:
                total += power[m] * (ranks > 1.0 - support[m])
        with np.errstate(divide="ignore"):
            days[i] = reliability(10.0 * np.log10(total), upper, lower)
    return days.mean()


@settings(max_examples=10, deadline=None)
@given(support=probabilities, screened=probabilities, margin=margins)
def test_equals_an_average_over_many_days(support, screened, margin):
    """The finite sum is the average over days, drawn one by one."""
    screened = no_screening(screened)
    ours = chance(support, screened, margin, np.full(CELLS, 8.0), np.full(CELLS, 11.0))
    drawn = sampled(support[0], screened[0], margin[0], 8.0, 11.0)
    assert ours[0] == pytest.approx(drawn, abs=0.02)


@given(support=probabilities)
def test_without_noise_it_is_the_support(support):
    """
    Margins far above zero and no E layer: the greatest support of any F2 mode.

    ITU-R P.533-14 section 3.6 calls this the support of the path.
    """
    support = support.copy()
    support[:, :E_MODES] = 0.0
    ours = chance(
        support,
        np.zeros_like(support),
        np.full_like(support, 200.0),
        8.0 + np.zeros(4),
        11.0 + np.zeros(4),
    )
    assert ours == pytest.approx(support.max(axis=-1), abs=1e-12)


@given(margin=st.floats(-40.0, 40.0))
def test_far_below_the_muf_it_is_the_reliability(margin):
    """One mode on every day: ITU-R P.533-14 section 10.1, basic circuit reliability."""
    support = np.zeros((1, MODES))
    support[0, E_MODES] = 1.0
    level = np.full((1, MODES), -np.inf)
    level[0, E_MODES] = margin
    ours = chance(
        support, np.zeros_like(support), level, np.array([8.0]), np.array([11.0])
    )
    assert ours[0] == pytest.approx(float(reliability(margin, 8.0, 11.0)), abs=1e-9)


@given(
    support=probabilities,
    screened=probabilities,
    margin=margins,
    more=st.floats(0.0, 30.0),
)
def test_more_signal_never_hurts(support, screened, margin, more):
    """More power, or less noise, or less required: never a lower chance."""
    screened = no_screening(screened)
    spread = np.full(CELLS, 8.0), np.full(CELLS, 11.0)
    both = chance(support, screened, np.stack([margin, margin + more]), *spread)
    assert np.all(both[1] >= both[0] - 1e-12)
    assert np.all((both >= 0.0) & (both <= 1.0 + 1e-12))


@given(support=probabilities, margin=margins, mode=st.integers(0, MODES - 1))
def test_a_mode_more_often_there_never_hurts(support, margin, mode):
    """Raising one mode's support never lowers the chance."""
    spread = np.full(CELLS, 8.0), np.full(CELLS, 11.0)
    still = np.zeros_like(support)
    raised = support.copy()
    raised[:, mode] = np.minimum(raised[:, mode] + 0.2, 1.0)
    before = chance(support, still, margin, *spread)
    assert np.all(chance(raised, still, margin, *spread) >= before - 1e-12)


def test_full_screening_leaves_only_e_modes():
    """F2 modes behind a closed E layer add nothing."""
    support = np.ones((1, MODES))
    screened = np.ones((1, MODES))
    screened[0, :E_MODES] = 0.0
    margin = np.full((1, MODES), -50.0)
    margin[0, E_MODES:] = 50.0
    assert (
        chance(support, screened, margin, np.array([8.0]), np.array([11.0]))[0] == 0.0
    )


def test_reliability_never_leaves_zero_to_one():
    """Extreme margins saturate."""
    ours = reliability([-np.inf, -300.0, 300.0, np.inf], 8.0, 11.0)
    assert list(ours) == [0.0, 0.0, 1.0, 1.0]


def test_signal_spreads_more_at_high_latitude():
    """ITU-R P.842 (from memory): 8 and 6 dB below 60 degrees, 11 and 9 above."""
    upper, lower = signal_deciles_db([0.0, 70.0])
    assert upper == pytest.approx([np.hypot(6, 5), np.hypot(9, 5)])
    assert lower == pytest.approx([np.hypot(8, 8), np.hypot(11, 8)])
