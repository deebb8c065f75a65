"""
MUF by the rays against the laws of ITU-R P.533-14 and P.1240; support.

Formulas and limits are from memory of the Recommendations; the working of each number
is in docs/validation.md. The laws of distance stand here only: the program itself has
rays.
"""

import numpy as np
import pytest

from advisor.propagation import muf
from advisor.propagation.first_hop import f2_muf_mhz, one_hop_muf_mhz
from geo.ionosphere.layers import layers_at
from geo.ionosphere.profile import layered_profile
from geo.ionosphere.ray_muf import muf_mhz

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


NONE = float("nan")
DISTANCES = np.array([400.0, 700.0, 1000.0, 1500.0, 2000.0, 2500.0, 3000.0, 3500.0])


def law_mhz(hop_km, fof2, m, foe, fh, longest_km=4000.0):
    """MUF of section 3.5.1; without a field fh is 0."""
    x = np.maximum(fof2 / foe, 2.0)
    b = m - 0.124 + (m**2 - 4.0) * (0.0215 + 0.005 * np.sin(7.854 / x - 1.9635))
    far = 4780.0 + (12610.0 + 2140.0 / x**2 - 49720.0 / x**4 + 688900.0 / x**6) * (
        1.0 / b - 0.303
    )
    far = np.minimum(far, longest_km)

    def c(d):
        z = 1.0 - 2.0 * d / far
        return np.polyval([0.096, 0.181, 0.088, -0.090, -0.424, -0.591, 0.74], z)

    part = 1.0 - hop_km / far
    return fof2 * (1.0 + c(hop_km) / c(3000.0) * (b - 1.0)) + 0.5 * fh * part


@pytest.mark.parametrize(("hop_km", "expected"), WORKED.items())
def test_the_law_of_this_page_worked_by_hand(outside, hop_km, expected):
    """What the rays are held against is the law itself."""
    check = outside("ITU-R P.533-14 section 3.5.1", "from memory")
    check.near(
        f"MUF of F2 over {hop_km:.0f} km by the law of the standard [MHz]",
        law_mhz(hop_km, 8.0, 3.0, 3.0, 1.2), expected,
        abs=0.02, why="worked by hand to 0.01 MHz",
    )  # fmt: skip


@pytest.fixture(scope="module")
def mapped():
    """144 layers: six places, three months, four hours, a quiet and a busy sun."""
    lat = [60.0, 45.0, 20.0, 0.0, -25.0, -50.0]
    lon = [10.0, -80.0, 120.0, 30.0, -60.0, 150.0]
    columns = []
    for month in (1, 4, 7):
        for r12 in (10.0, 100.0):
            hours = np.arange(0, 24, 6).astype("timedelta64[h]")
            when = np.datetime64(f"2022-{month:02d}-15T00", "s") + hours
            sky = layers_at(lat, lon, when, r12)
            each = (sky.foe_mhz, sky.fof1_mhz, sky.fof2_mhz, sky.hmf2_km, sky.f1_share,
                    sky.m3000f2, np.full(sky.foe_mhz.shape, r12))  # fmt: skip
            columns.append(np.stack([np.asarray(part).ravel() for part in each]))
    return np.concatenate(columns, axis=1)


def test_f2_muf_of_the_rays_against_the_distance_law(outside, mapped):
    """
    P.533-14 section 3.5.1, with the longest hop as it comes out and held at 4000 km.

    With the cap the law is too high at middle distances: the longest hop of a parabola
    does not end at 4000 km, and the law bends too early.
    """
    foe, fof1, fof2, height, share, m, _ = mapped[:, :, None]
    ours = muf_mhz(layered_profile(foe, fof1, fof2, height, None, share), DISTANCES)
    free, capped = (
        100.0 * (law_mhz(DISTANCES, fof2, m, foe, 0.0, cap) / ours - 1.0)
        for cap in (np.inf, 4000.0)
    )
    check = outside("ITU-R P.533-14 section 3.5.1, without its cap", MEMORY)
    why = "the law's own fit to layers of many shapes"
    rms = np.sqrt(np.mean(free**2))
    check.between("law over rays, 144 layers, rms [%]", rms, 0.0, 3.0, why=why)
    mean = np.abs(free.mean(axis=0))
    what = "the same, mean at each of 400 to 3500 km, size [%]"
    check.between(what, mean, 0.0, 2.0, why=why)
    check = outside("ITU-R P.533-14 section 3.5.1", MEMORY)
    near, far = capped[:, :4].mean(axis=0), capped[:, -1].mean()
    why = "see Where two sources differ"
    what = "law held at 4000 km over rays, 400 to 1500 km, mean [%]"
    check.between(what, near, 4.0, 12.0, why=why)
    what = "law held at 4000 km over rays, 3500 km, mean [%]"
    check.between(what, far, -6.0, -1.0, why=why)


def test_f2_muf_at_the_vertical_is_the_extraordinary_wave(outside):
    """P.533-14 section 3.5.1: foF2 + fH/2 at no distance, foF2 alone from 4000 km."""
    check = outside("ITU-R P.533-14 section 3.5.1, foF2 + fH/2", MEMORY)
    sky = layers_at(
        50.0, 10.0, np.array(["2022-01-15T00", "2022-07-15T12"], "M8[s]"), 60
    )
    straight_up = f2_muf_mhz(sky, [0.0])[:, 0]
    expected = sky.fof2_mhz[:, 0] + 0.5 * sky.gyro_mhz[0]
    why = "MUF of the rays within 0.1 %"
    check.near("F2 MUF at no distance [MHz]", straight_up, expected, rel=1e-3, why=why)
    apart = muf.apart_mhz(1.2, [0.0, 1000.0, 4000.0, 9000.0])
    what = "extraordinary over ordinary wave, 0 to 9000 km [MHz]"
    check.near(what, apart, [0.6, 0.45, 0.0, 0.0], abs=1e-9, why=ROUNDING)
    # No layer below returns more straight up.
    assert one_hop_muf_mhz(sky, [0.0])[:, 0] == pytest.approx(straight_up)


def test_e_muf_against_the_polynomial_of_p1240(outside):
    """
    Rays through the E layer against ITU-R P.1240-2, Annex 1 section 5.

    M_E = 3.94 + 2.80 X - 1.70 X^2 - 0.60 X^3 + 0.96 X^4, X = (D - 1150)/1150
    (from memory).
    """
    distance = np.array([500.0, 1000.0, 1500.0, 2000.0])
    x = (distance - 1150.0) / 1150.0
    printed = 3.94 + 2.80 * x - 1.70 * x**2 - 0.60 * x**3 + 0.96 * x**4
    ours = muf_mhz(layered_profile(1.0, NONE, 10.0, 300.0), distance, 0)
    check = outside("ITU-R P.1240-2 Annex 1 section 5", MEMORY)
    why = "a parabola 20 km thick is one layer of many"
    check.near("E MUF over foE, 500 to 2000 km", ours, printed, rel=0.04, why=why)


def test_f1_muf_against_p1240(outside, mapped):
    """
    Rays off the ledge against ITU-R P.1240, annex 1 (from memory).

    J0 = 0.16 + 2.64e-3 D - 0.40e-6 D^2, J100 = -0.52 + 2.69e-3 D - 0.39e-6 D^2,
    straight between them with R12.
    """
    foe, fof1, fof2, height, share, _, r12 = mapped[:, mapped[4] > 0.99, None]
    distance = np.array([1000.0, 2000.0, 3000.0])
    quiet = 0.16 + 2.64e-3 * distance - 0.40e-6 * distance**2
    busy = -0.52 + 2.69e-3 * distance - 0.39e-6 * distance**2
    printed = quiet + 0.01 * r12 * (busy - quiet)
    layers = layered_profile(foe, fof1, fof2, height, None, share)
    ours = muf_mhz(layers, distance, 1) / fof1
    check = outside("ITU-R P.1240 Annex 1", MEMORY)
    why = "one height of F1 for all; our ledge goes up and down with F2"
    what = "F1 MUF over foF1, by that of the standard, 1000 to 3000 km"
    check.between(what, ours / printed, 0.7, 1.1, why=why)
    mean = np.mean(ours / printed)
    check.between("its mean", mean, 0.8, 1.0, why=why)


def test_support_at_the_deciles_and_the_median(outside):
    """P.533-14 section 3.6: 0.9, 0.5 and 0.1 at the two deciles and the median."""
    frequency = 10.0 * np.array([0.8, 1.0, 1.3])
    ours = muf.support_probability(frequency, 10.0, 0.8, 1.3)
    check = outside("ITU-R P.533-14 section 3.6", MEMORY)
    what = "support at lower decile, median, upper decile"
    check.near(what, ours, [0.9, 0.5, 0.1], rel=1e-6, why=ROUNDING)
