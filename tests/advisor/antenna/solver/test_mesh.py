"""Cutting wires into segments, finding where they meet, refusing what cannot be."""

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from advisor.antenna.solver import mesh
from advisor.antenna.solver.mesh import build_mesh
from advisor.antenna.solver.segments import closest_approach
from advisor.antenna.wires import Source, Wire, WireModel
from geo.errors import InputError

WAVELENGTH_M = 20.0


def straight(length=10.0, at=5.0, radius=0.001, **wire):
    return WireModel(
        (Wire((0, 0, 8), (0, length, 8), radius, **wire),), (Source(0, at),)
    )


def joined(*points, feed=None, radius=0.001):
    wires = tuple(Wire(a, b, radius) for a, b in itertools.pairwise(points))
    return WireModel(wires, (feed or Source(0, 0.5 * wires[0].length_m),))


@pytest.mark.parametrize("at", [5.0, 1.3, 0.4, 9.99 / 3])
def test_segments_fill_the_wire_are_short_enough_and_equal_at_the_gap(at):
    mesh = build_mesh(straight(at=at), WAVELENGTH_M)
    assert mesh.length_m.sum() == pytest.approx(10.0)
    np.testing.assert_allclose(mesh.start_m[1:], mesh.end_m[:-1])
    assert mesh.length_m.max() <= 1.1 * WAVELENGTH_M / 16.0
    gap = int(np.argmin(np.abs(mesh.end_m[:, 1] - at)))
    assert mesh.end_m[gap, 1] == pytest.approx(at)
    assert mesh.length_m[gap] == pytest.approx(mesh.length_m[gap + 1], rel=1e-6)
    assert mesh.length_m[gap] == pytest.approx(0.025, rel=0.05)


def test_neighbours_differ_little_in_length():
    length = build_mesh(straight(length=40.0, at=3.0), WAVELENGTH_M).length_m
    ratio = length[1:] / length[:-1]
    assert ratio.max() < 3.0
    assert ratio.min() > 1 / 3.0


def test_a_short_wire_still_gets_segments_at_a_long_wavelength():
    assert len(build_mesh(straight(), 2000.0).radius_m) >= 16


def test_wires_that_meet_share_current():
    one = build_mesh(joined((0, 0, 5), (0, 4, 5), (0, 8, 5)), WAVELENGTH_M)
    assert one.junction.shape[0] == len(one.radius_m) - 1
    star = WireModel(
        tuple(
            Wire((0, 0, 5), (4 * np.sin(a), 4 * np.cos(a), 5), 0.001)
            for a in np.radians([0, 90, 180, 270])
        ),
        (Source(0, 0.0),),
    )
    mesh = build_mesh(star, WAVELENGTH_M)
    # Four open ends, one node of four wires with three functions.
    assert mesh.junction.shape[0] == len(mesh.radius_m) - 4 + 3
    # Whatever the coefficients, the currents into the hub sum to zero.
    hub = np.flatnonzero(np.linalg.norm(mesh.start_m - [0, 0, 5], axis=1) < 1e-9)
    into = mesh.junction[:, 2 * hub].toarray().sum(axis=1)
    np.testing.assert_allclose(into, 0.0)


def test_a_branch_splits_the_wire_it_lands_on():
    model = WireModel(
        (Wire((0, 0, 5), (0, 10, 5), 0.001), Wire((0, 3.3, 5), (2, 3.3, 5), 0.001)),
        (Source(0, 5.0),),
    )
    mesh = build_mesh(model, WAVELENGTH_M)
    main = mesh.end_m[mesh.wire == 0, 1]
    assert np.abs(main - 3.3).min() < 1e-9
    assert mesh.junction.shape[0] == len(mesh.radius_m) - 3 + 2


def test_an_end_on_perfect_ground_carries_current():
    upright = WireModel((Wire((0, 0, 0), (0, 0, 5), 0.001),), (Source(0, 0.0),))
    mesh = build_mesh(upright, WAVELENGTH_M, over_ground=True, touches_ground=True)
    assert mesh.junction.shape[0] == len(mesh.radius_m)
    # Half of the first basis function lies in the gap, half of the next.
    assert mesh.port[:, 0].tolist() == [0.5, 0.5] + [0.0] * (len(mesh.radius_m) - 2)


GOOD = Wire((0, 0, 5), (0, 10, 5), 0.001)


@pytest.mark.parametrize(
    ("wires", "source", "said"),
    [
        ((GOOD, Wire((-1, 5, 5), (1, 5, 5), 0.001)), Source(0, 1.0), "cross or touch"),
        ((GOOD, Wire((0, 2, 5), (0, 12, 5), 0.001)), Source(0, 1.0), "cross or touch"),
        ((GOOD, Wire((0, 10, 5), (0, 3, 5), 0.001)), Source(0, 1.0), "lie on each"),
        ((GOOD, GOOD), Source(0, 1.0), "lie on each other"),
        ((GOOD, Wire((-1, 5, 5.001), (1, 5, 5.001), 0.001)), Source(0, 1.0), "cross"),
        (
            (Wire((0, 0, -1), (0, 10, 5), 0.001),),
            Source(0, 1.0),
            "goes through the surface",
        ),
        ((Wire((0, 0, 0), (0, 0, 5), 0.001),), Source(0, 0.0), "add a stake"),
        ((Wire((0, 0, 5), (0, 10, 5), 0.2),), Source(0, 5.0), "not small against"),
        ((GOOD,), Source(1, 1.0), "there is no wire; there are 0 to 0"),
        ((GOOD,), Source(0, 11.0), "where there is no wire"),
        ((GOOD,), Source(0, 0.0), "open end"),
        ((), Source(0, 0.0), "without a wire"),
    ],
)
def test_what_cannot_be_is_refused_in_one_line(wires, source, said):
    with pytest.raises(InputError, match=said) as caught:
        build_mesh(WireModel(wires, (source,)), WAVELENGTH_M, over_ground=True)
    assert "\n" not in str(caught.value)


def test_a_wire_lying_on_perfect_ground_is_refused():
    flat = WireModel((Wire((0, 0, 0), (0, 10, 0), 0.001),), (Source(0, 5.0),))
    with pytest.raises(InputError, match="lies on the ground"):
        build_mesh(flat, WAVELENGTH_M, over_ground=True, touches_ground=True)


coordinate = st.floats(-5, 5).map(lambda v: round(v, 3))


point = st.tuples(coordinate, coordinate, coordinate)


@settings(max_examples=40)
@given(point, point, point, point)
def test_closest_approach_is_no_farther_than_any_sampled_pair(a, b, c, d):
    if np.linalg.norm(np.subtract(b, a)) < 1e-2 or np.linalg.norm(np.subtract(d, c)) < (
        1e-2
    ):
        return
    at_a, at_b, gap = closest_approach(a, b, c, d)
    t = np.linspace(0, 1, 60)[:, None]
    p, q = np.array(a) + t * np.subtract(b, a), np.array(c) + t * np.subtract(d, c)
    sampled = np.linalg.norm(p[:, None] - q[None], axis=2).min()
    assert gap <= sampled + 1e-9
    on_a = np.array(a) + at_a * np.subtract(b, a) / np.linalg.norm(np.subtract(b, a))
    on_b = np.array(c) + at_b * np.subtract(d, c) / np.linalg.norm(np.subtract(d, c))
    assert np.linalg.norm(on_a - on_b) == pytest.approx(gap, abs=1e-9)


@settings(max_examples=30)
@given(
    st.floats(0.3, 60.0),
    st.floats(0.05, 0.95),
    st.floats(5.0, 160.0),
    st.floats(1e-4, 2e-3),
)
def test_any_single_wire_is_cut_by_the_rules(length, fraction, wavelength, radius):
    model = straight(length=length, at=fraction * length, radius=radius)
    try:
        mesh = build_mesh(model, wavelength)
    except InputError as refusal:
        assert "not small against" in str(refusal)  # noqa: PT017
        return
    assert mesh.length_m.sum() == pytest.approx(length)
    assert mesh.length_m.min() >= 2.0 * radius
    assert mesh.length_m.max() <= 1.35 * min(wavelength / 16.0, length / 16.0) + 1e-9
    assert mesh.junction.shape == (len(mesh.radius_m) - 1, 2 * len(mesh.radius_m))


def test_only_wires_that_come_near_are_compared(monkeypatch):
    """A wire of many points is checked in time with their number, not its square."""
    compared = []
    real = mesh.closest_approach
    monkeypatch.setattr(
        mesh, "closest_approach", lambda *ends: compared.append(1) or real(*ends)
    )
    points = [(0.3 * n, 2.0 * np.cos(0.4 * n), 8.0) for n in range(60)]
    wires = [Wire(a, b, 0.001) for a, b in itertools.pairwise(points)]
    build_mesh(WireModel(tuple(wires), (Source(30, 0.1),)), 20.0)
    assert len(compared) < 3 * len(wires)


def test_too_many_pieces_are_refused_before_any_is_looked_at(monkeypatch):
    monkeypatch.setattr(mesh, "closest_approach", lambda *_: pytest.fail("compared"))
    points = [(0.1 * n, 0.0, 8.0 + n % 2) for n in range(mesh.MOST_SEGMENTS + 2)]
    wires = [Wire(a, b, 0.001) for a, b in itertools.pairwise(points)]
    with pytest.raises(InputError, match="1501 straight pieces"):
        build_mesh(WireModel(tuple(wires), (Source(0, 0.05),)), 20.0)
