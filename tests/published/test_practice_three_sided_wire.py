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

from advisor.answers.one_wire.sky import zone_shares
from advisor.antenna.closedform import (
    half_wave_vertical_pattern,
    quarter_wave_vertical_pattern,
)
from advisor.antenna.earthed import earthed_pattern
from advisor.antenna.feed import resonances_mhz, swr
from advisor.antenna.ground import ground_by_name
from advisor.antenna.shapes.registry import hang
from advisor.antenna.solver.cache import solve_wire
from advisor.antenna.solver.currents import solve

AVERAGE = ground_by_name("average")
SIZES = {"length_m": 20.0, "top_m": 10.0, "height_m": 5.5, "sag_m": 0.0}
AZIMUTH_DEG = np.arange(0.0, 360.0, 2.0)
BROADSIDE_DEG = 90.0
GROUND_SPREAD_DB = 1.5
PRACTICE = "what operators say of a three-sided wire", "common practice, no source"
SPREAD = "half of what the ground does"
OURS = PRACTICE[0], "our own figure"
DIFFER = "see A three-sided wire"


def hung(shape):
    wire = hang(shape, 7.1, SIZES)
    assert wire.lowest_m == pytest.approx(0.5)
    assert [leg.length_m for leg in wire.wires[:3]] == pytest.approx([5.0, 10.0, 5.0])
    return wire.model()


def impedance(shape, mhz):
    return np.array([solve(hung(shape), f, AVERAGE).z_in_ohm[0] for f in mhz])


def pattern(shape, mhz, ground="average"):
    return solve_wire(hung(shape), mhz, ground_by_name(ground)).pattern


def test_what_the_ground_alone_does_to_the_figures(outside):
    """The reason for the tolerance: 2.9 dB from poor to rich on 14 MHz."""
    gains = [
        pattern("bottom-fed half-square", 14.1, ground).gain_dbi(5.0, AZIMUTH_DEG).max()
        for ground in ("poor", "average", "rich")
    ]
    what = "gain at 5 degrees on 14 MHz, from poor to rich ground [dB]"
    spread = np.ptp(gains)
    check = outside(*OURS)
    check.near(what, spread, 2.0 * GROUND_SPREAD_DB, abs=0.3, why="basis of the rest")


# "Fed at a top corner on 14 MHz: about 50 ohm". The resistance is 53 ohm; 20 m of wire
# are resonant on 15.2 MHz and not on 14, where 200 ohm of capacitance are left.
def test_a_top_corner_feeds_about_fifty_ohm(outside):
    z = impedance("half-square", [14.1])[0]
    check = outside(*PRACTICE)
    why = "told as about"
    check.near("fed at a top corner, 14.1 MHz [ohm]", z.real, 50.0, abs=10.0, why=why)
    outside(*OURS).near(
        "its reactance there [ohm]", z.imag, -206.0, abs=15.0, why=DIFFER
    )
    mhz = np.linspace(14.6, 15.8, 7)
    swept = impedance("half-square", mhz)
    resonance = resonances_mhz(mhz, swept)
    check.equal("resonances from 14.6 to 15.8 MHz", len(resonance), 1)
    outside(*OURS).near("its resonance [MHz]", resonance, [15.2], abs=0.1, why=DIFFER)
    at = np.interp(resonance, mhz, swept.real)
    check.near("resistance at resonance [ohm]", at, [50.0], abs=10.0, why=why)


# "About 4 dB over a quarter- or half-wave vertical broadside, deep nulls off the ends."
def test_fourteen_megahertz_beats_the_verticals_broadside(outside):
    wire = pattern("half-square", 14.1)
    quarter = earthed_pattern(14.1, AVERAGE)
    half = half_wave_vertical_pattern(14.1, 0.5, AVERAGE)
    check = outside(*PRACTICE)
    for takeoff in (5.0, 10.0, 20.0):
        over = wire.gain_dbi(takeoff, BROADSIDE_DEG) - quarter.gain_dbi(takeoff, 0.0)
        what = "14 MHz broadside over a quarter-wave vertical, three angles [dB]"
        check.near(what, over, 4.0, abs=GROUND_SPREAD_DB, why=SPREAD)
    # 2.7 dB in the lobe and not 4: the half-wave has no feed and no loss of its own.
    over = wire.peak().gain_dbi - half.peak().gain_dbi
    what = "14 MHz peak over that of a half-wave vertical [dB]"
    check.near(what, over, 4.0, abs=GROUND_SPREAD_DB, why=SPREAD)
    off_the_ends = wire.gain_dbi(10.0, [0.0, 180.0])
    deep = wire.gain_dbi(10.0, BROADSIDE_DEG) - off_the_ends
    check.between("nulls off the ends at 10 degrees [dB]", deep, low=10.0, why="deep")


# "Fed at a bottom end: 2000-4000 ohm where it is a whole number of half waves, so that
# 49:1 or 64:1 brings it well under 2:1."
@pytest.mark.parametrize("low_mhz", [6.9, 14.6])
def test_a_bottom_end_is_thousands_of_ohms_at_one_and_two_half_waves(outside, low_mhz):
    mhz = np.linspace(low_mhz, 1.06 * low_mhz, 7)
    z = impedance("bottom-fed half-square", mhz)
    check = outside(*PRACTICE)
    for ratio in (49.0, 64.0):
        best = int(np.argmin(swr(z / ratio)))
        what = f"SWR with {ratio:g}:1 at one and two half waves"
        check.between(what, swr(z / ratio)[best], high=1.5, why="well under 2:1")
        what = "resistance there [ohm]"
        check.between(what, z[best].real, 2000.0, 4000.0, why="as said")


# Not so at three and four half waves, 22.8 and 30.1 MHz: under 900 ohm, about 3:1.
@pytest.mark.parametrize("low_mhz", [22.0, 29.2])
def test_at_three_and_four_half_waves_it_is_hundreds(outside, low_mhz):
    mhz = np.linspace(low_mhz, 1.06 * low_mhz, 7)
    z = impedance("bottom-fed half-square", mhz)
    what = "not met: resistance at three and four half waves [ohm]"
    outside(*OURS).between(what, z.real.max(), 600.0, 1000.0, why=DIFFER)
    outside(*OURS).between(
        "SWR with 49:1 there", swr(z / 49.0).min(), 2.5, 4.5, why=DIFFER
    )


# "At 7 MHz a low horizontal dipole about an eighth of a wave up, for short skip."
def test_seven_megahertz_goes_straight_up(outside):
    wire = pattern("bottom-fed half-square", 7.1)
    waves_up = SIZES["height_m"] * 7.1 / 299.792458
    check = outside(*PRACTICE)
    what, why = "7 MHz: height in wavelengths", "told as an eighth"
    check.near(what, waves_up, 1.0 / 8.0, abs=0.01, why=why)
    angle = wire.peak().takeoff_deg
    check.between("7 MHz: angle of the peak [deg]", angle, low=75.0, why="short skip")
    within_800_km, _, beyond_2500_km = zone_shares(wire)
    what = "7 MHz: share of power to land within 800 km"
    check.between(what, within_800_km, low=0.7, why="short skip")
    what = "7 MHz: share beyond 2500 km"
    check.between(what, beyond_2500_km, high=0.02, why="short skip")


# "At 5 degrees the ground-mounted quarter-wave vertical gives about -6 dBi": over eight
# radials in the grass -6.7 on 14 MHz, with the resistance of a perfect ground -6.9.
def test_the_vertical_beside_it(outside):
    ours = earthed_pattern(14.1, AVERAGE).gain_dbi(5.0, 0.0)
    what = "quarter-wave vertical, 14 MHz, 5 degrees [dBi]"
    outside(*PRACTICE).near(what, ours, -6.0, abs=GROUND_SPREAD_DB, why=SPREAD)
    ideal = quarter_wave_vertical_pattern(14.1, AVERAGE, 0.0).gain_dbi(5.0, 0.0)
    what = "the same over a closed form without loss [dB]"
    outside(*OURS).near(what, ours - ideal, 0.2, abs=0.1, why=DIFFER)


# "14 MHz peaks at about -2.5 dBi broadside with nulls off the ends": ours -3.2.
def test_fourteen_megahertz_at_five_degrees(outside):
    wire = pattern("bottom-fed half-square", 14.1)
    round_it = wire.gain_dbi(5.0, AZIMUTH_DEG)
    check = outside(*PRACTICE)
    most = round_it.max()
    what = "14 MHz at 5 degrees, peak [dBi]"
    check.near(what, most, -2.5, abs=GROUND_SPREAD_DB, why=SPREAD)
    lobes = wire.lobes(5.0)
    counts = len(lobes.maxima_deg), len(lobes.minima_deg)
    check.equal("14 MHz: lobes and nulls", counts, (2, 2))
    maxima, minima = sorted(lobes.maxima_deg), sorted(lobes.minima_deg)
    why = "broadside and the ends"
    check.near("14 MHz: lobes [deg]", maxima, [90.0, 270.0], abs=5.0, why=why)
    check.near("14 MHz: nulls [deg]", minima, [0.0, 180.0], abs=5.0, why=why)
    deep = most - np.array(lobes.minima_dbi)
    check.between("14 MHz: depth of the nulls [dB]", deep, low=8.0, why="nulls")


# "21 MHz about -2.5 dBi in four corner lobes with nulls broadside; about 60 degrees of
# azimuth in all below the vertical": ours -2.8 and -3.7, 68 degrees.
def test_twenty_one_megahertz_at_five_degrees(outside):
    wire = pattern("bottom-fed half-square", 21.2)
    round_it = wire.gain_dbi(5.0, AZIMUTH_DEG)
    lobes = wire.lobes(5.0)
    check = outside(*PRACTICE)
    check.equal("21 MHz: number of lobes", len(lobes.maxima_dbi), 4)
    what = "21 MHz at 5 degrees, four lobes [dBi]"
    check.near(what, lobes.maxima_dbi, -2.5, abs=GROUND_SPREAD_DB, why=SPREAD)
    corners = [45.0, 135.0, 225.0, 315.0]
    maxima, minima = sorted(lobes.maxima_deg), sorted(lobes.minima_deg[:2])
    check.near("21 MHz: lobes [deg]", maxima, corners, abs=10.0, why="told as corners")
    check.near("21 MHz: nulls [deg]", minima, [90.0, 270.0], abs=5.0, why="broadside")
    vertical = earthed_pattern(21.2, AVERAGE).gain_dbi(5.0, 0.0)
    under = 2.0 * np.sum(round_it < vertical)
    what = "21 MHz: azimuth in all under the vertical [deg]"
    check.near(what, under, 60.0, abs=20.0, why="told as about")


# "28 MHz nearly all round, peak about -0.9 dBi, mostly -2 to -4 dBi, vertical
# polarisation dominant": ours -1.8 at most, two thirds of the way round within -1 to
# -5, two dips to -7.9, above the vertical but there, 73 % vertical.
def test_twenty_eight_megahertz_at_five_degrees(outside):
    wire = pattern("bottom-fed half-square", 28.5)
    round_it = wire.gain_dbi(5.0, AZIMUTH_DEG)
    check = outside(*PRACTICE)
    what = "28 MHz at 5 degrees, peak [dBi]"
    check.near(what, round_it.max(), -0.9, abs=GROUND_SPREAD_DB, why=SPREAD)
    share = np.mean((round_it > -5.5) & (round_it < -0.5))
    what = "28 MHz: share of azimuths from -5.5 to -0.5 dBi"
    check.between(what, share, low=0.6, why="mostly -2 to -4, told as about")
    outside(*OURS).near(
        "28 MHz: deepest dip [dBi]", round_it.min(), -7.9, abs=0.5, why=DIFFER
    )
    vertical = earthed_pattern(28.5, AVERAGE).gain_dbi(5.0, 0.0)
    over = round_it - vertical
    # "All round above the vertical": ours but for the two dips.
    check.between(
        "28 MHz over the vertical, five sixths of the way round [dB]",
        np.quantile(over, 1.0 / 6.0), low=0.0, why="nearly as said",
    )  # fmt: skip
    outside(*OURS).near(
        "28 MHz over the vertical in the dips [dB]", over.min(), -1.3, abs=0.2,
        why=DIFFER,
    )  # fmt: skip
    upright = wire.vertical[5].sum()
    share = upright / (upright + wire.horizontal[5].sum())
    what = "28 MHz: vertically polarised share of the power"
    check.between(what, share, low=0.6, why="dominant")
