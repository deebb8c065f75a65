"""The live page's answers: those of the engine, whatever was asked before."""

import asyncio
import base64
import json
import math
import threading
from concurrent.futures import ThreadPoolExecutor

import numpy as np
import pytest

from advisor.answers.ask import question_for
from advisor.engine.contact import contact_chance
from advisor.engine.engine import link_for, wire_gains
from advisor.engine.targets import over_targets
from advisor.engine.wires import far_end_patterns, hung_wire, patterns_of
from advisor.live.form import sketch_of, wire_form
from advisor.live.server import OneAtATime
from advisor.live.workbench import Workbench
from advisor.show.page.script_data import CHANCE_PARTS
from advisor.station.file import resolve_station
from advisor.station.setup import build_set_up
from advisor.station.written import station_toml, station_values
from geo.errors import InputError
from geo.places import parse_place
from geo.sphere import destination

START = np.datetime64("2026-12-05T06:00")
SKYLINE = [[0, 9], [90, 2]]


def ask(station, targets, start):
    return question_for(station, targets, start, 3, r12=60.0)


@pytest.fixture(scope="module")
def bench():
    station, _ = resolve_station(
        None,
        {
            "place": "KF07jo",
            "setups": [
                {"shape": "dipole", "bands": ["20 m"], "bearing_deg": 40},
                {"shape": "ground-mounted vertical", "bands": ["20 m"]},
            ],
        },
    )
    return Workbench(station, ask(station, ["KE"], START), ask, ["KE"])


def chance_of(bench, said):
    """Chance on the bearing set, by hour, straight from the engine."""
    question = bench.asked(said).question
    setup, far = question.station.setups[0], question.station.far_end
    link = link_for(question, question.solar.r12, far_end_patterns(far, question.bands))
    gains = wire_gains(question, link, patterns_of(setup, question), setup.bearing_deg)
    return over_targets(question, contact_chance(link, gains).both[0])[0, :, 0]


def shown(answer, deg):
    """The same as the page holds it."""
    turn = answer["turn"]
    place = turn["bearings"].index(deg)
    hours = turn["targets"][0]["chance"][place]
    return np.array([bands[0] for bands in hours]) / CHANCE_PARTS


@pytest.mark.slow
def test_every_answer_is_the_engines(bench):
    """The first and the whole, with the sky of before or a new one, in any order."""
    wires = bench.start()["setups"]
    higher = [{**wires[0], "height_m": 14.0, "bearing_deg": 100}, wires[1]]
    seen = set()
    for said in (
        {"setups": wires},
        {"setups": higher},
        {"setups": higher, "station": {"power_w": 100}},
        {"setups": higher, "to": ["JP"], "date": "2026-06-05T18:00"},
        {"setups": higher, "station": {"far_end": {"kind": "modest"}}},
        {"setups": higher, "station": {"noise_trim_db": 8, "horizon": SKYLINE}},
        {"setups": wires},
    ):
        deg = said["setups"][0]["bearing_deg"]
        want = chance_of(bench, said)
        seen.add(tuple(want))
        for coarse in (True, False):
            answer = bench.answer({**said, "coarse": coarse})
            json.dumps(answer, allow_nan=False)
            assert answer["coarse"] is coarse
            # Half of the last part written.
            assert shown(answer, deg) == pytest.approx(want, abs=0.6 / CHANCE_PARTS)
        assert len(answer["turn"]["bearings"]) > 12
    assert len(seen) == 6


@pytest.mark.slow
def test_every_cell_of_the_map_is_the_engines(bench):
    """Asked for as a target of its own, on a bearing of the wire that is drawn."""
    said = {"setups": bench.start()["setups"], "hour": 1, "band": 0}
    world = bench.world(said)
    json.dumps(world, allow_nan=False)
    rings, rays, wire = world["rings"], world["rays"], world["wires"]
    parts = np.frombuffer(base64.b64decode(world["chance"]), np.uint8)
    chance = parts.reshape(len(wire), len(rings), rays) / world["parts"]
    here, compared = parse_place("KF07jo"), 0
    for turn, ring, ray in ((0, 5, 2), (4, 8, 1), (7, 13, 2), (11, 20, 20)):
        towards, away = 360.0 * ray / rays, rings[ring]
        lat, lon = destination(here.lat_deg, here.lon_deg, towards, away)
        wires = [
            {**said["setups"][0], "bearing_deg": wire[turn]},
            said["setups"][1],
        ]
        there = {"setups": wires, "to": [f"{float(lat):.5f},{float(lon):.5f}"]}
        want = chance_of(bench, there)[1]
        # Half of a part, and 5 decimals of a degree.
        assert chance[turn, ring, ray] == pytest.approx(want, abs=0.0025)
        compared += want > 0.05
    assert compared >= 2


def test_a_wire_alone_keeps_the_sky(bench):
    said = bench.start()
    sky = bench.sky(bench.asked({"setups": said["setups"]}))[0]
    wires = [{**said["setups"][0], "height_m": 9.5}, said["setups"][1]]
    assert bench.sky(bench.asked({"setups": wires}))[0] is sky
    assert bench.sky(bench.asked({"station": {"noise": "city"}}))[0] is not sky


def test_a_wire_may_be_given_any_band(bench):
    """One that the station has not, too: ticking it says that it may be used."""
    wire = {**bench.start()["setups"][0], "bands": ["6 m", "20 m"]}
    asked = bench.asked({"setups": [wire]})
    assert [band.name for band in asked.question.bands] == ["20 m", "6 m"]
    assert {"6 m", "20 m", "160 m"} <= set(asked.station.bands)
    assert "6 m" not in bench.asked({}).station.bands


def test_parts_are_drawn_where_they_sit():
    """Measured from the first end of a wire 20 m long whose feed is the middle."""
    wire = {"shape": "dipole", "length_m": 20.0, "height_m": 8.0, "coils": [[4, 9, 99]]}
    sketch = sketch_of(hung_wire(build_set_up(wire, ("40 m",)), 7.05))
    (at,) = sketch["parts"]
    ends = [end for each in sketch["wires"] for end in (each[:3], each[3:])]
    south = min(ends, key=lambda end: end[1])
    assert math.dist(at, south) == pytest.approx(4.0, abs=0.05)


@pytest.mark.parametrize(
    ("said", "words"),
    [
        ({"station": {"name": "x"}}, "only what the page shows"),
        ({"station": ["place"]}, "only what the page shows"),
        ({"station": {"power_w": "much"}}, "power_w"),
        ({"station": {"place": "nowhere at all"}}, "place"),
        ({"station": {"far_end": {"kind": "huge"}}}, "huge"),
        ({"station": {"far_end": "modest"}}, "far_end"),
        ({"station": {"noise_trim_db": 90}}, "noise_trim_db"),
        ({"station": {"horizon": [[180, 3], [90, 3]]}}, "rising azimuth"),
        ({"setups": [{"shape": "free wire"}]}, "points_m"),
        ({"setups": [{"shape": "free wire", "points_m": [[0, 0, "up"]]}]}, "points"),
        ({"to": "KE"}, "list of texts"),
        ({"to": ["KE"] * 6}, "one to 5"),
        ({"to": ["junkland"]}, "not known"),
        ({"date": "yesterday"}, "first hour"),
        ({"date": "2026-13-45T00:00"}, "calendar"),
        ({"wire": 2}, "no such wire"),
        ({"wire": True}, "a number"),
        ({"setups": [{"shape": "dipole", "height_m": 1e9}]}, "height_m"),
        ({"setups": [{"shape": "dipole", "colour": "red"}]}, "colour"),
        ({"setups": [{"shape": "dipole", "bands": []}]}, "bands"),
        ({"setups": [{"shape": "dipole", "traps": [[3, 1, 50]]}]}, "4 numbers"),
        ({"setups": 2 * [{"shape": "dipole"}]}, "name of its own"),
        ({"setups": "all"}, "set-up"),
    ],
)
def test_what_is_not_possible_is_said(bench, said, words):
    with pytest.raises(InputError, match=words):
        bench.asked(said)


def test_what_has_been_overtaken_is_dropped():
    """One piece at a time: the first, then the newest; none between."""
    done, started, go_on = [], threading.Event(), threading.Event()

    def first():
        started.set()
        go_on.wait(5.0)
        done.append(0)

    async def all_of_them():
        queue = OneAtATime()
        runs = [asyncio.create_task(queue.run(first))]
        await asyncio.to_thread(started.wait, 5.0)
        runs += [
            asyncio.create_task(queue.run(lambda n=n: done.append(n)))
            for n in range(1, 50)
        ]
        await asyncio.sleep(0)
        runs.append(
            asyncio.create_task(queue.run(lambda: done.append("file"), may_drop=False))
        )
        await asyncio.sleep(0)
        assert queue.waiting == 51
        go_on.set()
        return [is_done for is_done, _ in await asyncio.gather(*runs)], queue.waiting

    # In a thread of its own: a browser's test may have left its loop in this one.
    with ThreadPoolExecutor(1) as apart:
        told, waiting = apart.submit(asyncio.run, all_of_them()).result()
    assert done == [0, 49, "file"]
    assert told == [True, *[False] * 48, True, True]
    assert waiting == 0


def test_hills_of_the_file_stay_with_its_place():
    """Nor are they those of a place that is looked at instead."""
    slopes = [[0, 300, -60], [180, 300, 40]]
    station, _ = resolve_station(None, {"place": "48,10", "slopes": slopes})
    bench = Workbench(station, ask(station, ["KE"], START), ask, ["KE"])
    assert bench.asked({"station": {"power_w": 5}}).station.hills is station.hills
    moved = bench.asked({"station": {"place": "47,9"}}).station
    assert moved.hills is None
    assert not moved.horizon


def test_all_of_the_station_can_be_changed_and_is_written():
    """Far end, horizon, noise and points go into the file and come back of it."""
    said = {
        "noise_trim_db": 4.0,
        "horizon": SKYLINE,
        "far_end": {"kind": "big", "at_least_one_of": 3},
    }
    points = [[0, -9, 6], [1, 0, 11], [0, 9, 6]]
    wire = {"shape": "free wire", "points_m": points, "bands": ["20 m"]}
    station, _ = resolve_station(None, {"place": "KF07jo"})
    bench = Workbench(station, ask(station, ["KE"], START), ask, ["KE"])
    changed = bench.asked({"station": said, "setups": [wire]}).station
    assert changed.noise_trim_db == 4.0
    assert changed.horizon == ((0.0, 9.0), (90.0, 2.0))
    assert (changed.far_end.antenna, changed.far_end.at_least_one_of) == ("big", 3)
    assert wire_form(changed.setups[0])["has_points"]
    again, _ = resolve_station(station_toml(station_values(changed)), {})
    assert again == changed
    # One figure all round takes the place of a skyline.
    flat = Workbench(again, ask(again, ["KE"], START), ask, ["KE"])
    said = {"station": {"horizon": [], "horizon_deg": 7}}
    assert flat.asked(said).station.horizon == ()
    assert flat.asked(said).station.horizon_deg == 7.0


def test_what_a_log_taught_holds_for_what_it_was_taught_of():
    """Of noise or a far end that is another now, nothing is known."""
    learned = {"source": "log", "noise_db": {"20 m": 3.0}, "far_end_db": 2.0}
    station, _ = resolve_station(None, {"place": "KF07jo", "learned": learned})
    bench = Workbench(station, ask(station, ["KE"], START), ask, ["KE"])
    assert bench.asked({}).station.learned == station.learned
    noisy = bench.asked({"station": {"noise": "city"}}).station.learned
    assert (noisy.noise_db, noisy.far_end_db) == ((), 2.0)
    other = bench.asked({"station": {"far_end": {"kind": "big"}}}).station.learned
    assert (other.noise_db, other.far_end_db) == ((("20 m", 3.0),), 0.0)
