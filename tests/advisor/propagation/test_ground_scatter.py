"""What the ground scatters back: the radar equation, skip distances, the whole mode."""

import numpy as np
import pytest

from advisor.propagation.ground_scatter import (
    ASIDE_KM,
    FARTHEST_KM,
    SIGMA0_DB,
    distances_km,
    lit_around,
    muf_around,
    scatter_loss_db,
    skip_km,
)
from advisor.propagation.losses import spreading_db
from advisor.propagation.mode_axis import NO_MODE_DB, SCATTER
from advisor.propagation.modes import hop_modes
from geo.ionosphere.layers import layers_at
from geo.paths import MID, paths_to
from geo.sphere import bearing_deg, destination

NOON = np.array(["2024-12-05T12:00", "2024-12-05T00:00"], dtype="datetime64[s]")
AWAY_KM = np.array([150.0, 300.0, 600.0, 1000.0, 3900.0])


@pytest.fixture(scope="module")
def modes():
    """Five places to the north, noon and midnight, on 14 and 28 MHz."""
    lat, lon = destination(30.0, 10.0, np.zeros(AWAY_KM.size), AWAY_KM)
    paths = paths_to(30.0, 10.0, lat, lon)
    layers = layers_at(
        paths.control_lat_deg.ravel(), paths.control_lon_deg.ravel(), NOON, 60.0
    )
    return hop_modes(paths, layers, [14.1, 28.2])


@pytest.mark.parametrize(("apart_km", "skip"), [(0.0, 1500.0), (1800.0, 2100.0)])
def test_the_radar_equation_of_lit_ground(outside, apart_km, skip):
    """
    Power from patch to patch, summed over all ground both ends light, against ours.

    A patch of cross-section s receives 1/(4 pi r^2) of what is sent and sends s times
    that back, of which wavelength^2 / 4 pi is caught; group path taken as the distance.
    """
    check = outside("radar equation of a distributed target", "worked apart")
    frequency, half = 14.0, 0.5 * apart_km
    wave_km = 0.299792458 / frequency
    north, east = np.meshgrid(np.arange(-5e3, 5e3, 8.0), np.arange(-5e3, 5e3, 8.0))
    ends = [np.hypot(north, east - side) for side in (half, -half)]
    lit = (np.minimum(*ends) >= skip) & (np.maximum(*ends) <= FARTHEST_KM)
    there, back = (1.0 / (4.0 * np.pi * each[lit] ** 2) for each in ends)
    cross = 10.0 ** (0.1 * SIGMA0_DB) * 8.0**2
    power = (there * cross * back).sum() * wave_km**2 / (4.0 * np.pi)
    turns = np.arange(0.5, 360.0)
    around = (lit_around(skip, apart_km, turns) * np.radians(1.0)).sum()
    ours = spreading_db(frequency, 2.0 * skip) + scatter_loss_db(around, skip)
    check.near(
        f"ground scattered from {skip:.0f} km, ends {apart_km:.0f} km apart [dB]",
        ours, -10.0 * np.log10(power), abs=0.05, why="squares of 8 km",
    )  # fmt: skip


def test_nothing_steps_as_ends_part_or_meet():
    at = lit_around(1500.0, np.array([0.0, 1.0, 50.0]), 22.5)
    assert at == pytest.approx(0.5 * (1500.0**-2 - FARTHEST_KM**-2), rel=0.05)
    # Lit no more once the farther end is out of reach.
    wide = lit_around(3000.0, np.arange(0.0, 2500.0, 1.0), 22.5)
    assert (np.diff(wide) <= 0.0).all()
    assert wide[-1] == 0.0


def test_ends_may_be_swapped():
    """The same ground from either end: bearings turn by half a circle, no more."""
    here, there = (40.0, -83.0), (41.0, -105.0)
    sums = []
    for a, b in ((here, there), (there, here)):
        paths = paths_to(*a, [b[0]], [b[1]])
        layers = layers_at(
            paths.control_lat_deg.ravel(), paths.control_lon_deg.ravel(), NOON, 60.0
        )
        _, ratio = muf_around(paths, layers, np.array([0]))
        sums.append(ratio[0])
    assert sums[0] == pytest.approx(np.roll(sums[1], 4, axis=-1), rel=1e-6)


def test_where_the_layer_is_stronger_aside_ground_is_lit_there():
    """
    A night on which nothing comes down over the middle of the path.

    The ratios are those of the maps at the place aside, read on their own.
    """
    night = np.array(["2024-07-26T08:00"], dtype="datetime64[s]")
    paths = paths_to(40.0, -83.0, [40.7], [-105.0])
    layers = layers_at(
        paths.control_lat_deg.ravel(), paths.control_lon_deg.ravel(), night, 110.0
    )
    aside, ratio = muf_around(paths, layers, np.array([0]))
    lat, lon = paths.control_lat_deg[0, MID], paths.control_lon_deg[0, MID]
    ahead = bearing_deg(lat, lon, 40.7, -105.0)
    around = layers_at(*destination(lat, lon, ahead + aside, ASIDE_KM), night, 110.0)
    middle = layers_at(lat, lon, night, 110.0)
    each, at = (sky.fof2_mhz * sky.m3000f2 for sky in (around, middle))
    assert ratio[0] == pytest.approx(each / at, rel=1e-9)
    assert ratio.max() > 1.15
    modes = hop_modes(paths, layers, [15.0])
    assert modes.above_db[0, 0, 0, -1].min() < NO_MODE_DB


def test_thirty_to_forty_db_below_one_hop(outside, modes):
    """Textbooks, from memory: so far below the hop that lands at the skip edge."""
    check = outside("HF radar texts: ground backscatter below one hop", "from memory")
    lit = np.isfinite(modes.takeoff_deg[0, :, 0, SCATTER])
    assert lit.any()
    found = []
    for hour in np.flatnonzero(lit):
        least = modes.above_db[0, hour, 0, -1]
        scattered = least + modes.losses_db["scattering"][0, hour, 0, SCATTER]
        # One hop of half the length spreads out 6 dB less.
        found += list(6.02 + scattered[least < NO_MODE_DB])
    check.between(
        "ground scatter below one hop, without absorption [dB]", found, 30.0, 45.0,
        why="30 to 40 told, rough ground to smooth",
    )  # fmt: skip


def test_where_no_ground_is_lit_there_is_nothing():
    assert np.isinf(scatter_loss_db(lit_around(FARTHEST_KM, 0.0, 0.0), 4200.0))
    known = np.full(distances_km().size, 10.0)
    assert np.isnan(skip_km(known, 10.1))
    assert skip_km(known, 9.0) == distances_km()[0]


def test_skip_distances_are_read_between_their_nodes():
    known = 8.0 + distances_km() / 150.0
    wanted = np.array([9.0, 14.0, 25.0])
    assert skip_km(known, wanted) == pytest.approx(150.0 * (wanted - 8.0), rel=1e-6)


def test_it_is_there_inside_the_skip_zone_only(modes):
    """On days on which the band skips over a place, and the ground beyond is lit."""
    least = modes.above_db[..., -1, :]
    there = least < NO_MODE_DB
    assert there[:3, 0, 0].all(axis=-1).any()
    # No ground is lit beyond 3800 km.
    assert not there[-1].any()
    # From days on which it is open already it is left out: the hop is far stronger.
    low = modes.above_db[..., 0, :]
    open_ = (low >= NO_MODE_DB) & (modes.hops[..., 4, None] == 1)
    assert not (there & open_ & (modes.returned[..., 4, None] > 0.0)).mean() > 0.02


def test_its_days_weigh_more_the_nearer_the_lit_ground(modes):
    """Stronger days, nearer ground, less loss, to a decibel."""
    least = modes.above_db[1, 0, 0, -1]
    some = least[least < NO_MODE_DB]
    assert some.size > 3
    assert some[0] >= some[-1] - 3.0
    # The term itself is that of the middle one of them.
    assert np.abs(some).min() < 0.01
