"""Numbers that a page can turn and slide are those of the engine."""

import json
from dataclasses import replace

import numpy as np
import pytest

from advisor.answers.ask import answer, question_for
from advisor.answers.pictures.compass import compass
from advisor.answers.pictures.fan import fan
from advisor.answers.pictures.page import CUT_AZIMUTH_DEG, CUT_ELEVATION_DEG, sheet_data
from advisor.answers.pictures.scene import Scene
from advisor.answers.through import gives_dbi
from advisor.engine.contact import contact_chance
from advisor.engine.engine import link_for, wire_gains
from advisor.engine.targets import over_targets
from advisor.engine.wires import gain_over_hills
from advisor.show.page.script_data import CHANCE_PARTS, GAIN_PARTS, live_mapping
from advisor.show.page.sheet import (
    json_in_html,
)
from advisor.station.file import resolve_station


@pytest.fixture(scope="module")
def scene():
    """A wire with a bearing of its own, two targets, four hours."""
    station, _ = resolve_station(
        None,
        {
            "place": "KF07jo",
            "setups": [
                {
                    "name": "slope",
                    "shape": "sloper",
                    "bearing_deg": 37,
                    "bands": ["20 m"],
                }
            ],
        },
    )
    question = question_for(
        station, ["KE", "155"], np.datetime64("2026-12-05T12:00"), 4, r12=60.0
    )
    return Scene(answer(question))


@pytest.mark.slow
def test_embedded_numbers_are_the_engines(scene):
    """Chance and gain at every bearing tried, to half of the last part written."""
    advice, data = scene.advice, sheet_data(scene)
    live = live_mapping(advice, data, compass(scene), None)
    live = json.loads(json_in_html(live))
    question, patterns = advice.question, scene.patterns["slope"]
    link = link_for(question, question.solar.r12, scene.far_patterns)
    assert 37.0 in live["bearings"]
    assert len(live["bearings"]) == 73  # 72 steps and the wire's own
    for place in (0, 8, 40, 72):
        wire = live["bearings"][place]
        gains = wire_gains(question, link, patterns, wire)
        chance = over_targets(question, contact_chance(link, gains).both[0])
        for k, target in enumerate(live["targets"]):
            found = np.array(target["chance"][place]) / CHANCE_PARTS
            np.testing.assert_allclose(found, chance[k], atol=0.5 / CHANCE_PARTS + 1e-9)
    own = live["bearings"].index(37.0)
    shown = np.array(live["targets"][0]["gain"][own], dtype=float) / GAIN_PARTS
    np.testing.assert_allclose(
        shown, advice.setups[0].gain_dbi[0], atol=0.5 / GAIN_PARTS + 1e-9
    )
    cut = np.array(live["cut"][0]) / GAIN_PARTS
    pattern = patterns["20 m"]
    there = pattern.gain_dbi(CUT_ELEVATION_DEG[:, None], CUT_AZIMUTH_DEG)
    np.testing.assert_allclose(cut, there, atol=0.5 / GAIN_PARTS + 1e-9)


@pytest.mark.slow
def test_chances_without_a_scan_are_those_with_one(scene):
    """What the advice tried already is taken from it; the rest is worked out alike."""
    advice = scene.advice
    assert advice.setups[0].scan is not None
    bare = tuple(replace(one, scan=None) for one in advice.setups)
    again = replace(scene, advice=replace(advice, setups=bare))
    with_scan, without = sheet_data(scene), sheet_data(again)
    # What is faint on all bearings asked together is left out, and other bearings are
    # asked together: it makes under 0.001 by its rule and far less here.
    np.testing.assert_allclose(without.chance, with_scan.chance, rtol=0, atol=1e-5)
    np.testing.assert_array_equal(without.tried_deg, with_scan.tried_deg)


@pytest.mark.slow
def test_gain_on_every_bearing_is_the_advices(scene):
    """Worked out for all bearings at once as for one."""
    question, patterns = scene.advice.question, scene.patterns["slope"]
    data = sheet_data(scene)
    for place in (0, 11, 50):
        gains = wire_gains(question, scene.link, patterns, data.tried_deg[place])
        want = gives_dbi(question, scene.link, gains, patterns)[0]
        np.testing.assert_allclose(data.gain_dbi[:, place], want, atol=1e-9)


@pytest.mark.slow
def test_a_round_wire_has_one_bearing(ask):
    """A vertical on the ground radiates alike all round: nothing to turn."""
    advice = ask(
        "KF07jo", "KE", "2026-12-05T12", hours=2, shape="ground-mounted vertical"
    )
    data = sheet_data(Scene(advice))
    assert data.wire_deg is None
    assert data.tried_deg.tolist() == [0.0]
    np.testing.assert_allclose(data.chance[:, 0], advice.setups[0].chance)


@pytest.fixture(scope="module")
def hilly():
    """A dipole over falling ground to the north, for one place there."""
    wire = {"name": "wire", "shape": "dipole", "height_m": 8.0, "bearing_deg": 90.0}
    slopes = [[0, 300, -60], [90, 300, 0], [180, 300, 40], [270, 300, 0]]
    station, _ = resolve_station(
        None, {"place": "KF07jo", "setups": [wire], "slopes": slopes}
    )
    start = np.datetime64("2026-12-05T16")
    asked = question_for(
        station, ["-1.3,36.8"], start, 1, band_names=["20 m"], r12=60.0
    )
    return Scene(answer(asked))


@pytest.mark.slow
def test_pictures_stand_on_the_hills_of_the_sums(hilly):
    """Lobe and compass pass through the gains of the sum; over flat ground not."""
    seen, round_it = fan(hilly), compass(hilly)
    lobe = np.interp(seen.ways[0].takeoff_deg, seen.takeoff_deg, seen.gain_dbi)
    assert lobe == pytest.approx(seen.ways[0].gain_dbi, abs=0.1)
    bearing = hilly.link.bearing_deg[0, 0, 0]
    there = np.interp(bearing, round_it.azimuth_deg, round_it.gain_dbi)
    assert there == pytest.approx(round_it.gives_dbi, abs=0.1)
    pattern = hilly.patterns["wire"]["20 m"]
    flat = pattern.gain_dbi(seen.ways[0].takeoff_deg, bearing - 90.0)
    assert abs(lobe - float(flat)) > 0.5


@pytest.mark.slow
def test_a_page_turns_the_wire_over_the_hills(hilly):
    """What the script multiplies and adds is the engine's gain on any bearing."""
    question, pattern = hilly.advice.question, hilly.patterns["wire"]["20 m"]
    data = sheet_data(hilly, is_turned=False)
    free, change = data.hills[0]
    up, wire = 4, 60.0  # 10 degrees up
    turned = int(wire / CUT_AZIMUTH_DEG[1])
    for true in (0, 9, 36):
        own = 10.0 ** (0.1 * data.cut_dbi[0][up, true - turned])
        own += (free[:, up, true - turned] * change[:, up, true]).sum()
        bearing = CUT_AZIMUTH_DEG[true]
        engine = gain_over_hills(
            question, pattern, CUT_ELEVATION_DEG[up], bearing - wire, bearing
        )
        assert own == pytest.approx(float(engine), rel=1e-6)
