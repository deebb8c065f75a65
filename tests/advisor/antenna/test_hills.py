"""What hills make of a wire's pattern: nothing when flat, a turn on a slope."""

import numpy as np
import pytest

from advisor.antenna.closedform import dipole_pattern
from advisor.antenna.ground import (
    complex_permittivity,
    ground_by_name,
    reflection_horizontal,
)
from advisor.antenna.hills import hills_of
from advisor.antenna.pattern import Centre
from geo.terrain import terrain_of_points

AVERAGE = ground_by_name("average")
UP_M, MHZ = 10.0, 14.1


@pytest.fixture(scope="module")
def dipole():
    from dataclasses import replace

    pattern = dipole_pattern(MHZ, UP_M, AVERAGE)
    return replace(pattern, centre=Centre(UP_M, UP_M, is_level=True))


@pytest.fixture(scope="module")
def falling():
    """Ground that falls 8 degrees to the north and rises as much to the south."""
    fall = 20_000.0 * np.tan(np.radians(8.0))
    points = [
        (float(azimuth), 20_000.0, -fall * np.cos(np.radians(azimuth)))
        for azimuth in range(0, 360, 15)
    ]
    return terrain_of_points(points)


@pytest.mark.slow
def test_flat_ground_adds_nothing(dipole):
    flat = terrain_of_points([(0.0, 100.0, 0.0), (90.0, 500.0, 0.0)])
    hills = hills_of(flat, dipole, AVERAGE)
    up = np.array([0.5, 1.0, 3.0, 10.0, 30.0, 80.0, 90.0])
    own = dipole.gain(up, 90.0)
    np.testing.assert_allclose(hills.more(dipole, up, 90.0, 0.0), 0.0, atol=1e-6)
    assert (own > 1e-4).all()


@pytest.mark.slow
def test_down_a_slope_the_lobe_is_turned_down(dipole, falling):
    """Broadside to the north, to 0.7 dB: the field of a turned plane of that soil."""
    hills = hills_of(falling, dipole, AVERAGE)
    up = np.array([4.0, 6.0, 8.0, 12.0, 16.0, 20.0])
    found = dipole.gain(up, 90.0) + hills.more(dipole, up, 90.0, 0.0)
    k, eps = 2.0 * np.pi * MHZ / 299.792458, complex_permittivity(AVERAGE, MHZ)

    def power(over_deg, clear_m):
        turned = np.exp(-2j * k * clear_m * np.sin(np.radians(over_deg)))
        return np.abs(1.0 + reflection_horizontal(over_deg, eps) * turned) ** 2

    free = dipole.gain(up, 90.0) / power(up, UP_M)
    expected = free * power(up + 8.0, UP_M * np.cos(np.radians(8.0)))
    np.testing.assert_allclose(10.0 * np.log10(found / expected), 0.0, atol=0.7)
    assert 10.0 * np.log10(found[0] / dipole.gain(4.0, 90.0)) > 5.0


@pytest.mark.slow
def test_up_a_slope_less_is_left(dipole, falling):
    """Towards the south the ground hides what is under 8 degrees: 6 dB on its line."""
    hills = hills_of(falling, dipole, AVERAGE)
    own = dipole.gain(9.0, 90.0)
    assert hills.more(dipole, 9.0, 90.0, 180.0) < -0.75 * own


def test_hills_do_not_step_and_end_overhead(dipole, falling):
    hills = hills_of(falling, dipole, AVERAGE)
    up = np.arange(1.0, 90.5, 0.5)
    total = dipole.gain(up, 90.0) + hills.more(dipole, up, 90.0, 0.0)
    assert np.abs(np.diff(total)).max() < 0.6
    assert hills.more(dipole, 90.0, 90.0, 0.0) == pytest.approx(0.0, abs=1e-9)


@pytest.mark.slow
def test_tables_are_kept_on_disk_and_by_height(dipole, falling, tmp_path, monkeypatch):
    from advisor.antenna import hills as room

    monkeypatch.setattr(room, "_kept", {})
    first = hills_of(falling, dipole, AVERAGE, tmp_path)
    monkeypatch.setattr(room, "_kept", {})
    monkeypatch.setattr(room, "_worked_out", None)
    again = hills_of(falling, dipole, AVERAGE, tmp_path)
    np.testing.assert_array_equal(first.vertical, again.vertical)
