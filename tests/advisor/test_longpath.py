"""Long paths: limits of the window, field, focusing and the blend."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from advisor.link.longpath import (
    blend_loss_db,
    crossing_distances_km,
    evening_decay,
    focus_gain_db,
    long_path_loss_db,
    lower_limit_mhz,
    night_limit_mhz,
    reference_muf_mhz,
    seasonal_factor,
    upper_limit_mhz,
    window_share,
    winter_anomaly,
)
from advisor.link.loss import spreading_db
from geo.hops import hop_length_km, ray_path_km, takeoff_angle_deg

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


def test_upper_limit_is_straight_in_the_bearing_and_the_same_both_ways():
    bearing = np.array([0.0, 30.0, 45.0, 90.0, 150.0, 180.0, 270.0])
    limit = upper_limit_mhz(15.0, 22.0, 9.0, bearing)
    assert limit[[0, 3]] == pytest.approx([limit[5], limit[6]])
    assert limit[1] == pytest.approx(limit[4])
    assert limit[2] == pytest.approx(0.5 * (limit[0] + limit[3]))


def test_upper_limit_grows_with_the_layer_and_is_nan_without_one():
    muf = np.linspace(4.0, 24.0, 50)
    assert np.all(np.diff(upper_limit_mhz(muf, 24.0, 4.0, 90.0)) > 0.0)
    assert np.isnan(upper_limit_mhz(0.0, 20.0, 5.0, 90.0))
    assert np.isnan(upper_limit_mhz(10.0, 0.0, 5.0, 90.0))


def test_reference_muf_is_a_tenth_above_that_of_3000_km():
    assert reference_muf_mhz(10.0, 3.0) == pytest.approx(33.0)


def test_crossings_are_where_the_ray_is_at_90_km():
    along = crossing_distances_km([3500.0, 9000.0, 20000.0])
    assert along.shape == (3, 10)
    assert np.isnan(along).sum(axis=-1).tolist() == [8, 4, 0]
    # A ray at 90 km has come as far as half a hop off a mirror at 90 km would be.
    takeoff = takeoff_angle_deg(3500.0, 300.0)
    assert along[0, 0] == pytest.approx(0.5 * hop_length_km(takeoff, 90.0))
    assert along[0, 0] + along[0, 1] == pytest.approx(3500.0)
    assert np.all(np.diff(along[2]) > 0.0)
    assert along[2, -1] < 20000.0


def test_lower_limit_by_hand():
    """One whole evaluation of the printed formula, worked with a pocket calculator."""
    # 12000 km, three hops of 4000 km at 300 km: half angle 17.987 deg,
    # rise cos - 6371/6671 = 0.95113 - 0.95503 = -0.00390; take-off -0.724 deg
    # sin i90 = 6371 cos(0.724 deg)/6461 = 0.98599, cos i90 = 0.16681
    # leg: sqrt(300^2 + 4*6371*6671*sin^2(8.9935 deg)) = 2059.9; p' = 12359.6
    # ln(9.5e6/12359.6) = 6.6445
    # six crossings at 60 deg: 6 * 0.70711 = 4.24264; (1 + 0.54) = 1.54
    # sqrt(1.54 * 4.24264 / (0.16681 * 6.6445)) = 2.42792; * 5.3 = 12.868; - 1.2
    limit = lower_limit_mhz([60.0] * 6, 12000.0, 60.0, 1.2, 1.0, 1.0)
    assert limit == pytest.approx(11.668, abs=0.02)
    winter = lower_limit_mhz([60.0] * 6, 12000.0, 60.0, 1.2, 1.1, 1.3)
    assert winter == pytest.approx((12.868 * 1.1 - 1.2) * 1.3, abs=0.03)


def test_lower_limit_has_the_night_floor():
    night = lower_limit_mhz([120.0] * 6, 12000.0, 60.0, 1.2, 1.0, 1.3)
    assert night == night_limit_mhz(12000.0) == pytest.approx(2.0)
    zenith = np.linspace(0.0, 180.0, 200)[:, None] * np.ones(6)
    limit = lower_limit_mhz(zenith, 12000.0, 60.0, 1.2, 1.0, 1.0)
    assert np.all(np.diff(limit) <= 1e-12)
    assert limit.min() == pytest.approx(2.0)


def test_missing_crossings_add_nothing():
    some = lower_limit_mhz([30.0, 60.0], 4000.0, 60.0, 1.2, 1.0, 1.0)
    padded = lower_limit_mhz([30.0, 60.0, np.nan, np.nan], 4000.0, 60.0, 1.2, 1.0, 1.0)
    assert padded == pytest.approx(float(some))


def test_evening_decay_never_lowers_and_ends_after_three_hours():
    hours = np.arange(48) / 2.0
    raw = np.maximum(10.0 * np.cos((hours - 12.0) / 12.0 * np.pi), 2.0)
    out = evening_decay(raw, 12000.0)
    assert np.all(out >= raw)
    lifted = np.flatnonzero(out > raw + 1e-12)
    # 10 cos reaches 4 at 12 + 12/pi * acos(0.4) = 16.43 h and 2 at 17.23 h.
    assert hours[lifted].min() == 16.5
    assert hours[lifted].max() == 19.0
    since = 19.0 - (12.0 + 12.0 / np.pi * np.arccos(0.4))
    assert out[38] == pytest.approx(4.0 * np.exp(-0.23 * since), rel=0.01)


def test_evening_decay_goes_round_midnight():
    raw = np.full((24, 2), 2.0)
    raw[12:23, 0] = 8.0
    raw[12:24, 1] = 8.0
    out = evening_decay(raw, np.array([12000.0, 12000.0]))
    assert out[23, 0] > 2.0
    assert out[1, 0] == pytest.approx(out[2, 1])
    assert out[0, 1] == pytest.approx(out[23, 0])


def test_steady_day_has_no_evening():
    raw = np.full(24, 5.0)
    assert evening_decay(raw, 12000.0) == pytest.approx(raw)


def test_seasonal_factor_by_classes_of_latitude():
    winter = seasonal_factor(
        [50.0, 50.0, 10.0, -40.0, 50.0], [60, 20, -20, -50, -50], 1
    )
    assert winter == pytest.approx([1.1, 1.05, 1.0, 1.0, 1.05])
    july = seasonal_factor([50.0, 50.0, 10.0, -40.0, 50.0], [60, 20, -20, -50, -50], 7)
    assert july == pytest.approx([1.0, 1.0, 1.0, 1.1, 1.05])
    assert seasonal_factor(50.0, 60.0, 2.0) == pytest.approx(1.05)


def test_winter_anomaly_peaks_at_60_degrees_and_ends_at_30_and_at_the_pole():
    assert winter_anomaly([0.0, 30.0, 60.0, 90.0], 1.0) == pytest.approx([1, 1, 1.3, 1])
    assert winter_anomaly(-60.0, [1.0, 4.0, 6.0, 7.0, 8.0]) == pytest.approx(
        [1.0, 1.03, 1.3, 1.3, 1.15]
    )


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
