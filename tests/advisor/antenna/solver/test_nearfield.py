"""Near fields against Maxwell's equations, power, images and the far field."""

from dataclasses import replace

import numpy as np
import pytest

from advisor.antenna import exposure
from advisor.antenna.exposure import exposure_distance, exposure_levels
from advisor.antenna.ground import PERFECT, Ground, ground_by_name
from advisor.antenna.shapes.registry import hang
from advisor.antenna.solver.currents import solve
from advisor.antenna.solver.farfield import far_field
from advisor.antenna.solver.kernel import VACUUM_PERMEABILITY_H_M, WAVE_IMPEDANCE_OHM
from advisor.antenna.solver.nearfield import distances_m, near_field, rms_fields
from advisor.antenna.wires import Source, Wire, WireModel
from geo.errors import InputError

MHZ = 14.1
GROUNDS = {
    "free space": None,
    "perfect": PERFECT,
    "average": ground_by_name("average"),
    "sea": ground_by_name("sea water"),
}


def solved(shape="sloper", ground="average", mhz=MHZ, **sizes):
    """Solve a shape with its defaults."""
    return solve(hang(shape, mhz, sizes).model(), mhz, GROUNDS[ground])


def outflow_w(solution, margin_m, points=20):
    """Power through a box round all wires, by Gauss's rule on each face."""
    corners = np.concatenate([solution.mesh.start_m, solution.mesh.end_m])
    low, high = corners.min(axis=0) - margin_m, corners.max(axis=0) + margin_m
    x, weight = np.polynomial.legendre.leggauss(points)
    total = 0.0
    for axis in range(3):
        u, v = (other for other in range(3) if other != axis)
        across, along = np.meshgrid(x, x, indexing="ij")
        area = np.outer(weight, weight).ravel() * np.prod((high - low)[[u, v]]) / 4.0
        for sign, side in ((1.0, high), (-1.0, low)):
            place = np.empty((points**2, 3))
            place[:, axis] = side[axis]
            for which, t in ((u, across), (v, along)):
                middle, half = (high + low)[which] / 2.0, (high - low)[which] / 2.0
                place[:, which] = middle + half * t.ravel()
            electric, magnetic = near_field(solution, place)
            flow = 0.5 * np.cross(electric, magnetic.conj()).real[:, axis]
            total += sign * float(flow @ area)
    return total


@pytest.mark.slow
@pytest.mark.parametrize("ground", GROUNDS)
def test_what_the_wire_takes_flows_out_of_a_box_round_it(ground):
    """Poynting's theorem: every field component and the ground's part of each."""
    solution = solved(ground=ground)
    expected = solution.input_w - solution.conductor_w
    assert outflow_w(solution, 1.5) == pytest.approx(expected, rel=1e-4)


@pytest.mark.slow
@pytest.mark.parametrize("ground", GROUNDS)
@pytest.mark.parametrize("shape", ["sloper", "inverted L"])
def test_far_out_it_is_the_far_field(shape, ground):
    solution = solved(shape, ground)
    elevation, azimuth = 35.0, 50.0
    up, round_ = np.radians([elevation, azimuth])
    ray = np.array(
        [np.cos(up) * np.sin(round_), np.cos(up) * np.cos(round_), np.sin(up)]
    )
    lift = np.array(
        [-np.sin(up) * np.sin(round_), -np.sin(up) * np.cos(round_), np.cos(up)]
    )
    side = np.array([np.cos(round_), -np.sin(round_), 0.0])
    distance = 5000.0
    electric, magnetic = near_field(solution, [distance * ray])
    wave = np.exp(-1j * solution.wavenumber_rad_m * distance) / distance
    vertical, horizontal = far_field(solution, [elevation], [azimuth])
    whole = np.hypot(abs(vertical[0, 0]), abs(horizontal[0, 0]))
    assert electric[0] @ lift / wave == pytest.approx(vertical[0, 0], abs=0.01 * whole)
    assert electric[0] @ side / wave == pytest.approx(
        horizontal[0, 0], abs=0.01 * whole
    )
    ratio = np.linalg.norm(electric) / np.linalg.norm(magnetic)
    assert ratio == pytest.approx(WAVE_IMPEDANCE_OHM, rel=1e-3)


@pytest.mark.parametrize("ground", GROUNDS)
def test_faraday(ground):
    """curl E = -jωμ H in air, from differences of the electric field."""
    solution = solved(ground=ground)
    step = 1e-2
    for point in ([1.0, 3.0, 1.0], [2.0, 6.0, 7.0], [-6.0, -2.0, 0.3]):
        moved = np.asarray(point) + step * np.concatenate([np.eye(3), -np.eye(3)])
        electric, _ = near_field(solution, moved)
        slope = (electric[:3] - electric[3:]) / (2.0 * step)
        curl = np.array(
            [
                slope[1, 2] - slope[2, 1],
                slope[2, 0] - slope[0, 2],
                slope[0, 1] - slope[1, 0],
            ]
        )
        _, magnetic = near_field(solution, [point])
        expected = -2j * np.pi * MHZ * 1e6 * VACUUM_PERMEABILITY_H_M * magnetic[0]
        size = np.abs(expected).max()
        np.testing.assert_allclose(curl, expected, rtol=0, atol=3e-3 * size)


def test_a_perfect_ground_is_a_mirror():
    up, down = ((0.0, 0.0, 3.0), (2.0, 8.0, 7.0)), ((0.0, 0.0, -3.0), (2.0, 8.0, -7.0))
    wires = tuple(Wire(*ends, 0.001) for ends in (up, down))
    half = 0.5 * wires[0].length_m
    alone = WireModel(wires[:1], (Source(0, half),))
    both = WireModel(wires, (Source(0, half), Source(1, half, -1.0)))
    over = solve(alone, MHZ, PERFECT)
    free = solve(both, MHZ, None)
    points = [[1.0, 1.0, 0.0], [4.0, -2.0, 5.0], [0.5, 4.0, 2.0]]
    for one, two in zip(
        near_field(over, points), near_field(free, points), strict=True
    ):
        np.testing.assert_allclose(one, two, rtol=0, atol=1e-3 * np.abs(two).max())
    # On the mirror the electric field stands upright and the magnetic lies flat.
    electric, magnetic = near_field(over, points[:1])
    assert np.abs(electric[0, :2]).max() < 1e-6 * abs(electric[0, 2])
    assert abs(magnetic[0, 2]) < 1e-6 * np.abs(magnetic[0, :2]).max()


def test_a_very_good_ground_comes_near_to_a_perfect_one():
    metal = Ground("metal", 1.0, 5.8e7, "copper")
    model = hang("sloper", MHZ).model()
    points = [[1.0, 1.0, 0.5], [4.0, -2.0, 5.0]]
    real = near_field(solve(model, MHZ, metal), points)
    ideal = near_field(solve(model, MHZ, PERFECT), points)
    for one, two in zip(real, ideal, strict=True):
        np.testing.assert_allclose(one, two, rtol=0, atol=2e-3 * np.abs(two).max())


def test_the_field_goes_with_the_root_of_the_power():
    solution = solved()
    points = [[3.0, 3.0, 1.5]]
    weak, strong = (rms_fields(solution, points, power) for power in (1.0, 100.0))
    np.testing.assert_allclose(strong, 10.0 * np.array(weak))
    electric, _ = near_field(solution, points)
    scale = np.sqrt(0.5 / solution.input_w)
    np.testing.assert_allclose(weak[0], scale * np.linalg.norm(electric))


def test_below_ground_and_at_no_place_it_is_nan():
    solution = solved()
    points = [[1.0, 1.0, -0.1], [1.0, 1.0, 1.0], [np.nan, 0.0, 1.0]]
    for field in near_field(solution, points):
        assert np.isnan(field[[0, 2]]).all()
        assert np.isfinite(field[1]).all()
    below = near_field(solved(ground="free space"), points[:1])[0]
    assert np.isfinite(below).all()


def test_distances_from_wires():
    points = np.array([[0.0, 3.0, 0.0], [-4.0, 3.0, 0.0], [5.0, 0.0, 0.0]])
    start, end = np.array([[0.0, 0.0, 0.0]]), np.array([[2.0, 0.0, 0.0]])
    assert distances_m(points, start, end)[:, 0] == pytest.approx([3.0, 5.0, 3.0])


def test_the_search_looks_on_every_side_at_the_distance_asked():
    solution = solved("bottom-fed half-square")
    mesh = solution.mesh
    for distance in (0.1, 1.0, 5.0):
        points = exposure._shell(solution, distance)
        nearest = distances_m(points, mesh.start_m, mesh.end_m).min(axis=1)
        np.testing.assert_allclose(nearest, distance)
        assert points[:, 2].min() >= 0.0
        assert points[:, 2].max() > mesh.end_m[:, 2].max()
        assert np.ptp(points[:, 0]) == pytest.approx(2.0 * distance, rel=0.3)


@pytest.mark.slow
@pytest.mark.parametrize("shape", ["dipole", "end-fed half-wave"])
def test_fields_at_the_exposure_distance_meet_the_level_and_no_more(shape):
    solution = solved(shape)
    found = exposure_distance(solution, 100.0)
    levels = exposure_levels(MHZ, "whole body")
    for distance, most in ((found.distance_m, 1.0), (2.0 * found.distance_m, 0.7)):
        points = exposure._shell(solution, distance)
        electric, magnetic = rms_fields(solution, points, 100.0)
        ratio = max(
            electric.max() / levels.electric_v_m, magnetic.max() / levels.magnetic_a_m
        )
        assert ratio <= most + 1e-6
    # One step of the search closer it is broken.
    points = exposure._shell(solution, found.distance_m / 1.07)
    electric, magnetic = rms_fields(solution, points, 100.0)
    assert electric.max() > levels.electric_v_m or magnetic.max() > levels.magnetic_a_m


@pytest.mark.slow
def test_more_power_keeps_people_farther_off():
    solution = solved("dipole")
    found = [exposure_distance(solution, power).distance_m for power in (5, 50, 500)]
    assert found[0] < found[1] < found[2]
    assert exposure_distance(solution, 0.0).distance_m == exposure.NEAREST_M


@pytest.mark.slow
def test_local_levels_reach_less_far():
    solution = solved("dipole")
    whole = exposure_distance(solution, 100.0).distance_m
    assert exposure_distance(solution, 100.0, extent="local").distance_m < whole


@pytest.mark.slow
def test_any_moment_counts_on_the_low_bands_only():
    low = solved("dipole", mhz=3.6)
    mean = exposure_distance(low, 20.0)
    peak = exposure_distance(low, 20.0, 100.0)
    assert peak.extent == "nerves"
    assert mean.extent == "whole body"
    assert peak.distance_m > mean.distance_m
    high = solved("dipole", mhz=14.1)
    assert exposure_distance(high, 20.0, 100.0) == exposure_distance(high, 20.0)


def test_far_enough_out_the_solved_distance_is_the_formula_s():
    """A half-wave dipole in free space, 10 kW on 28.3 MHz: two wavelengths off."""
    solution = solved("dipole", "free space", mhz=28.3, sag_m=0.0)
    solved_m = exposure_distance(solution, 1e4).distance_m
    eirp_w = 1e4 * 1.64 * (1.0 - solution.conductor_w / solution.input_w)
    formula = exposure.far_field_distance(eirp_w, 28.3, ground_factor=1.0)
    assert solved_m == pytest.approx(1.03 * formula.distance_m, rel=0.04)
    assert not formula.solved


def test_the_formula_is_not_trusted_close_in():
    found = exposure.far_field_distance(10.0, 3.6)
    assert found.distance_m == pytest.approx(299.792458 / 3.6 / (2.0 * np.pi))
    assert found.bound_by == "reach of the far-field formula"


def test_mean_power():
    assert exposure.mean_power_w(100.0, 0.2) == 20.0
    assert exposure.mean_power_w(100.0, 1.0, 0.5) == 50.0


def test_impossible_questions_are_refused():
    solution = solved("dipole")
    with pytest.raises(InputError, match="did you mean 'whole body'"):
        exposure_levels(7.0, "whole bodies")
    with pytest.raises(InputError, match="no local exposure levels at 1200"):
        exposure.far_field_distance(10.0, 1200.0, "local")
    with pytest.raises(InputError, match="power of -1"):
        exposure_distance(solution, -1.0)
    with pytest.raises(InputError, match="isotropic power -5"):
        exposure.far_field_distance(-5.0, 7.0)
    with pytest.raises(InputError, match=r"duty 1\.2"):
        exposure.mean_power_w(100.0, 1.2)
    with pytest.raises(InputError, match="share of time sending -1"):
        exposure.mean_power_w(100.0, 1.0, -1.0)
    with pytest.raises(InputError, match="power -1"):
        exposure.mean_power_w(-1.0, 1.0)
    assert exposure_levels(14.0, "nerves") is None


def test_currents_put_in_by_hand_are_what_is_used():
    """Twice the current, twice the field, whatever the solver found."""
    solution = solved("dipole")
    twice = replace(solution, half_currents_a=2.0 * solution.half_currents_a)
    points = [[1.0, 1.0, 1.0]]
    for one, two in zip(
        near_field(solution, points), near_field(twice, points), strict=True
    ):
        np.testing.assert_allclose(two, 2.0 * one)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("shape", "mhz", "power_w"),
    [("end-fed half-wave", 3.6, 400.0), ("inverted V", 3.6, 400.0)],
)
def test_no_point_at_the_exposure_distance_is_over_the_level(shape, mhz, power_w):
    """Points drawn at random on the surface, near the ground too."""
    rng = np.random.default_rng(5)
    hung = hang(shape, mhz)
    solution = solve(hung.model(), mhz, ground_by_name("average"))
    found = exposure.exposure_distance(solution, power_w, power_w)
    starts = np.array([wire.start_m for wire in hung.wires])
    ends = np.array([wire.end_m for wire in hung.wires])
    which = rng.integers(len(starts), size=15000)
    along = rng.random((15000, 1))
    along = np.where(rng.random((15000, 1)) < 0.3, np.round(along), along)
    away = rng.normal(size=(15000, 3))
    away /= np.linalg.norm(away, axis=1, keepdims=True)
    points = starts[which] + along * (ends - starts)[which] + found.distance_m * away
    points = points[points[:, 2] >= 0.05]
    nearest = distances_m(points, starts, ends).min(axis=1)
    points = points[nearest >= found.distance_m * 0.999][:3000]
    electric, magnetic = rms_fields(solution, points, power_w)
    levels = [
        exposure.exposure_levels(mhz, extent) for extent in ("whole body", "nerves")
    ]
    assert electric.max() <= 1.03 * min(level.electric_v_m for level in levels)
    assert magnetic.max() <= 1.03 * min(level.magnetic_a_m for level in levels)


@pytest.mark.slow
def test_the_peak_counts_where_the_mean_does_not():
    """10 W mean and 1000 W at the peak: the level of any moment rules on 80 m."""
    solution = solve(hang("dipole", 3.6).model(), 3.6, ground_by_name("average"))
    mean = exposure.exposure_distance(solution, 10.0)
    peak = exposure.exposure_distance(solution, 10.0, 1000.0)
    assert peak.distance_m > 2.0 * mean.distance_m
    near = exposure.far_field_distance(10.0, 3.6)
    assert exposure.far_field_distance(10.0, 3.6, peak_eirp_w=1e5).distance_m > (
        near.distance_m
    )
