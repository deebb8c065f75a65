"""What the ground scatters back: the radar equation, skip distances, the whole mode."""

import numpy as np
import pytest
from scipy.integrate import dblquad

from advisor.propagation.ground_scatter import (
    FARTHEST_KM,
    SIGMA0_DB,
    distances_km,
    scatter_loss_db,
    skip_km,
)
from advisor.propagation.losses import spreading_db
from advisor.propagation.mode_axis import NO_MODE_DB, SCATTER
from advisor.propagation.modes import hop_modes
from geo.ionosphere.layers import layers_at
from geo.paths import paths_to
from geo.sphere import destination

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


def test_the_radar_equation_of_lit_ground(outside):
    """
    Power from patch to patch, summed over the ring, against the closed form.

    A patch of cross-section s receives 1/(4 pi r^2) of what is sent and sends s times
    that back, of which wavelength^2 / 4 pi is caught; group path taken as the distance.
    """
    check = outside("radar equation of a distributed target", "worked apart")
    frequency, skip = 14.0, 1500.0
    wave_km = 0.299792458 / frequency

    def patch(r_km, _):
        cross = 10.0 ** (0.1 * SIGMA0_DB)
        there = 1.0 / (4.0 * np.pi * r_km**2)
        return there * cross * there * wave_km**2 / (4.0 * np.pi) * r_km

    power, _ = dblquad(patch, 0.0, 2.0 * np.pi, skip, FARTHEST_KM)
    ours = spreading_db(frequency, 2.0 * skip) + scatter_loss_db(skip, skip)
    check.near(
        "ground scattered back from 1500 km, isotropic [dB]",
        ours, -10.0 * np.log10(power), abs=0.02, why="32.45 of spreading is rounded",
    )  # fmt: skip


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
    assert np.isinf(scatter_loss_db(FARTHEST_KM, 4200.0))
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
