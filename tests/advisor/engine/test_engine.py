"""Hop modes and the engine: axes, reciprocity, horizon, and what lifts a limit."""

from dataclasses import replace

import numpy as np
import pytest

from advisor.answers.ask import question_for
from advisor.answers.best import best_bands
from advisor.answers.limits import LIMITS
from advisor.engine.contact import contact_chance
from advisor.engine.engine import link_for, wire_gains
from advisor.engine.wires import far_end_patterns
from advisor.propagation.losses import LOSSES
from advisor.propagation.mode_axis import (
    E_MODES,
    ES_RANKED,
    F2_LOW,
    F2_RANKED,
    MODES,
    WEAK,
)
from advisor.propagation.modes import hop_modes
from advisor.station.file import resolve_station
from geo.ionosphere.layers import layers_at
from geo.paths import (
    FAR_END,
    FAR_QUARTER,
    MID,
    NEAR_END,
    NEAR_QUARTER,
    STATIONS,
    at_stations,
    between_stations,
    paths_to,
)
from geo.sphere import destination, distance_km

TIMES = np.datetime64("2026-03-21T00", "s") + np.arange(0, 24, 4).astype(
    "timedelta64[h]"
)
BANDS = np.array([1.85, 3.6, 7.1, 14.1, 21.2, 28.5])


def modes_between(here, there, **words):
    """Modes of one path at R12 60."""
    paths = paths_to(*here, [there[0]], [there[1]])
    layers = layers_at(
        paths.control_lat_deg.ravel(), paths.control_lon_deg.ravel(), TIMES, 60.0
    )
    return paths, hop_modes(paths, layers, BANDS, **words)


@pytest.mark.slow
@pytest.mark.parametrize(
    "there", [(48.0, 12.0), (41.0, 29.0), (25.0, 55.0), (1.0, 104.0)]
)
def test_swapping_ends_keeps_mufs_and_losses_and_swaps_the_angles(there):
    """Reciprocity: a ray goes back the way it came."""
    here = (52.0, 5.0)
    _, out = modes_between(here, there)
    _, back = modes_between(there, here)
    for name, other in (
        ("takeoff_deg", "landing_deg"), ("landing_deg", "takeoff_deg"),
        ("muf_mhz", "muf_mhz"), ("returned", "returned"),
    ):  # fmt: skip
        np.testing.assert_allclose(
            getattr(out, name), getattr(back, other), rtol=1e-4, atol=1e-4, err_msg=name
        )
    for name in LOSSES:
        swapped = {"horizon": "far_horizon", "far_horizon": "horizon"}.get(name, name)
        one, other = out.losses_db[name], back.losses_db[swapped]
        # What is deep in the shadow of a hop hangs on the last digit.
        heard = (out.losses_db["focusing"] < 20.0) & np.isfinite(out.takeoff_deg)
        assert heard.sum() > 50
        # Angles at the ground are held at the horizon, each at its own.
        flat = np.minimum(out.takeoff_deg, out.landing_deg)[heard] < 1.0
        room = np.where(flat, 1.5, 0.1 if name == "focusing" else 0.2)
        off = np.abs(one - other)[heard]
        assert np.all(off <= room), (name, off.max())


@pytest.mark.slow
def test_with_like_horizons_a_link_is_the_same_either_way_round():
    """Power between isotropic antennas over random paths of 1500 to 9000 km."""
    draw = np.random.default_rng(5)
    apart = []
    for _ in range(5):
        here = np.degrees(np.arcsin(draw.uniform(-0.8, 0.8))), draw.uniform(-180, 180)
        way = draw.uniform(0.0, 360.0), draw.uniform(1500.0, 9000.0)
        there = tuple(float(each) for each in destination(*here, *way))
        power = [
            10.0 * np.log10(modes_between(*ends)[1].mean_power.sum(axis=-1) + 1e-40)
            for ends in ((here, there), (there, here))
        ]
        heard = np.maximum(*power) > -165.0
        apart.append((power[0] - power[1])[heard])
    apart = np.concatenate(apart)
    assert apart.size > 50
    assert np.abs(apart).max() < 0.5


def test_stations_are_even_and_what_lies_between_is_straight():
    """25 of them, the ends and the middle among them, in their order."""
    paths = paths_to(50.0, 0.0, [-30.0, 50.0], [20.0, 20.0])
    lat, lon = paths.control_lat_deg, paths.control_lon_deg
    assert lat.shape == (2, STATIONS)
    assert lat[0, [NEAR_END, FAR_END]] == pytest.approx([50.0, -30.0])
    steps = distance_km(lat[:, :-1], lon[:, :-1], lat[:, 1:], lon[:, 1:])
    even = paths.distance_km[:, None] / (STATIONS - 1)
    assert steps == pytest.approx(np.broadcast_to(even, steps.shape), rel=1e-6)
    away = distance_km(50.0, 0.0, lat, lon) / paths.distance_km[:, None]
    parts = {NEAR_QUARTER: 0.25, MID: 0.5, FAR_QUARTER: 0.75}
    assert away[:, list(parts)] == pytest.approx(
        np.tile(list(parts.values()), (2, 1)), rel=1e-6
    )
    values = np.arange(2.0 * 3.0 * STATIONS).reshape(3, 2 * STATIONS)
    along = at_stations(values)
    assert along.shape == (2, 3, STATIONS)
    assert along[1, 2, 0] == values[2, STATIONS]
    read = between_stations(along, [0.0, 0.3, 1.0])
    assert read[0, 0] == pytest.approx([0.0, 0.3 * (STATIONS - 1), STATIONS - 1.0])


@pytest.mark.slow
def test_e_hops_end_softly_beyond_2000_km():
    """A path of 3300 km has no 1E but a 2E; one of 9000 km no E mode at all."""
    _, medium = modes_between((0.0, 0.0), (0.0, 29.7))
    assert np.all(medium.returned[..., 0] == 0.0)
    assert np.isnan(medium.takeoff_deg[..., 0]).all()
    noon = medium.returned[0, 3]
    assert noon[BANDS < 8.0, 1].max() > 0.9
    _, long = modes_between((0.0, 0.0), (0.0, 81.0))
    assert np.all(long.returned[..., :E_MODES] == 0.0)
    # Where 1E fades the angle is flat and the loss grows with every kilometre.
    fading = [modes_between((0.0, 0.0), (0.0, d / 111.195))[1]
              for d in (2050.0, 2150.0, 2250.0, 2350.0)]  # fmt: skip
    gone = [m.loss_db[0, 3, list(BANDS).index(14.1), 0] for m in fading]
    assert np.all(np.diff(gone, 2) > 0.0)
    assert gone[-1] > gone[0] + 25.0


@pytest.mark.slow
def test_a_hop_far_beyond_its_flattest_ray_is_none():
    """
    Over the tilt of a tropical evening a hop ends far short of the level layer's.

    Hamilton's equations, integrated: 18 MHz reaches 3078 km and 21 MHz 3168 km, leaving
    at 8.8 and 8.2 deg; what leaves flatter passes over the ground.
    """
    time = np.array(["2026-12-05T16"], dtype="datetime64[s]")
    most_km = np.array([3078.0, 3168.0])
    for lat, lon in ((2.21, 37.28), (-3.0, 36.0), (-8.0, 33.2), (-10.0, 32.0)):
        path = paths_to(-32.4, 20.79, [lat], [lon])
        places = path.control_lat_deg.ravel(), path.control_lon_deg.ravel()
        layers = layers_at(*places, time, [58.0])
        modes = hop_modes(path, layers, [18.0, 21.0], 0.0)
        of_one = modes.hops[0, 0, :, F2_LOW.start] == 1
        returned = np.where(of_one, modes.returned[0, 0, :, F2_LOW.start], 0.0)
        lost_db = modes.losses_db["focusing"][0, 0, :, F2_LOW.start]
        short_km = path.distance_km - most_km
        assert (short_km > 250.0).all() or (short_km < 0.0).all()
        if (short_km < 0.0).all():
            assert (returned > 0.5).all()
            assert (lost_db < 0.0).all()
            assert modes.takeoff_deg[0, 0, :, F2_LOW.start] == pytest.approx(
                [8.9, 8.3], abs=1.5
            )
        else:
            assert (returned == 0.0).all()


@pytest.mark.slow
def test_more_hops_leave_steeper_and_have_a_lower_muf():
    """Each extra hop is shorter; where the MUF is below the band, no further."""
    _, modes = modes_between((50.0, 0.0), (45.0, 30.0))
    steeper = np.diff(modes.takeoff_deg[..., F2_LOW], axis=-1)
    lower = np.diff(modes.muf_mhz[..., F2_LOW], axis=-1)
    assert np.nanmin(steeper) > 0.0
    assert np.nanmax(lower) < 0.0
    assert np.isfinite(steeper).sum() > 0.5 * steeper.size
    assert np.isfinite(lower).sum() > 0.5 * lower.size
    assert np.all(np.diff(modes.hops[..., F2_LOW], axis=-1) == 1)


def test_horizon_takes_modes_away_but_not_from_the_sky():
    """A hill hides low rays; what the layer returns stays the same."""
    _, free = modes_between((50.0, 0.0), (45.0, 30.0), horizon_deg=0.0)
    _, hidden = modes_between((50.0, 0.0), (45.0, 30.0), horizon_deg=25.0)
    assert np.array_equal(free.returned, hidden.returned)
    lost = hidden.losses_db["horizon"]
    low = ~(lost < 20.0)
    assert np.all(hidden.support[low] == 0.0)
    above = ~low & (hidden.takeoff_deg >= 0.0)
    assert np.array_equal(hidden.support[above], free.support[above])
    assert np.all(lost[above & (hidden.takeoff_deg < 25.0)] > 6.0)
    assert low.any()
    assert above.any()
    assert np.all(hidden.mean_power <= free.mean_power)


def test_shapes_follow_path_hour_band_mode():
    """(P, T, B, M) everywhere."""
    _, modes = modes_between((50.0, 0.0), (45.0, 30.0))
    shape = (1, TIMES.size, BANDS.size, MODES)
    for name in ("takeoff_deg", "landing_deg", "height_km", "muf_mhz", "support",
                 "loss_db", "mean_power"):  # fmt: skip
        assert getattr(modes, name).shape == shape, name
    assert list(modes.losses_db) == list(LOSSES)
    assert {each.shape for each in modes.losses_db.values()} == {shape}
    assert np.isfinite(modes.loss_db).all()
    assert modes.above_db.shape[:-1] == (*shape[:3], WEAK.size)
    assert F2_RANKED.stop == ES_RANKED.start


@pytest.mark.slow
def test_each_limit_named_is_one_that_helps_when_lifted(ask):
    """Absorption at noon on 80 m, the layer at night on 15 m, the hill at 60 deg."""
    advice = ask("50,10", "50,31", "2026-06-21", emission="CW", power_w=100.0)
    names = [b.name for b in advice.question.bands]
    limit = advice.setups[0].limit[0]
    assert LIMITS[limit[11, names.index("80 m")]] == "absorbed"
    winter = ask("50,10", "50,31", "2026-12-21", r12=5.0, power_w=100.0)
    night = winter.setups[0].limit[0, 23]
    assert LIMITS[night[names.index("15 m")]] == "layer too weak"
    walled = ask("50,10", "50,38", "2026-03-21", horizon_deg=60.0, power_w=100.0)
    assert LIMITS[walled.setups[0].limit[0, 11, names.index("20 m")]] == (
        "below the horizon"
    )


def test_a_band_is_kept_while_it_is_nearly_the_best():
    """Few changes: 0.04 better does not move the operator, 0.2 better does."""
    chance = np.array([[[0.5, 0.4], [0.5, 0.54], [0.4, 0.6], [0.02, 0.01]]])
    assert best_bands(chance).tolist() == [[0, 0, 1, -1]]


@pytest.mark.slow
def test_bearing_tolerance_is_symmetric_for_a_point(ask):
    """One point, one wire: the good range lies about the best bearing."""
    advice = ask("50,10", "50,38", "2026-03-21", height_m=12.0, bands=["20 m"])
    turn = advice.setups[0].bearing
    down = (turn.best_deg - turn.good_from_deg) % 180.0
    up = (turn.good_to_deg - turn.best_deg) % 180.0
    assert abs(down - up) <= 5.0
    assert 15.0 <= up <= 60.0


@pytest.mark.slow
def test_a_worse_wire_never_wins(ask):
    """Less gain everywhere means no higher chance anywhere."""
    from advisor.engine.engine import link_for
    from advisor.engine.wires import far_end_patterns, solve_setup

    question = ask("50,10", "50,38", "2026-03-21", hours=8).question
    far = far_end_patterns(question.station.far_end, question.bands)
    link = link_for(question, 60.0, far)
    solved = solve_setup(question.station.setups[0], question.bands, "average")
    patterns = {band: one.pattern for band, one in solved.items()}
    gains = wire_gains(question, link, patterns, [10.0, 100.0])
    strong = contact_chance(link, gains)
    weak = contact_chance(link, gains.raised_by(np.full(len(question.bands), -6.0)))
    assert np.all(weak.both <= strong.both + 1e-12)
    assert strong.both.shape == (2, 1, 8, len(question.bands))


@pytest.mark.slow
def test_sporadic_e_reaches_2200_km_by_one_hop_and_4400_by_two():
    """Angles below the horizon beyond, so that no chance comes from there."""
    _, near = modes_between((45.0, 0.0), (45.0, 20.0))
    assert near.clear[..., ES_RANKED].all()
    _, medium = modes_between((0.0, 0.0), (0.0, 27.0))
    assert not medium.clear[..., ES_RANKED.start].any()
    _, far = modes_between((0.0, 0.0), (0.0, 45.0))
    assert np.all(far.returned[..., ES_RANKED] == 0.0)


@pytest.mark.slow
@pytest.mark.parametrize("there", [(48.0, 12.0), (41.0, 29.0)])
def test_slices_of_sporadic_e_end_where_it_is_no_longer_returned(there):
    """
    Up to 20 MHz the secant law alone decides.

    Days with a reflection are just those on which the mode is returned.
    """
    _, modes = modes_between((52.0, 5.0), there)
    low = np.flatnonzero(BANDS <= 20.0)
    assert modes.es_share.sum(axis=-1) == pytest.approx(1.0)
    reflected = modes.es_reflection_db[:, :, low] < 80.0
    days = (modes.es_share[:, :, low, None, :] * reflected).sum(axis=-1)
    regular = modes.returned[:, :, low, : ES_RANKED.stop - ES_RANKED.start]
    returned = modes.returned[:, :, low, ES_RANKED]
    seldom = regular < 0.9  # beside an E layer that is nearly always there it is weak
    assert seldom.any()
    alone = returned[seldom] / (1.0 - regular[seldom])
    assert days[seldom] == pytest.approx(alone, abs=1e-9)
    assert returned.max() > 0.3


def test_the_chance_by_sporadic_e_rises_smoothly_with_frequency_going_down():
    """A strong signal by sporadic E alone: no plateaus between 24 and 14 MHz."""
    paths = paths_to(45.0, 5.0, [51.0], [17.0])
    when = np.array(["2026-06-21T10:00:00"], "M8[s]")
    layers = layers_at(
        paths.control_lat_deg.ravel(), paths.control_lon_deg.ravel(), when, 5.0
    )
    frequency = np.linspace(15.5, 19.9, 40)
    modes = hop_modes(paths, layers, frequency)
    reflected = modes.es_reflection_db[0, 0, :, 0] < 80.0
    days = (modes.es_share[0, 0] * reflected).sum(axis=-1)
    assert np.all(np.diff(days) <= 1e-12)
    assert np.abs(np.diff(days)).max() < 0.05
    assert days[0] - days[-1] > 0.1


# --- both ways round -----------------------------------------------------------------


@pytest.mark.slow
def test_of_both_ways_counts_the_one_the_far_end_takes_in_more_of():
    """Cell by cell, and with it its bearing; nothing of the other is mixed in."""
    station, _ = resolve_station(
        None, {"place": "KF07jo", "bands": ["80 m", "40 m", "20 m"]}
    )
    asked = question_for(station, ["30.0,-160.0"], np.datetime64("2026-12-05"), 8)
    patterns = far_end_patterns(station.far_end, asked.bands)
    both = link_for(asked, 60.0, patterns)
    long = link_for(replace(asked, long_path=True), 60.0, patterns)
    chosen = both.long_way
    assert chosen.any()
    assert not chosen.all()
    one, other = (
        (link.modes.mean_power * 10.0 ** (0.1 * link.far.hop_db)).sum(axis=-1)
        for link in (both, long)
    )
    assert np.all(one[~chosen] >= other[~chosen])
    assert np.array_equal(one[chosen], other[chosen])
    assert np.array_equal(both.bearing_deg[chosen], long.bearing_deg[chosen])
    turned = (both.bearing_deg - long.bearing_deg)[~chosen] % 360.0
    assert turned == pytest.approx(180.0)
