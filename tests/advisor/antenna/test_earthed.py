"""The vertical on the ground: limits, and what its radials are worth."""

import numpy as np
import pytest

from advisor.antenna.closedform import quarter_wave_vertical_pattern
from advisor.antenna.earthed import earthed_pattern
from advisor.antenna.ground import PERFECT, ground_by_name
from advisor.antenna.shapes.earth import with_earth
from advisor.antenna.shapes.registry import hang
from advisor.antenna.solver.cache import solve_wire

AVERAGE = ground_by_name("average")


def over(mhz, soil, count=8, radial_m=None, **earth):
    """Gain at 10 degrees and resistance over so many radials or another earth."""
    sizes = {"radials_n": float(count)} | ({"radial_m": radial_m} if radial_m else {})
    hung = hang("ground-mounted vertical", mhz, sizes)
    if earth:
        hung = with_earth(hung, **earth)
    solved = solve_wire(hung.model(), mhz, soil, is_kept=False)
    return float(solved.pattern.gain_dbi(10.0, 0.0)), solved.z_ohm.real


def test_over_a_perfect_ground_it_is_the_textbook_monopole():
    """Limit: G = 5.16 dBi at the horizon (Balanis, "Antenna Theory", chapter 4)."""
    solved = earthed_pattern(14.1, PERFECT)
    exact = quarter_wave_vertical_pattern(14.1, PERFECT, 0.0)
    for takeoff in (1.0, 10.0, 30.0):
        ours = solved.gain_dbi(takeoff, 0.0)
        # Copper and a foot 5 cm up.
        assert ours == pytest.approx(exact.gain_dbi(takeoff, 0.0), abs=0.15)


def test_more_radials_lose_less():
    """As measured by Brown, Lewis and Epstein (Proc. IRE 25, 1937): R falls with n."""
    gains, ohms = zip(*(over(3.6, AVERAGE, n) for n in (4, 8, 16)), strict=True)
    assert np.all(np.diff(gains) > 0.0)
    assert np.all(np.diff(ohms) < 0.0)
    assert np.diff(gains)[1] < np.diff(gains)[0]


@pytest.mark.slow
def test_what_it_stands_on_tells():
    """Lying radials, buried ones, a stake alone: each loses more than the one before.

    Common practice, no source; by how much is the solver's.
    """
    for name in ("average", "poor"):
        soil = ground_by_name(name)
        lying = over(7.1, soil)[0]
        assert lying > over(7.1, soil, radials_at_m=-0.05)[0] + 0.5
        assert over(7.1, soil, radials_at_m=-0.05)[0] > over(7.1, soil, stake_m=1.5)[0]


def test_ten_ohms_on_every_soil_were_no_guide():
    """Ten ohms on 36.5 for every soil told 1.9 to 2.5 dB too little over dry ones."""
    for name, low, high in (("average", 1.0, 1.4), ("very dry", 1.9, 2.6)):
        soil = ground_by_name(name)
        ours = earthed_pattern(14.1, soil).gain_dbi(5.0, 0.0)
        old = quarter_wave_vertical_pattern(14.1, soil, 10.0).gain_dbi(5.0, 0.0)
        assert low < ours - old < high
