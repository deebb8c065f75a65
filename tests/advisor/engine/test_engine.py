"""Hop modes and the engine: axes, reciprocity, horizon, and what lifts a limit."""

import numpy as np
import pytest

from advisor.answers.advice import best_bands
from advisor.answers.limits import LIMITS
from advisor.engine.engine import contact_chance, wire_gains
from advisor.propagation.losses import LOSSES
from advisor.propagation.modes import (
    E_MODES,
    ES_RANKED,
    F1_MODES,
    F2_RANKED,
    MODES,
    hop_modes,
)
from geo.ionosphere.layers import layers_at
from geo.paths import CONTROL_POINTS, FAR_END, MID, NEAR_END, paths_to

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


@pytest.mark.parametrize(
    "there", [(48.0, 12.0), (41.0, 29.0), (25.0, 55.0), (1.0, 104.0)]
)
def test_swapping_ends_keeps_angles_mufs_and_losses(there):
    """Reciprocity: P.533's control points lie symmetrically."""
    here = (52.0, 5.0)
    _, out = modes_between(here, there)
    _, back = modes_between(there, here)
    for name in ("takeoff_deg", "muf_mhz", "returned", "screened", "loss_db"):
        one, other = getattr(out, name), getattr(back, name)
        np.testing.assert_allclose(one, other, rtol=1e-5, atol=1e-5, err_msg=name)


def test_control_points_of_short_and_long_paths():
    """Up to 2000 km all lie on the middle; the ends are the ends."""
    short = paths_to(50.0, 0.0, [50.0], [20.0])
    assert np.allclose(short.control_lat_deg[0, :5], short.control_lat_deg[0, MID])
    long = paths_to(50.0, 0.0, [-30.0], [20.0])
    assert long.control_lat_deg.shape == (1, CONTROL_POINTS)
    assert long.control_lat_deg[0, [NEAR_END, FAR_END]] == pytest.approx([50.0, -30.0])
    assert len(np.unique(long.control_lat_deg[0, :5].round(3))) == 5


def test_e_modes_end_at_4000_km_and_each_hop_at_2000():
    """A path of 3000 km has no 1E; one of 4500 km no E mode at all."""
    _, medium = modes_between((0.0, 0.0), (0.0, 27.0))
    assert np.isnan(medium.muf_mhz[..., 0]).all()
    assert np.isfinite(medium.muf_mhz[..., 1]).all()
    _, long = modes_between((0.0, 0.0), (0.0, 41.0))
    assert np.isnan(long.muf_mhz[..., :E_MODES]).all()


def test_more_hops_leave_steeper_and_have_a_lower_muf():
    """Each extra hop is shorter."""
    _, modes = modes_between((50.0, 0.0), (45.0, 30.0))
    f2 = slice(F2_RANKED.start + F1_MODES, F2_RANKED.stop)
    assert np.all(np.diff(modes.takeoff_deg[..., f2], axis=-1) > 0.0)
    assert np.all(np.diff(modes.muf_mhz[..., f2], axis=-1) < 0.0)


def test_horizon_takes_modes_away_but_not_from_the_sky():
    """A hill hides low rays; what the layer returns stays the same."""
    _, free = modes_between((50.0, 0.0), (45.0, 30.0), horizon_deg=0.0)
    _, hidden = modes_between((50.0, 0.0), (45.0, 30.0), horizon_deg=25.0)
    assert np.array_equal(free.returned, hidden.returned)
    low = hidden.takeoff_deg < 25.0
    assert np.all(hidden.support[low] == 0.0)
    assert np.array_equal(hidden.support[~low], free.support[~low])
    assert low.any()


def test_shapes_follow_path_hour_band_mode():
    """(P, T, B, M) everywhere."""
    _, modes = modes_between((50.0, 0.0), (45.0, 30.0))
    shape = (1, TIMES.size, BANDS.size, MODES)
    for name in ("takeoff_deg", "height_km", "muf_mhz", "support", "screened",
                 "loss_db"):  # fmt: skip
        assert getattr(modes, name).shape == shape, name
    assert list(modes.losses_db) == list(LOSSES)
    assert {each.shape for each in modes.losses_db.values()} == {shape}
    assert np.isfinite(modes.loss_db).all()


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


def test_bearing_tolerance_is_symmetric_for_a_point(ask):
    """One point, one wire: the good range lies about the best bearing."""
    advice = ask("50,10", "50,38", "2026-03-21", height_m=12.0, bands=["20 m"])
    turn = advice.setups[0].bearing
    down = (turn.best_deg - turn.good_from_deg) % 180.0
    up = (turn.good_to_deg - turn.best_deg) % 180.0
    assert abs(down - up) <= 5.0
    assert 15.0 <= up <= 60.0


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


def test_sporadic_e_reaches_2200_km_by_one_hop_and_4400_by_two():
    """Angles below the horizon beyond, so that no chance comes from there."""
    _, near = modes_between((45.0, 0.0), (45.0, 20.0))
    assert near.clear[..., ES_RANKED].all()
    _, medium = modes_between((0.0, 0.0), (0.0, 27.0))
    assert not medium.clear[..., ES_RANKED.start].any()
    _, far = modes_between((0.0, 0.0), (0.0, 45.0))
    assert np.all(far.returned[..., ES_RANKED] == 0.0)


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
