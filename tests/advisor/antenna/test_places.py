"""Supports where they stand: what is typed, what is refused, heights on a slope."""

import math

import pytest

from advisor.antenna.shapes.places import (
    Post,
    checked_posts,
    heights_over,
    pair_heights,
    read_post,
)
from advisor.antenna.shapes.search import AtHand
from geo.errors import InputError


@pytest.mark.parametrize(
    "text",
    [
        "old oak 20deg 12m 9m high",
        "old oak 9m high 12m away 20 deg",
        "old oak, 20\N{DEGREE SIGN}, 12 m, 9 m high, 0m up",
    ],
)
def test_a_support_as_it_is_typed(text):
    """Figures know what they are by unit and word, in any order."""
    assert read_post(text) == Post("old oak", 20.0, 12.0, 9.0)


def test_a_support_beside_the_operator_needs_no_bearing():
    assert read_post("mast 0m 11m high 2m down") == Post("mast", 0.0, 0.0, 11.0, -2.0)


BAD = {
    "nothing": ("", "oak 20deg 12m 9m high"),
    "no height": ("oak 20deg 12m", "height"),
    "no bearing": ("oak 12m 9m high", "bearing"),
    "no name": ("20deg 12m 9m high", "name"),
    "no units": ("oak 20 12 9", "'oak 20 12 9'"),
    "no number": ("oak nandeg 12m 9m high", "bearing"),
    "twice": ("oak 20deg 12m 13m 9m high", "say one"),
    "no height at all": ("oak 20deg 12m 0m high", "height of 0 m is outside 1 to 60"),
    "a field away": ("oak 20deg 1000m 9m high", "1000 m is outside 0 to 300 m"),
    "turned over": ("oak 400deg 12m 9m high", "400 deg"),
    "negative": ("oak 20deg -12m 9m high", "-12 m"),
    "a story": ("x" * 300 + " 20deg 12m 9m high", "318 letters"),
    "a cliff": ("oak 20deg 12m 9m high 500m up", "ground of 500 m"),
}


@pytest.mark.parametrize(("text", "says"), BAD.values(), ids=BAD.keys())
def test_what_is_no_support_is_one_clear_line(text, says):
    with pytest.raises(InputError) as caught:
        read_post(text)
    assert says in str(caught.value)
    assert "\n" not in str(caught.value)


def test_not_a_number_is_no_place():
    with pytest.raises(InputError, match="bearing of nan"):
        Post("oak", math.nan, 12.0, 9.0)


def test_supports_that_cannot_be_told_apart():
    oak = Post("oak", 20.0, 12.0, 9.0)
    with pytest.raises(InputError, match="two supports are called 'Oak'"):
        checked_posts([Post("Oak", 200.0, 12.0, 9.0), oak])
    with pytest.raises(InputError, match="'oak' and 'elm' stand in one place"):
        AtHand.standing([oak, Post("elm", 20.0, 12.2, 7.0)])


def test_right_angles_and_distances():
    """3, 4, 5: north and east of the operator."""
    north, east = Post("n", 0.0, 4.0, 9.0), Post("e", 90.0, 3.0, 9.0)
    assert (north.at_m.real, north.at_m.imag) == pytest.approx((0.0, 4.0))
    assert (east.at_m.real, east.at_m.imag) == pytest.approx((3.0, 0.0))
    assert north.away_m(east) == pytest.approx(5.0)
    assert AtHand.standing([north, east]).apart_m == pytest.approx(5.0)


def test_heights_are_over_the_ground_between():
    """Tops 9 and 11 m over the operator, ground 0 and 4: the mean ground is 2."""
    posts = [Post("low", 0.0, 9.0, 9.0), Post("up", 180.0, 9.0, 7.0, 4.0)]
    assert heights_over(posts) == [7.0, 9.0]
    assert pair_heights(posts) == [7.0]
    assert heights_over(posts[1:]) == [7.0]


def test_each_pair_has_its_height():
    """8, 12 and 10 m on level ground: two hold 10 m, any other two 8 m."""
    heights = (8.0, 12.0, 10.0)
    posts = [Post(f"tree {h:g}", 10.0 * h, 9.0, h) for h in heights]
    at_hand = AtHand.standing(posts)
    assert at_hand.levels_m == [10.0, 8.0]
    assert at_hand.pair_m == 10.0
    assert at_hand.heights_m == (12.0, 10.0, 8.0)
