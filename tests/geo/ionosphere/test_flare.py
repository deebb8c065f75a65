"""Flares and protons as what-ifs."""

import numpy as np
import pytest

from geo.errors import InputError
from geo.ionosphere.flare import (
    fadeout_db,
    fadeout_frequency_mhz,
    flare_flux_w_m2,
    polar_cap_30_mhz_db,
    polar_cap_db,
    polar_cap_share,
)


@pytest.mark.parametrize(
    ("text", "flux"),
    [("C1", 1e-6), ("m5.5", 5.5e-5), (" X20 ", 2e-3), ("X", 1e-4), ("B 3", 3e-7)],
)
def test_flare_classes(text, flux):
    assert flare_flux_w_m2(text) == pytest.approx(flux)


@pytest.mark.parametrize("text", ["", "Z3", "5M", "M-1", "X1.3.4", "M0"])
def test_what_is_no_flare_class_is_refused_with_an_example(text):
    with pytest.raises(InputError, match=r"flare class '.*' is not known.*M5"):
        flare_flux_w_m2(text)


def test_fadeout_ends_at_the_terminator_without_a_step():
    zenith = np.linspace(0.0, 180.0, 1801)
    frequency = fadeout_frequency_mhz(1e-4, zenith)
    assert np.all(np.diff(frequency) <= 0.0)
    assert np.all(frequency[zenith >= 90.0] == pytest.approx(0.0, abs=1e-6))
    assert np.abs(np.diff(frequency)).max() < 0.3
    assert np.all(fadeout_db(3.6, frequency, 20.0) >= 0.0)


def test_weak_flux_does_nothing_and_no_flux_is_nan():
    assert fadeout_frequency_mhz(1e-7, 0.0) == 0.0
    assert fadeout_db(3.6, 0.0, 20.0) == 0.0
    assert np.isnan(fadeout_frequency_mhz(0.0, 0.0))


def test_flat_rays_and_more_hops_lose_more():
    steep, flat = fadeout_db(7.1, 20.0, [80.0, 10.0])
    assert flat > 3.0 * steep
    assert fadeout_db(7.1, 20.0, 10.0, 3) == pytest.approx(3.0 * flat)


def test_proton_absorption_runs_from_night_to_day_without_a_step():
    zenith = np.linspace(0.0, 180.0, 361)
    loss = polar_cap_30_mhz_db(500.0, 2000.0, zenith)
    assert loss[zenith <= 80.0] == pytest.approx(0.115 * np.sqrt(500.0))
    assert loss[zenith >= 100.0] == pytest.approx(0.020 * np.sqrt(2000.0))
    assert np.abs(np.diff(loss)).max() < 0.1
    assert polar_cap_30_mhz_db(0.0, 0.0, 50.0) == 0.0
    assert np.isnan(polar_cap_30_mhz_db(-1.0, 1.0, 50.0))


def test_edge_of_the_cap_moves_towards_the_equator_with_kp():
    latitude = np.linspace(-90.0, 90.0, 361)
    quiet, storm = polar_cap_share(latitude, 0.0), polar_cap_share(latitude, 7.0)
    assert np.all(storm >= quiet)
    assert polar_cap_share(57.0, 7.0) == 1.0
    assert quiet == pytest.approx(quiet[::-1])
    assert quiet.min() == 0.0
    assert quiet.max() == 1.0


def test_half_a_hop_inside_the_cap_loses_half():
    assert polar_cap_db(7.1, 1.5, 12.0, 1) == pytest.approx(
        0.5 * polar_cap_db(7.1, 1.5, 12.0)
    )
