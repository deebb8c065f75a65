"""What fits the supports at hand, and what of it hangs within reach: no sky in it."""

import math

import numpy as np
import pytest

from advisor.answers.ask import question_for
from advisor.answers.hanging.starts import changes, knobs, not_tried, shapes_to_try
from advisor.answers.hanging.supports import (
    bearings_for,
    poles_needed,
    stakes,
    tied_off,
    why_not,
    wire_used_m,
)
from advisor.answers.low_wires import low_parts, reach_cautions
from advisor.antenna.shapes.registry import SHAPES
from advisor.antenna.shapes.registry import hang as hang_shape
from advisor.antenna.shapes.search import AtHand, free_sector
from advisor.engine.wires import hung_wire
from advisor.station.file import resolve_station
from advisor.station.setup import build_set_up
from geo.errors import InputError

PLENTY = AtHand((30.0, 30.0, 30.0, 30.0), None, None)


"""Supports and wire that hold every default shape on 20 m and above."""


def question(target="KE", *, bands=("20 m", "15 m"), hours=3, place="KF07jo", **values):
    """Put a question; its own wire is only there to carry the bands."""
    wire = {"name": "any", "shape": "dipole", "bands": list(bands)}
    given = {"place": place, "bands": list(bands), "setups": [wire], **values}
    station, _ = resolve_station(None, given)
    start = np.datetime64("2026-12-05T10")
    return question_for(station, [target], start, hours, r12=60.0)


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


LOW = {
    "ends of a V": (
        "inverted V", {"apex_m": 6.0, "end_m": 2.0, "sag_m": 0.0},
        {("first end", 2.0, True), ("second end", 2.0, True), ("wire", 2.0, False)},
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
        {("hanging first end", 0.72, True), ("hanging second end", 0.72, True)},
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
    assert "High voltage lower than 2.5 m: my V (first end 1.9 m, second" in live.text
    assert lying.topic == "head height"
    assert "my V (wire 1.9 m)" in lying.text
    assert "my dipole" not in live.text + lying.text
    # 2.46 m is not yet 2.5 m.
    assert "first end 2.4 m" in reach_cautions({"V": wires[:1]})[0].text
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
    assert tied_off(hung) == pytest.approx({"first end": 5.0, "second end": 5.0})
    assert [s.name for s in poles_needed(hung)] == ["apex"]


def test_a_nearly_level_end_needs_a_support():
    """Its cord would come down a field away."""
    sizes = {"length_m": 20.0, "apex_m": 9.0, "end_m": 8.5, "sag_m": 0.0}
    hung = hang_shape("inverted V", 7.1, sizes)
    assert len(poles_needed(hung)) == 3
    assert tied_off(hung) == {}


def test_a_linked_v_keeps_its_stakes_on_every_band():
    """One line from apex to stake: on short bands the rest of the wire is the cord."""
    bands = ("40 m", "20 m", "10 m")
    values = {"name": "V", "shape": "inverted V", "apex_m": 12.0, "end_m": 7.0}
    linked = build_set_up(values, bands)
    slopes = set()
    for mhz in (7.1, 14.2, 28.5):
        hung = hung_wire(linked, mhz)
        apex, south, north = hung.supports
        slopes.add(round((apex.height_m - north.height_m) / north.north_m, 2))
        assert [s.name for s in poles_needed(hung)] == ["apex"]
        assert why_not(hung, AtHand((12.0,))) is None
        assert bool(hung.on_rest) == (mhz > 7.1)
        assert south.height_m == pytest.approx(north.height_m)
    assert len(slopes) == 1
    # By itself it would be held by a cord of its own, too long on 10 m.
    alone = hung_wire(build_set_up({**values, "end_m": 10.9}, bands[2:]), 28.5)
    assert [s.name for s in poles_needed(alone)] == ["apex", "first end", "second end"]


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
        elif name not in ("length_m", "top_m"):
            assert knob.low >= 2.5
    # As high as two hold it, and nothing lower is tried.
    if shape in ("dipole", "doublet", "half-square", "inverted L"):
        assert {sizes["height_m"] for sizes in changes(shape, at_hand)} == {7.0}
        assert "height_m" not in knobs(shape, at_hand)
    assert "feed_share" not in knobs(shape, at_hand)
