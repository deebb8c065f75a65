"""Rays of several hops that come down at a given place, over layers that change."""

import numpy as np
import pytest

from geo.ionosphere.action import bouguer, hops
from geo.ionosphere.chain import chained, side_parts
from geo.ionosphere.homing import home, ray_table
from geo.ionosphere.profile import layered_profile, single_layer
from geo.ionosphere.rays import critical_deg, trace

NONE = float("nan")
INTEGRATED = (
    "Hamilton's ray equations with gradients along the path, integrated step by step"
)


def alike(example, count):
    """The same layer at so many reflection points."""
    return example[np.zeros(count + 4, dtype=int)]


def points(count):
    """Parts of the way at which the layers are read."""
    return np.concatenate([(np.arange(count) + 0.5) / count, side_parts(count)])


def chain(layers, frequency, ground_km):
    """The ray through the layers at `points`."""
    count = layers.shape[-1] - 4
    mhz = np.broadcast_to(frequency, count)
    return chained(layers[:count], layers[count:], mhz, ground_km)


@pytest.mark.parametrize("count", [1, 2, 3, 5])
@pytest.mark.parametrize(
    ("name", "frequency", "hop_km"),
    [("C", 7.1, 2000.0), ("B", 21.1, 2000.0), ("H", 21.1, 1700.0)],
)
def test_over_one_layer_n_hops_are_n_times_one(example, count, name, frequency, hop_km):
    one = home(ray_table(example[name], frequency), hop_km)
    low = np.flatnonzero((one.branch == 3) & (one.slope_km_rad < 0.0))[0]
    layers = alike(example[name][None], count)
    ray = chain(layers, frequency, count * hop_km)
    assert ray.ground_km == pytest.approx(count * hop_km, abs=0.1)
    assert ray.takeoff_deg == pytest.approx(one.takeoff_deg[low], abs=0.01)
    assert ray.landing_deg == pytest.approx(ray.takeoff_deg, abs=1e-6)
    assert ray.group_km == pytest.approx(count * one.group_km[low], rel=1e-4)
    assert ray.apogee_km == pytest.approx(one.apogee_km[low], abs=0.1)
    assert ray.slope_km_rad == pytest.approx(count * one.slope_km_rad[low], rel=1e-3)
    assert ray.touches == count - 1


# From day to night (1) and back (-1), MHz: take-off angle and the angles of the other
# hops, where the fourth lands; foF2 = 6.75 - 2.25 T, hm = 305 + 35 T, ym 80 km,
# T = tanh((x - 4000)/2500).
FOUR_HOPS = [
    (1.0, 10.1, 14.0, (13.4, 11.9, 8.8, 5.7), 7071.0),
    (-1.0, 10.1, 8.0, (9.6, 12.7, 14.9, 16.1), 6927.0),
]


@pytest.mark.parametrize(("way", "frequency", "leaves", "hops", "ground"), FOUR_HOPS)
def test_four_hops_between_day_and_night(outside, way, frequency, leaves, hops, ground):
    """
    The ray that comes down where the integrated one does, by its angles at both ends.

    Equal elevation on all hops would be 4 deg off; the reflection points lie at equal
    parts of the way here and where the hops put them there.
    """
    step = way * np.tanh((ground * points(4) - 4000.0) / 2500.0)
    layer = single_layer(6.75 - 2.25 * step, 305.0 + 35.0 * step, 80.0 + 0.0 * step)
    ray = chain(layer, frequency, ground)
    check = outside(INTEGRATED, "worked apart")
    ends = [ray.takeoff_deg, ray.landing_deg]
    why = "the tilt over half a hop, to the first order"
    what = "angles at both ends of four hops [deg]"
    check.near(what, ends, [leaves, hops[-1]], abs=0.7, why=why)
    # The ray of equal elevation.
    beta = np.linspace(3.0, 20.0, 3401)
    each = trace(layer[:4], frequency, beta[:, None], paths=False).ground_km.sum(
        axis=-1
    )
    equal = beta[np.nanargmin(np.abs(each - ground))]
    assert abs(ray.takeoff_deg - leaves) < 0.6 * abs(equal - leaves)
    assert abs(ray.landing_deg - hops[-1]) < 0.6 * abs(equal - hops[-1])


def test_towards_the_crest_of_the_anomaly_the_far_end_is_over_the_horizon(outside):
    """
    December evening, 52 N 11 E to 2 N 37 E on 14.1 MHz, layers of 13 places rounded.

    The last reflection lies under the top of the crest, where the layer hardly tilts:
    carried on from the two hops before, the ray would come down under the horizon.
    """
    fof2 = 6.3, 6.3, 6.4, 6.5, 6.7, 7.3, 8.4, 10.2, 11.6, 11.1, 9.3, 8.9, 9.7
    high = 268, 267, 265, 263, 261, 261, 266, 278, 301, 334, 365, 378, 382
    place = np.linspace(0.0, 1.0, 13)
    layers = layered_profile(
        1.3, NONE, np.interp(points(4), place, fof2), np.interp(points(4), place, high)
    )
    ray = chain(layers, 14.1, 6054.0)
    check = outside(INTEGRATED, "worked apart")
    ends = [ray.takeoff_deg, ray.landing_deg]
    why = "the tilt over half a hop, to the first order"
    what = "angles at both ends of four hops to the crest [deg]"
    check.near(what, ends, [16.23, 7.60], abs=0.7, why=why)


def test_the_other_way_round_is_the_same_ray():
    """Ends, angles and length change places; the tube is the same from either end."""
    dice, apart = np.random.default_rng(4), []
    for count in (2, 3, 4):
        frequency = dice.uniform(9.0, 9.4, count)
        heights, out_and_back = dice.uniform(290.0, 310.0, count), []
        for part, mhz in (
            (points(count), frequency),
            (1.0 - points(count), frequency[::-1]),
        ):
            high = np.interp(part, points(count)[:count], heights)
            layers = layered_profile(0.5, NONE, 5.0 + part, high)
            out_and_back.append(chain(layers, mhz, 2200.0 * count))
        out, back = out_and_back
        apart.append(abs(out.takeoff_deg - out.landing_deg))
        assert out.takeoff_deg == pytest.approx(back.landing_deg, abs=1e-3)
        assert out.landing_deg == pytest.approx(back.takeoff_deg, abs=1e-3)
        assert out.group_km == pytest.approx(back.group_km, rel=1e-6)
        # sin(landing) dD/d(take-off) does not depend on the end one stands at.
        tubes = [
            np.sin(np.radians(ray.landing_deg)) * ray.slope_km_rad
            for ray in (out, back)
        ]
        assert tubes[0] == pytest.approx(tubes[1], rel=0.01)
    assert max(apart) > 0.5


def test_beyond_the_flattest_ray_it_is_that_one(example):
    """C on 7.1 MHz: the longest hop is 3701.8 km; three fall short of 13 000."""
    ray = chain(alike(example["C"][None], 3), 7.1, 13_000.0)
    assert ray.ground_km == pytest.approx(3.0 * 3701.8, rel=0.01)
    assert ray.ground_km < 13_000.0
    assert ray.takeoff_deg < 0.2


def test_nearer_than_the_skip_distance_it_is_the_edge(example):
    """C on 7.1 MHz: the nearest ray of two hops lands at twice 1255.3 km, 26.58 deg."""
    ray = chain(alike(example["C"][None], 2), 7.1, 2000.0)
    assert ray.ground_km == pytest.approx(2.0 * 1255.3, rel=0.01)
    assert ray.takeoff_deg == pytest.approx(26.58, abs=1.5)
    # There the blur is all the slope there is: D'' from the table, W of 4 %.
    assert ray.blur_km_rad > abs(ray.slope_km_rad)


def test_where_one_hop_lets_through_what_another_turns_below_there_is_no_ray():
    """Dense E by day, F2 too weak by night: no elevation is F2's on both hops."""
    layers = layered_profile(
        np.array([3.8, 0.5]), NONE, np.array([9.0, 3.0]), np.array([280.0, 320.0])
    )
    turned = critical_deg(layers, 14.1)
    assert turned[-2][0] > turned[-1][1]
    ray = chained(layers, layers[[0, 0, 1, 1]], np.full(2, 14.1), 5000.0)
    assert np.isnan(ray.takeoff_deg)
    assert np.isnan(ray.group_km)


def test_a_ray_may_need_an_elevation_by_day_that_would_be_lost_at_night():
    """
    Dense E by day, weak F2 by night: none is free of E and turned at one elevation.

    The ray flattens on its way: integrated, 3122 km are reached at 23.0 and 13.3 deg.
    So steep a tilt changes within half a hop, which the far end is off by.
    """
    night = np.clip((3122.0 * points(2) - 1250.0) / 2500.0, 0.0, 1.0)
    layers = layered_profile(
        3.8 - 3.3 * night, NONE, 9.0 - 6.0 * night, 280.0 + 40.0 * night
    )
    turned = critical_deg(layers[:2], 14.1)
    assert turned[-2][0] > turned[-1][1]
    ray = chain(layers, 14.1, 3122.0)
    assert ray.ground_km == pytest.approx(3122.0, abs=1.0)
    assert ray.takeoff_deg == pytest.approx(23.0, abs=0.6)
    assert ray.landing_deg == pytest.approx(13.3, abs=3.5)


def by_action(layers, frequency):
    """Harmonic mean of the hops for every action that is one of all of them."""
    turned = critical_deg(layers, frequency)
    action, length = [], []
    for i in range(layers.shape[0]):
        low, high = turned[-2][i], turned[-1][i]
        flat = -10.0 if low <= 0.0 else low
        x = 1.0 / (1.0 + np.exp(-np.linspace(-9.0, 9.0, 4001)))
        hop = hops(layers[i], frequency, bouguer(flat + (high - flat) * x))
        action.append(hop.action_km)
        length.append(hop.ground_km)
    common = np.linspace(
        max(each[0] for each in action), min(each[-1] for each in action), 4001
    )
    lengths = [np.interp(common, *each) for each in zip(action, length, strict=True)]
    return common, 1.0 / np.mean(1.0 / np.array(lengths), axis=0)


@pytest.mark.slow
def test_a_ray_is_found_wherever_there_is_one():
    """Against 4000 actions of the same hops, over random layers."""
    dice = np.random.default_rng(1)
    found = nearest = 0
    for _ in range(150):
        count = int(dice.integers(2, 7))
        lean = (2.0 * points(count) - 1.0) * dice.uniform(-0.2, 0.2)
        foe, fof2 = dice.uniform(0.4, 3.8), dice.uniform(3.0, 12.0)
        layers = layered_profile(
            foe * (1.0 + lean),
            dice.choice([NONE, 1.35 * foe]) * (1.0 + lean),
            fof2 * (1.0 + lean),
            dice.uniform(230.0, 400.0) * (1.0 - 0.5 * lean),
        )
        frequency = dice.uniform(0.7, 2.8) * fof2 * (1.0 - np.abs(lean).max())
        turned = critical_deg(layers[:count], frequency)
        if np.any(turned[-2] >= turned[-1]):
            continue
        common, hop_km = by_action(layers[:count], frequency)
        if common[0] >= common[-1]:
            continue
        least = int(hop_km.argmin())
        if not hop_km[least] > 100.0:
            continue
        goal = dice.uniform(0.8, 2.5) * hop_km[least]
        ray = chain(layers, frequency, goal * count)
        # At both ends it is to come from over the horizon.
        start = hops(layers[[0, count - 1]], frequency, bouguer(1.0)).action_km
        low = np.nanmax(np.where(turned[-2][[0, -1]] > 0.0, np.nan, start), initial=0.0)
        lands = hop_km[: least + 1][common[: least + 1] > low + 60.0]
        if goal < hop_km[least]:
            nearest += 1
            assert ray.ground_km / count == pytest.approx(hop_km[least], rel=0.03)
        elif lands.size and goal < lands.max():
            found += 1
            assert ray.ground_km / count == pytest.approx(goal, abs=3.0)
    assert found > 25
    assert nearest > 5


def followed(layers, frequency, leaves, count):
    """Landing and Bouguer's constants of hops of one action, followed one by one."""
    axis = bouguer(np.linspace(-8.0, 40.0, 4001))
    k, place, each = bouguer(leaves), 0.0, []
    action = hops(layers(0.0), frequency, k).action_km
    for _ in range(count):
        step = hops(layers(place), frequency, k).ground_km
        for _ in range(4):
            point = layers(place + 0.5 * step)
            known = hops(point, frequency, axis).action_km
            there = np.isfinite(known)
            k = np.interp(action, known[there], axis[there])
            step = hops(point, frequency, k).ground_km
        place += step
        each.append(k)
    return place, np.array(each)


def test_over_a_weaker_layer_a_flat_ray_passes_over_the_ground():
    """
    Against hops followed one by one: foF2 9 and, in the middle of 9000 km, 5 MHz.

    Flat rays touch the ground twice and pass over it between.
    """

    def layers(at_km):
        dip = np.exp(-(((np.asarray(at_km) - 4500.0) / 2000.0) ** 2))
        return single_layer(9.0 - 4.0 * dip, 270.0 + 80.0 * dip, 80.0 + 0.0 * dip)

    for leaves, touches in ((16.0, 3), (12.0, 3), (8.0, 2)):
        lands, k = followed(layers, 10.1, leaves, 4)
        assert (0.5 * (k[1:] + k[:-1]) <= 1.0).sum() == touches
        ray = chain(layers(lands * points(4)), 10.1, lands)
        assert ray.touches == touches
        assert ray.takeoff_deg == pytest.approx(leaves, abs=0.6)


def test_no_ray_lands_from_above_the_horizon():
    """Towards ever weaker layers the flattest is the one that comes down along it."""
    far = 9.0 * points(3)
    layer = single_layer(9.0 - 0.3 * far, 270.0 + 8.0 * far, 80.0 + 0.0 * far)
    ray = chain(layer, 10.1, 9000.0)
    assert ray.landing_deg == pytest.approx(0.0, abs=0.5)
    assert ray.takeoff_deg > 4.0
    assert ray.ground_km < 9000.0
