"""Long paths: limits of the window, field, focusing and the blend."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from advisor.propagation.longpath import (
    blend_loss_db,
    focus_gain_db,
    long_path_loss_db,
    window_share,
)
from advisor.propagation.longpath_limits import (
    crossing_distances_km,
    lower_limit_mhz,
    night_limit_mhz,
)
from advisor.propagation.losses import spreading_db
from geo.ionosphere.hops import ray_path_km

limits = st.floats(2.0, 40.0)


def test_focus_is_nothing_near_by_and_capped_at_the_antipode():
    assert focus_gain_db(0.0) == 0.0
    assert focus_gain_db(np.pi * 6371.0) == 15.0
    gain = focus_gain_db(np.linspace(0.0, np.pi * 6371.0, 500))
    assert np.all(np.diff(gain) >= 0.0)
    assert np.isnan(focus_gain_db(-1.0))


def test_focus_follows_the_law_on_the_long_path_too():
    # D = 3/2 of half the circumference: sin = -1, D/R = 3 pi / 2 = 4.712 -> 6.73 dB
    assert focus_gain_db(1.5 * np.pi * 6371.0) == pytest.approx(6.73, abs=0.005)


@given(low=limits, high=limits, gyro=st.floats(0.6, 1.7))
def test_window_is_zero_at_both_limits_if_open(low, high, gyro):
    low, high = min(low, high), max(low, high)
    edge = window_share([low, high], low, high, gyro)
    assert edge == pytest.approx([0.0, 0.0], abs=1e-9)


@given(low=limits, high=limits, f=st.floats(1.8, 54.0), gyro=st.floats(0.6, 1.7))
def test_window_is_positive_only_inside_an_open_window(low, high, f, gyro):
    share = float(window_share(f, low, high, gyro))
    assert share < 1.0
    if low + 0.01 < f < high - 0.01:
        assert share > 0.0
    elif f < low - 0.01 or f > high + 0.01:
        assert share < 0.0


@given(limit=limits, f=st.floats(1.8, 54.0))
def test_window_closes_without_a_step(limit, f):
    just_open = window_share(f, limit, limit + 1e-7, 1.2)
    just_closed = window_share(f, limit + 1e-7, limit, 1.2)
    assert just_closed == pytest.approx(float(just_open), rel=1e-5, abs=1e-5)


@given(low=limits, f=st.floats(1.8, 54.0), high=limits, more=st.floats(0.01, 5.0))
def test_more_absorption_or_a_weaker_layer_never_helps_outside_the_window(
    low, f, high, more
):
    share = float(window_share(f, low, high, 1.2))
    if f <= low:
        assert window_share(f, low + more, high, 1.2) <= share + 1e-9
    if f >= high:
        assert window_share(f, low, high - min(more, 0.5 * high), 1.2) <= share + 1e-9


def test_standard_form_and_factored_form_agree():
    f, low, high, gyro = np.linspace(2.0, 40.0, 50), 6.0, 20.0, 1.2
    u, lo, hi = (f + gyro) ** 2, (low + gyro) ** 2, (high + gyro) ** 2
    standard = 1.0 - hi / (hi + lo) * (lo / u + u / hi)
    assert window_share(f, low, high, gyro) == pytest.approx(standard)


def test_signal_falls_smoothly_outside_the_window():
    f = np.linspace(2.0, 45.0, 4000)
    loss = long_path_loss_db(f, 12000.0, 6.0, 20.0, 1.2)
    best = f[np.argmin(loss)]
    assert 6.0 < best < 20.0
    assert np.all(np.diff(loss[f < best]) < 0.0)
    assert np.all(np.diff(loss[f > best]) > 0.0)
    assert np.abs(np.diff(loss)).max() < 3.0
    # the figures of the module's own account
    at = {
        x: float(long_path_loss_db(x, 12000.0, 6.0, 20.0, 1.2))
        for x in (5.4, 6, 20, 22)
    }
    assert at[5.4] - at[6] == pytest.approx(9.0 - 20 * np.log10(6 / 5.4), abs=0.5)
    assert at[22] - at[20] == pytest.approx(11.0, abs=1.0)


def test_loss_at_a_limit_is_the_fixed_share_alone():
    """At fL the field is -30 + Gap - Ly for 1 kW; to W and to power by hand."""
    # 12000 km: D/R 1.88354 rad, sine 0.95146, ratio 1.97963, 2.966 dB
    # field -30 + 2.966 + 0.17 = -26.864; loss 137.2 + 20 log 6 + 26.864 = 179.627
    assert long_path_loss_db(6.0, 12000.0, 6.0, 20.0, 1.2) == pytest.approx(
        179.627, abs=0.002
    )


def test_excess_over_free_space_in_mid_window_by_hand():
    # fL 5, fM 30, fH 1.2: l 38.44, m 973.44; best share 1 - 2 sqrt(l m)/(l + m)
    # = 0.61767 at u = 193.44, f = 12.708. p' 12359.6 km: E0 = 57.760
    # field 0.61767 * 57.760 - 26.864 = 8.813 dB over 1 uV/m for 1 kW;
    # free space 104.77 - 81.840 = 22.93 dB; 14.12 dB short
    extra = long_path_loss_db(12.708, 12000.0, 5.0, 30.0, 1.2) - spreading_db(
        12.708, ray_path_km(4000.0, 300.0, 3)
    )
    assert extra == pytest.approx(14.12, abs=0.03)


def test_blend_is_each_method_at_its_end_and_between_them_inside():
    distance = np.array([6999.0, 7000.0, 7000.001, 8999.999, 9000.0, 9001.0])
    loss = blend_loss_db(distance, 120.0, 150.0)
    assert loss == pytest.approx([120.0, 120.0, 120.0, 150.0, 150.0, 150.0], abs=1e-3)
    inside = blend_loss_db(np.linspace(7000.0, 9000.0, 50), 120.0, 150.0)
    assert np.all(np.diff(inside) > 0.0)


@given(shift=st.floats(-200.0, 200.0))
def test_blend_does_not_depend_on_the_unit_of_the_field(shift):
    plain = blend_loss_db(7900.0, 130.0, 145.0)
    moved = blend_loss_db(7900.0, 130.0 + shift, 145.0 + shift)
    assert moved - shift == pytest.approx(float(plain))


def test_blend_survives_a_missing_signal():
    # half of X: 100 log 2 = 30.1 dB down at the middle
    assert blend_loss_db(8000.0, np.inf, 140.0) == pytest.approx(170.1, abs=0.01)
    assert blend_loss_db(6000.0, np.inf, 140.0) == np.inf
    assert blend_loss_db(8000.0, np.inf, np.inf) == np.inf


def test_shapes_broadcast():
    loss = long_path_loss_db(
        np.array([7.1, 14.1, 21.2]),
        np.array([10000.0, 15000.0])[:, None, None],
        np.full((1, 24, 1), 6.0),
        20.0,
        1.2,
    )
    assert loss.shape == (2, 24, 3)


@pytest.mark.parametrize("bad", [np.nan, -5.0])
def test_no_length_no_figure(bad):
    assert np.isnan(long_path_loss_db(14.1, bad, 6.0, 20.0, 1.2))
    assert np.isnan(lower_limit_mhz([60.0], bad, 60.0, 1.2, 1.0, 1.0))
    assert np.isnan(night_limit_mhz(bad))
    assert np.isnan(crossing_distances_km([bad])).all()
