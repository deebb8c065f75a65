"""The plan of the ground: wire, cords and stakes lie where geometry says."""

from types import SimpleNamespace

import pytest

from advisor.answers.hanging.ground_plan import ground_plan
from advisor.answers.hanging.posts import best_rigging
from advisor.answers.hanging.supports import poles_needed
from advisor.antenna.shapes.places import Post
from advisor.antenna.shapes.registry import hang
from advisor.antenna.shapes.search import AtHand

TREES = (Post("north", 0.0, 12.0, 9.0), Post("east", 90.0, 5.0, 9.0))
"""13 m apart: 5, 12, 13."""


def found(shape, sizes, bearing_deg, posts):
    """Make what a search finds, as far as the plan looks at it."""
    hung = hang(shape, 14.2, sizes)
    way = best_rigging(poles_needed(hung), posts, bearing_deg) if posts else None
    told = SimpleNamespace(bearing=SimpleNamespace(wire_deg=bearing_deg))
    return SimpleNamespace(wires={"20 m": hung}, rigging=way, advice=told)


def test_a_level_wire_lies_in_the_middle_of_its_gap():
    sizes = {"length_m": 10.0, "height_m": 9.0, "sag_m": 0.0}
    # From (0, 12) to (5, 0): atan2(5, -12) is 157.4 degrees.
    plan = ground_plan(found("dipole", sizes, 157.0, TREES), AtHand.standing(TREES))
    assert plan.feed == pytest.approx(2.5 + 6.0j)
    (first, _), (_, last) = plan.wires[0], plan.wires[-1]
    assert abs(last - first) == pytest.approx(10.0)
    assert sorted(abs(b - a) for a, b in plan.cords) == pytest.approx(
        [1.5, 1.5], abs=0.02
    )
    assert {end for _, end in plan.cords} == {post.at_m for post in TREES}
    assert all(one.is_used for one in plan.supports)
    assert plan.stakes == ()


def test_the_cords_of_a_v_go_on_to_its_stakes():
    """10 m a side that fall 6 m run 8 m; 3 m more fall in 4."""
    sizes = {"length_m": 20.0, "apex_m": 9.0, "end_m": 3.0, "sag_m": 0.0}
    one = found("inverted V", sizes, 90.0, TREES[1:])
    plan = ground_plan(one, AtHand.standing(TREES[1:]))
    # The pole stands 5 m to the east, the wire runs east.
    assert plan.feed == pytest.approx(5.0)
    ends = sorted((peg.real, peg.imag) for peg in plan.stakes)
    assert ends == [pytest.approx((-7.0, 0.0)), pytest.approx((17.0, 0.0))]
    assert len(plan.cords) == 3


def test_without_places_the_wire_is_in_the_middle():
    sizes = {"length_m": 10.0, "height_m": 9.0, "sag_m": 0.0}
    plan = ground_plan(found("dipole", sizes, 90.0, ()), AtHand((9.0, 9.0)))
    assert not plan.has_operator
    spots = {(round(s.east_m, 6), round(s.north_m, 6)) for s in plan.supports}
    assert spots == {(-5.0, 0.0), (5.0, 0.0)}


def test_what_is_no_wire_has_no_plan():
    one = SimpleNamespace(wires={}, rigging=None)
    assert ground_plan(one, AtHand((9.0,))) is None
