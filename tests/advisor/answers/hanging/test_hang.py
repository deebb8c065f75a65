"""What to hang: what fits, that the search finds the best, and how a user meets it."""

import csv
import io
import json
import math
import os
import subprocess
import sys
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
from click.testing import CliRunner

from advisor.answers.ask import answer, question_for
from advisor.answers.hanging.found import HangAnswer
from advisor.answers.hanging.search import MOST_TRIED, HangSearch
from advisor.answers.hanging.starts import shapes_to_try
from advisor.answers.hanging.supports import (
    reasons_by_band,
    set_up,
    why_not,
)
from advisor.answers.low_wires import OUT_OF_REACH_M
from advisor.answers.perturb import Change, cheapest, raised
from advisor.answers.rows.hang import hang_rows
from advisor.answers.uncertainty import LEAST_DIFFERENCE
from advisor.antenna.shapes.parts import HungWire
from advisor.antenna.shapes.places import read_post
from advisor.antenna.shapes.registry import SHAPES
from advisor.antenna.shapes.search import AtHand
from advisor.cli import main
from advisor.engine.wires import solve_setup
from advisor.show.text.hang import hang_text
from advisor.station.file import resolve_station
from advisor.station.setup import build_set_up

ROOT = Path(__file__).parents[4]

PLENTY = AtHand((14.0, 14.0, 14.0, 14.0), None, None)
"""Supports and wire that hold every default shape on 20 m and above."""


@pytest.fixture(autouse=True)
def no_own_station(monkeypatch, tmp_path):
    """Keep the tester's own files out."""
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    monkeypatch.setenv("HOME", str(tmp_path))


def question(target="KE", *, bands=("20 m", "15 m"), hours=3, place="KF07jo", **values):
    """Put a question; its own wire is only there to carry the bands."""
    wire = {"name": "any", "shape": "dipole", "bands": list(bands)}
    given = {"place": place, "bands": list(bands), "setups": [wire], **values}
    station, _ = resolve_station(None, given)
    start = np.datetime64("2026-12-05T10")
    return question_for(station, [target], start, hours, r12=60.0)


def searched(asked, at_hand, shapes):
    """Search to the end."""
    search = HangSearch(asked, at_hand, shapes)
    steps = sum(search.run())
    assert steps == search.steps
    return search.answer()


def as_tonight(found, setups):
    """Ask the same question with some set-ups as 'tonight' does."""
    asked = found.advice.question
    station = replace(asked.station, setups=tuple(setups))
    return answer(replace(asked, station=station))


# What fits.


# What can be touched.


def test_bands_are_left_out_one_by_one():
    """What fits on 20 m and not on 40 m is kept for 20 m."""
    asked = question(bands=("40 m", "20 m"))
    at_hand = AtHand((9.0, 9.0), 14.0)
    reasons = reasons_by_band("dipole", {"height_m": 9.0}, asked.bands, at_hand, True)
    assert reasons["20 m"] is None
    assert "14.0 m apart" in reasons["40 m"]


# The search.


@pytest.mark.long
def test_the_best_is_no_worse_than_any_default_at_full_height():
    """Every shape with its own sizes in the same question, by the usual way."""
    asked = question(hours=1)
    found = searched(asked, PLENTY, shapes_to_try())
    # 5 m of wire do not go up 14 m.
    assert list(found.refused) == ["inverted L"]
    # Fed at 0.5 m by default, which the search does not do where poles are high.
    out_of_reach = {
        shape: {"feed_height_m": 2.5}
        for shape in ("end-fed half-wave", "random wire", "half-wave vertical")
    }
    for one in found.found:
        shape = one.setup.shape
        sizes = {"shape": shape, **out_of_reach.get(shape, {})}
        # Default end-fed wires are shorter than these supports are high.
        if SHAPES[shape].top not in ("", "end_height_m"):
            sizes[SHAPES[shape].top] = 14.0
        default = build_set_up(sizes, ("20 m", "15 m"))
        usual = as_tonight(found, [default]).setups[0].score
        assert one.advice.score >= usual - 1e-12, one.setup.shape
    scores = [one.advice.score for one in found.found]
    assert scores == sorted(scores, reverse=True)


@pytest.mark.slow
def test_what_is_only_tried_stays_off_the_disk(tmp_path):
    """Kept are my own wire, as it was, the best one found, and that one raised."""
    asked = question(hours=1)
    (own,) = asked.station.setups
    solve_setup(own, asked.bands, asked.station.ground, tmp_path)
    mine = set(tmp_path.glob("solution-*"))
    assert len(mine) == len(asked.bands)
    at_hand, shapes = AtHand((9.0, 9.0), 14.0, 31.0), ("dipole", "sloper")
    search = HangSearch(asked, at_hand, shapes, cache_dir=tmp_path)
    assert sum(search.run()) == search.steps
    assert sum(one.tried for one in search.answer().found) > 4
    kept = set(tmp_path.glob("solution-*"))
    assert mine <= kept
    assert len(kept - mine) <= 2 * len(asked.bands)


@pytest.mark.slow
def test_tonight_says_the_same_of_what_was_found():
    """The set-ups found, written out as a file would hold them, and asked again."""
    found = searched(question(), AtHand((9.0, 9.0), 14.0, 31.0), ("dipole", "sloper"))
    names = ("20 m", "15 m")
    again = as_tonight(
        found, [build_set_up(one.setup.as_mapping(), names) for one in found.found]
    )
    for one, told in zip(found.found, again.setups, strict=True):
        assert told.name == one.setup.name
        assert told.score == pytest.approx(one.advice.score, abs=1e-9)
        np.testing.assert_allclose(told.chance, one.advice.chance, atol=1e-9)


@pytest.mark.slow
def test_nothing_found_breaks_the_supports():
    """Heights, span, wire and sector are kept by what comes out."""
    at_hand = AtHand((9.0, 7.0), 14.0, 31.0, ((20.0, 80.0),))
    found = searched(question(), at_hand, ("dipole", "end-fed half-wave"))
    for one in found.found:
        bearing = one.advice.bearing.wire_deg
        assert at_hand.may_point(np.array([bearing, bearing + 180.0])).any()
        for hung in one.wires.values():
            assert isinstance(hung, HungWire)
            assert why_not(hung, at_hand) is None


@pytest.mark.slow
def test_two_poles_of_nine_metres():
    """
    The demonstration's own poles on 40 and 20 m: 9 m high, 14 m apart, 31 m of wire.

    Common practice, no source: a V and a sloper take one pole, an end-fed half-wave
    runs up to it, a 20 m dipole and a short doublet go between the two; a 40 m dipole
    is too long for the gap, a 40 m vertical too high.
    """
    at_hand = AtHand((9.0, 9.0), 14.0, 31.0)
    asked = question("within 600 km", bands=("40 m", "20 m"), hours=1)
    found = searched(asked, at_hand, shapes_to_try())
    offered = {one.setup.shape: one for one in found.found}
    for shape in ("inverted V", "sloper", "end-fed half-wave", "doublet"):
        assert "40 m" in offered[shape].setup.bands, shape
    assert offered["dipole"].setup.bands == ("20 m",)
    assert "14.0 m apart" in offered["dipole"].left_out["40 m"]
    assert "height" in offered["quarter-wave vertical"].left_out["40 m"]
    assert set(found.refused) == {"horizontal loop", "half-wave vertical"}
    scores = [one.advice.score for one in found.found]
    assert scores == sorted(scores, reverse=True)
    for one in found.found:
        for hung in one.wires.values():
            assert why_not(hung, at_hand, OUT_OF_REACH_M) is None, one.setup.shape
    assert found.within_reach == ()


@pytest.mark.slow
def test_trees_with_a_pole_between_them():
    """10 m of dipole between trees 18 m apart, past a pole, on their line."""
    posts = [
        read_post(text)
        for text in (
            "north tree 315deg 9m 8m high",
            "pole 0m 7m high",
            "south tree 135deg 9m 8m high",
        )
    ]
    asked = question(bands=("20 m",), hours=1)
    found = searched(asked, AtHand.standing(posts), ("dipole", "horizontal loop"))
    (one,) = found.found
    assert one.advice.bearing.wire_deg in (135.0, 315.0)
    assert dict(one.setup.dimensions)["height_m"] == 8.0
    row, refused = hang_rows(found)
    assert set(row.supports.split("; ")) == {"north tree", "south tree"}
    assert (refused.shape, refused.supports) == ("horizontal loop", "")
    text = " ".join(hang_text(found, 0.0).split())
    assert "Hang the dipole for 20 m between" in text
    assert "8 m up, 135-315." in text
    # The tree's height and the gap from the end of the wire, 3.9 m.
    assert text.count("m of cord)") == 2
    assert "up south tree (11.9 m of cord)" in text


@pytest.mark.slow
def test_poles_too_low_are_told_of():
    """Common practice, no source: on a 3 m pole the ends of a V are in reach."""
    asked = question(bands=("40 m",), hours=1)
    found = searched(asked, AtHand((3.0,)), ("inverted V",))
    sizes = dict(found.found[0].setup.dimensions)
    assert sizes["apex_m"] == 3.0
    assert 1.5 <= sizes["end_m"] < 2.5
    live, lying = found.within_reach
    assert f"first end {sizes['end_m']:.1f} m" in live.text
    assert "inverted V" in lying.text


@pytest.mark.slow
def test_a_wire_that_sags_onto_its_feed_can_be_solved():
    """A low sloper is fed some millimetres from the lowest point of its sag."""
    asked = question(bands=("20 m",), hours=1)
    found = searched(asked, AtHand((2.2, 2.0), 12.0), ("sloper",))
    assert found.found[0].setup.shape == "sloper"


@pytest.mark.slow
def test_a_wire_for_the_east_runs_north_and_south():
    """Common practice, no source: a wire radiates broadside."""
    asked = question("-28.0,60.0", place="-28.0,25.0", bands=("20 m",))
    found = searched(asked, AtHand((10.0, 10.0)), ("dipole",))
    bearing = found.found[0].advice.bearing.wire_deg
    assert min(bearing, 180.0 - bearing) <= 30.0


@pytest.mark.slow
def test_higher_for_far_away():
    """Common practice, no source: for DX a dipole hangs as high as it can."""
    asked = question("BR", bands=("20 m",), hours=2)
    found = searched(asked, AtHand((14.0, 14.0)), ("dipole",))
    best = found.found[0]
    assert dict(best.setup.dimensions)["height_m"] >= 10.0
    assert best.low <= best.advice.score <= best.high


@pytest.mark.slow
def test_a_search_that_is_stopped_has_the_best_so_far():
    """Some steps of many; shapes not reached are named."""
    shapes = ("inverted V", "sloper")
    search = HangSearch(question(hours=1), AtHand((9.0, 9.0)), shapes)
    assert not search.has_any
    run = search.run()
    for _ in range(3):
        next(run)
    assert search.has_any
    found = search.answer(is_stopped=True)
    assert found.is_stopped
    assert [one.setup.shape for one in found.found] == ["inverted V"]
    assert found.not_reached == ("sloper",)


SHARED = """
import multiprocessing
import numpy as np
from advisor.answers.ask import question_for
from advisor.answers.hanging.search import HangSearch
from advisor.answers.rows.hang import hang_details, hang_rows
from advisor.antenna.shapes.search import AtHand
from advisor.station.file import resolve_station

station, _ = resolve_station(None, {"place": "KF07jo", "bands": ["20 m"]})
start = np.datetime64("2026-12-05T10")
question = question_for(station, ["KE"], start, 1, band_names=["20 m"], r12=60.0)
shapes = ("dipole", "half-square", "sloper", "ground-mounted vertical")
told = []
for processes, is_killed in ((1, False), (2, False), (2, True)):
    search = HangSearch(question, AtHand((9.0,), None, 31.0), shapes)
    for steps in search.run(processes):
        if is_killed:
            # As if memory had run out: what a process leaves undone is done here.
            for one in multiprocessing.active_children():
                one.kill()
    found = search.answer()
    assert len(found.found) > 1
    told.append(repr((hang_rows(found), hang_details(found))))
assert told[0] == told[1] == told[2]
print("the same")
"""
"""Run by itself: only what has one thread may be split."""


@pytest.mark.slow
def test_two_processes_find_what_one_finds():
    done = subprocess.run(
        [sys.executable, "-W", "error", "-c", SHARED],
        env={**os.environ, "OPENBLAS_NUM_THREADS": "1", "PYTHONPATH": str(ROOT)},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.stdout == "the same\n", done.stderr


@pytest.mark.slow
def test_two_of_a_kind_are_equal():
    """A doublet of half a wave is a dipole; the difference is under the uncertainty."""
    asked = question(bands=("20 m",), hours=2)
    found = searched(asked, AtHand((10.0, 10.0), 10.4, 10.4), ("dipole", "doublet"))
    first, second = found.found
    assert first.advice.score - second.advice.score < LEAST_DIFFERENCE
    assert not first.is_equal
    assert second.is_equal


@pytest.mark.slow
def test_far_better_is_not_equal():
    """A high dipole and a vertical on poor soil are told apart."""
    asked = question(bands=("20 m",), ground="poor")
    found = searched(asked, AtHand((14.0, 14.0)), ("dipole", "ground-mounted vertical"))
    first, second = found.found
    assert first.setup.shape == "dipole"
    assert first.advice.score - second.advice.score > 0.05
    assert not second.is_equal


@pytest.mark.slow
def test_budget_is_kept():
    """No shape gets more candidates than it may."""
    found = searched(question(hours=1), PLENTY, ("delta loop",))
    assert found.found[0].tried <= MOST_TRIED


# Remedies.


def test_the_cheapest_remedy_that_helps_is_named():
    """Turning before power, unless it does nothing."""

    def brings(gain):
        return Change("any", "it", 0.4 + gain, gain)

    turn, power = brings(0.04), brings(0.05)
    assert cheapest((turn, power)) is turn
    assert cheapest((brings(0.001), power)) is power
    assert cheapest((brings(0.0),)) is None


def test_raising_raises_the_top():
    """Every shape with a top; what stands on the ground has none."""
    dipole = set_up("dipole", {"height_m": 7.0}, ("20 m",), True)
    assert dict(raised(dipole, 2.0).dimensions)["height_m"] == 9.0
    assert raised(set_up("ground-mounted vertical", {}, ("20 m",), True), 2.0) is None


@pytest.mark.slow
def test_more_height_power_and_quiet_never_harm_the_best():
    """Twice the power and less noise cannot lower a chance."""
    found = searched(question(hours=2), AtHand((9.0, 9.0)), ("dipole",))
    gains = {one.what: one.gain for one in found.remedies}
    asked, best = found.advice.question, found.found[0]

    def anew(**changed):
        station = replace(asked.station, setups=(best.setup,), **changed)
        return answer(replace(asked, station=station)).setups[0].score

    power, noise = 2.0 * asked.station.power_w, asked.station.noise_trim_db - 6.0
    now, gain = anew(), gains["a spot with 6 dB less man-made noise"]
    assert 0.0 <= gains["twice the power"] == pytest.approx(anew(power_w=power) - now)
    assert 0.0 <= gain == pytest.approx(anew(noise_trim_db=noise) - now)


# The command.

HERE = ["--from", "KF07jo", "--to", "KE", "--date", "2026-12-05T10:00Z", "--hours", "2"]
QUICK = [*HERE, "--r12", "60", "--band", "20 m", "--shape", "dipole", "--no-cache"]
POLES = ["--pole-m", "9", "--pole-m", "9", "--apart-m", "14"]


def run(*words):
    """Run the command."""
    return CliRunner().invoke(main, ["hang", *words])


@pytest.mark.slow
def test_text_answers_first_and_fits_a_page():
    """Answer, table, how, why not, figures explained once, cautions."""
    result = run(*QUICK, *POLES, "--more")
    assert result.exit_code == 0, result.output
    text = result.stdout
    order = ["At hand:", "Hang the dipole", "hung as", "Run it", "Cheapest fix"]
    order += ["not tried", "A figure is", "[[setups]]", "power lines", "local rules"]
    places = [text.index(part) for part in order]
    assert places == sorted(places)
    assert text.count("A figure is") == 1
    assert max(len(line) for line in text.splitlines()) <= 100


SCOTLAND = ["--from", "IO66", "--to", "155", "--date", "2026-12-19T09:00Z"]
SCOTLAND += ["--hours", "2", "--r12", "60", "--band", "40 m", "--no-cache"]


@pytest.mark.slow
def test_a_dipole_too_long_for_the_gap_is_refused():
    """Not laid out on the ground: 20.3 m of wire, poles 12 m apart."""
    words = ["--pole-m", "7", "--pole-m", "5", "--apart-m", "12", "--wire-m", "25"]
    result = run(*SCOTLAND, *words, "--shape", "dipole")
    assert result.exit_code == 2
    assert "20.3 m of dipole do not go between supports 12.0 m apart" in result.stderr
    assert "inverted V" in result.stderr


@pytest.mark.slow
def test_a_doublet_takes_the_gap_and_the_lower_pole():
    """Without a limit on the wire: not longer than the gap, as high as it goes."""
    words = ["--pole-m", "5", "--pole-m", "3", "--apart-m", "12", "--json"]
    result = run(*SCOTLAND, *words, "--shape", "doublet")
    answer = json.loads(result.stdout)
    row = answer["results"][0]
    assert 5.0 < row["wire_m"] <= 12.0
    assert row["dimensions"].endswith("height 3 m")
    assert not any("High voltage" in text for text in answer["cautions"])


@pytest.mark.slow
def test_low_ends_are_in_the_cautions():
    """With the height they have, before the general ones; in text and JSON."""
    words = [*SCOTLAND, "--pole-m", "3", "--shape", "end-fed half-wave"]
    text = run(*words, "--more").stdout
    assert "On a stake:" in text
    told = text[text.index("\nCautions") :]
    assert told.index("within reach:") < told.index("head height:")
    assert told.index("head height:") < told.index("power lines:")
    assert "end-fed half-wave (feedpoint 2.0 m)" in " ".join(told.split())
    cautions = json.loads(run(*words, "--json").stdout)["cautions"]
    assert "feedpoint 2.0 m" in cautions[0]


@pytest.mark.slow
def test_wire_tells_of_low_live_ends():
    """The default end-fed wire is fed at 0.5 m, the default dipole is 10 m up."""

    def told(shape, *more):
        words = ["wire", "--shape", shape, "--band", "20 m", "--quick", *more]
        result = CliRunner().invoke(main, [*words, "--no-cache"])
        assert result.exit_code == 0, result.output
        return result.stdout

    assert "(feedpoint 0.5 m)" in " ".join(told("end-fed half-wave").split())
    assert (
        "feedpoint 0.5 m"
        in json.loads(told("end-fed half-wave", "--json"))["cautions"][0]
    )
    assert "High voltage" not in told("dipole")


@pytest.mark.slow
def test_the_block_for_the_station_file_is_accepted(tmp_path):
    """What is printed can be put into a file and asked about."""
    brief = run(*QUICK, *POLES).stdout
    assert brief.count("\n") <= 40
    assert "Hang the dipole" in brief
    text = run(*QUICK, *POLES, "--more").stdout
    block = text[text.index("[[setups]]") : text.index("Cautions")]
    file = tmp_path / "hill.toml"
    file.write_text(f'place = "KF07jo"\nto = ["KE"]\n{block}')
    shown = CliRunner().invoke(main, ["station", "show", "--station", str(file)])
    assert shown.exit_code == 0, shown.output
    assert "height_m" in shown.stdout


@pytest.mark.slow
def test_json_and_csv_say_the_same():
    """One search, two formats; what does not fit has its reason."""
    words = [*QUICK, "--shape", "horizontal loop", *POLES]
    rows = json.loads(run(*words, "--json").stdout)["results"]
    table = list(csv.DictReader(io.StringIO(run(*words, "--csv").stdout)))
    assert [row["shape"] for row in rows] == ["dipole", "horizontal loop"]
    assert [float(row["chance"] or "nan") for row in table] == pytest.approx(
        [row["chance"] if row["chance"] is not None else math.nan for row in rows],
        nan_ok=True,
    )
    assert rows[1]["fits"] is False
    assert "supports" in rows[1]["reason"]


@pytest.mark.slow
def test_demonstration_says_what_it_is():
    """With nothing given invented supports are used, and the first line says so."""
    result = run("--shape", "dipole", "--band", "20 m", "--hours", "1", "--no-cache",
                 "--date", "2026-12-05T12:00Z")  # fmt: skip
    assert result.stdout.startswith("Demonstration (no station, no place and no target")
    assert "2 supports of 9 and 9 m, 14 m apart; 31 m of wire" in result.stdout


@pytest.mark.slow
def test_all_closed_is_an_answer():
    """10 m at night without sun spots."""
    words = ["--from", "IO85", "--to", "JP", "--date", "2026-12-05T23:00Z", "--hours"]
    words += ["1", "--r12", "0", "--band", "10 m", "--shape", "dipole", "--no-cache"]
    result = run(*words, *POLES)
    assert result.exit_code == 0
    assert "Nothing opens in these hours" in result.stdout


BAD = {
    "no supports": (HERE, "--pole-m"),
    "no target": (["--from", "KF07jo", *POLES], "--to"),
    "height zero": ([*HERE, "--pole-m", "0"], "0 m"),
    "height not finite": ([*HERE, "--pole-m", "nan"], "nan"),
    "no gap": ([*HERE, *POLES[:4], "--apart-m", "-3"], "-3"),
    "no wire": ([*HERE, *POLES, "--wire-m", "0"], "0 m"),
    "sector": ([*HERE, *POLES, "--free", "north"], "300-60"),
    "unknown shape": ([*HERE, *POLES, "--shape", "dipol"], "dipole"),
    "point by point": ([*HERE, *POLES, "--shape", "free wire"], "station file"),
    "nothing fits": (
        [*HERE, "--pole-m", "9", "--shape", "horizontal loop", "--band", "20 m"],
        "nothing fits",
    ),
    "two formats": ([*HERE, *POLES, "--json", "--csv"], "exclude"),
}


@pytest.mark.parametrize(("words", "says"), BAD.values(), ids=BAD.keys())
def test_bad_input_is_one_clear_line(words, says):
    """Exit code 2, nothing on stdout."""
    result = run(*words)
    assert result.exit_code == 2, result.output
    assert result.stdout == ""
    assert "Traceback" not in result.stderr
    assert says in result.stderr.strip().splitlines()[-1]


def test_what_is_equal_stands_together_and_shares_its_place():
    """Of four shapes the best and the third are alike: they are one group."""
    one, two, three, four = (
        SimpleNamespace(name=name, is_equal=name == "three")
        for name in ("one", "two", "three", "four")
    )
    found = SimpleNamespace(found=(one, two, three, four))
    told = HangAnswer.ranking.fget(found)
    assert [(place, each.name) for place, each in told] == [
        (1, "one"), (1, "three"), (3, "two"), (4, "four"),
    ]  # fmt: skip
