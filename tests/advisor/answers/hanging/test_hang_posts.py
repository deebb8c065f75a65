"""Which supports hold a wire, and which way it then runs: straight from geometry."""

import math

import pytest

from advisor.answers.hanging.posts import best_rigging, riggings
from advisor.answers.hanging.supports import bearings_for, poles_needed, why_not
from advisor.antenna.shapes.places import Post
from advisor.antenna.shapes.registry import hang
from advisor.antenna.shapes.search import AtHand

# Two trees with a pole between them, in a line from north-west to south-east.
LINE = (
    Post("north tree", 315.0, 9.0, 8.0),
    Post("pole", 0.0, 0.0, 12.0),
    Post("south tree", 135.0, 9.0, 8.0),
)


def level(length_m, height_m):
    """Hang a level wire without sag."""
    sizes = {"length_m": length_m, "height_m": height_m, "sag_m": 0.0}
    return hang("dipole", 14.2, sizes)


def test_a_long_wire_goes_from_tree_to_tree_past_the_pole():
    """17 m go between the trees, 18 m apart, and between no other two."""
    hung = level(17.0, 8.0)
    ways = riggings(poles_needed(hung), LINE)
    names = {frozenset(post.name for post in way.posts) for way in ways}
    assert names == {frozenset(("north tree", "south tree"))}
    assert sorted(way.bearing_deg for way in ways) == [135.0, 315.0]
    assert list(bearings_for(hung, AtHand.standing(LINE))) == [135.0, 315.0]
    # Half a metre short at each end, and down to the ground.
    assert ways[0].cords_m == pytest.approx((8.5, 8.5))


def test_too_long_too_high_and_too_many():
    at_hand = AtHand.standing(LINE)
    assert "18.0 m apart" in why_not(level(18.5, 8.0), at_hand)
    assert "8.0 m" in why_not(level(10.0, 9.0), at_hand)
    assert why_not(level(8.9, 8.0), at_hand) is None
    assert "needs 4 supports" in why_not(hang("horizontal loop", 50.1), at_hand)


def test_no_bearing_is_made_up():
    """Over 60 m of wire on two trees: the line between them or none."""
    trees = (Post("a", 0.0, 10.0, 9.0), Post("b", 80.0, 10.0, 9.0))
    hung = level(10.0, 9.0)
    line = math.degrees(
        math.atan2(math.sin(math.radians(80.0)), math.cos(math.radians(80.0)) - 1.0)
    )
    found = bearings_for(hung, AtHand.standing(trees))
    assert list(found) == sorted([round(line % 360.0), round((line + 180.0) % 360.0)])
    none = AtHand.standing(trees, free_deg=((0.0, 30.0),))
    assert bearings_for(hung, none).size == 0


def test_a_v_on_three_supports_has_its_apex_on_the_middle_one():
    """Ends too flat for cords: they go to the trees."""
    sizes = {"length_m": 17.0, "apex_m": 9.0, "end_m": 8.0, "sag_m": 0.0}
    hung = hang("inverted V", 7.1, sizes)
    needed = poles_needed(hung)
    assert needed[0].name == "apex"
    assert len(needed) == 3
    way = best_rigging(needed, LINE, None)
    assert way.posts[0].name == "pole"
    assert way.bearing_deg in (135.0, 315.0)


def test_a_bent_line_does_not_hold_a_straight_wire():
    """Trees at a right angle as seen from the pole."""
    bent = (LINE[0], LINE[1], Post("east tree", 45.0, 9.0, 8.0))
    sizes = {"length_m": 17.0, "apex_m": 9.0, "end_m": 8.0, "sag_m": 0.0}
    hung = hang("inverted V", 7.1, sizes)
    assert riggings(poles_needed(hung), bent) == []
    assert "no 3 of the supports" in why_not(hung, AtHand.standing(bent))


def test_one_support_leaves_a_wire_free():
    """A steep V needs the pole only, and any bearing does."""
    hung = hang("inverted V", 14.2, {"apex_m": 12.0, "end_m": 8.5})
    at_hand = AtHand.standing(LINE)
    assert why_not(hung, at_hand) is None
    assert bearings_for(hung, at_hand).size == 72
    assert best_rigging(poles_needed(hung), LINE, 20.0).posts == (LINE[1],)


def test_up_a_slope_a_level_wire_keeps_its_height():
    """Tops at one level, ground rising by 3 m: 7.5 m over the middle."""
    trees = (Post("low", 0.0, 9.0, 9.0), Post("high", 180.0, 9.0, 6.0, 3.0))
    at_hand = AtHand.standing(trees)
    assert at_hand.levels_m == [7.5]
    assert why_not(level(10.0, 7.5), at_hand) is None
    assert why_not(level(10.0, 7.6), at_hand) is not None
    # Over its own foot each tree is climbed to its top and no higher.
    for way in riggings(poles_needed(level(10.0, 7.5)), trees):
        assert dict(zip((p.name for p in way.posts), way.up_m, strict=True)) == {
            "low": 9.0,
            "high": 6.0,
        }


def test_no_end_is_within_reach_on_its_own_ground():
    """A wire 4 m over the mean would be 1 m over the upper foot."""
    trees = (Post("low", 0.0, 9.0, 12.0, -3.0), Post("high", 180.0, 9.0, 9.0, 3.0))
    hung = level(10.0, 4.0)
    assert riggings(poles_needed(hung), trees) == []
    assert riggings(poles_needed(level(10.0, 5.5)), trees)


def test_a_wire_does_not_end_on_a_cord_over_a_field():
    """10 m of wire between supports 80 m apart, and 100 m: 35 and 45 m of cord."""
    for away_m, holds in ((40.0, True), (50.0, False)):
        trees = (Post("a", 0.0, away_m, 9.0), Post("b", 180.0, away_m, 9.0))
        assert bool(riggings(poles_needed(level(10.0, 9.0)), trees)) is holds
