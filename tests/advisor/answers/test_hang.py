"""What to hang: what fits, that the search finds the best, and how a user meets it."""

import csv
import io
import json
import math
import os
import subprocess
import sys
from dataclasses import replace

import numpy as np
import pytest
from click.testing import CliRunner

from advisor.answers.ask import answer, question_for
from advisor.answers.hang import MOST_TRIED, HangSearch
from advisor.answers.hang_supports import (
    bearings_for,
    changes,
    knobs,
    not_tried,
    poles_needed,
    reasons_by_band,
    set_up,
    shapes_to_try,
    stakes,
    tied_off,
    why_not,
    wire_used_m,
)
from advisor.answers.low_wires import OUT_OF_REACH_M, low_parts, reach_cautions
from advisor.answers.perturb import Change, cheapest, raised
from advisor.answers.uncertainty import LEAST_DIFFERENCE
from advisor.antenna.shapes.parts import HungWire
from advisor.antenna.shapes.registry import SHAPES
from advisor.antenna.shapes.registry import hang as hang_shape
from advisor.antenna.shapes.search import AtHand, free_sector
from advisor.cli import main
from advisor.station.file import resolve_station
from advisor.station.setup import build_set_up
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
    reason = why_not(hung, AtHand((9.0, 9.0), 14.0))
    assert "20.3 m of dipole do not go between supports 14.0 m apart" in reason
    assert "inverted V" in reason
    assert why_not(hung, AtHand((9.0, 9.0), 21.0)) is None
    assert why_not(hung, AtHand((9.0, 9.0))) is None


def test_height_and_number_of_supports_count():
    """The second support is the lower one."""
    hung = hang_shape("dipole", 14.2, {"height_m": 8.0})
    assert "needs 2 supports" in why_not(hung, AtHand((9.0,)))
    assert "8.0 m of height" in why_not(hung, AtHand((12.0, 7.0)))
    assert why_not(hung, AtHand((8.0, 12.0))) is None


@pytest.mark.parametrize("height_m", [0.8, 2.0, 2.4, 8.0])
def test_a_level_wire_needs_both_supports_however_low(height_m):
    """On the ground there would be no pole to stand apart: it must be refused too."""
    hung = hang_shape("dipole", 7.1, {"height_m": height_m})
    assert [s.name for s in poles_needed(hung)] == ["first end", "second end"]
    assert "12.0 m apart" in why_not(hung, AtHand((8.0, 8.0), 12.0))
    assert "needs 2 supports" in why_not(hung, AtHand((8.0,)))
    if height_m > 1.5:
        assert "m of height" in why_not(hung, AtHand((9.0, height_m - 0.1), 30.0))


@pytest.mark.parametrize("shape", ["doublet", "horizontal loop", "inverted L"])
def test_what_is_level_has_no_stakes(shape):
    """A stake may hold the lower end of a slope, nothing else."""
    hung = hang_shape(shape, 28.5, {"height_m": 1.5})
    assert stakes(hung) == ()
    assert len(poles_needed(hung)) == len(hung.supports)


def test_a_long_wire_is_not_strung_from_a_stake():
    """65 m from a stake to a pole 1 m higher pulls the stake over; 20 m holds."""
    sizes = {"feed_height_m": 2.0, "end_height_m": 3.0}
    long = hang_shape("random wire", 7.1, {**sizes, "length_m": 65.0})
    assert "almost level from a stake" in why_not(long, AtHand((3.0,)))
    short = hang_shape("random wire", 7.1, {**sizes, "length_m": 20.0})
    assert why_not(short, AtHand((3.0,))) is None
    assert [s.height_m for s in stakes(short)] == [2.0]


def test_a_triangle_must_rise():
    """Half the base of 22 m round is 5 m: 1 m of rise is 11 degrees, 4 m are 40."""
    flat = hang_shape("delta loop", 14.2, {"apex_m": 3.0, "base_m": 2.0})
    assert "too flat" in why_not(flat, AtHand((3.0,)))
    good = hang_shape("delta loop", 14.2, {"apex_m": 6.5, "base_m": 2.5})
    assert why_not(good, AtHand((6.5,))) is None


# What can be touched.


LOW = {
    "ends of a V": (
        "inverted V", {"apex_m": 6.0, "end_m": 2.0, "sag_m": 0.0},
        {("south end", 2.0, True), ("north end", 2.0, True), ("wire", 2.0, False)},
    ),
    "ends of a V out of reach": ("inverted V", {"apex_m": 6.0, "end_m": 2.5}, set()),
    "feed of an end-fed wire": (
        "end-fed half-wave", {"sag_m": 0.0},
        {("feedpoint", 0.5, True), ("wire", 0.5, False)},
    ),
    "its counterpoise": (
        "random wire", {"feed_height_m": 1.8, "sag_m": 0.0},
        {("feedpoint", 1.8, True), ("wire", 1.8, False), ("counterpoise", 1.8, False)},
    ),
    "a quarter-wave on the ground": ("quarter-wave vertical", {}, set()),
    "its radials at head height": (
        "quarter-wave vertical", {"feed_height_m": 2.0}, {("radials", 2.0, False)},
    ),
    "foot of a half-wave": ("half-wave vertical", {}, {("feedpoint", 0.5, True)}),
    "hanging ends": (
        "half-square", {"height_m": 6.0},
        {("hanging south end", 0.72, True), ("hanging north end", 0.72, True)},
    ),
    "a loop has no ends": (
        "delta loop", {"base_m": 1.0}, {("wire", 1.0, False)},
    ),
    "a level wire": (
        "dipole", {"height_m": 2.4, "sag_m": 0.2},
        {("first end", 2.4, True), ("second end", 2.4, True), ("wire", 2.2, False)},
    ),
    "a high one": ("dipole", {}, set()),
    "far end of an L": ("inverted L", {}, set()),
}  # fmt: skip
"""Shape, dimensions, and what is low on 20 m: straight from the dimensions."""


@pytest.mark.parametrize(("shape", "sizes", "low"), LOW.values(), ids=LOW.keys())
def test_what_is_within_reach(shape, sizes, low):
    """Open ends on every shape; a feedpoint at an end, but of a quarter-wave."""
    hung = hang_shape(shape, 14.2, sizes)
    found = {(p.what, round(p.height_m, 2), p.is_live) for p in low_parts(hung, 14.2)}
    assert found == low


@pytest.mark.parametrize(
    ("waves", "live"),
    [
        (0.243, False),
        (0.75, False),
        (0.15, True),
        (0.35, True),
        (0.62, True),
    ],
)
def test_an_inverted_l_is_live_at_its_foot_unless_it_is_quarter_waves(waves, live):
    """
    Sine current on a wire (textbook): V/I at the foot goes as the cotangent of kl.

    Between odd quarter-waves it is 350 ohm and more on a thin wire (Z0 about 500).
    """
    length = waves * 299.792458 / 7.1
    hung = hang_shape("inverted L", 7.1, {"height_m": 6.0, "length_m": length})
    told = {p.what for p in low_parts(hung, 7.1) if p.is_live}
    assert ("feedpoint" in told) is live
    assert bool(abs(500.0 / np.tan(2.0 * np.pi * waves)) > 250.0) is live


def test_cautions_name_the_lowest_over_the_bands():
    """One about live parts, one about wires; none where all is high."""
    wires = [
        (
            hang_shape("inverted V", mhz, {"apex_m": 6.0, "end_m": end, "sag_m": 0.0}),
            mhz,
        )
        for mhz, end in ((7.1, 2.46), (14.2, 1.9))
    ]
    live, lying = reach_cautions(
        {"my V": wires, "my dipole": [(hang_shape("dipole", 7), 7.0)]}
    )
    assert live.topic == "within reach"
    assert "High voltage lower than 2.5 m: my V (south end 1.9 m, north" in live.text
    assert lying.topic == "head height"
    assert "my V (wire 1.9 m)" in lying.text
    assert "my dipole" not in live.text + lying.text
    # 2.46 m is not yet 2.5 m.
    assert "south end 2.4 m" in reach_cautions({"V": wires[:1]})[0].text
    assert reach_cautions({"my dipole": [(hang_shape("dipole", 7.1), 7.1)]}) == ()


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
    assert {*shapes_to_try(), *not_tried()} == set(SHAPES)
    for shape in shapes_to_try():
        assert set(knobs(shape, PLENTY)) <= set(SHAPES[shape].dimensions)


STANDING = {"quarter-wave vertical", "inverted L", "ground-mounted vertical"}
"""Shapes fed on the ground at little voltage."""


@pytest.mark.parametrize("shape", shapes_to_try())
def test_nothing_starts_or_turns_within_reach(shape):
    """Heights are tried from 2.5 m up; a quarter-wave keeps its foot on the ground."""
    at_hand = AtHand((9.0, 7.0), 14.0, 60.0)
    for sizes in changes(shape, at_hand):
        for name, value in sizes.items():
            if name == "feed_height_m" and shape in STANDING:
                assert value <= 1.0
            elif name.endswith(("height_m", "apex_m", "end_m", "low_m", "base_m")):
                assert 2.5 <= value <= 9.0
    for name, knob in knobs(shape, at_hand).items():
        if name == "feed_height_m" and shape in STANDING:
            assert knob.high <= 1.0
        elif name not in ("length_m", "top_m", "feed_share"):
            assert knob.low >= 2.5
    if shape in ("dipole", "doublet", "half-square"):
        assert knobs(shape, at_hand)["height_m"].high == 7.0


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
    # Fed at 0.5 m by default, which the search does not do where poles are high.
    out_of_reach = {
        shape: {"feed_height_m": 2.5}
        for shape in ("end-fed half-wave", "random wire", "half-wave vertical")
    }
    for one in found.found:
        shape = one.setup.shape
        sizes = {"shape": shape, **out_of_reach.get(shape, {})}
        if shape == "bottom-fed half-square" or shape == "half-square":
            sizes["height_m"] = 8.0
        default = build_set_up(sizes, ("20 m", "15 m"))
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
def test_poles_too_low_are_told_of():
    """Common practice, no source: on a 3 m pole the ends of a V are in reach."""
    asked = question(bands=("40 m",), hours=1)
    found = searched(asked, AtHand((3.0,)), ("inverted V",))
    sizes = dict(found.found[0].setup.dimensions)
    assert sizes["apex_m"] == 3.0
    assert 1.5 <= sizes["end_m"] < 2.5
    live, lying = found.within_reach
    assert f"south end {sizes['end_m']:.1f} m" in live.text
    assert "inverted V" in lying.text


def test_a_wire_that_sags_onto_its_feed_can_be_solved():
    """A low sloper is fed some millimetres from the lowest point of its sag."""
    asked = question(bands=("20 m",), hours=1)
    found = searched(asked, AtHand((2.2, 2.0), 12.0), ("sloper",))
    assert found.found[0].setup.shape == "sloper"


def test_a_wire_for_the_east_runs_north_and_south():
    """Common practice, no source: a wire radiates broadside."""
    asked = question("-28.0,60.0", place="-28.0,25.0", bands=("20 m",))
    found = searched(asked, AtHand((10.0, 10.0)), ("dipole",))
    bearing = found.found[0].advice.bearing.wire_deg
    assert min(bearing, 180.0 - bearing) <= 30.0


@pytest.mark.slow
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


SCOTLAND = ["--from", "IO66", "--to", "155", "--date", "2026-12-19T09:00Z"]
SCOTLAND += ["--hours", "2", "--r12", "60", "--band", "40 m", "--no-cache"]


def test_a_dipole_too_long_for_the_gap_is_refused():
    """Not laid out on the ground: 20.3 m of wire, poles 12 m apart."""
    words = ["--pole-m", "7", "--pole-m", "5", "--apart-m", "12", "--wire-m", "25"]
    result = run(*SCOTLAND, *words, "--shape", "dipole")
    assert result.exit_code == 2
    assert "20.3 m of dipole do not go between supports 12.0 m apart" in result.stderr
    assert "inverted V" in result.stderr


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
    text = run(*words).stdout
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


def stopped(home, when):
    """Run `hang` in a process that gets Ctrl-C as soon as ``when`` is true."""
    words = ["hang", "--from", "KF07jo", "--to", "KE", "--date", "2026-12-05"]
    words += [*POLES, "--hours", "2", "--r12", "60", "--no-cache", "--csv"]
    # By the search's own steps, not by the clock: its pace is the machine's matter.
    code = (
        "import os, signal\n"
        "from advisor.answers.hang import HangSearch\n"
        "from advisor.cli import main\n"
        "signal.signal(signal.SIGINT, signal.default_int_handler)\n"
        "whole = HangSearch._candidate\n"
        "def candidate(search, *words):\n"
        f"    if {when}:\n"
        "        os.kill(os.getpid(), signal.SIGINT)\n"
        "    return whole(search, *words)\n"
        "HangSearch._candidate = candidate\n"
        f"main({words!r})\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code],
        capture_output=True,
        text=True,
        env={**os.environ, "HOME": str(home), "OPENBLAS_NUM_THREADS": "1"},
    )
    assert "Traceback" not in done.stderr
    return done


@pytest.mark.slow
@pytest.mark.skipif(sys.platform == "win32", reason="no such signal there")
def test_ctrl_c_leaves_the_best_so_far(tmp_path):
    """Exit code 130, an answer on stdout, no trace."""
    done = stopped(tmp_path, "search.has_any")
    assert done.returncode == 130, done.stderr
    assert "best so far" in done.stderr
    assert done.stdout.startswith("rank,shape")


@pytest.mark.slow
@pytest.mark.skipif(sys.platform == "win32", reason="no such signal there")
def test_ctrl_c_before_anything_is_found_says_so(tmp_path):
    """Exit code 130 too, and nothing that looks like an answer."""
    done = stopped(tmp_path, "True")
    assert (done.returncode, done.stdout) == (130, ""), done.stderr
    assert "stopped before anything was found" in done.stderr
