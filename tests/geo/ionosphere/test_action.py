"""The action of a hop, and one hop over a tilted layer."""

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from geo.ionosphere.action import (
    bouguer,
    elevation_deg,
    free_leg,
    hops,
)
from geo.ionosphere.profile import single_layer
from geo.ionosphere.rays import critical_deg, trace

EARTH_KM = 6371.0
INTEGRATED = (
    "Hamilton's ray equations with gradients along the path, integrated step by step"
)

# Of one layer 80 km thick: foF2 and its change a 1000 km, height and its change; MHz,
# take-off angle; distance, and angle of arrival, as integrated and by the rule of dK.
TILTS = [
    (7.0, 0.5, 290.0, -10.0, 10.1, 20.0, 1084, 1084, 21.61, 21.61),
    (7.0, 0.5, 290.0, -10.0, 14.1, 8.0, 1882, 1882, 10.45, 10.45),
    (7.0, 0.5, 290.0, -10.0, 14.1, 3.0, 2381, 2381, 6.91, 6.91),
    (8.0, -1.0, 280.0, 20.0, 7.1, 40.0, 562, 562, 37.23, 37.23),
    (8.0, -1.0, 280.0, 20.0, 10.1, 10.0, 2198, 2200, 4.22, 4.19),
    (4.0, 2.5, 320.0, -40.0, 10.1, 10.0, 1512, 1511, 18.03, 18.14),
]


def sloping(at_km, fo, change, height, rise):
    far = np.asarray(at_km) / 1000.0
    return single_layer(fo + change * far, height + rise * far, 80.0 + 0.0 * far)


def tilted_hop(before, behind, apart_km, frequency, takeoff_deg):
    """
    One hop by dK: its length, angle of arrival and the place of its apogee.

    The layers are given half of the way apart before and behind the reflection point.
    """
    first = bouguer(takeoff_deg)
    change = np.zeros(np.shape(first))
    for _ in range(3):
        middle = first + 0.5 * change
        one, other = (hops(each, frequency, middle) for each in (before, behind))
        change = (other.action_km - one.action_km) / apart_km
    last = first + change
    bottom = 0.5 * (before.edge[0] + behind.edge[0])
    legs = free_leg(middle, bottom)[0]
    theta = 0.25 * (one.ground_km + other.ground_km) / EARTH_KM - legs
    up = EARTH_KM * (free_leg(first, bottom)[0] + theta)
    down = EARTH_KM * (free_leg(last, bottom)[0] + theta)
    lands = last <= 1.0
    return (
        np.where(lands, up + down, np.nan),
        np.where(lands, elevation_deg(last), np.nan),
        np.asarray(up),
    )


@pytest.mark.parametrize("case", TILTS, ids=lambda c: f"{c[4]}-{c[5]}")
def test_one_hop_over_a_tilt(outside, case):
    check = outside(INTEGRATED, "worked apart")
    *layer, frequency, takeoff, ground, by_rule, arrival, arrival_by_rule = case
    under, apart = 700.0, 20.0
    for _ in range(40):
        ends = (sloping(under + side, *layer) for side in (-apart / 2.0, apart / 2.0))
        length, down, apogee = tilted_hop(*ends, apart, frequency, takeoff)
        under = 0.5 * (under + float(apogee))
    check.near(
        "distance [km]", length, ground, abs=3.0, why="the rule is off by 2 km there"
    )
    check.near(
        "angle of arrival [deg]", down, arrival, abs=0.15,
        why="0.11 deg at a gradient as steep as sunrise",
    )  # fmt: skip
    assert length == pytest.approx(by_rule, abs=1.0)
    assert down == pytest.approx(arrival_by_rule, abs=0.05)


@pytest.mark.slow
@settings(max_examples=25, deadline=None)
@given(
    seed=st.integers(0, 2**32 - 1),
    frequency=st.floats(2.0, 25.0),
    angle=st.floats(-8.0, 85.0),
)
def test_action_falls_with_bouguer_by_the_angle(random_profile, seed, frequency, angle):
    """dJ/dK = -theta, also for rays that pass over the ground."""
    profile = random_profile(np.random.default_rng(seed))
    # At the horizon theta has a kink; at a critical angle it is endless.
    assume(abs(angle) > 2.0)
    assume(np.abs(critical_deg(profile, frequency) - angle).min() > 0.3)
    k = bouguer(angle)
    step = 1e-4
    low, here, high = (hops(profile, frequency, k + s) for s in (-step, 0.0, step))
    assume(here.piece >= 0)
    assume(low.piece == here.piece == high.piece)
    slope = (high.action_km - low.action_km) / (2.0 * step * EARTH_KM)
    assert slope == pytest.approx(-here.ground_km / EARTH_KM, rel=0.01, abs=1.5e-3)


def test_hops_from_the_ground_are_the_traced_ones(example):
    takeoff = np.array([3.0, 15.0, 26.0])
    ours, traced = (
        hops(example["C"], 7.1, bouguer(takeoff)),
        trace(example["C"], 7.1, takeoff),
    )
    assert ours.ground_km == pytest.approx(traced.ground_km)
    assert ours.group_km == pytest.approx(traced.group_km)
    carried = np.cos(np.radians(takeoff)) * traced.ground_km
    assert ours.action_km == pytest.approx(traced.phase_km - carried)


def test_elevations_pass_the_horizon_smoothly():
    angle = np.linspace(-20.0, 90.0, 111)
    assert elevation_deg(bouguer(angle)) == pytest.approx(angle, abs=1e-6)
    assert (np.diff(bouguer(angle)) < 0.0).all()
    assert bouguer(0.0) == 1.0
