"""Turns of one wire solved as one, against all of them solved by themselves."""

from dataclasses import replace

import numpy as np
import pytest

from advisor.antenna.ground import PERFECT, ground_by_name
from advisor.antenna.shapes.registry import hang
from advisor.antenna.solver import mesh
from advisor.antenna.solver.currents import solve
from advisor.antenna.solver.farfield import sky_power
from advisor.antenna.wires import Load, Source, Wire, WireModel
from geo.errors import InputError

AVERAGE = ground_by_name("average")
MHZ = 14.1


def star(count, up_m=0.05, droop_m=0.0, mast_m=5.0, turn=0.3):
    hub = (1.0, -2.0, up_m)
    angle = turn + 2.0 * np.pi * np.arange(count) / count
    tips = [
        (1.0 + 5.0 * np.sin(a), -2.0 + 5.0 * np.cos(a), up_m - droop_m) for a in angle
    ]
    foot = (*hub[:2], max(up_m, 0.0))
    wires = [Wire(foot, (*hub[:2], foot[2] + mast_m), 0.002)]
    if up_m < 0.0:
        wires.append(Wire(foot, hub, 0.002))
    wires += [Wire(hub, tip, 0.001) for tip in tips]
    return WireModel(tuple(wires), (Source(0, 0.025),))


def with_hat(count):
    """Wires at the top too, turned and drawn inwards, and a coil below them."""
    below = star(count, 2.0, 1.5)
    top = (1.0, -2.0, 7.0)
    angle = 2.0 * np.pi * np.arange(count) / count
    tips = [(1.0 + np.sin(a), -2.0 + np.cos(a), 6.5) for a in angle]
    hat = [Wire(tip, top, 0.001) for tip in tips]
    coil = Load(0, 3.0, inductance_h=1e-6, q=100.0)
    return WireModel((*below.wires, *hat), below.sources, (coil,))


def each_by_itself(monkeypatch, *asked):
    with monkeypatch.context() as patched:
        patched.setattr(mesh, "first_of_turns", lambda m: np.arange(len(m.wires)))
        mesh._layout.cache_clear()
        solution = solve(*asked)
    mesh._layout.cache_clear()
    return solution


@pytest.mark.parametrize(
    ("model", "ground"),
    [
        (star(2), AVERAGE),
        (star(7), AVERAGE),
        (with_hat(4), None),
        (with_hat(3), PERFECT),
        (star(5, -0.05), AVERAGE),
    ],
)
def test_turns_solved_as_one_are_as_each_by_itself(monkeypatch, model, ground):
    """Up to what the quadrature of a pair differs by, seen from either side."""
    ours = solve(model, MHZ, ground)
    whole = each_by_itself(monkeypatch, model, MHZ, ground)
    assert ours.mesh.is_turned
    assert not whole.mesh.is_turned
    assert len(ours.mesh.kept) < 0.8 * len(whole.mesh.kept)
    assert ours.z_in_ohm[0] == pytest.approx(whole.z_in_ohm[0], rel=1e-7)
    peak = np.abs(whole.half_currents_a).max()
    np.testing.assert_allclose(
        ours.half_currents_a, whole.half_currents_a, atol=1e-7 * peak
    )
    assert ours.conductor_w == pytest.approx(whole.conductor_w, rel=1e-6)
    assert sky_power(ours) == pytest.approx(sky_power(whole), rel=1e-6)


def test_an_array_with_anything_uneven_is_no_array_of_turns():
    model = star(4)
    mast, *radials = model.wires
    moved = replace(radials[0], end_m=(1.0, 3.01, 0.05))
    thick = replace(radials[0], radius_m=0.002)
    beside = Wire((3.0, 0.0, 0.5), (3.0, 0.5, 3.0), 0.001)
    for wires in (
        (mast, *radials[:3]),
        (mast, moved, *radials[1:]),
        (mast, thick, *radials[1:]),
        (*model.wires, beside),
    ):
        uneven = replace(model, wires=wires)
        assert mesh.first_of_turns(uneven).tolist() == [*range(len(wires))]
    for ports in ({"sources": (Source(1, 2.0),)}, {"loads": (Load(2, 2.0, 50.0),)}):
        uneven = replace(model, **ports)
        assert mesh.first_of_turns(uneven).tolist() == [*range(5)]


def test_a_mast_with_many_radials_stays_a_small_matrix():
    model = hang("ground-mounted vertical", 7.1, {"radials_n": 64.0}).model()
    solution = solve(model, 7.1, AVERAGE)
    assert solution.mesh.junction.shape[0] < 25
    ends = np.abs(solution.half_currents_a[solution.mesh.wire > 0, 0])
    assert np.unique(ends).size < 25
    # All turns carry what flows up the mast.
    at_hub = solution.mesh.start_m[:, 2] == solution.mesh.start_m[:, 2].min()
    hub = at_hub & (np.hypot(*solution.mesh.start_m[:, :2].T) < 1e-6)
    assert abs(solution.half_currents_a[hub, 0].sum()) < 1e-12


@pytest.mark.slow
def test_more_radials_than_segments_are_solved_for():
    """A matrix goes by one of the turns, and so does what is refused."""
    few, many = (
        solve(star(count, -0.05, mast_m=5.3), MHZ, AVERAGE) for count in (64, 128)
    )
    assert len(many.mesh.row) > mesh.MOST_SEGMENTS > 10 * len(many.mesh.kept)
    assert 0.0 < few.z_in_ohm[0].real - many.z_in_ohm[0].real < 3.0


def test_turns_that_touch_one_another_are_refused():
    angle = 2.0 * np.pi * np.arange(12) / 12
    out = np.array([np.sin(angle), np.cos(angle), 0.0 * angle]).T
    ends = [
        (tuple(0.0015 * way + [0, 0, 1]), tuple(3 * way + [0, 0, 1])) for way in out
    ]
    mast = Wire((0, 0, 2), (0, 0, 6), 0.001)
    model = WireModel((mast, *(Wire(*end, 0.001) for end in ends)), (Source(0, 2.0),))
    assert mesh.first_of_turns(model).tolist() == [0] + [1] * 12
    with pytest.raises(InputError, match=r"lie on each other|cross or touch"):
        solve(model, MHZ, AVERAGE)
