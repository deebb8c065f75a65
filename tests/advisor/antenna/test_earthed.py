"""The vertical on the ground: limits, and what its radials are worth."""

import numpy as np
import pytest

from advisor.antenna import earthed
from advisor.antenna.closedform import quarter_wave_vertical_pattern
from advisor.antenna.ground import PERFECT, ground_by_name
from advisor.antenna.shapes.parts import Conductor
from advisor.antenna.shapes.upright import vertical
from advisor.antenna.solver.cache import solve_wire

AVERAGE = ground_by_name("average")


def over(count, mhz, soil, radial_m=None):
    """Gain at 10 degrees and resistance over so many quarter-wave radials."""
    wave_m = 299.792458 / mhz
    model = vertical(
        length_m=earthed.RESONANT * wave_m,
        radials_n=float(count),
        radial_m=radial_m or wave_m / 4.0,
        feed_height_m=earthed.IN_GRASS_M,
        conductor=Conductor(),
    ).model()
    solved = solve_wire(model, mhz, soil, is_kept=False)
    return float(solved.pattern.gain_dbi(10.0, 0.0)), solved.z_ohm.real


def test_over_a_perfect_ground_it_is_the_textbook_monopole():
    """Limit: G = 5.16 dBi at the horizon (Balanis, "Antenna Theory", chapter 4)."""
    solved = earthed.earthed_vertical(14.1, PERFECT)
    exact = quarter_wave_vertical_pattern(14.1, PERFECT, 0.0)
    for takeoff in (1.0, 10.0, 30.0):
        ours = solved.pattern.gain_dbi(takeoff, 0.0)
        # Copper and a foot 5 cm up.
        assert ours == pytest.approx(exact.gain_dbi(takeoff, 0.0), abs=0.15)
    assert solved.ground_share == pytest.approx(0.0, abs=1e-6)


def test_more_radials_lose_less():
    """As measured by Brown, Lewis and Epstein (Proc. IRE 25, 1937): R falls with n."""
    gains, ohms = zip(*(over(n, 3.6, AVERAGE) for n in (4, 8, 16)), strict=True)
    assert np.all(np.diff(gains) > 0.0)
    assert np.all(np.diff(ohms) < 0.0)
    assert np.diff(gains)[1] < np.diff(gains)[0]


def test_short_radials_cost_the_ten_ohms_of_the_default():
    """The default of ``ground_loss_ohm``, on average and poor soil."""
    for name in ("average", "poor"):
        soil = ground_by_name(name)
        short, _ = over(16, 14.1, soil, 299.792458 / 14.1 / 8.0)
        stated = earthed.earthed_vertical(14.1, soil, 10.0).pattern
        assert short == pytest.approx(stated.gain_dbi(10.0, 0.0), abs=0.15)


@pytest.mark.parametrize("name", ["sea water", "average", "very dry"])
def test_power_goes_somewhere_and_a_stated_loss_takes_its_share(name):
    soil = ground_by_name(name)
    clean, lossy = (earthed.earthed_vertical(7.1, soil, ohm) for ohm in (0.0, 30.0))
    for each in (clean, lossy):
        shares = each.pattern.efficiency, each.conductor_share, each.ground_share
        assert sum(shares) == pytest.approx(1.0, abs=1e-6)
    assert lossy.z_ohm == clean.z_ohm + 30.0
    fall = clean.pattern.gain_dbi(5.0, 0.0) - lossy.pattern.gain_dbi(5.0, 0.0)
    assert 10.0 ** (0.1 * fall) == pytest.approx(lossy.z_ohm.real / clean.z_ohm.real)


def test_the_resistance_of_a_perfect_ground_was_no_guide_on_dry_soil():
    """Ten ohms on 36.5 for every soil told 1.9 to 2.5 dB too little over dry ones."""
    for name, low, high in (("average", 1.0, 1.4), ("very dry", 1.9, 2.6)):
        soil = ground_by_name(name)
        ours = earthed.earthed_pattern(14.1, soil).gain_dbi(5.0, 0.0)
        old = quarter_wave_vertical_pattern(14.1, soil).gain_dbi(5.0, 0.0)
        assert low < ours - old < high
