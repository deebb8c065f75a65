"""MUF and height of F2 from the rays; the standard's distance law beside it."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from geo.ionosphere.homing import home, ray_table, skip_edge
from geo.ionosphere.hops import sec_incidence, takeoff_angle_deg
from geo.ionosphere.layers import fof1_zenith_limit_deg, layers_at
from geo.ionosphere.profile import (
    f1_share,
    hmf2_km,
    layered_profile,
    single_layer,
)
from geo.ionosphere.ray_muf import consistent_hmf2_km, m3000, muf_mhz

NAN = float("nan")
DISTANCES = np.array([300.0, 500.0, 1000.0, 1500.0, 2000.0, 3000.0, 3500.0])

# Layer, M(3000)F2, MUF of F2 over the distances. [MHz]
MUF = [
    ("A", 2.861, (6.372, 6.933, 9.137, 11.615, 13.902, 17.454, 18.730)),
    ("A0", 2.790, (6.359, 6.890, 8.974, 11.343, 13.550, 17.022, 18.294)),
    ("B", 3.321, (9.587, 10.835, 15.545, 20.394, 24.486, 29.890, 31.364)),
    ("C", 2.943, (4.177, 4.563, 6.171, 7.966, 9.552, 11.770, 12.426)),
    ("D", 3.083, (5.257, 5.809, 8.016, 10.408, 12.500, 15.416, 16.281)),
    ("H", 2.622, (12.320, 13.073, 16.675, 21.120, 25.263, 31.465, 33.486)),
]

seeds = st.integers(0, 2**32 - 1)


@pytest.mark.parametrize(("name", "factor", "muf"), MUF)
def test_muf_of_the_check_table(outside, example, name, factor, muf):
    check = outside("skip distances of integrated rays, over frequency", "worked apart")
    check.near(
        "MUF of F2 over 300 to 3500 km [MHz]", muf_mhz(example[name], DISTANCES), muf,
        rel=1e-3, why="printed to 0.001 MHz; ours off the cubics of the table",
    )  # fmt: skip
    check.near(
        "M(3000)F2", m3000(example[name]), factor, abs=2e-3, why="printed to 0.001"
    )


@pytest.mark.slow
@settings(max_examples=30, deadline=None)
@given(seed=seeds, ground=st.floats(150.0, 3200.0))
def test_at_the_muf_the_skip_distance_is_the_distance(random_profile, seed, ground):
    """Just below it two rays land there, just above it none of F2."""
    profile = random_profile(np.random.default_rng(seed))
    muf = float(muf_mhz(profile, ground))
    edge = skip_edge(ray_table(profile, muf), -1)
    assert edge.ground_km == pytest.approx(ground, rel=5e-3)

    def f2_rays(frequency):
        return (home(ray_table(profile, frequency), ground).branch == 3).sum()

    assert f2_rays(1.004 * muf) == 0
    assert f2_rays(0.996 * muf) >= 1


def test_a_thin_layer_gives_the_secant_law():
    ground = np.array([200.0, 1000.0, 2500.0])
    secant = sec_incidence(takeoff_angle_deg(ground, 300.0), 300.0)
    ours = muf_mhz(single_layer(5.0, 300.0, 0.1), ground)
    assert ours == pytest.approx(5.0 * secant, rel=5e-3)


def test_the_muf_grows_with_distance_and_starts_at_the_critical_frequency(example):
    for name, profile in example.items():
        muf = muf_mhz(profile, np.array([1.0, 100.0, 500.0, 1500.0, 3000.0]))
        assert (np.diff(muf) > 0.0).all(), name
        assert muf[0] == pytest.approx(float(profile.plasma_mhz(900.0)), rel=1e-3)
        e = muf_mhz(profile, np.array([1.0, 500.0, 1500.0]), 0)
        assert e[0] == pytest.approx(float(profile.plasma_mhz(110.0)), rel=1e-3)
        assert (np.diff(e) > 0.0).all()


def distance_law(ground_km, m, x):
    """ITU-R P.533-14, section 3.5.1, with its longest hop not held at 4000 km."""
    x = max(x, 2.0)
    b = m - 0.124 + (m**2 - 4.0) * (0.0215 + 0.005 * np.sin(7.854 / x - 1.9635))
    far = 4780.0 + (12610.0 + 2140.0 / x**2 - 49720.0 / x**4 + 688900.0 / x**6) * (
        1.0 / b - 0.303
    )

    def c(d):
        z = 1.0 - 2.0 * d / far
        return np.polyval([0.096, 0.181, 0.088, -0.090, -0.424, -0.591, 0.74], z)

    return 1.0 + c(ground_km) / c(3000.0) * (b - 1.0)


@pytest.mark.parametrize(("name", "factor", "muf"), MUF)
def test_the_distance_law_of_the_standard_says_the_same(
    outside, example, name, factor, muf
):
    """Without the field, and with the longest hop of the layer as it comes out."""
    check = outside("ITU-R P.533-14, section 3.5.1, without its cap", "from memory")
    profile = example[name]
    peak, e = float(profile.plasma_mhz(900.0)), float(profile.plasma_mhz(110.0))
    law = peak * distance_law(DISTANCES, factor, peak / e)
    check.near(
        "MUF over 300 to 3500 km [MHz]", muf_mhz(profile, DISTANCES), law, rel=0.04,
        why="the law's own fit to layers of many shapes",
    )  # fmt: skip
    assert len(muf) == DISTANCES.size


@pytest.fixture(scope="module")
def mapped():
    """Layers of the maps over four seasons, two levels of the sun, day and night."""
    rng = np.random.default_rng(3)
    lat = np.degrees(np.arcsin(rng.uniform(-0.95, 0.95, 25)))
    lon = rng.uniform(-180.0, 180.0, 25)
    found = []
    for month in (1, 4, 7, 10):
        for r12 in (20.0, 95.0):  # IG12 8 to 17, 99 to 108
            hours = np.arange(0, 24, 6).astype("timedelta64[h]")
            sky = layers_at(
                lat, lon, np.datetime64(f"2022-{month:02d}-15T00:00") + hours, r12
            )
            limit = fof1_zenith_limit_deg(sky.geomagnetic_lat_deg, r12)
            share = f1_share(sky.zenith_deg, np.minimum(limit, 90.0))
            first = hmf2_km(sky.m3000f2, sky.fof2_mhz, sky.foe_mhz, r12)
            each = (sky.m3000f2, sky.foe_mhz, sky.fof1_mhz, sky.fof2_mhz, first, share)
            found.append(np.stack([part.ravel() for part in each]))
    return np.concatenate(found, axis=1)


@pytest.mark.slow
def test_the_published_height_gives_the_m_factor_in_the_mean(outside, mapped):
    """The formula was made for the M of the maps: it is right but for a tail."""
    check = outside("ITU-R P.1239-3: height of F2 from M(3000)F2", "from memory")
    m, foe, fof1, fof2, first, share = mapped
    traced = m3000(layered_profile(foe, fof1, fof2, first, None, share))
    off = 100.0 * np.log(traced / m)
    check.between("mean difference of M(3000)F2 [%]", off.mean(), -2.0, 2.0)
    check.between(
        "share of layers within 2 %", (np.abs(off) < 2.0).mean(), 0.8, 1.0,
        why="F1 nearly as dense as F2 makes the rest",
    )  # fmt: skip


def test_the_height_found_gives_the_m_factor_of_the_map(outside, mapped):
    """Within 2 % wherever F1 leaves F2 a ray over 3000 km."""
    check = outside("CCIR maps of M(3000)F2", "page at hand")
    m, foe, fof1, fof2, first, share = mapped
    height = consistent_hmf2_km(m, foe, fof1, fof2, first, share)
    traced = m3000(layered_profile(foe, fof1, fof2, height, None, share))
    hidden = (share > 0.5) & (np.nan_to_num(fof1) > 0.9 * fof2)
    check.near(
        "M(3000)F2 traced through the profile", traced[~hidden], m[~hidden], rel=0.01,
        why="half of what is asked",
    )  # fmt: skip
    assert hidden.mean() < 0.01
    moved = height - first
    assert np.abs(moved[~hidden]).max() < 60.0
    assert np.percentile(np.abs(moved), 90.0) < 15.0


def test_heights_of_nothing_are_not_numbers():
    height = consistent_hmf2_km([3.0, NAN], 2.0, NAN, [7.0, 7.0], 300.0)
    assert np.isfinite(height[0])
    assert np.isnan(height[1])
    assert np.isnan(muf_mhz(layered_profile(NAN, NAN, 7.0, 300.0), 1000.0))
