"""What to hang: what fits, that the search finds the best, and how a user meets it."""

import csv
import io
import json
import math
import os
import signal
import subprocess
import sys
import time
from dataclasses import replace

import numpy as np
import pytest
from click.testing import CliRunner

from advisor.antenna.shape_parts import HungWire
from advisor.antenna.shapes import hang as hang_shape
from advisor.ask import answer, question_for
from advisor.cli import main
from advisor.hang_plans import (
    AtHand,
    bearings_for,
    free_sector,
    poles_needed,
    reasons_by_band,
    set_up,
    tied_off,
    why_not,
    wire_used_m,
)
from advisor.hang_sizes import knobs, shapes_to_try
from advisor.hanging import MOST_TRIED, HangSearch
from advisor.remedies import Remedy, cheapest, raised
from advisor.setups import build_set_up
from advisor.spread import LEAST_DIFFERENCE
from advisor.stationfile import resolve_station
from geo.errors import InputError

PLENTY = AtHand((30.0, 30.0, 30.0, 30.0), None, None)
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


def test_a_wire_longer_than_the_gap_does_not_fit():
    """A 40 m dipole without sag spans its length: 20.3 m."""
    hung = hang_shape("dipole", 7.1, {"height_m": 8.0, "sag_m": 0.0})
    assert why_not(hung, AtHand((9.0, 9.0), 14.0)).startswith("spans 20.3 m")
    assert why_not(hung, AtHand((9.0, 9.0), 21.0)) is None
    assert why_not(hung, AtHand((9.0, 9.0))) is None


def test_height_and_number_of_supports_count():
    """The second support is the lower one."""
    hung = hang_shape("dipole", 14.2, {"height_m": 8.0})
    assert "needs 2 supports" in why_not(hung, AtHand((9.0,)))
    assert "8.0 m of height" in why_not(hung, AtHand((12.0, 7.0)))
    assert why_not(hung, AtHand((8.0, 12.0))) is None


def test_radials_are_wire_too():
    """A vertical with four radials takes five times its length, nearly."""
    hung = hang_shape("quarter-wave vertical", 14.2)
    used = wire_used_m(hung)
    assert 4.9 * hung.length_m < used < 5.1 * hung.length_m
    assert f"{used:.1f} m of wire" in why_not(hung, AtHand((9.0,), wire_m=used - 0.1))
    assert why_not(hung, AtHand((9.0,), wire_m=used + 0.1)) is None


def test_a_sloping_end_is_held_by_cord_down_its_own_slope():
    """Similar triangles: the cord goes on as the wire came."""
    sizes = {"length_m": 20.0, "apex_m": 9.0, "end_m": 3.0, "sag_m": 0.0}
    hung = hang_shape("inverted V", 7.1, sizes)
    # 10 m of wire fall 6 m, so 3 m more need 5 m of cord.
    assert tied_off(hung) == pytest.approx({"south end": 5.0, "north end": 5.0})
    assert [s.name for s in poles_needed(hung)] == ["apex"]


def test_a_nearly_level_end_needs_a_support():
    """Its cord would come down a field away."""
    sizes = {"length_m": 20.0, "apex_m": 9.0, "end_m": 8.5, "sag_m": 0.0}
    hung = hang_shape("inverted V", 7.1, sizes)
    assert len(poles_needed(hung)) == 3
    assert tied_off(hung) == {}


def test_level_corners_need_supports():
    """Nothing slopes to the corners of a half-square or a level loop."""
    assert len(poles_needed(hang_shape("half-square", 14.2))) == 2
    assert len(poles_needed(hang_shape("horizontal loop", 14.2))) == 4


def test_two_supports_and_a_sector_either_way_along():
    """A level wire may run along a line whichever end it is named from."""
    hung = hang_shape("dipole", 14.2)
    bearings = bearings_for(hung, AtHand((9.0, 9.0), free_deg=((30.0, 60.0),)))
    assert set(bearings) == {*range(30, 61, 5), *range(210, 241, 5)}


def test_one_support_and_a_sector_seen_from_it():
    """An end-fed wire from stake to pole must lie on the free side of the pole."""
    hung = hang_shape("end-fed half-wave", 14.2, {"end_height_m": 9.0})
    assert [s.name for s in poles_needed(hung)] == ["far end"]
    bearings = bearings_for(hung, AtHand((9.0,), free_deg=((30.0, 60.0),)))
    # It runs towards the pole, so the other way than it is seen.
    assert set(bearings) == {*range(210, 241, 5)}


def test_both_halves_of_a_v_need_room():
    """With one pole and a sector of a quarter there is none for both."""
    hung = hang_shape("inverted V", 14.2, {"apex_m": 9.0, "end_m": 5.0})
    assert bearings_for(hung, AtHand((9.0,), free_deg=((0.0, 90.0),))).size == 0
    both = AtHand((9.0,), free_deg=((0.0, 20.0), (180.0, 200.0)))
    assert set(bearings_for(hung, both)) == {*range(0, 21, 5), *range(180, 201, 5)}


@pytest.mark.parametrize("text", ["", "30", "30-", "a-b", "30-400", "40-40", "-5-20"])
def test_no_sector(text):
    """What is no sector is refused with an example."""
    with pytest.raises(InputError, match="300-60"):
        free_sector(text)


@pytest.mark.parametrize(
    ("values", "says"),
    [
        ({"heights_m": ()}, "--pole-m"),
        ({"heights_m": (0.0,)}, "0 m"),
        ({"heights_m": (math.nan,)}, "nan"),
        ({"heights_m": (9.0,), "wire_m": -1.0}, "-1 m"),
        ({"heights_m": (9.0, 9.0), "apart_m": 0.0}, "0 m"),
    ],
)
def test_impossible_supports(values, says):
    """The value that cannot be is in the message."""
    with pytest.raises(InputError, match=says):
        AtHand(**values)


def test_every_shape_has_a_plan():
    """A shape that is added must be searched too, or named as not searched."""
    from advisor.hang_sizes import NOT_TRIED
    from advisor.setups import shape_names

    assert {*shapes_to_try(), *NOT_TRIED} == set(shape_names())
    for shape in shapes_to_try():
        setup = build_set_up({"shape": shape}, ("20 m",))
        known = set(dict(setup.dimensions)) | _dimensions(shape)
        assert set(knobs(shape, PLENTY)) <= known


def _dimensions(shape):
    """Names of the dimensions of a shape."""
    from advisor.antenna.shapes import SHAPES

    return set(SHAPES[shape].dimensions) if shape in SHAPES else set()


def test_bands_are_left_out_one_by_one():
    """What fits on 20 m and not on 40 m is kept for 20 m."""
    asked = question(bands=("40 m", "20 m"))
    at_hand = AtHand((9.0, 9.0), 14.0)
    reasons = reasons_by_band("dipole", {"height_m": 9.0}, asked.bands, at_hand, True)
    assert reasons["20 m"] is None
    assert "14.0 m apart" in reasons["40 m"]


# The search.


@pytest.mark.slow
def test_the_best_is_no_worse_than_any_default():
    """Every shape with its own sizes in the same question, by the usual way."""
    asked = question()
    found = searched(asked, PLENTY, shapes_to_try())
    assert not found.refused
    for one in found.found:
        default = build_set_up({"shape": one.setup.shape}, ("20 m", "15 m"))
        usual = as_tonight(found, [default]).setups[0].score
        assert one.advice.score >= usual - 1e-12, one.setup.shape
    scores = [one.advice.score for one in found.found]
    assert scores == sorted(scores, reverse=True)


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


def test_a_wire_for_the_east_runs_north_and_south():
    """Common practice, no source: a wire radiates broadside."""
    asked = question("-28.0,60.0", place="-28.0,25.0", bands=("20 m",))
    found = searched(asked, AtHand((10.0, 10.0)), ("dipole",))
    bearing = found.found[0].advice.bearing.wire_deg
    assert min(bearing, 180.0 - bearing) <= 30.0


def test_higher_for_far_away():
    """Common practice, no source: for DX a dipole hangs as high as it can."""
    asked = question("JP", bands=("20 m",), hours=2)
    found = searched(asked, AtHand((14.0, 14.0)), ("dipole",))
    best = found.found[0]
    assert dict(best.setup.dimensions)["height_m"] >= 10.0
    assert best.low <= best.advice.score <= best.high


def test_a_search_that_is_stopped_has_the_best_so_far():
    """Some steps of many; shapes not reached are named."""
    search = HangSearch(question(hours=1), AtHand((9.0, 9.0)), ("dipole", "sloper"))
    assert not search.has_any
    run = search.run()
    for _ in range(3):
        next(run)
    assert search.has_any
    found = search.answer(is_stopped=True)
    assert found.is_stopped
    assert [one.setup.shape for one in found.found] == ["dipole"]
    assert found.not_reached == ("sloper",)


@pytest.mark.slow
def test_two_of_a_kind_are_equal():
    """A doublet of half a wave is a dipole; the difference is under the uncertainty."""
    asked = question(bands=("20 m",), hours=2)
    found = searched(asked, AtHand((10.0, 10.0), 10.4, 10.4), ("dipole", "doublet"))
    first, second = found.found
    assert first.advice.score - second.advice.score < LEAST_DIFFERENCE
    assert not first.is_equal
    assert second.is_equal


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
    turn, power = Remedy("turn it", 0.04), Remedy("twice the power", 0.05)
    assert cheapest((turn, power)) is turn
    assert cheapest((Remedy("turn it", 0.001), power)) is power
    assert cheapest((Remedy("turn it", 0.0),)) is None


def test_raising_raises_the_top():
    """Every shape with a top; what stands on the ground has none."""
    dipole = set_up("dipole", {"height_m": 7.0}, ("20 m",), True)
    assert dict(raised(dipole, 2.0).dimensions)["height_m"] == 9.0
    assert raised(set_up("ground-mounted vertical", {}, ("20 m",), True), 2.0) is None


def test_more_height_power_and_quiet_never_harm_the_best():
    """Twice the power and less noise cannot lower a chance."""
    found = searched(question(hours=2), AtHand((9.0, 9.0)), ("dipole",))
    gains = {one.what: one.gain for one in found.remedies}
    assert gains["twice the power"] >= 0.0
    assert gains["a spot with 6 dB less noise"] >= 0.0


# The command.

HERE = ["--from", "KF07jo", "--to", "KE", "--date", "2026-12-05T10:00Z", "--hours", "2"]
QUICK = [*HERE, "--r12", "60", "--band", "20 m", "--shape", "dipole", "--no-cache"]
POLES = ["--pole-m", "9", "--pole-m", "9", "--apart-m", "14"]


def run(*words):
    """Run the command."""
    return CliRunner().invoke(main, ["hang", *words])


def test_text_answers_first_and_fits_a_page():
    """Answer, table, how, why not, figures explained once, cautions."""
    result = run(*QUICK, *POLES)
    assert result.exit_code == 0, result.output
    text = result.stdout
    order = ["At hand:", "Hang the dipole", "hung as", "Run it", "Cheapest fix"]
    order += ["not tried", "A figure is", "[[setups]]", "power lines", "local rules"]
    places = [text.index(part) for part in order]
    assert places == sorted(places)
    assert text.count("A figure is") == 1
    assert max(len(line) for line in text.splitlines()) <= 100


def test_the_block_for_the_station_file_is_accepted(tmp_path):
    """What is printed can be put into a file and asked about."""
    text = run(*QUICK, *POLES).stdout
    block = text[text.index("[[setups]]") : text.index("Cautions")]
    file = tmp_path / "hill.toml"
    file.write_text(f'place = "KF07jo"\nto = ["KE"]\n{block}')
    shown = CliRunner().invoke(main, ["station", "show", "--station", str(file)])
    assert shown.exit_code == 0, shown.output
    assert "height_m" in shown.stdout


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


def test_demonstration_says_what_it_is():
    """With nothing given invented supports are used, and the first line says so."""
    result = run("--shape", "dipole", "--band", "20 m", "--hours", "1", "--no-cache",
                 "--date", "2026-12-05T12:00Z")  # fmt: skip
    assert result.stdout.startswith("Demonstration (no station, no place and no target")
    assert "2 supports of 9 and 9 m, 14 m apart; 31 m of wire" in result.stdout


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


@pytest.mark.slow
@pytest.mark.skipif(sys.platform == "win32", reason="no such signal there")
def test_ctrl_c_leaves_the_best_so_far(tmp_path):
    """Exit code 130, an answer on stdout, no trace."""
    words = ["hang", "--from", "KF07jo", "--to", "KE", "--date", "2026-12-05"]
    words += [*POLES, "--r12", "60", "--no-cache", "--csv"]
    process = subprocess.Popen(
        [sys.executable, "-m", "advisor", *words],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env={**os.environ, "HOME": str(tmp_path), "OPENBLAS_NUM_THREADS": "1"},
    )
    time.sleep(15.0)
    assert process.poll() is None, process.communicate()
    process.send_signal(signal.SIGINT)
    out, err = process.communicate(timeout=120)
    assert process.returncode == 130, err
    assert "Traceback" not in err
    assert "best so far" in err
    assert out.startswith("rank,shape")
