"""Homing: every ray once, the skip edge, and the power of the ray tubes."""

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from geo.ionosphere.focusing import (
    FOCUS_AT_MOST_DB,
    SKIP_BLUR,
    focusing_db,
    shadow_db,
)
from geo.ionosphere.homing import Homed, home, ray_table, skip_edge
from geo.ionosphere.hops import takeoff_angle_deg
from geo.ionosphere.profile import LAYER_TOPS, layered_profile, single_layer
from geo.ionosphere.rays import critical_deg, trace

EARTH_KM = 6371.0
NAN = float("nan")
SCAN = "rays of the integrated equations, scanned in angle and bisected"

# Layer, MHz, km: angle, piece, gain by the ray tube in dB, change of distance km/rad.
HOMED = {
    ("A", 7.1, 700): [
        (14.0109, 0, 1.65, -2102.9),
        (31.5738, 1, 0.78, -1389.7),
        (39.6162, 2, -4.11, 3954.6),
        (46.4066, 4, 0.40, -1401.1),
        (57.7428, 5, -17.97),
    ],
    ("A", 7.1, 1000): [
        (8.3679, 0, 2.23),
        (27.4071, 1, -14.31),
        (40.6181, 2, -19.1),
        (41.2224, 3, -7.13),
    ],
    ("A", 14.1, 1300): [(6.8751, 0, 4.77), (9.3660, 0, -3.31)],
    ("A", 14.1, 2500): [
        (9.6839, 1, -8.04),
        (14.5680, 2, -15.99),
        (15.6656, 3, -3.14),
        (20.0093, 5, -16.8),
    ],
    ("A0", 7.1, 700): [
        (14.0109, 0, 1.65),
        (32.5174, 1, 1.10),
        (45.3303, 3, 1.42),
        (49.3357, 4, -0.41),
        (57.7362, 5, -16.8),
    ],
    ("B", 7.1, 300): [(57.9249, 5, 0.53)],
    ("B", 14.1, 1000): [(24.7298, 5, 2.09, -1755.5), (36.5079, 5, -8.70, 17259.5)],
    ("B", 14.1, 1500): [(15.7151, 5, 0.43)],
    ("B", 21.1, 2000): [(9.9582, 5, 3.27), (19.7026, 5, -13.27)],
    ("C", 3.6, 500): [(47.5252, 5, 1.20)],
    ("C", 7.1, 1300): [(23.3229, 5, 4.61, -1367.9), (28.6379, 5, -0.14, 3596.7)],
    ("C", 7.1, 2000): [(10.8474, 5, 3.29)],
    ("C", 7.1, 3000): [(3.4932, 5, 7.26)],
    ("D", 7.1, 900): [(31.5171, 5, 2.46), (41.6595, 5, -6.37)],
    ("D", 7.1, 1500): [(18.7255, 5, -0.17)],
    ("D", 14.1, 2800): [(6.5277, 5, 5.70), (12.1459, 5, -7.01)],
    ("H", 21.1, 1500): [(24.9180, 5, 10.59), (26.1313, 5, 9.72)],
    ("H", 28.1, 3000): [(6.1608, 5, 6.24), (16.6755, 5, -11.10)],
}

# Layer, MHz, skip distance in km, take-off angle.
F2_SKIP = [
    ("A", 7.1, 546.30, 55.69),
    ("A", 10.1, 1193.53, 32.36),
    ("A", 14.1, 2046.77, 19.15),
    ("A0", 7.1, 561.27, 55.90),
    ("B", 10.1, 395.07, 58.96),
    ("B", 14.1, 856.33, 33.18),
    ("B", 21.1, 1579.00, 17.31),
    ("C", 5.3, 751.12, 42.85),
    ("C", 7.1, 1255.33, 26.58),
    ("D", 7.1, 808.87, 38.63),
    ("D", 10.1, 1433.03, 22.07),
    ("H", 14.1, 673.32, 52.45),
    ("H", 21.1, 1497.77, 25.55),
    ("H", 28.1, 2399.70, 14.08),
]
E_SKIP = [
    ("A", 7.1, 489.0, 25.10),
    ("A", 10.1, 773.1, 15.53),
    ("A", 14.1, 1233.1, 8.55),
    ("B", 10.1, 1145.5, 9.50),
    ("D", 7.1, 1611.1, 5.40),
]

seeds = st.integers(0, 2**32 - 1)


def bare_db(takeoff_deg, ground_km, group_km, slope_km_rad):
    """Gain of a ray tube by the rays alone, nothing smoothed."""
    beta = np.radians(takeoff_deg)
    tube = EARTH_KM * np.abs(np.sin(ground_km / EARTH_KM)) * np.sin(beta)
    return 10.0 * np.log10(group_km**2 * np.cos(beta) / (tube * np.abs(slope_km_rad)))


def layer_of(piece):
    return int(np.searchsorted(LAYER_TOPS, piece))


@pytest.mark.parametrize("case", HOMED, ids=lambda c: f"{c[0]}-{c[1]}-{c[2]}")
def test_every_ray_of_the_check_table_and_no_other(outside, example, case):
    check = outside(SCAN, "worked apart")
    name, frequency, ground = case
    expected = HOMED[case]
    ours = home(ray_table(example[name], frequency), ground)
    gain = bare_db(ours.takeoff_deg, ours.ground_km, ours.group_km, ours.slope_km_rad)
    kept = gain > -20.0
    check.equal("how many rays land there", int(kept.sum()), len(expected))
    check.near(
        "take-off angles [deg]", ours.takeoff_deg[kept], [e[0] for e in expected],
        abs=0.01, why="printed to 0.0001 deg",
    )  # fmt: skip
    check.near(
        "gain by the ray tube [dB]", gain[kept], [e[2] for e in expected], abs=0.05,
        why="printed to 0.01 dB; found by differences there",
    )  # fmt: skip
    assert ours.branch[kept].tolist() == [layer_of(e[1]) for e in expected]
    assert ours.ground_km == pytest.approx(ground, abs=0.01)
    steep = [(s, e[3]) for s, e in zip(ours.slope_km_rad[kept], expected, strict=True)
             if len(e) > 3]  # fmt: skip
    if steep:
        check.near(
            "change of distance with the angle [km/rad]", *zip(*steep, strict=True),
            rel=1e-4, why="printed to 0.1 km/rad",
        )  # fmt: skip


@pytest.mark.parametrize(
    ("layer", "name", "frequency", "ground", "takeoff"),
    [(3, *row) for row in F2_SKIP] + [(0, *row) for row in E_SKIP],
)
def test_skip_edges(outside, example, layer, name, frequency, ground, takeoff):
    check = outside(SCAN, "worked apart")
    edge = skip_edge(ray_table(example[name], frequency), layer)
    check.near(
        "skip distance [km]", edge.ground_km, ground, abs=0.06 if layer == 0 else 0.01,
        why="printed to 0.01 km, for E to 0.1 km",
    )  # fmt: skip
    check.near(
        "angle of the skip ray [deg]", edge.takeoff_deg, takeoff, abs=0.02,
        why="printed to 0.01 deg",
    )  # fmt: skip


@pytest.mark.parametrize(
    ("name", "frequency", "ground"),
    [("B", 14.1, 796), ("C", 7.1, 1090), ("D", 7.1, 676), ("A", 7.1, 356)],
)
def test_the_extraordinary_wave_lands_nearer(outside, example, name, frequency, ground):
    """As an ordinary wave half a gyrofrequency lower, here without fading: 0.6 MHz."""
    check = outside(SCAN, "worked apart")
    edge = skip_edge(ray_table(example[name], frequency - 0.6), -1)
    check.near(
        "skip distance of the extraordinary wave [km]", edge.ground_km, ground,
        abs=0.6, why="printed to 1 km",
    )  # fmt: skip


def scanned(profile, frequency, ground):
    """All rays that land at a distance: a fine scan in angle and bisection."""
    ends = np.concatenate([[0.0], critical_deg(profile, frequency), [90.0]])
    grid = [np.linspace(0.005, 89.995, 4000)]
    close = np.logspace(-6.5, np.log10(0.5), 200)
    for low, high in pairwise(ends):
        if high - low > 1e-7:
            grid += [low + (high - low) * close, high - (high - low) * close]
    grid = np.unique(np.concatenate(grid))
    within = np.searchsorted(ends, grid)
    off = trace(profile, frequency, grid).ground_km - ground
    cut = (off[:-1] * off[1:] < 0.0) & (within[:-1] == within[1:])
    low, high = grid[:-1][cut], grid[1:][cut]
    below = off[:-1][cut] > 0.0
    for _ in range(45):
        middle = 0.5 * (low + high)
        same = (trace(profile, frequency, middle).ground_km > ground) == below
        low, high = np.where(same, middle, low), np.where(same, high, middle)
    # How near the distance comes to turning without getting there, or just so.
    turns = np.flatnonzero(np.diff(np.sign(np.diff(off))) != 0) + 1
    near = np.abs(off[turns])
    return low, np.min(near[np.isfinite(near)], initial=np.inf)


@pytest.mark.slow
@settings(max_examples=25, deadline=None)
@given(seed=seeds, frequency=st.floats(1.8, 30.0), ground=st.floats(20.0, 3600.0))
def test_no_ray_is_missed_or_counted_twice(random_profile, seed, frequency, ground):
    """Against a scan of thousands of angles, for any layers: all rays over -18 dB."""
    profile = random_profile(np.random.default_rng(seed))
    angles, nearest = scanned(profile, frequency, ground)
    # At the very edge of the skip zone two rays are one.
    assume(nearest > 1.0)
    rays = trace(profile, frequency, angles)
    strong = bare_db(angles, ground, rays.group_km, rays.slope_km_rad) > -18.0
    ours = home(ray_table(profile, frequency), ground)
    gain = bare_db(ours.takeoff_deg, ours.ground_km, ours.group_km, ours.slope_km_rad)
    for angle in angles[strong]:
        assert (np.abs(ours.takeoff_deg - angle) < 1e-3).sum() == 1
    assert (gain > -18.0).sum() == strong.sum()
    assert ours.ground_km[gain > -18.0] == pytest.approx(ground, abs=0.02)


@pytest.mark.slow
@settings(max_examples=20, deadline=None)
@given(seed=seeds, frequency=st.floats(1.8, 30.0))
def test_the_skip_edge_is_the_nearest_ray(random_profile, seed, frequency):
    profile = random_profile(np.random.default_rng(seed))
    table = ray_table(profile, frequency)
    takeoff = np.linspace(0.0, 90.0, 9001)
    every = trace(profile, frequency, takeoff)
    layer = np.searchsorted(LAYER_TOPS, every.piece)
    for i in range(len(LAYER_TOPS)):
        mine = (every.piece >= 0) & (layer == i)
        edge = skip_edge(table, i)
        if mine.sum() > 20:
            nearest = every.ground_km[mine].min()
            assert edge.ground_km < nearest + 0.01 * nearest + 1.0
            there = trace(profile, frequency, edge.takeoff_deg)
            assert edge.ground_km == pytest.approx(
                float(there.ground_km), rel=0.01, abs=1
            )


def test_all_power_that_leaves_comes_down(example):
    """
    Ray tubes share out the power: none is lost, none is made.

    Summed over the rings of ground between 100 and 3500 km, what lands is what leaves
    between the angles that land there.
    """
    profile, frequency = example["A"], 7.1
    ground = np.arange(100.5, 3500.0, 1.0)
    table = ray_table(profile, frequency)
    rays = home(table, ground)
    at = ground[rays.index]
    beta = np.radians(rays.takeoff_deg)
    gain = 10.0 ** (
        bare_db(rays.takeoff_deg, at, rays.group_km, rays.slope_km_rad) / 10.0
    )
    ring = EARTH_KM * np.sin(at / EARTH_KM) * np.sin(beta) / rays.group_km**2
    landed = (gain * ring).sum()
    takeoff = np.linspace(0.0, 90.0, 200_001)
    reach = trace(profile, frequency, takeoff).ground_km
    sine = np.sin(np.radians(takeoff))
    inside = (reach > 100.0) & (reach < 3500.0)
    left = (np.diff(sine) * (inside[1:] & inside[:-1])).sum()
    assert landed == pytest.approx(left, rel=0.01)


@pytest.mark.slow
def test_places_hours_and_distances_broadcast():
    """One table serves many distances; the flat index says which is which."""
    two = layered_profile([0.5, 2.6], NAN, [4.0, 9.0], [320.0, 260.0], [80.0, 70.0])
    table = ray_table(two[:, None], np.array([3.6, 7.1, 14.1]))
    assert table.shape == (2, 3)
    ground = np.array([400.0, 1500.0, 2500.0, 9000.0])[:, None, None]
    all_ = home(table, ground)
    assert (np.diff(all_.index) >= 0).all()
    for flat in range(24):
        i, j, k = np.unravel_index(flat, (4, 2, 3))
        one = home(ray_table(two[j], table.frequency_mhz[k]), ground[i, 0, 0])
        mine = all_.index == flat
        assert all_.takeoff_deg[mine] == pytest.approx(one.takeoff_deg, abs=1e-6)
    assert isinstance(all_, Homed)
    assert not (all_.index >= 18).any()


def test_no_place_no_ray():
    table = ray_table(layered_profile([NAN, 1.0], NAN, 6.0, 300.0), 7.1)
    ours = home(table, 800.0)
    assert set(ours.index.tolist()) == {1}
    assert np.isnan(skip_edge(table, -1).ground_km[0])
    assert home(table, NAN).index.size == 0
    assert home(table, 9000.0).index.size == 0


def test_a_mirror_returns_one_ray_and_no_skip():
    """A thin layer far below its secant limit: straight rays, one for a distance."""
    layer = single_layer(10.0, 300.0, 0.02)
    table = ray_table(layer, 5.0, (24,))
    ours = home(table, np.array([100.0, 1000.0, 3000.0]))
    assert ours.takeoff_deg == pytest.approx(
        takeoff_angle_deg([100.0, 1000.0, 3000.0], 300.0), abs=0.01
    )
    assert skip_edge(table, 0).ground_km == pytest.approx(0.0, abs=0.1)


# --- what is smoothed -----------------------------------------------------------------


def test_rays_at_the_skip_edge_are_smeared(example):
    """
    Smearing over 4 % of the distance, a floor of sqrt(2 D'' W) under the slope.

    The mean of 1/sqrt(2 D'' x) over 0 to W is twice 1/sqrt(2 D'' W): at the edge both
    rays together are 3 dB weaker than the bare ones over the first 4 % in the mean.
    """
    profile, frequency = example["C"], 7.1
    table = ray_table(profile, frequency)
    skip = float(skip_edge(table, -1).ground_km)
    pair = home(table, skip + 0.01)
    gain = focusing_db(
        frequency, pair.takeoff_deg, pair.ground_km, pair.group_km, pair.slope_km_rad,
        pair.blur_km_rad,
    )  # fmt: skip
    assert gain.size == 2
    smooth = 10.0 * np.log10((10.0 ** (gain / 10.0)).sum())
    assert 4.5 < smooth < 6.5
    beyond = skip * (1.0 + SKIP_BLUR * (np.arange(500) + 0.5) / 500)
    near = home(table, beyond)
    bare = bare_db(near.takeoff_deg, near.ground_km, near.group_km, near.slope_km_rad)
    mean = 10.0 * np.log10((10.0 ** (bare / 10.0)).sum() / beyond.size)
    assert mean - smooth == pytest.approx(3.0, abs=0.4)


def test_far_from_the_edge_nothing_is_smoothed(example):
    ours = home(ray_table(example["B"], 7.1), 300.0)
    smooth = focusing_db(
        7.1,
        ours.takeoff_deg,
        ours.ground_km,
        ours.group_km,
        ours.slope_km_rad,
        ours.blur_km_rad,
    )
    bare = bare_db(ours.takeoff_deg, ours.ground_km, ours.group_km, ours.slope_km_rad)
    assert smooth == pytest.approx(bare, abs=0.01)
    assert (ours.blur_km_rad == 0.0).all()


def test_horizon_and_antipode_are_held():
    flat = focusing_db(7.1, [0.0, 0.5, 3.0], 3700.0, 3800.0, -9000.0)
    assert np.isfinite(flat).all()
    assert (flat <= FOCUS_AT_MOST_DB).all()
    around = focusing_db(7.1, 10.0, [19000.0, 20015.0, 21000.0], 20000.0, -3e4)
    assert np.isfinite(around).all()
    assert around[1] == pytest.approx(around.max())


def test_shadow_beyond_the_last_ray(outside):
    """2.338 is minus the first zero of the Airy function."""
    from scipy.special import ai_zeros

    check = outside("Bremmer, Terrestrial Radio Waves, 1949", "from memory")
    k = 2.0 * np.pi * 14.1 / 0.299792458
    first = -ai_zeros(1)[0][0] * np.sin(np.pi / 3.0)
    nepers = first * np.cbrt(0.5 * k * EARTH_KM) * 50.0 / EARTH_KM
    check.near(
        "loss 50 km beyond on 14.1 MHz [dB]", shadow_db(14.1, 50.0),
        20.0 * np.log10(np.e) * nepers, rel=1e-3, why="2.338 has four digits",
    )  # fmt: skip
    assert shadow_db(14.1, -10.0) == 0.0
