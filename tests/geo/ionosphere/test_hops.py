"""Hop geometry: limits, round trips, longest hops, where branches of height join."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from geo.ionosphere.hops import (
    E_MIRROR_HEIGHT_KM,
    MAX_HOP_E_KM,
    MAX_HOP_F2_KM,
    hop_length_km,
    incidence_deg,
    ray_path_km,
    sec_incidence,
    takeoff_angle_deg,
)
from geo.sphere import EARTH_RADIUS_KM

heights = st.floats(60.0, 800.0)


@given(takeoff=st.floats(0.0, 89.9), height=heights)
def test_angle_to_length_and_back(takeoff, height):
    """A take-off angle gives a hop that asks for the same take-off angle."""
    hop = hop_length_km(takeoff, height)
    assert takeoff_angle_deg(hop, height) == pytest.approx(takeoff, abs=1e-6)


@given(hop=st.floats(0.0, 4000.0), height=heights)
def test_ray_closes_the_triangle(hop, height):
    """Law of sines and law of cosines give the same ray length."""
    takeoff = np.radians(takeoff_angle_deg(hop, height))
    half = hop / (2 * EARTH_RADIUS_KM)
    up = EARTH_RADIUS_KM + height
    # Height of the mirror over the station's horizon plane, and distance along it.
    vertical = up * np.cos(half) - EARTH_RADIUS_KM
    along = up * np.sin(half)
    assert ray_path_km(hop, height) == pytest.approx(2 * np.hypot(vertical, along))
    assert np.arctan2(vertical, along) == pytest.approx(takeoff, abs=1e-9)


@given(height=heights)
def test_ray_and_hop_lengths_meet_straight_up(height):
    """No distance: the ray goes up and down, at normal incidence."""
    assert takeoff_angle_deg(0.0, height) == pytest.approx(90.0)
    assert ray_path_km(0.0, height) == pytest.approx(2 * height)
    assert sec_incidence(90.0, height) == pytest.approx(1.0)


@given(hop=st.floats(1.0, 3000.0), height=st.floats(100.0, 400.0))
def test_higher_layer_asks_for_steeper_rays(hop, height):
    """Raising the mirror raises the angle; lengthening the hop lowers it."""
    angle = takeoff_angle_deg(hop, height)
    assert takeoff_angle_deg(hop, height + 10.0) > angle
    assert takeoff_angle_deg(hop + 10.0, height) < angle


def test_arrival_equals_departure():
    """A ray turned round meets the layer at the same incidence: reciprocity."""
    takeoff = takeoff_angle_deg(1234.0, 287.0)
    half = np.degrees(1234.0 / (2 * EARTH_RADIUS_KM))
    # Angles of the triangle Earth centre, station, mirror add up to 180.
    assert incidence_deg(takeoff, 287.0) == pytest.approx(90.0 - half - takeoff)


def test_out_of_range_is_nan():
    """Angles above 90, negative heights and NaN give NaN, not numbers."""
    assert np.isnan(hop_length_km([91.0, -1.0, np.nan], 300.0)).all()
    assert np.isnan(hop_length_km(10.0, [-5.0, 0.0])).all()
    assert np.isnan(takeoff_angle_deg([-1.0, np.nan], 300.0)).all()
    assert np.isnan(takeoff_angle_deg(1000.0, [0.0, -5.0])).all()
    assert np.isnan(incidence_deg([120.0, 90.5, -90.5, -120.0, np.nan], 300.0)).all()
    assert np.isnan(incidence_deg(10.0, -0.5))


def test_half_way_round_the_earth_is_the_longest_hop():
    """
    Ends opposite each other: the mirror stands over a point a quarter turn away.

    Seen from the ground it lies R down and R + h along: arctan(-R / (R + h)).
    """
    opposite = np.pi * EARTH_RADIUS_KM
    up = EARTH_RADIUS_KM + 300.0
    expected = np.degrees(np.arctan2(-EARTH_RADIUS_KM, up))
    assert takeoff_angle_deg(opposite, 300.0) == pytest.approx(expected)
    assert np.isnan(takeoff_angle_deg(opposite + 1.0, 300.0))


@pytest.mark.parametrize("takeoff", [20.0, 45.0, 80.0])
def test_a_low_mirror_is_that_of_a_flat_earth(takeoff):
    """Half a kilometre up the Earth is flat: d = 2 h / tan of the angle."""
    flat_km = 2.0 * 0.5 / np.tan(np.radians(takeoff))
    assert hop_length_km(takeoff, 0.5) == pytest.approx(flat_km, rel=1e-3)
    assert takeoff_angle_deg(flat_km, 0.5) == pytest.approx(takeoff, abs=0.02)
    assert incidence_deg(takeoff, 0.5) == pytest.approx(90.0 - takeoff, abs=0.02)


def test_on_the_ground_incidence_is_the_complement_of_the_angle():
    """At no height nothing has turned yet, whichever way the ray goes."""
    angle = np.array([-90.0, -30.0, 0.0, 30.0, 90.0])
    assert incidence_deg(angle, 0.0) == pytest.approx(90.0 - np.abs(angle))


def test_short_of_the_vertical_a_hop_is_short():
    """0.01 degrees off: 2 h / tan at the mirror, less by R / (R + h) on the ground."""
    share = EARTH_RADIUS_KM / (EARTH_RADIUS_KM + 300.0)
    flat_km = 600.0 / np.tan(np.radians(89.99))
    assert hop_length_km(89.99, 300.0) == pytest.approx(flat_km * share, rel=1e-5)
    assert hop_length_km(90.0, 300.0) == 0.0


@given(hop=st.floats(0.0, 4000.0), height=heights, hops=st.integers(1, 12))
def test_equal_hops_are_as_long_as_so_many_of_one(hop, height, hops):
    """The ray of n hops is n times that of one."""
    assert ray_path_km(hop, height, hops) == pytest.approx(
        hops * ray_path_km(hop, height)
    )


def test_heights_and_longest_hops_of_the_standard():
    """ITU-R P.533-14 sections 5.1, 3.3 and 3.5 (from memory); no hop grazes below."""
    assert E_MIRROR_HEIGHT_KM == 110.0
    assert MAX_HOP_E_KM == 2000.0
    assert MAX_HOP_F2_KM == 4000.0
    # The longest E hop still leaves above the horizon: 0.9 degrees.
    assert 0.0 < takeoff_angle_deg(MAX_HOP_E_KM, E_MIRROR_HEIGHT_KM) < 2.0


def test_too_long_a_hop_leaves_below_the_horizon():
    """Beyond the grazing hop the angle is negative, so a horizon blocks it."""
    grazing = hop_length_km(0.0, 110.0)
    assert takeoff_angle_deg(grazing * 1.01, 110.0) < 0.0
