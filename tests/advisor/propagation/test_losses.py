"""Losses of a hop but for the D region: limits, constants."""

import numpy as np
import pytest

from advisor.propagation.losses import (
    ES_REFLECTION,
    LOSSES,
    RESIDUAL_LOSS_DB,
    SCATTERING,
    UNFOCUSED_RESIDUAL_DB,
    edge_db,
    horizon_db,
    reflection_loss_db,
    spreading_db,
)
from geo.ionosphere.focusing import focusing_db
from geo.ionosphere.homing import home, ray_table
from geo.ionosphere.profile import layered_profile


def test_ten_times_as_far_or_as_high_loses_twenty_decibels():
    """Spreading goes with the squares of distance and frequency (ITU-R P.525)."""
    near = spreading_db(3.6, 100.0)
    assert spreading_db(3.6, 1000.0) - near == pytest.approx(20.0)
    assert spreading_db(36.0, 100.0) - near == pytest.approx(20.0)


def test_the_ground_never_gives_power_back():
    """A reflection loses power at any angle, on any band, over land and sea."""
    angle = np.linspace(0.0, 90.0, 91)[:, None]
    for ground in ("land", "sea water"):
        lost = reflection_loss_db([1.85, 7.1, 28.5], angle, ground)
        assert np.all(lost >= -1e-9)
        assert np.all(lost[1:] > 0.0)


def test_the_residual_and_the_mean_of_focusing():
    """
    ITU-R P.533-14 section 5.2 (from memory): Lz 8.72 dB, fitted without focusing.

    So the mean of focusing is in it with the opposite sign: on a low ray over 2000 km
    clear of the E layer the two together are what the standard has; of bare rays, the
    skip edge not smeared.
    """
    assert UNFOCUSED_RESIDUAL_DB == 8.72
    # Winter noon on 21 MHz and night on 7 MHz: 3.27 and 3.29 dB, integrated apart.
    for foe, fof2, height, thick, band in (
        (2.6, 9.0, 260.0, 70.0, 21.1),
        (0.5, 4.0, 320.0, 80.0, 7.1),
    ):
        layer = layered_profile(foe, float("nan"), fof2, height, thick)
        rays = home(ray_table(layer, band), 2000.0)
        low = np.flatnonzero((rays.branch == 3) & (rays.slope_km_rad < 0.0))[0]
        one = (rays.takeoff_deg[low], rays.ground_km[low], rays.group_km[low])
        gain = focusing_db(band, *one, rays.slope_km_rad[low])
        assert RESIDUAL_LOSS_DB - gain == pytest.approx(8.72, abs=0.1)


def test_a_ray_weakens_by_and_by_at_the_horizon():
    """
    ITU-R P.526-15 section 4.1 (from memory): 6 dB at a grazed edge, 13.9 at nu = 1.

    No step in angle, horizon or wavelength; a hill hides the shorter wave better.
    """
    assert edge_db([-0.78, 0.0, 1.0]) == pytest.approx([0.0, 6.03, 13.93], abs=0.01)
    # Deep in the shadow Fresnel's integral is 1 / (sqrt(2) pi nu): 13 + 20 log nu.
    deep = 20.0 * np.log10(np.sqrt(2.0) * np.pi * 10.0)
    assert edge_db(10.0) == pytest.approx(deep, abs=0.2)
    angle = np.linspace(0.0, 90.0, 9001)
    band = np.array([1.85, 7.1, 28.5])[:, None]
    for up in (0.0, 0.3, 3.0, 40.0):
        lost = horizon_db(band, angle, up)
        assert np.all(np.diff(lost) <= 0.0)
        assert np.abs(np.diff(lost)).max() < 0.05
        assert np.all(lost[:, -1] == 0.0)
        assert np.all(np.diff(lost[:, angle < up], axis=0) >= 0.0)
    assert np.all(horizon_db(band, angle, 0.0) == 0.0)
    up = np.linspace(0.0, 60.0, 6001)
    raised = horizon_db(band, 5.0, up)
    assert np.all(np.diff(raised) >= 0.0)
    assert np.diff(raised).max() < 0.1


def test_every_term_says_what_it_is_and_two_come_with_the_modes():
    assert [name for name, loss in LOSSES.items() if loss.function is None] == [
        ES_REFLECTION,
        SCATTERING,
    ]
    labels = [loss.label for loss in LOSSES.values()]
    assert len(set(labels)) == len(labels)
    assert all(loss.meaning and loss.source for loss in LOSSES.values())
