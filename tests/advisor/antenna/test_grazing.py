"""The ground wave's share of a pattern: short verticals, level wires, near fields."""

import numpy as np
import pytest

from advisor.antenna.closedform import (
    dipole_pattern,
    isotropic_pattern,
    quarter_wave_vertical_pattern,
)
from advisor.antenna.grazing import grazing_gain
from advisor.antenna.ground import complex_permittivity, ground_by_name
from advisor.antenna.solver.currents import solve
from advisor.antenna.solver.farfield import pattern_of
from advisor.antenna.solver.nearfield import rms_fields
from advisor.antenna.wires import Source, Wire, WireModel
from advisor.propagation.groundwave import attenuation

# A quarter-wave over a perfect ground has 5.16 dBi (Kraus, Antennas): 3.28.
QUARTER_WAVE = 3.28


def test_a_quarter_wave_on_a_perfect_ground(outside):
    """Kraus, Antennas: 5.16 dBi along the ground."""
    pattern = quarter_wave_vertical_pattern(3.6, ground_by_name("perfect"), 0.0)
    gain = grazing_gain(pattern, ground_by_name("perfect"), [0.0, 90.0])
    check = outside("Kraus, Antennas: 5.16 dBi", "from memory")
    what, why = "quarter-wave along a perfect ground", "rounded"
    check.near(what, gain, QUARTER_WAVE, rel=0.01, why=why)


@pytest.mark.parametrize("soil", ["sea water", "average", "poor", "very dry"])
def test_the_same_currents_give_the_same_on_any_ground(soil):
    """The source term is the currents' own: real ground changes only what follows."""
    ground = ground_by_name(soil)
    pattern = quarter_wave_vertical_pattern(3.6, ground, 0.0)
    assert grazing_gain(pattern, ground, 0.0) == pytest.approx(QUARTER_WAVE, rel=0.15)


def test_a_level_wire_gives_little_and_nothing_broadside():
    """Off its ends by the tilt of the wave, over sea next to nothing."""
    average, sea = ground_by_name("average"), ground_by_name("sea water")
    ends, side = grazing_gain(dipole_pattern(3.6, 8.0, average), average, [0.0, 90.0])
    assert 0.01 < ends < 0.3 * QUARTER_WAVE
    assert side < 1e-6
    assert grazing_gain(dipole_pattern(3.6, 8.0, sea), sea, 0.0) < 0.01


def test_free_space_is_left_as_it_is():
    """An isotropic radiator has its vertical half at the horizon."""
    gain = grazing_gain(isotropic_pattern(7.1), ground_by_name("average"), 0.0)
    assert gain == pytest.approx(0.5)


@pytest.mark.slow
def test_against_the_field_close_to_the_ground():
    """
    Field of a short vertical at 25 wavelengths: sqrt(30 P g) / d times Norton's F.

    The near field is that of the solved currents over the exact ground.
    """
    frequency, soil = 7.1, ground_by_name("average")
    wave_m = 299.792458 / frequency
    wire = Wire((0.0, 0.0, 0.3), (0.0, 0.0, 4.3), 0.002)
    solution = solve(WireModel((wire,), (Source(0, 2.0),)), frequency, soil)
    gain = float(grazing_gain(pattern_of(solution), soil, 0.0))
    away_m = 25.0 * wave_m
    electric, _ = rms_fields(solution, [[0.0, away_m, 0.05]], 100.0)
    eps = complex_permittivity(soil, frequency)
    weaker = np.abs(attenuation(frequency, away_m / 1000.0, eps))
    expected = np.sqrt(30.0 * 100.0 * gain) / away_m * weaker
    assert electric[0] == pytest.approx(expected, rel=0.06)
