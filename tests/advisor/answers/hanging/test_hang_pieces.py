"""Wire and cord in pieces: each part is cut whole from one of them."""

import pytest

from advisor.answers.hanging.pieces import parts_m, why_not_cut
from advisor.answers.hanging.supports import cords_needed, why_not
from advisor.antenna.shapes.places import Post
from advisor.antenna.shapes.registry import hang
from advisor.antenna.shapes.search import AtHand
from geo.errors import InputError

PARTS = {
    "two halves": ("dipole", {"length_m": 10.0}, [5.0, 5.0]),
    "a wire and its counterpoise": (
        "end-fed half-wave", {"length_m": 20.0, "counterpoise_m": 2.0}, [20.0, 2.0],
    ),
    "a loop": ("horizontal loop", {"length_m": 22.0}, [22.0]),
    "off its middle": ("dipole", {"length_m": 10.0, "feed_share": 0.3}, [3.0, 7.0]),
    "an upright and two radials": (
        "quarter-wave vertical",
        {"length_m": 5.0, "radials_n": 2, "radial_m": 4.0},
        [5.0, 4.0, 4.0],
    ),
}  # fmt: skip


@pytest.mark.parametrize(("shape", "sizes", "parts"), PARTS.values(), ids=PARTS.keys())
def test_what_a_shape_is_cut_into(shape, sizes, parts):
    assert parts_m(hang(shape, 14.2, sizes)) == pytest.approx(parts)


def test_the_shortest_piece_that_holds_a_part_is_cut():
    """6 m from 7 m, so that 9 m are left whole."""
    assert why_not_cut([6.0, 9.0], (9.0, 7.0), "wire") is None
    assert why_not_cut([4.0, 4.0, 4.0], (8.0, 4.0), "wire") is None
    assert "cannot be cut" in why_not_cut([4.0, 4.0, 4.0], (6.0, 6.0), "wire")


def test_a_half_is_not_joined_from_two_pieces():
    hung = hang("dipole", 14.2, {"length_m": 10.0, "height_m": 8.0})
    for pieces, fits in (((5.0, 5.0), True), ((4.0, 4.0, 4.0), False)):
        at_hand = AtHand((9.0, 9.0), wire_m=sum(pieces), pieces_m=pieces)
        assert (why_not(hung, at_hand) is None) is fits


def test_cords_go_up_the_tree_and_out_to_the_wire():
    """10 m of wire between trees 12 m apart: 9 m up and 1 m out, twice."""
    trees = (Post("a", 0.0, 6.0, 9.0), Post("b", 180.0, 6.0, 9.0))
    sizes = {"length_m": 10.0, "height_m": 9.0, "sag_m": 0.0}
    hung = hang("dipole", 14.2, sizes)
    for cords, fits in (((10.0, 10.0), True), ((20.0,), True), ((10.0, 9.5), False)):
        at_hand = AtHand.standing(trees, cords_m=cords)
        assert cords_needed(hung, at_hand) == pytest.approx([10.0, 10.0])
        assert (why_not(hung, at_hand) is None) is fits


@pytest.mark.parametrize("pieces", [(0.0,), (float("nan"),), (5.0,) * 21])
def test_pieces_that_cannot_be(pieces):
    with pytest.raises(InputError, match="piece"):
        AtHand((9.0,), cords_m=pieces)
