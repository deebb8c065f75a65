"""Far field, gain and the balance of powers."""

import itertools

import numpy as np
import pytest

from advisor.antenna.ground import (
    PERFECT,
    Ground,
    complex_permittivity,
    reflection_horizontal,
    reflection_vertical,
)
from advisor.antenna.solver.currents import solve
from advisor.antenna.solver.farfield import (
    far_field,
    ground_power,
    pattern_of,
    power_budget,
    sky_power,
)
from advisor.antenna.solver.kernel import VACUUM_PERMEABILITY_H_M, WAVE_IMPEDANCE_OHM
from advisor.antenna.wires import Load, Source, Wire, WireModel

AVERAGE = Ground("average", 13.0, 0.005, "handbook")
SEA = Ground("sea water", 70.0, 5.0, "ITU-R P.527")
LOSSLESS_SOIL = Ground("lossless", 4.0, 0.0, "made up")
NO_LOSS = np.inf
LAMBDA = 20.0
MHZ = 299.792458 / LAMBDA


def horizontal(height=5.0, **wire):
    wire = {"conductivity_s_m": NO_LOSS} | wire
    return WireModel(
        (Wire((0, -5, height), (0, 5, height), 0.001, **wire),), (Source(0, 5.0),)
    )


def upright(low=0.5, length=10.0):
    return WireModel(
        (Wire((0, 0, low), (0, 0, low + length), 0.001, NO_LOSS),),
        (Source(0, 0.5 * length),),
    )


def slanting():
    return WireModel(
        (Wire((1, -2, 1.5), (5, 4, 7), 0.001, NO_LOSS),), (Source(0, 3.0),)
    )


def inverted_l():
    points = [(0, 0, 0.6), (0, 0, 5), (2, 8, 5)]
    wires = [Wire(a, b, 0.001, NO_LOSS) for a, b in itertools.pairwise(points)]
    wires.append(Wire((0, 0, 0.6), (0, -4, 0.6), 0.001, NO_LOSS))
    return WireModel(tuple(wires), (Source(0, 0.0),))


SET_UPS = [horizontal(), horizontal(0.8), upright(), slanting(), inverted_l()]


def directly(solution, elevation_deg, azimuth_deg):
    """Field in one direction by summing small pieces: no tricks."""
    el, az = np.radians([elevation_deg, azimuth_deg])
    mesh, k = solution.mesh, solution.wavenumber_rad_m
    x = (np.arange(40) + 0.5) / 40
    current = solution.current_a(x) * mesh.length_m[:, None] / 40
    points = mesh.start_m[:, None] + x[:, None] * (mesh.end_m - mesh.start_m)[:, None]
    ray = np.array([np.cos(el) * np.sin(az), np.cos(el) * np.cos(az), np.sin(el)])
    lift = np.array([-np.sin(el) * np.sin(az), -np.sin(el) * np.cos(az), np.cos(el)])
    side = np.array([np.cos(az), -np.sin(az), 0.0])
    wave = current * np.exp(1j * k * points @ ray)
    total = np.einsum("sx,si->i", wave, mesh.tangent)
    vertical, horizontal = total @ lift, total @ side
    if solution.ground is not None:
        eps = complex_permittivity(solution.ground, solution.frequency_mhz)
        image = current * np.exp(1j * k * (points * [1, 1, -1]) @ ray)
        level = np.einsum("sx,si->i", image, mesh.tangent * [1, 1, 0])
        rise = np.einsum("sx,s->", image, mesh.tangent[:, 2])
        rv = complex(reflection_vertical(elevation_deg, eps))
        rh = complex(reflection_horizontal(elevation_deg, eps))
        vertical += rv * (-(level @ lift) + rise * lift[2])
        horizontal += rh * (level @ side)
    scale = -0.5j * 1e6 * solution.frequency_mhz * VACUUM_PERMEABILITY_H_M
    return scale * vertical, scale * horizontal


@pytest.mark.parametrize("ground", [None, PERFECT, AVERAGE])
@pytest.mark.parametrize("model", SET_UPS)
def test_the_field_is_the_sum_over_small_pieces(model, ground):
    solution = solve(model, MHZ, ground)
    elevation, azimuth = [0.0, 4.0, 33.0, 71.0, 90.0], [0.0, 40.0, 200.0, 305.0]
    fields = far_field(solution, elevation, azimuth)
    largest = max(np.abs(field).max() for field in fields)
    for i, el in enumerate(elevation):
        for j, az in enumerate(azimuth):
            for ours, direct in zip(fields, directly(solution, el, az), strict=True):
                assert ours[i, j] == pytest.approx(direct, abs=2e-4 * largest)


def test_azimuth_turns_from_north_to_east():
    # A wire along +y sends nothing along itself and most to the east and west.
    solution = solve(horizontal(), MHZ, None)
    vertical, horizontal_part = far_field(solution, [0.0], [0.0, 90.0, 180.0, 270.0])
    strength = np.abs(horizontal_part[0])
    assert strength[[0, 2]].max() < 1e-9 * strength[1]
    assert strength[3] == pytest.approx(strength[1])
    assert np.abs(vertical).max() < 1e-9 * strength[1]
    # A lone slanting wire that climbs to the north-east radiates its vertical part
    # least where it points.
    wire = Wire((0, 0, 1), (3, 3, 4), 0.001, NO_LOSS)
    slant = solve(WireModel((wire,), (Source(0, 2.0),)), MHZ, None)
    up = np.degrees(np.arctan2(3.0, np.hypot(3.0, 3.0)))
    along = far_field(slant, [up], [45.0, 225.0, 135.0])
    total = sum(np.abs(part[0]) ** 2 for part in along)
    assert total[0] < 1e-12 * total[2]
    assert total[1] > 0.1 * total[2]


@pytest.mark.parametrize("ground", [None, PERFECT])
@pytest.mark.parametrize("model", SET_UPS)
def test_all_power_arrives_in_the_sky_without_losses(model, ground):
    budget = power_budget(solve(model, MHZ, ground))
    assert abs(budget.gap) < 1e-6
    assert budget.ground_w == 0.0
    assert budget.efficiency == pytest.approx(1.0, abs=1e-6)


@pytest.mark.slow
@pytest.mark.parametrize("ground", [LOSSLESS_SOIL, AVERAGE, SEA])
@pytest.mark.parametrize(
    ("model", "allowed"),
    [
        (horizontal(), 5e-6),
        (upright(), 2e-5),
        (slanting(), 5e-6),
        (horizontal(1.0), 5e-5),
    ],
)
def test_sky_and_ground_take_what_the_feed_gives(model, ground, allowed):
    # The ground's power comes from plane waves alone, the input from the tables.
    solution = solve(model, MHZ, ground)
    spent = sky_power(solution) + ground_power(solution)
    assert spent / solution.input_w == pytest.approx(1.0, abs=allowed)
    left = power_budget(solution).ground_w
    assert left == pytest.approx(ground_power(solution), abs=allowed * solution.input_w)


def test_losses_are_in_the_balance():
    load = Load(0, 2.0, resistance_ohm=40.0)
    model = WireModel(
        horizontal(conductivity_s_m=1e5).wires, (Source(0, 5.0),), (load,)
    )
    budget = power_budget(solve(model, MHZ, None))
    assert budget.conductor_w > 0.02 * budget.input_w
    assert budget.load_w > 0.02 * budget.input_w
    assert abs(budget.gap) < 1e-6
    spent = budget.sky_w + budget.conductor_w + budget.load_w
    assert spent == pytest.approx(budget.input_w, rel=1e-6)
    gain = pattern_of(solve(model, MHZ, None))
    free = pattern_of(solve(horizontal(), MHZ, None))
    ratio = gain.gain(0.0, 90.0) / free.gain(0.0, 90.0)
    assert ratio == pytest.approx(budget.efficiency, rel=0.02)


@pytest.mark.parametrize("ground", [PERFECT, AVERAGE])
def test_the_pattern_integrates_to_the_efficiency(ground):
    solution = solve(slanting(), MHZ, ground)
    pattern = pattern_of(solution)
    total = (pattern.vertical + pattern.horizontal).mean(axis=1)
    elevation = np.radians(pattern.elevation_deg)
    mean = 0.5 * np.trapezoid(total * np.cos(elevation), elevation)
    assert mean == pytest.approx(pattern.efficiency, rel=1e-3)
    if ground is PERFECT:
        assert pattern.efficiency == pytest.approx(1.0, abs=1e-6)


@pytest.mark.parametrize("step", [2.0, 24.0])
def test_the_mirrored_half_of_a_flat_set_up_is_what_solving_gives(step):
    bent = WireModel(
        (
            Wire((0, 0, 1), (0, 3, 6), 0.001, NO_LOSS),
            Wire((0, 3, 6), (0, 12, 6), 0.001, NO_LOSS),
        ),
        (Source(1, 0.0),),
    )
    solution = solve(bent, MHZ, AVERAGE)
    pattern = pattern_of(solution, elevation_step_deg=10.0, azimuth_step_deg=step)
    fields = far_field(solution, pattern.elevation_deg, pattern.azimuth_deg)
    for part, field in zip((pattern.vertical, pattern.horizontal), fields, strict=True):
        gain = 2 * np.pi * np.abs(field) ** 2 / (WAVE_IMPEDANCE_OHM * solution.input_w)
        np.testing.assert_allclose(part, gain, atol=1e-12)


def test_over_real_ground_nothing_is_left_at_the_horizon():
    pattern = pattern_of(solve(inverted_l(), MHZ, AVERAGE))
    assert pattern.vertical[0].max() < 1e-12
    assert pattern.horizontal[0].max() < 1e-12
    assert pattern.frequency_mhz == MHZ
    assert 0.2 < pattern.efficiency < 0.9


def test_ground_power_is_nothing_without_real_ground():
    assert ground_power(solve(horizontal(), MHZ, None)) == 0.0
    assert ground_power(solve(horizontal(), MHZ, PERFECT)) == 0.0
