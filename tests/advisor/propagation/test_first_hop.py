"""Skip distance, MUF and landing of one hop: the check values of integrated rays."""

from dataclasses import replace

import numpy as np
import pytest

from advisor.propagation import muf
from advisor.propagation.first_hop import (
    f2_muf_mhz,
    first_hops,
    nearest_km,
    one_hop_muf_mhz,
    profile_skip_km,
    skip_distance_km,
)
from geo.ionosphere.layers import layers_at
from geo.ionosphere.profile import layered_profile
from geo.ionosphere.rays import trace

NONE = float("nan")
WHEN = np.array(["2026-03-21T12", "2026-03-21T00"], "datetime64[s]")

# foE, foF1, foF2, height of F2. [MHz], [km]
LAYERS = {
    "winter noon": (2.6, NONE, 9.0, 260.0),
    "night": (0.5, NONE, 4.0, 320.0),
    "sunrise": (1.5, NONE, 5.0, 290.0),
    "high evening layer": (0.8, NONE, 12.0, 380.0),
}


def over(name, gyro_mhz=0.0):
    """Layers over one place with one of the check layers in them."""
    sky = layers_at([50.0], [10.0], WHEN[:1], 60.0)
    foe, fof1, fof2, height = LAYERS[name]
    shape = sky.foe_mhz.shape
    return replace(
        sky,
        foe_mhz=np.full(shape, foe),
        fof1_mhz=np.full(shape, fof1),
        fof2_mhz=np.full(shape, fof2),
        hmf2_km=np.full(shape, height),
        f1_share=np.zeros(shape),
        gyro_mhz=np.full_like(sky.gyro_mhz, gyro_mhz),
    )


def nearest_traced(name, frequency):
    """Nearest landing of any ray, angle by angle."""
    foe, fof1, fof2, height = LAYERS[name]
    layer = layered_profile(foe, fof1, fof2, height, None, 0.0)
    rays = trace(layer, frequency, np.linspace(0.0, 89.9, 20_001), paths=False)
    return np.nanmin(rays.ground_km)


@pytest.mark.parametrize(
    ("name", "frequency"),
    [("winter noon", 14.1), ("winter noon", 21.1), ("night", 5.3), ("night", 7.1),
     ("sunrise", 7.1), ("sunrise", 10.1), ("high evening layer", 14.1),
     ("high evening layer", 21.1), ("high evening layer", 28.1)],
)  # fmt: skip
def test_without_a_field_the_skip_distance_is_that_of_the_nearest_ray(name, frequency):
    ours = skip_distance_km(over(name), frequency)[0, 0]
    assert ours == pytest.approx(nearest_traced(name, frequency), rel=0.005, abs=12.0)


# F2 skip of integrated rays: layer, semi-thickness, MHz, km.
INTEGRATED = [
    ("winter noon", 70.0, 10.1, 395.07), ("winter noon", 70.0, 14.1, 856.33),
    ("winter noon", 70.0, 21.1, 1579.00), ("night", 80.0, 5.3, 751.12),
    ("night", 80.0, 7.1, 1255.33), ("sunrise", 75.0, 7.1, 808.87),
    ("sunrise", 75.0, 10.1, 1433.03), ("high evening layer", 110.0, 14.1, 673.32),
    ("high evening layer", 110.0, 21.1, 1497.77),
    ("high evening layer", 110.0, 28.1, 2399.70),
]  # fmt: skip


def skip_through(name, thick, frequency, gyro):
    """Skip distance through a layer of a stated thickness."""
    foe, fof1, fof2, height = LAYERS[name]
    layer = layered_profile(np.full((1, 1), foe), fof1, fof2, height, thick)
    return profile_skip_km(layer, np.full((1, 1), gyro), frequency)[0, 0]


@pytest.mark.parametrize(("name", "thick", "frequency", "km"), INTEGRATED)
def test_skip_distances_of_integrated_rays(outside, name, thick, frequency, km):
    """Ordinary wave through the layers of the check table."""
    outside("skip distances of integrated rays", "worked apart").near(
        "skip distance of F2, ten layers and bands [km]",
        skip_through(name, thick, frequency, 0.0), km + 5.0, abs=8.0,
        why="the next of steps of 10 km",
    )  # fmt: skip


@pytest.mark.slow
def test_the_extraordinary_wave_comes_down_nearer(outside):
    """
    Integrated 0.6 MHz lower, in three layers; ours is that far lower overhead only.

    With the field the skip distance is what it is without, at f less the split there.
    """
    check = outside("skip distances of integrated rays, extraordinary", "worked apart")
    for name, thick, frequency, km in (
        ("winter noon", 70.0, 14.1, 796.0),
        ("night", 80.0, 7.1, 1090.0),
        ("sunrise", 75.0, 7.1, 676.0),
    ):
        check.near(
            "skip distance 0.6 MHz lower [km]",
            skip_through(name, thick, frequency - 0.6, 0.0), km + 5.0, abs=8.0,
            why="the next of steps of 10 km",
        )  # fmt: skip
        ours = skip_through(name, thick, frequency, 1.2)
        assert km < ours < skip_through(name, thick, frequency, 0.0)
        split = float(muf.apart_mhz(1.2, ours))
        alone = skip_through(name, thick, frequency - split, 0.0)
        assert ours == pytest.approx(alone, abs=10.0)


def test_straight_up_there_is_no_skip_zone():
    """Below the critical frequency of the extraordinary wave the skip distance is 0."""
    sky = over("night", 1.2)
    skip = skip_distance_km(sky, [3.0, 4.5, 4.7, 30.0])[0]
    assert list(skip[:2]) == [0.0, 0.0]
    assert skip[2] > 0.0
    assert np.isnan(skip[3])


@pytest.mark.slow
def test_skip_distance_and_muf_are_one_table():
    """At the skip distance the MUF is the frequency."""
    for name in LAYERS:
        sky = over(name, 1.1)
        frequency = np.array([1.2, 1.6, 2.2]) * LAYERS[name][2]
        skip = skip_distance_km(sky, frequency)[0]
        there = np.isfinite(skip) & (skip > 50.0)
        assert there.sum() >= 2
        back = np.array([one_hop_muf_mhz(sky, [d])[0, 0] for d in skip[there]])
        assert back == pytest.approx(frequency[there], rel=0.012)


def test_the_muf_of_any_layer_is_at_least_that_of_f2():
    sky = layers_at([50.0], [10.0], WHEN, 60.0)
    distance = np.linspace(0.0, 3500.0, 15)
    f2, every = f2_muf_mhz(sky, distance), one_hop_muf_mhz(sky, distance)
    assert f2.shape == every.shape == (2, distance.size)
    assert np.all(every >= f2 - 1e-9)
    assert np.all(np.diff(f2, axis=1)[np.isfinite(np.diff(f2, axis=1))] > 0.0)


def test_nearest_of_none_is_none():
    reached = np.array([[False, True, True], [False, False, False]])
    found = nearest_km(np.array([100.0, 200.0, 300.0]), reached)
    assert found[0] == 200.0
    assert np.isnan(found[1])


def test_first_hops_come_down_nearer_the_steeper_and_share_the_days():
    """Night: off F2 alone; noon: flat rays by the E layer; together at most 1."""
    hops = first_hops(
        50.0, 10.0, np.array([0.0, 120.0, 240.0]), [3.6, 7.1, 14.1], WHEN,
        np.full(2, 60.0),
    )  # fmt: skip
    assert np.all((hops.share >= 0.0) & (hops.share <= 1.0))
    assert np.all(hops.share.sum(axis=0) <= 1.0 + 1e-12)
    assert np.isnan(hops.landing_km[hops.share == 0.0]).sum() > 0
    night = hops.landing_km[1, :, 1, 0]
    steep = hops.takeoff_deg > 20.0
    assert np.all(np.diff(night[:, steep], axis=-1) > 0.0)
    # Noon on 80 m: the E layer has the flat rays on all days.
    assert np.all(hops.share[0, :, 0, 0][:, hops.takeoff_deg < 15.0] > 0.95)
    assert np.all(hops.share[0, :, 1] < 0.05)
    # By day the way up and down costs more.
    assert np.all(hops.absorption_db[:, :, 0] > hops.absorption_db[:, :, 1])


def test_apart_is_half_the_gyrofrequency_overhead():
    assert muf.apart_mhz(1.2, [0.0, 4000.0]) == pytest.approx([0.6, 0.0])
