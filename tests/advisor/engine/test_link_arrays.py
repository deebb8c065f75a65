"""The link as a function of arrays: what a question gives, and beyond its bands."""

import numpy as np
import pytest

from advisor.answers.ask import question_for
from advisor.antenna.closedform import isotropic_pattern
from advisor.antenna.ground import ground_by_name
from advisor.engine.contact import contact_chance
from advisor.engine.engine import (
    End,
    gains_towards,
    link_at,
    link_for,
    link_over,
    wire_gains,
)
from advisor.engine.wires import far_end_patterns, far_end_sigmas_db
from advisor.station.file import resolve_station
from geo.ionosphere.layers import layers_at
from geo.paths import paths_to

BANDS = ["40 m", "20 m"]


@pytest.fixture(scope="module")
def question():
    """Two hours from the middle of Europe to a region."""
    wire = {"name": "wire", "shape": "dipole", "height_m": 8.0}
    station, _ = resolve_station(
        None, {"place": "48,10", "setups": [wire], "horizon_deg": 4.0}
    )
    hour = np.datetime64("2026-12-05T16")
    return question_for(station, ["014"], hour, 2, band_names=BANDS, r12=60.0)


@pytest.mark.slow
def test_a_question_is_its_paths_layers_and_frequencies(question):
    """By hand from arrays and numbers: the same link to the last bit, and chance."""
    station, (target,) = question.station, question.targets
    far = far_end_patterns(station.far_end, question.bands)
    asked = link_for(question, 60.0, far)
    paths = paths_to(48.0, 10.0, target.lat_deg, target.lon_deg)
    control = paths.control_lat_deg.ravel(), paths.control_lon_deg.ravel()
    frequency = [7.1, 14.1]
    assert question.frequency_mhz.tolist() == frequency
    by_hand = link_over(
        paths,
        layers_at(*control, question.times, 60.0),
        frequency,
        [far[name] for name in BANDS],
        here=End(station.power_w, station.noise),
        there=End(station.far_end.power_w, station.far_end.noise),
        far_sigma_db=far_end_sigmas_db(station.far_end, frequency),
        snr_db_hz=question.emission.snr_db_hz,
        horizon_deg=4.0,
        ground=station.ground,
    )
    assert np.array_equal(by_hand.modes.loss_db, asked.modes.loss_db)
    assert np.array_equal(by_hand.heard_db, asked.heard_db)
    assert np.array_equal(by_hand.hear_db, asked.hear_db)
    wire = dict(zip(BANDS, map(isotropic_pattern, frequency), strict=True))
    one = contact_chance(asked, wire_gains(question, asked, wire, [0.0, 90.0]))
    soil = ground_by_name(station.ground)
    towards = gains_towards(by_hand, list(wire.values()), soil, [0.0, 90.0])
    assert np.array_equal(one.both, contact_chance(by_hand, towards).both)


@pytest.mark.slow
def test_frequencies_outside_the_bands_can_be_asked(question):
    """A scan of 5 to 25 MHz has at 14.1 MHz what the band has, and one peak."""
    frequency = np.append(np.linspace(5.0, 25.0, 21), 14.1)
    isotropic = [isotropic_pattern(14.1)] * frequency.size
    scan = link_at(question, 60.0, frequency, isotropic)
    soil = ground_by_name(question.station.ground)
    both = contact_chance(scan, gains_towards(scan, isotropic, soil, 0.0)).both[0]
    assert both.shape == (scan.paths.distance_km.size, 2, frequency.size)
    band = link_for(question, 60.0, dict.fromkeys(BANDS, isotropic[0]))
    pattern = dict.fromkeys(BANDS, isotropic[0])
    alone = contact_chance(band, wire_gains(question, band, pattern, 0.0)).both[0]
    assert both[..., -1] == pytest.approx(alone[..., 1], abs=1e-12)
    mean = both.mean(axis=(0, 1))
    assert mean.max() > mean[0] + 0.1
    assert mean.max() > mean[20] + 0.1
    flat = link_at(question, 60.0, frequency, isotropic, horizon_deg=0.0)
    assert np.all(flat.horizon_deg == 0.0)
    for end in ("horizon", "far_horizon"):
        assert np.all(flat.modes.losses_db[end] == 0.0)
        assert np.any(scan.modes.losses_db[end] > 6.0)
    assert np.all(scan.horizon_deg == 4.0)
