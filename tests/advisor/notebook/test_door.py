"""What the front door takes and refuses: units, zones, arrays of places, own place."""

from __future__ import annotations

import pickle
from datetime import UTC, datetime

import astropy.units as u
import numpy as np
import pandas as pd
import pytest
from astropy.time import Time

import advisor
from advisor import InputError, ask, example_station, make_question, make_setup
from geo.ionosphere.hops import takeoff_angle_deg
from geo.ionosphere.layers import layers_at

NOON = np.datetime64("2026-12-05T12:00")


@pytest.fixture(scope="module")
def station():
    return advisor.make_station("KF07jo", setups=make_setup("dipole", height_m=8))


@pytest.fixture(scope="module")
def advice():
    question = make_question(
        example_station(), ["UG", "KE"], NOON, 1, bands="20 m", r12=58
    )
    return ask(question)


@pytest.mark.parametrize(
    ("hop", "hop_km"),
    [
        (1000.0 * u.m, 1.0),
        ([1000.0, 2000.0] * u.km, [1000.0, 2000.0]),
        ([1.0 * u.Mm, 5e5 * u.m], [1000.0, 500.0]),
        (1000, 1000.0),
    ],
)
def test_units_are_converted(hop, hop_km):
    ours = advisor.takeoff_angle_deg(hop, 0.3 * u.Mm)
    np.testing.assert_array_equal(ours, takeoff_angle_deg(hop_km, 300.0))


def test_units_of_another_kind_are_refused():
    with pytest.raises(InputError, match="hop_km came in kg"):
        advisor.takeoff_angle_deg(5.0 * u.kg, 300.0)
    with pytest.raises(InputError, match="r12 came in m"):
        advisor.layers_at(51.5, -0.1, NOON, 58.0 * u.m)
    with pytest.raises(TypeError, match="height_km"):
        advisor.takeoff_angle_deg(1000.0)


@pytest.mark.parametrize(
    "moment",
    [
        Time("2026-12-05T12:00"),
        Time(["2026-12-05T12:00"]),
        datetime(2026, 12, 5, 12, tzinfo=UTC),
        pd.date_range("2026-12-05 14:00", periods=1, tz="Africa/Johannesburg"),
        "2026-12-05T12:00Z",
        np.array([NOON]),
    ],
)
def test_layers_take_moments_of_any_kind(moment):
    ours = advisor.layers_at(51.5 * u.deg, -0.1, moment, 58.0)
    assert ours.foe_mhz == layers_at(51.5, -0.1, NOON, 58.0).foe_mhz


@pytest.mark.parametrize(
    "moment",
    [
        datetime(2026, 12, 5, 12),
        "2026-12-05T12:00",
        pd.date_range("2026-12-05", periods=2, freq="h"),
        [NOON, datetime(2026, 12, 5)],
    ],
)
def test_a_time_without_its_zone_is_refused(moment):
    with pytest.raises(InputError, match="does not say in which zone"):
        advisor.layers_at(51.5, -0.1, moment, 58.0)


def test_man_made_noise_is_unknown_outside_its_range():
    noise = advisor.man_made_noise("rural", [299.0, 300.0, 14100.0] * u.kHz)
    for each in (noise.factor_db, noise.upper_db, noise.lower_db):
        assert np.isnan(each).tolist() == [True, False, False]
    wide = advisor.man_made_noise("city", [250.0, 251.0], any_place=True)
    assert np.isnan(wide.upper_db).tolist() == [False, True]


@pytest.mark.parametrize("given", ["KF07jo", make_setup("dipole")])
def test_what_is_no_station_is_told_so(given):
    for call in (advisor.wire_figures, advisor.wire_sweep):
        with pytest.raises(InputError, match="is no station: make one with"):
            call(given, "20 m")


def test_a_wire_of_no_station_can_be_looked_at(station):
    low = make_setup("dipole", height_m=5, name="low")
    kept = advisor.make_station("KF07jo", setups=low)
    ours = advisor.wire_sweep(station, "20 m", setup=low)
    pd.testing.assert_frame_equal(ours, advisor.wire_sweep(kept, "20 m"))


@pytest.mark.slow
def test_an_answer_can_be_pickled_and_is_shown_briefly(advice):
    again = pickle.loads(pickle.dumps(advice))
    pd.testing.assert_frame_equal(again.chances(), advice.chances())
    assert again.record.question == advice.record.question
    with pytest.raises(ValueError, match="read-only"):
        again.record.best_band[0] = 1
    assert len(repr(again.record)) < 300
    assert "zenith_deg=<float64 (1, 1)>" in repr(layers_at(51.5, -0.1, NOON, 58.0))


def test_a_target_is_found_by_what_it_was_asked_by(advice):
    names = [advice.bands(target=told).attrs["target"] for told in ("UG", "Kenya")]
    assert names == ["Uganda (ISO UG)", "Kenya (ISO KE)"]
    for unknown in ("ZW", "Ugana"):
        with pytest.raises(InputError, match=f"target '{unknown}' is unknown"):
            advice.bands(target=unknown)


@pytest.mark.slow
def test_links_take_tables_of_places(station):
    pairs = [(52.0, 13.0), (10.0, 20.0)]
    frame = pd.DataFrame(pairs, columns=["lat", "lon"])
    wanted = advisor.links(station, pairs, NOON, 14.1)
    for places in (np.array(pairs), pairs * u.deg, frame):
        found = advisor.links(station, places, NOON, 14.1)
        pd.testing.assert_frame_equal(found, wanted)
    for wrong in (np.zeros((2, 3)), np.zeros((2, 2, 2))):
        with pytest.raises(InputError, match="a pair \\(latitude, longitude\\)"):
            advisor.links(station, wrong, NOON, 14.1)


def test_links_to_the_own_place_are_refused(station):
    with pytest.raises(InputError, match="is the station's own place"):
        advisor.links(station, ["KE79", "KF07jo"], NOON, 14.1)
