"""
A three-sided wire against what operators say of it: common practice, no source.

20 m of wire in all, 5 m up, 10 m across and 5 m down, over average ground, its ends
half a metre up; where it is fed at a foot, the counterpoise is what the shape takes by
default. The figures are rules of thumb, told as "about", without ground constants
or counterpoise length. From poor to rich ground our own gain at 5 degrees moves by
2.9 dB on 14 MHz, so half of that, 1.5 dB, is what such a figure can be held to. Where
we differ by more, or in kind, the test holds our own figure and says so; the
validation page discusses it.
"""

import numpy as np
import pytest

from advisor.antenna.closedform import (
    half_wave_vertical_pattern,
    quarter_wave_vertical_pattern,
)
from advisor.antenna.feed import resonances_mhz, swr
from advisor.antenna.ground import ground_by_name
from advisor.antenna.moments import solve
from advisor.antenna.shapes import hang
from advisor.antenna.solution_cache import solve_wire
from advisor.wire_sky import zone_shares

AVERAGE = ground_by_name("average")
SIZES = {"length_m": 20.0, "top_m": 10.0, "height_m": 5.5, "sag_m": 0.0}
AZIMUTH_DEG = np.arange(0.0, 360.0, 2.0)
BROADSIDE_DEG = 90.0
GROUND_SPREAD_DB = 1.5


def hung(shape):
    wire = hang(shape, 7.1, SIZES)
    assert wire.lowest_m == pytest.approx(0.5)
    assert [leg.length_m for leg in wire.wires[:3]] == pytest.approx([5.0, 10.0, 5.0])
    return wire.model()


def impedance(shape, mhz):
    return np.array([solve(hung(shape), f, AVERAGE).z_in_ohm[0] for f in mhz])


def pattern(shape, mhz, ground="average"):
    return solve_wire(hung(shape), mhz, ground_by_name(ground)).pattern


def test_what_the_ground_alone_does_to_the_figures():
    """The reason for the tolerance: 2.9 dB from poor to rich on 14 MHz."""
    gains = [
        pattern("bottom-fed half-square", 14.1, ground).gain_dbi(5.0, AZIMUTH_DEG).max()
        for ground in ("poor", "average", "rich")
    ]
    assert np.ptp(gains) == pytest.approx(2.0 * GROUND_SPREAD_DB, abs=0.3)


# "Fed at a top corner on 14 MHz: about 50 ohm". The resistance is 53 ohm; 20 m of wire
# are resonant on 15.2 MHz and not on 14, where 200 ohm of capacitance are left.
def test_a_top_corner_feeds_about_fifty_ohm():
    z = impedance("half-square", [14.1])[0]
    assert z.real == pytest.approx(50.0, abs=10.0)
    assert z.imag == pytest.approx(-206.0, abs=15.0)
    mhz = np.linspace(14.6, 15.8, 7)
    swept = impedance("half-square", mhz)
    resonance = resonances_mhz(mhz, swept)
    assert resonance == pytest.approx([15.2], abs=0.1)
    at = np.interp(resonance, mhz, swept.real)
    assert at == pytest.approx([50.0], abs=10.0)


# "About 4 dB over a quarter- or half-wave vertical broadside, deep nulls off the ends."
def test_fourteen_megahertz_beats_the_verticals_broadside():
    wire = pattern("half-square", 14.1)
    quarter = quarter_wave_vertical_pattern(14.1, AVERAGE)
    half = half_wave_vertical_pattern(14.1, 0.5, AVERAGE)
    for takeoff in (5.0, 10.0, 20.0):
        over = wire.gain_dbi(takeoff, BROADSIDE_DEG) - quarter.gain_dbi(takeoff, 0.0)
        assert over == pytest.approx(4.0, abs=GROUND_SPREAD_DB)
    # 2.7 dB in the lobe and not 4: the half-wave has no feed and no loss of its own.
    over = wire.peak().gain_dbi - half.peak().gain_dbi
    assert over == pytest.approx(4.0, abs=GROUND_SPREAD_DB)
    off_the_ends = wire.gain_dbi(10.0, [0.0, 180.0])
    assert (wire.gain_dbi(10.0, BROADSIDE_DEG) - off_the_ends > 10.0).all()


# "Fed at a bottom end: 2000-4000 ohm where it is a whole number of half waves, so that
# 49:1 or 64:1 brings it well under 2:1."
@pytest.mark.parametrize("low_mhz", [6.9, 14.6])
def test_a_bottom_end_is_thousands_of_ohms_at_one_and_two_half_waves(low_mhz):
    mhz = np.linspace(low_mhz, 1.06 * low_mhz, 7)
    z = impedance("bottom-fed half-square", mhz)
    for ratio in (49.0, 64.0):
        best = int(np.argmin(swr(z / ratio)))
        assert swr(z / ratio)[best] < 1.5
        assert 2000.0 < z[best].real < 4000.0


# Not so at three and four half waves, 22.8 and 30.1 MHz: under 900 ohm, about 3:1.
@pytest.mark.parametrize("low_mhz", [22.0, 29.2])
def test_at_three_and_four_half_waves_it_is_hundreds(low_mhz):
    mhz = np.linspace(low_mhz, 1.06 * low_mhz, 7)
    z = impedance("bottom-fed half-square", mhz)
    assert 600.0 < z.real.max() < 1000.0
    assert 2.5 < swr(z / 49.0).min() < 4.5


# "At 7 MHz a low horizontal dipole about an eighth of a wave up, for short skip."
def test_seven_megahertz_goes_straight_up():
    wire = pattern("bottom-fed half-square", 7.1)
    waves_up = SIZES["height_m"] * 7.1 / 299.792458
    assert waves_up == pytest.approx(1.0 / 8.0, abs=0.01)
    assert wire.peak().takeoff_deg > 75.0
    within_800_km, _, beyond_2500_km = zone_shares(wire)
    assert within_800_km > 0.7
    assert beyond_2500_km < 0.02


# "At 5 degrees the ground-mounted quarter-wave vertical gives about -6 dBi": without
# loss in its radials -6.9 on 14 MHz; our yardstick with 10 ohm of it -7.9.
def test_the_vertical_beside_it():
    ideal = quarter_wave_vertical_pattern(14.1, AVERAGE, 0.0)
    assert ideal.gain_dbi(5.0, 0.0) == pytest.approx(-6.0, abs=GROUND_SPREAD_DB)
    yardstick = quarter_wave_vertical_pattern(14.1, AVERAGE)
    assert yardstick.gain_dbi(5.0, 0.0) == pytest.approx(-7.9, abs=0.1)


# "14 MHz peaks at about -2.5 dBi broadside with nulls off the ends": ours -3.2.
def test_fourteen_megahertz_at_five_degrees():
    wire = pattern("bottom-fed half-square", 14.1)
    round_it = wire.gain_dbi(5.0, AZIMUTH_DEG)
    assert round_it.max() == pytest.approx(-2.5, abs=GROUND_SPREAD_DB)
    lobes = wire.lobes(5.0)
    assert sorted(lobes.maxima_deg) == pytest.approx([90.0, 270.0], abs=5.0)
    assert sorted(lobes.minima_deg) == pytest.approx([0.0, 180.0], abs=5.0)
    assert all(dip < round_it.max() - 8.0 for dip in lobes.minima_dbi)


# "21 MHz about -2.5 dBi in four corner lobes with nulls broadside; about 60 degrees of
# azimuth in all below the vertical": ours -2.8 and -3.7, 52 degrees.
def test_twenty_one_megahertz_at_five_degrees():
    wire = pattern("bottom-fed half-square", 21.2)
    round_it = wire.gain_dbi(5.0, AZIMUTH_DEG)
    lobes = wire.lobes(5.0)
    assert len(lobes.maxima_dbi) == 4
    assert lobes.maxima_dbi == pytest.approx([-2.5] * 4, abs=GROUND_SPREAD_DB)
    corners = [45.0, 135.0, 225.0, 315.0]
    assert sorted(lobes.maxima_deg) == pytest.approx(corners, abs=10.0)
    assert sorted(lobes.minima_deg[:2]) == pytest.approx([90.0, 270.0], abs=5.0)
    vertical = quarter_wave_vertical_pattern(21.2, AVERAGE).gain_dbi(5.0, 0.0)
    assert 2.0 * np.sum(round_it < vertical) == pytest.approx(60.0, abs=20.0)


# "28 MHz nearly all round, peak about -0.9 dBi, mostly -2 to -4 dBi, vertical
# polarisation dominant": ours -1.8 at most, two thirds of the way round within -1 to
# -5, two dips to -7.9, everywhere above the vertical, 73 % vertical.
def test_twenty_eight_megahertz_at_five_degrees():
    wire = pattern("bottom-fed half-square", 28.5)
    round_it = wire.gain_dbi(5.0, AZIMUTH_DEG)
    assert round_it.max() == pytest.approx(-0.9, abs=GROUND_SPREAD_DB)
    assert np.mean((round_it > -5.5) & (round_it < -0.5)) > 0.6
    assert round_it.min() == pytest.approx(-7.9, abs=0.5)
    vertical = quarter_wave_vertical_pattern(28.5, AVERAGE).gain_dbi(5.0, 0.0)
    assert (round_it > vertical).all()
    upright = wire.vertical[5].sum()
    assert upright / (upright + wire.horizontal[5].sum()) > 0.6
