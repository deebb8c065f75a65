"""Scores of chances and the errors of means, against closed forms and sources."""

import numpy as np
import pytest

from advisor.answers.verification import scores

RNG = np.random.default_rng(16)


def test_the_parts_add_up_whatever_the_chances_are():
    """Murphy (1973) with what is within the classes (Stephenson and others 2008)."""
    said = RNG.uniform(size=2000)
    came = RNG.uniform(size=2000) < said**2
    parts = scores.brier_parts(said, came)
    assert parts.brier == pytest.approx(np.mean((said - came) ** 2))
    assert parts.brier == pytest.approx(
        parts.reliability - parts.resolution + parts.uncertainty
    )


def test_chances_of_one_value_a_class_are_parted_as_murphy_does():
    """By hand: 0.1 told four times, came once; 0.9 told four times, came always."""
    said = np.repeat([0.1, 0.9], 4)
    parts = scores.brier_parts(said, [1, 0, 0, 0, 1, 1, 1, 1])
    assert parts.reliability == pytest.approx(0.5 * 0.15**2 + 0.5 * 0.1**2)
    assert parts.resolution == pytest.approx(0.375**2)
    assert parts.uncertainty == pytest.approx(0.625 * 0.375)


def test_true_chances_lie_on_the_diagonal_within_their_errors():
    said = RNG.uniform(size=20_000)
    came = RNG.uniform(size=said.size) < said
    count, told, share = scores.binned(said, came)
    day = np.arange(said.size) // 50
    place = scores.bin_of(said)
    for k in range(scores.BINS):
        error = scores.error_of_mean(came[place == k], day[place == k])
        assert error == pytest.approx(
            np.sqrt(share[k] * (1 - share[k]) / count[k]), rel=0.2
        )
        assert abs(told[k] - share[k]) < 4.0 * error


def test_days_that_go_together_make_the_error_larger():
    """All values of a day alike: as if each day were one value."""
    days = RNG.normal(size=40)
    values, day = np.repeat(days, 25), np.repeat(np.arange(40), 25)
    alone = days.std(ddof=1) / np.sqrt(40)
    assert scores.error_of_mean(values, day) == pytest.approx(alone)
    assert np.isnan(scores.error_of_mean(values, 0 * day))


def test_of_a_few_values_no_error_is_told():
    """Two reports that happen to agree would look like proof."""
    values, day = [17.0, 18.0, 18.0, 19.0, 18.0], [0, 1, 2, 3, 4]
    assert np.isnan(scores.error_of_mean(values[:4], day[:4], scores.FEWEST))
    assert np.isfinite(scores.error_of_mean(values, day, scores.FEWEST))


def test_what_is_usual_leaves_the_own_day_out():
    came = np.array([True, False, True, True])
    shown, group = np.ones(4), np.zeros(4, dtype=int)
    plain = scores.usual_shares(came, shown, group)
    assert plain == pytest.approx(0.75)
    day = np.array([0, 0, 1, 1])
    left = scores.usual_shares(came, shown, group, day)
    prior = scores.PRIOR_HOURS * 0.75
    assert left == pytest.approx(
        [(2 + prior) / (2 + scores.PRIOR_HOURS)] * 2
        + [(1 + prior) / (2 + scores.PRIOR_HOURS)] * 2
    )


def test_skill_is_nothing_for_what_is_usual_and_one_for_the_truth():
    came = RNG.uniform(size=500) < 0.3
    usual = np.full(500, 0.3)
    assert scores.skill(usual, usual, came) == 0.0
    assert scores.skill(came.astype(float), usual, came) == 1.0


@pytest.mark.parametrize("late", [0, 6, -5])
def test_a_clock_that_is_off_is_found_and_a_true_one_is_left(late):
    """Ways that are open at different hours, worked in an evening only."""
    hours = np.arange(24)
    peaks = RNG.integers(0, 24, 400)
    chance = np.exp(-(((hours - peaks[:, None] + 12) % 24 - 12) ** 2) / 18.0)
    true = np.array([RNG.choice(24, p=p / p.sum()) for p in chance])
    kept = (true >= 15) & (true < 23)
    day = np.arange(400) // 10
    found = scores.best_shift(chance[kept], (true[kept] + late) % 24, day[kept])
    assert found.is_off == (late != 0)
    if late:
        assert abs(found.hours + late) <= 1
