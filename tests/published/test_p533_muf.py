"""
Basic MUF, mirror height and support of ITU-R P.533-14, worked by hand.

Formulas and limits are from memory of the Recommendation; the working of each
number is in docs/validation.md.
"""

import numpy as np
import pytest

from advisor.propagation import muf
from geo.ionosphere.hops import f2_mirror_height_km

# Section 3.5.1, worked for foF2 8, M 3.0, foE 3.0, fH 1.2 MHz (x = 2.667):
#   sin(7.854/2.667 - 1.9635) = sin(0.98175) = 0.8315
#   B = 3 - 0.124 + 5 (0.0215 + 0.005 * 0.8315) = 3.0043
#   d_max = 4780 + (12610 + 2140/7.11 - 49720/50.6 + 688900/359.6)
#           (1/3.0043 - 0.303) = 5197 -> 4000 km
#   C_3000: Z = -0.5 -> 0.74 + 0.2955 - 0.106 + 0.01125 + 0.0055 - 0.00566 + 0.0015
#           = 0.9421;  C_1000: Z = 0.5 -> 0.74 - 0.2955 - 0.106 - 0.01125 + 0.0055
#           + 0.00566 + 0.0015 = 0.3399;  C_2000: Z = 0 -> 0.74;  C_4000: 1.0
#   1000 km: (1 + 0.3399/0.9421 * 2.0043) 8 + 0.6 * 0.75 = 14.24
#   2000 km: (1 + 0.74/0.9421 * 2.0043) 8 + 0.6 * 0.5 = 20.89
#   3000 km: 3.0043 * 8 + 0.15 = 24.18;  4000 km: (1 + 2.0043/0.9421) 8 = 25.02
MEMORY = "from memory"
ROUNDING = "rounding of the machine"
WORKED = {1000.0: 14.24, 2000.0: 20.89, 3000.0: 24.18, 4000.0: 25.02}


@pytest.mark.parametrize(("hop_km", "expected"), WORKED.items())
def test_f2_muf_worked_by_hand(outside, hop_km, expected):
    """P.533-14 section 3.5.1."""
    ours = muf.f2_muf_mhz(hop_km, 8.0, 3.0, 3.0, 1.2)
    check = outside("ITU-R P.533-14 section 3.5.1", MEMORY)
    what = "F2 MUF at 1000, 2000, 3000, 4000 km [MHz]"
    check.near(what, ours, expected, abs=0.02, why="worked to four digits")


def test_f2_muf_at_the_vertical_is_the_extraordinary_wave(outside):
    """P.533-14 section 3.5.1: foF2 + fH/2 at no distance."""
    check = outside("ITU-R P.533-14 section 3.5.1, foF2 + fH/2", MEMORY)
    ours = muf.f2_muf_mhz(0.0, 8.0, 3.0, 3.0, 1.2)
    check.near("F2 MUF at no distance [MHz]", ours, 8.6, abs=1e-9, why=ROUNDING)


def test_distance_factor_ends(outside):
    """P.533-14 section 3.5.1: C is 0 at no distance and 1 at the longest hop."""
    check = outside("ITU-R P.533-14 section 3.5.1", MEMORY)
    ours = muf.distance_factor([0.0, 4000.0], 4000.0)
    why = "coefficients of three digits"
    what = "distance factor at both ends"
    check.near(what, ours, [0.0, 1.0], abs=1e-3, why=why)


def test_f2_hop_longer_than_the_longest_has_no_muf(outside):
    """P.533-14 section 3.5: beyond the longest hop there is no such mode."""
    missing = np.isnan(muf.f2_muf_mhz(4001.0, 8.0, 3.0, 3.0, 1.2))
    check = outside("ITU-R P.533-14 section 3.5, at most 4000 km", MEMORY)
    check.holds("F2 MUF of a hop of 4001 km", missing, "none")


def test_e_muf_against_the_polynomial_of_p1240(outside):
    """
    Secant law at 110 km against ITU-R P.1240-2, Annex 1 section 5.

    M_E = 3.94 + 2.80 X - 1.70 X^2 - 0.60 X^3 + 0.96 X^4, X = (D - 1150)/1150
    (from memory). The two published forms differ by up to about a seventh at middle
    distances; the polynomial is not used here.
    """
    from geo.ionosphere.hops import takeoff_angle_deg

    distance = np.array([500.0, 1000.0, 1500.0, 2000.0])
    x = (distance - 1150.0) / 1150.0
    printed = 3.94 + 2.80 * x - 1.70 * x**2 - 0.60 * x**3 + 0.96 * x**4
    ours = muf.e_muf_mhz(takeoff_angle_deg(distance, 110.0), 1.0)
    check = outside("ITU-R P.1240-2 Annex 1 section 5", MEMORY)
    why = "another form, see Where two sources differ"
    check.near("E MUF over foE, 500 to 2000 km", ours, printed, rel=0.2, why=why)
    check.near("E MUF over foE, 2000 km", ours[-1], printed[-1], rel=0.06, why=why)


def test_support_at_the_deciles_and_the_median(outside):
    """P.533-14 section 3.6: 0.9, 0.5 and 0.1 at the two deciles and the median."""
    frequency = 10.0 * np.array([0.8, 1.0, 1.3])
    ours = muf.support_probability(frequency, 10.0, 0.8, 1.3)
    check = outside("ITU-R P.533-14 section 3.6", MEMORY)
    what = "support at lower decile, median, upper decile"
    check.near(what, ours, [0.9, 0.5, 0.1], rel=1e-6, why=ROUNDING)


def test_mirror_heights_worked_by_hand(outside):
    """
    P.533-14 section 5.1, the three branches for foF2 8, M 3.0, R12 60.

    (c) foE 3.0: y = 2.667, dM = 0.18/1.267 + 0.0224 = 0.1645, H = 1490/3.1645 - 316 =
    154.9; J = -13.52 + 41.70 - 43.02 + 16.07 = 1.238; U = 8e-5 * 74.9 *
    (1 + 11 * 0.1156) + 1.2e-3 * 154.9 * 0.0293 = 0.01907; 1500 km: 115 + 191.7 + 28.6.
    (a) foE 2.0, f 12 (x_r 1.5), 1500 km: 261; (b) f 5 (x_r 0.625), 500 km: 226.
    """
    over_e = f2_mirror_height_km(12.0, 1500.0, 8.0, 3.0, 3.0, 60.0)
    check = outside("ITU-R P.533-14 section 5.1", MEMORY)
    why = "worked to the kilometre"
    what = "mirror height, E layer underneath [km]"
    check.near(what, over_e, 335.3, abs=0.6, why=why)
    deep = f2_mirror_height_km([12.0, 5.0], [1500.0, 500.0], 8.0, 2.0, 3.0, 60.0)
    what = "mirror height, over and under foF2 [km]"
    check.near(what, deep, [261.0, 226.0], abs=0.6, why=why)
