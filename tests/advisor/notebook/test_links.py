"""Links to any place on any frequency, from a notebook."""

from __future__ import annotations

import os
from dataclasses import replace
from itertools import product

import astropy.units as u
import numpy as np
import pandas as pd
import pytest

from advisor import (
    InputError,
    ask,
    links,
    make_question,
    make_setup,
    make_station,
)
from advisor.reliability.chance import FAINT_DB

STATION = """
place = "-21.5,165.25"
power_w = 20
noise = "quiet rural"
time_zone = "Pacific/Noumea"
to = ["AU"]

[[setups]]
name = "low dipole"
shape = "dipole"
height_m = 6.5
bearing_deg = 30
bands = ["20 m", "15 m"]

[[setups]]
name = "upright"
shape = "ground-mounted vertical"
bands = ["20 m"]
"""


START = "2026-12-05T08:00Z"


@pytest.fixture(scope="module")
def file(tmp_path_factory):
    path = tmp_path_factory.mktemp("api") / "own.toml"
    path.write_text(STATION, encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def station(file):
    return make_station(file=file)


@pytest.fixture(scope="module")
def cache():
    return os.environ["SKIPLOBE_CACHE_DIR"]


FAR = ["KI88", (-1.3, 36.8), "-33.9,151.2", "-21.6,165.3"]


"""A short and a long path, one by the method of long paths, one by the ground wave."""


@pytest.mark.slow
def test_links_are_those_of_an_answer_to_each_place(station, cache):
    question = make_question(station, FAR, START, 4, bands="20 m", r12=58)
    chances = ask(question, cache_dir=cache).chances()
    chances = chances[chances["setup"] == "low dipole"]
    mhz = chances["frequency_mhz"].iloc[0]
    frame = links(station, FAR, question.times, mhz, r12=58, cache_dir=cache)
    assert len(frame) == len(chances) == 16
    assert (frame.index == chances.index).all()
    pairs = {"chance": "chance", "heard": "chance_heard", "heard_here": "chance_hear"}
    for ours, theirs in pairs.items():
        assert frame[ours].to_numpy() == pytest.approx(chances[theirs].to_numpy())
    hop = (frame["mode"] != "ground wave").to_numpy()
    assert set(frame["place"][~hop]) == {"-21.6, 165.3"}
    assert frame["takeoff_deg"][~hop].isna().all()
    # By their values: older pandas keeps moments in units that differ.
    modes = frame["mode"].to_numpy(), chances["mode"].to_numpy()
    assert (modes[0] == modes[1])[hop].all()
    angles = chances["takeoff_deg"][hop].to_numpy()
    assert frame["takeoff_deg"][hop].to_numpy() == pytest.approx(angles, nan_ok=True)
    # The margin is that of the direction with less to spare.
    worse = np.fmin(frame["snr_db"], frame["snr_here_db"]).to_numpy()
    margin = chances["margin_db"].to_numpy()
    # Fainter than that, ways are left out by either.
    need = (worse - margin)[margin > FAINT_DB]
    assert need.size > 8
    assert np.nanmax(need) == pytest.approx(np.nanmin(need))
    assert np.nanmax(need) == pytest.approx(station.emission.snr_in_db())
    assert (frame["snr_db"] < frame["snr_here_db"]).any()


@pytest.mark.slow
def test_links_hold_their_order_over_places_times_and_frequencies(station, cache):
    times = pd.DatetimeIndex(["2026-06-05T20Z", "2024-12-05T08Z"])
    given = {"cache_dir": cache, "wire_deg": 90 * u.deg}
    whole = links(station, FAR, times, [28.4, 5.36] * u.MHz, **given)
    assert whole.attrs["antenna"] == "low dipole, wire runs 090 true"
    every = list(product(FAR, times, (28.4, 5.36)))
    assert len(whole) == len(every)
    # Two of each place, each time and frequency once: no two axes can be exchanged.
    some = [0, 3, 5, 6, 9, 10, 12, 15]
    alone = [links(station, *every[n], **given) for n in some]
    pd.testing.assert_frame_equal(whole.iloc[some], pd.concat(alone))


@pytest.mark.slow
def test_links_with_any_antenna(station, cache):
    """Gain is signal, dB for dB; a free wire is the mean over its bearings."""
    # An hour of few modes: they weigh by the wire here, by isotropic ends there.
    start = "2026-12-05T05:00Z"
    given = {"times": start, "frequencies_mhz": 21.2, "r12": 90, "cache_dir": cache}
    flat = links(station, "KI88", setup="isotropic", **given)
    assert flat.attrs["antenna"] == "isotropic without loss"
    wire = make_setup("dipole", height_m=12)
    turned = [
        links(station, "KI88", setup=wire, wire_deg=deg, **given)
        for deg in range(20, 360, 30)
    ]
    free = links(station, "KI88", setup=wire, **given)
    assert free.attrs["antenna"] == "dipole, mean over its bearings"
    snr = np.array([each["snr_db"].item() for each in turned])
    mean = 10.0 * np.log10((10.0 ** (snr / 10.0)).mean())
    assert free["snr_db"].item() == pytest.approx(mean, abs=0.1)
    hung = replace(station, setups=(wire.changed(bearing_deg=200.0, bands=["15 m"]),))
    chances = ask(make_question(hung, "KI88", start, 1, r12=90)).chances()
    more = turned[6]["snr_db"].item() - flat["snr_db"].item()
    assert more == pytest.approx(chances["gain_dbi"].item(), abs=0.6)
    loud = links(replace(station, power_w=200.0), "KI88", setup="isotropic", **given)
    assert loud["snr_db"].item() == pytest.approx(flat["snr_db"].item() + 10.0)
    assert loud["snr_here_db"].item() == pytest.approx(flat["snr_here_db"].item())


def test_links_refuse_what_cannot_be(station):
    for mhz in (1.4, 54.1, 7100.0, float("nan")):
        with pytest.raises(InputError, match=r"MHz is outside 1\.5 to 54"):
            links(station, "KI88", START, mhz)
    with pytest.raises(InputError, match="no time to work on"):
        links(station, "KI88", [], 14.1)
    with pytest.raises(InputError, match="set-up 'low dipol' is unknown"):
        links(station, "KI88", START, 14.1, setup="low dipol")
    with pytest.raises(InputError, match="does not say in which zone"):
        links(station, "KI88", ["2026-12-05T08:00"], 14.1)
    with pytest.raises(InputError, match=r"frequency_mhz came in m \(length"):
        links(station, "KI88", START, 20 * u.m)


@pytest.mark.parametrize("wire_deg", [np.nan, np.inf, -20.0, 400.0])
def test_a_bearing_that_is_none_is_refused(wire_deg):
    station = make_station("KF07jo", setups=make_setup("dipole", height_m=8))
    with pytest.raises(InputError, match="0 to 360 degrees"):
        links(station, "KI88", "2026-06-20T09:00Z", 14.1, wire_deg=wire_deg)


@pytest.mark.slow
def test_what_is_heard_here_does_not_hang_on_my_power():
    """Where it is told at all: fainter routes than the method follows are not."""
    frames = []
    for power_w in (10.0, 1000.0):
        station = make_station(
            (48.1, 11.6), power_w=power_w, setups=make_setup("dipole", height_m=10)
        )
        places = [(10, 180), "KF07jo", (36, -6), (52, 13)]
        times = ["2026-06-20T11:00Z", "2026-06-20T23:00Z"]
        frames.append(links(station, places, times, [7.1, 28.3, 50.1], wire_deg=30.0))
    weak, strong = (frame["snr_here_db"].to_numpy() for frame in frames)
    both = np.isfinite(weak) & np.isfinite(strong)
    assert both.sum() > 5
    np.testing.assert_allclose(weak[both], strong[both], atol=0.05)
    louder = (frames[1]["snr_db"] - frames[0]["snr_db"]).to_numpy()[both]
    np.testing.assert_allclose(louder, 20.0, atol=0.05)
    assert not (np.concatenate([weak, strong]) < -60.0).any()
