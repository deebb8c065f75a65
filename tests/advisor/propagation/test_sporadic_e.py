"""Sporadic E: angles, share of days, reflection loss and whole modes."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from advisor.propagation.sporadic_e import (
    MAX_HOP_ES_KM,
    es_reflection_loss_db,
    es_takeoff_deg,
    foes_exceeded_mhz,
    needed_foes_mhz,
    share_above,
)
from geo.ionosphere.hops import hop_length_km

DECILES = (2.0, 3.5, 7.0)


def test_takeoff_angle_inverts_the_hop_length():
    distance = np.array([100.0, 700.0, 1500.0, MAX_HOP_ES_KM])
    assert hop_length_km(es_takeoff_deg(distance), 105.0) == pytest.approx(distance)


def test_no_hop_is_longer_than_the_layer_allows():
    assert np.isnan(es_takeoff_deg(3000.0))


def test_share_is_exact_at_the_three_given_points_and_at_both_ends():
    share = share_above([0.0, *DECILES, np.inf], *DECILES)
    assert share == pytest.approx([1.0, 0.9, 0.5, 0.1, 0.0], abs=1e-12)


@given(
    share=st.floats(0.001, 0.999),
    median=st.floats(0.5, 10.0),
    below=st.floats(1.02, 3.0),
    above=st.floats(1.02, 3.0),
)
def test_share_and_level_are_inverse(share, median, below, above):
    law = (median / below, median, median * above)
    assert share_above(foes_exceeded_mhz(share, *law), *law) == pytest.approx(share)


def test_share_falls_with_the_level_without_a_step_at_the_median():
    level = np.linspace(0.1, 30.0, 2000)
    share = share_above(level, *DECILES)
    assert np.all(np.diff(share) <= 0.0)
    assert np.abs(np.diff(share)).max() < 0.02


def test_equal_deciles_make_a_law_that_is_certain_on_each_side():
    assert share_above([2.9, 3.1], 3.0, 3.0, 3.0) == pytest.approx([1.0, 0.0])


def test_decile_on_the_wrong_side_counts_as_the_median():
    assert share_above(2.9, 3.2, 3.0, 5.0) == pytest.approx(1.0)
    assert share_above(4.0, 3.2, 3.0, 5.0) == share_above(4.0, 3.0, 3.0, 5.0)


@pytest.mark.parametrize("bad", [(0.0, 3.0, 5.0), (np.nan, 3.0, 5.0), (1.0, -3.0, 5)])
def test_unusable_deciles_give_nan(bad):
    assert np.isnan(share_above(2.0, *bad))
    assert np.isnan(foes_exceeded_mhz(0.5, *bad))


@pytest.mark.parametrize("share", [0.0, 1.0, -0.1, np.nan])
def test_level_outside_a_share_of_days_is_nan(share):
    assert np.isnan(foes_exceeded_mhz(share, *DECILES))


def test_reflection_loss_rises_with_frequency_and_passes_the_secant_limit_smoothly():
    foes, takeoff = 5.0, es_takeoff_deg(1500.0)
    limit = foes * 28.0 / needed_foes_mhz(28.0, takeoff)
    frequency = np.linspace(0.5 * limit, 1.5 * limit, 101)
    loss = es_reflection_loss_db(1515.0, frequency, foes)
    steps = np.diff(loss)
    assert np.all(steps > 0.0)
    assert steps.max() < 1.0
    assert 20.0 < es_reflection_loss_db(1515.0, limit, foes) < 30.0


@pytest.mark.parametrize(("path", "foes"), [(0.0, 5.0), (1000.0, 0.0), (-1.0, 5.0)])
def test_reflection_loss_without_a_path_or_a_layer_is_nan(path, foes):
    assert np.isnan(es_reflection_loss_db(path, 28.0, foes))


def test_laws_broadcast_over_paths_hours_and_bands():
    rng = np.random.default_rng(1)
    median = rng.uniform(2.0, 6.0, (4, 24, 1))
    frequency = np.array([14.1, 28.5, 50.1])
    takeoff = es_takeoff_deg([500.0, 1000.0, 2000.0, 5000.0])[:, None, None]
    need = needed_foes_mhz(frequency, takeoff)
    share = share_above(need, 0.6 * median, median, 1.8 * median)
    assert share.shape == (4, 24, 3)
    assert np.all(np.diff(share[:3], axis=-1) <= 0.0)
    assert np.isnan(share[3]).all()


def test_middle_of_the_days_that_count_exceeds_the_need():
    need = np.linspace(1.0, 20.0, 50)
    share = share_above(need, *DECILES)
    typical = foes_exceeded_mhz(0.5 * share, *DECILES)
    assert np.all(typical > need)
    assert share_above(typical, *DECILES) == pytest.approx(0.5 * share)
