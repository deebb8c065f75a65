"""Hops over layers that change: tilts, many hops, rays that pass over the ground."""

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from geo.ionosphere.action import (
    HELD_KM,
    bouguer,
    elevation_deg,
    follow,
    hop_table,
    hops,
    straight_km,
    tilted_hop,
)
from geo.ionosphere.hops import hop_length_km, ray_path_km
from geo.ionosphere.profile import layered_profile, single_layer
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

# From day to night (1) and back (-1): MHz, take-off angle, four landings.
FOUR_HOPS = [
    (1.0, 10.1, 14.0, (1355, 2838, 4661, 7071)),
    (-1.0, 10.1, 8.0, (2310, 4177, 5650, 6927)),
]


def sloping(at_km, fo, change, height, rise):
    far = np.asarray(at_km) / 1000.0
    return single_layer(fo + change * far, height + rise * far, 80.0 + 0.0 * far)


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


@pytest.mark.parametrize(("way", "frequency", "takeoff", "ground"), FOUR_HOPS)
def test_four_hops_from_day_to_night(outside, way, frequency, takeoff, ground):
    """foF2 = 6.75 - 2.25 T, hm = 305 + 35 T with T = tanh((x - 4000)/2500)."""
    check = outside(INTEGRATED, "worked apart")
    station = np.arange(0.0, 12001.0, 500.0)
    step = way * np.tanh((station - 4000.0) / 2500.0)
    layer = single_layer(6.75 - 2.25 * step, 305.0 + 35.0 * step, 80.0 + 0.0 * step)
    rays = follow(hop_table(layer, frequency, station), 4, [takeoff])
    check.near(
        "landings of four hops [km]", rays.ground_km[:, 0], ground, rel=0.015,
        why="constant action is within 1 %, the table's steps 1 %",
    )  # fmt: skip
    alike = trace(layer[0], frequency, takeoff).ground_km * np.arange(1, 5)
    off = np.abs(rays.ground_km[:, 0] - ground)
    assert off[-1] < 0.2 * abs(alike[-1] - ground[-1])


def test_over_a_falling_layer_the_ray_passes_over_the_ground(outside):
    """
    Towards weaker and higher layers a flat ray misses the ground after two hops.

    foF2 9 - 0.3, hm 270 + 8 km a 1000 km, 10.1 MHz at 6 deg.
    """
    check = outside(INTEGRATED, "worked apart")
    station = np.arange(0.0, 16001.0, 500.0)
    table = hop_table(sloping(station, 9.0, -0.3, 270.0, 8.0), 10.1, station)
    rays = follow(table, 3, [6.0])
    over = EARTH_KM * (bouguer(rays.elevation_deg[:, 0]) - 1.0)
    assert over[0] < 0.0
    assert (np.diff(over) > 0.0).all()
    check.near(
        "height at which it passes after the second hop [km]",
        0.5 * (over[1] + over[2]), 19.0, abs=5.0,
        why="between the hops before and behind; 1 km is 0.1 deg",
    )  # fmt: skip


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


def test_the_table_sums_up_the_action(example):
    """J from steps of theta is J as traced, within the trapezes of the axis."""
    from geo.ionosphere.action import ELEVATIONS_DEG

    for name, frequency in (("C", 7.1), ("A", 7.1), ("B", 14.1)):
        profile = example[name]
        table = hop_table(profile[None], frequency, [0.0])
        exact = hops(profile, frequency, bouguer(ELEVATIONS_DEG)).action_km
        assert table.action_km[0] == pytest.approx(
            exact, rel=0.01, abs=2.0, nan_ok=True
        )


def test_elevations_pass_the_horizon_smoothly():
    angle = np.linspace(-20.0, 90.0, 111)
    assert elevation_deg(bouguer(angle)) == pytest.approx(angle, abs=1e-6)
    assert (np.diff(bouguer(angle)) < 0.0).all()
    assert bouguer(0.0) == 1.0


def test_straight_rays_are_the_group_path_of_a_mirror(example):
    takeoff = np.array([1.0, 20.0, 60.0])
    length = hop_length_km(takeoff, 300.0)
    ours = straight_km(length, bouguer(takeoff))
    assert ours == pytest.approx(ray_path_km(length, 300.0))
    for name, frequency in (("C", 7.1), ("B", 14.1), ("H", 21.1)):
        rays = trace(example[name], frequency, np.linspace(1.0, 25.0, 9))
        k = bouguer(np.linspace(1.0, 25.0, 9))
        near = straight_km(rays.ground_km, k)
        assert near == pytest.approx(rays.group_km, rel=0.02, nan_ok=True)


@pytest.mark.parametrize("count", [1, 2, 3, 4])
def test_over_one_and_the_same_layer_all_hops_are_alike(count):
    """The n-th landing is n times the first, and each hop leaves as the first did."""
    station = np.arange(0.0, 9601.0, 800.0)
    many = layered_profile(np.full(station.size, 0.5), np.nan, 4.0, 320.0, 80.0)
    # Below the critical angle of 3.6 MHz rays are turned at any angle.
    start = np.array([10.0, 15.0, 25.0, 36.0])
    rays = follow(hop_table(many, 3.6, station), count, start)
    exact = trace(many[0], 3.6, start)
    assert rays.ground_km[-1] == pytest.approx(count * exact.ground_km, rel=5e-3)
    assert rays.group_km[-1] == pytest.approx(count * exact.group_km, rel=0.015)
    assert rays.elevation_deg == pytest.approx(np.tile(start, (count, 1)), abs=1e-6)
    assert (rays.layer == 3).all() or (rays.layer == rays.layer[0, 0]).all()


def test_layers_of_the_hops_are_told_and_kept_apart(example):
    """By day flat rays go by E, steeper ones by F2; nothing is mixed of the two."""
    station = np.arange(0.0, 6401.0, 800.0)
    many = layered_profile(np.full(station.size, 2.6), np.nan, 9.0, 260.0, 70.0)
    start = np.array([4.0, 12.0, 20.0, 30.0])
    rays = follow(hop_table(many, 7.1, station), 2, start)
    exact = trace(example["B"], 7.1, start)
    layer = np.searchsorted(example["B"].tops, exact.piece)
    assert len(set(layer.tolist())) > 1
    assert (rays.layer == layer).all()
    assert rays.ground_km[0] == pytest.approx(exact.ground_km, rel=0.02)


def test_the_end_of_the_stations_is_the_end_of_the_rays():
    """Nothing is told of what lies far beyond."""
    station = np.linspace(0.0, 2400.0, 4)
    many = layered_profile(np.full(4, 0.5), np.nan, 4.0, 320.0, 80.0)
    rays = follow(hop_table(many, 3.6, station), 6)
    assert np.isnan(rays.ground_km[5]).sum() > np.isnan(rays.ground_km[0]).sum()
    longest = np.nanmax(np.diff(rays.ground_km, axis=0))
    assert np.nanmax(rays.ground_km) <= station[-1] + HELD_KM + longest
