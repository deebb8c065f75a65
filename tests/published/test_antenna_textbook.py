"""
Closed-form antennas against textbooks.

Sources, all recalled and not compared with the printed page:

- P. S. Carter, "Circuit relations in radiating systems and applications to antenna
  problems", Proc. IRE 20(6), 1932: mutual impedance by induced EMF.
- J. D. Kraus and R. J. Marhefka, "Antennas", 3rd ed., 2002.
- C. A. Balanis, "Antenna Theory", 4th ed., 2016, chapters 4 and 8.
- ITU-R BS.705-1: field over real ground as direct and Fresnel-reflected wave.
- Amateur antenna handbooks, for the ranges over average ground.
"""

import numpy as np
import pytest
from scipy import special

from advisor.antenna.closedform import (
    WAVE_IMPEDANCE_OHM,
    dipole_pattern,
    dipole_power,
    half_wave_vertical_pattern,
    half_wave_vertical_power,
    quarter_wave_vertical_pattern,
    quarter_wave_vertical_power,
    wavelength_m,
)
from advisor.antenna.ground import (
    PERFECT,
    Ground,
    complex_permittivity,
    ground_by_name,
    reflection_vertical,
)

FREQUENCY = 14.0
WAVE = wavelength_m(FREQUENCY)
AVERAGE = ground_by_name("average")
SEA = ground_by_name("sea water")
AIR = Ground("air", 1.0, 0.0, "no ground at all")
MEMORY = "from memory"
APART = "worked apart"
ROUNDING = "rounding of the machine"
LAST_DIGIT = "half the last digit"

# Textbooks take the wave impedance as 120π ohm, 0.07 % above the true one.
TEXTBOOK = 120.0 * np.pi / WAVE_IMPEDANCE_OHM


def carter_side_by_side_ohm(distance):
    """
    Mutual resistance of parallel half-waves side by side, distance in wavelengths.

    Carter 1932; Kraus, chapter on mutual impedance; Balanis equation (8-69a):
    30 [2 Ci(u0) - Ci(u1) - Ci(u2)].
    """
    u0 = 2 * np.pi * distance
    diagonal = 2 * np.pi * np.hypot(distance, 0.5)
    u1, u2 = diagonal + np.pi, diagonal - np.pi
    _, (ci0, ci1, ci2) = special.sici(np.array([u0, u1, u2]))
    return 30.0 * (2 * ci0 - ci1 - ci2)


def test_half_wave_in_free_space(outside):
    # Kraus, Balanis 4.6: 73.13 ohm, directivity 1.643, 2.15 dBi.
    pattern = dipole_pattern(FREQUENCY, 10.0, AIR)
    power = dipole_power(FREQUENCY, 10.0, AIR)
    check = outside("Kraus; Balanis 4.6", MEMORY)
    ohm = power.input_ohm * TEXTBOOK
    check.near("half-wave in free space [ohm]", ohm, 73.13, abs=0.005, why=LAST_DIGIT)
    gain, dbi = pattern.gain(45.0, 90.0), pattern.gain_dbi(45.0, 90.0)
    why = "printed as 1.64 and as 1.643"
    check.near("directivity of a half-wave", gain, 1.641, abs=0.003, why=why)
    check.near("gain of a half-wave [dBi]", dbi, 2.15, abs=0.005, why=LAST_DIGIT)


@pytest.mark.parametrize("height", [0.05, 0.1, 0.2, 0.25, 0.3, 0.5, 0.6, 1.0, 2.0])
def test_dipole_over_perfect_ground_is_self_less_mutual_resistance(outside, height):
    found = dipole_power(FREQUENCY, height * WAVE, PERFECT).input_ohm * TEXTBOOK
    wanted = 73.1296 - carter_side_by_side_ohm(2 * height)
    outside("Carter 1932; Balanis equation (8-69a)", APART).near(
        "level dipole over perfect ground, nine heights [ohm]",
        found,
        wanted,
        abs=1e-3,
        why="73.1296 is rounded",
    )


# Height in wavelengths, resistance, greatest gain and its angle, and gain broadside
# at 5, 10, 15, 20, 30, 45 and 60 degrees: Carter's method for an exact half-wave,
# worked apart from this project. The curve is in Kraus and in Balanis, chapter 8.
CARTER_TABLE = [
    (0.05, 5.8, 9.0, 90.0, (-12.1, -6.1, -2.6, -0.2, 3.1, 6.0, 7.8)),
    (0.10, 21.7, 8.8, 90.0, (-11.8, -5.8, -2.4, 0.0, 3.2, 6.1, 7.7)),
    (0.125, 32.3, 8.7, 90.0, (-11.6, -5.6, -2.2, 0.2, 3.4, 6.2, 7.7)),
    (0.15, 43.9, 8.6, 90.0, (-11.3, -5.4, -2.0, 0.4, 3.5, 6.2, 7.6)),
    (0.20, 66.9, 8.1, 90.0, (-10.7, -4.7, -1.4, 1.0, 3.9, 6.4, 7.5)),
    (0.25, 85.7, 7.5, 90.0, (-9.8, -3.9, -0.6, 1.7, 4.5, 6.5, 7.3)),
    (0.30, 96.4, 7.0, 56.0, (-8.8, -2.9, 0.4, 2.5, 5.1, 6.7, 7.0)),
    (0.35, 98.0, 6.9, 46.0, (-7.5, -1.7, 1.5, 3.6, 5.9, 6.9, 6.4)),
    (0.40, 91.6, 7.2, 39.0, (-6.1, -0.3, 2.8, 4.8, 6.8, 7.0, 5.5)),
    (0.50, 69.1, 8.4, 30.0, (-2.9, 2.7, 5.6, 7.3, 8.4, 6.4, 0.6)),
    (0.60, 57.9, 9.2, 25.0, (-0.6, 4.9, 7.5, 8.8, 8.8, 2.4, -9.0)),
    (0.75, 75.0, 8.1, 19.5, (0.1, 5.3, 7.5, 8.1, 5.1, -6.4, 6.2)),
    (1.00, 72.0, 8.2, 14.5, (2.6, 7.2, 8.2, 6.7, None, 7.9, 5.7)),
    (1.50, 72.6, 8.2, 9.6, (5.5, 8.2, 4.4, -13.5, 8.2, -0.4, 7.8)),
    (2.00, 72.9, 8.2, 7.2, (7.2, 6.5, -10.9, 7.4, None, 2.4, 8.1)),
]


@pytest.mark.parametrize("row", CARTER_TABLE, ids=[str(r[0]) for r in CARTER_TABLE])
def test_dipole_over_perfect_ground_to_the_printed_digit(outside, lobe_deg, row):
    height, ohm, greatest, angle, cut = row
    pattern = dipole_pattern(FREQUENCY, height * WAVE, PERFECT)
    power = dipole_power(FREQUENCY, height * WAVE, PERFECT)
    check = outside("Carter's method, table; Kraus; Balanis 8", APART)
    ours, peak = power.input_ohm * TEXTBOOK, pattern.peak()
    why = "half the last digit, and a little for a table rounded to one"
    check.near("level dipole, perfect ground [ohm]", ours, ohm, abs=0.07, why=why)
    check.near("greatest gain [dBi]", peak.gain_dbi, greatest, abs=0.06, why=why)
    if height < 0.3:
        check.equal("angle of a low dipole's peak [deg]", peak.takeoff_deg, angle)
    else:
        best = lobe_deg(pattern, 90.0)
        check.near(
            "angle of the lowest lobe [deg]", best, angle, abs=0.5, why=LAST_DIGIT
        )
    for takeoff, gain in zip((5, 10, 15, 20, 30, 45, 60), cut, strict=True):
        found = pattern.gain_dbi(takeoff, 90.0)
        if gain is None:
            check.holds("gain in a null", found < -50.0, "under -50 dBi")
        else:
            check.near("gain at seven angles [dBi]", found, gain, abs=0.06, why=why)


@pytest.mark.parametrize("height", [0.5, 1.0, 1.5, 2.5])
def test_height_sets_the_angles_of_maxima_and_nulls(outside, lobe_deg, height):
    # Balanis 4.7: over a perfect ground sin(el) = (2n - 1)/(4h) at maxima and n/(2h)
    # at nulls, h in wavelengths.
    pattern = dipole_pattern(FREQUENCY, height * WAVE, PERFECT)
    check = outside("Balanis 4.7: arcsin((2n - 1)/4h), arcsin(n/2h)", MEMORY)
    lobe = np.degrees(np.arcsin(1 / (4 * height)))
    best = lobe_deg(pattern, 90.0)
    why = "between whole degrees"
    check.near("angle of the lowest lobe by height [deg]", best, lobe, abs=0.1, why=why)
    null = np.degrees(np.arcsin(1 / (2 * height)))
    near = pattern.elevation_deg[abs(pattern.elevation_deg - null) < 3.5]
    found = near[np.argmin(pattern.gain(near, 90.0))]
    check.near(
        "angle of the lowest null [deg]", found, null, abs=0.5, why="whole degrees"
    )


def test_dipole_half_a_wave_up_over_perfect_ground(outside, lobe_deg):
    # Kraus, 3rd ed.: greatest at 30 degrees, about 73 ohm (his self-resistance; the
    # image takes 4 ohm from it).
    pattern = dipole_pattern(FREQUENCY, 0.5 * WAVE, PERFECT)
    check = outside("Kraus, Antennas, 3rd ed.", "quoted")
    best = lobe_deg(pattern, 90.0)
    why = "between whole degrees"
    check.near(
        "lobe half a wave up, perfect ground [deg]", best, 30.0, abs=0.05, why=why
    )
    ohm = dipole_power(FREQUENCY, 0.5 * WAVE, PERFECT).input_ohm
    why = "he gives the self-resistance, the image takes 4 ohm from it"
    check.near("its resistance [ohm]", ohm, 73.0, abs=4.1, why=why)


def test_quarter_wave_on_perfect_ground(outside):
    # Kraus, Balanis 4.7: half the dipole's 73.13 ohm and twice its gain, 5.16 dBi.
    power = quarter_wave_vertical_power(FREQUENCY, PERFECT, 0.0)
    check = outside("Kraus; Balanis 4.7", MEMORY)
    ohm = power.input_ohm * TEXTBOOK
    why = "half of 73.13 within half its last digit"
    check.near("quarter-wave, perfect ground [ohm]", ohm, 36.565, abs=0.003, why=why)
    pattern = quarter_wave_vertical_pattern(FREQUENCY, PERFECT, 0.0)
    dbi = pattern.gain_dbi(0.0, 0.0)
    check.near("its gain at the horizon [dBi]", dbi, 5.16, abs=0.005, why=LAST_DIGIT)


def test_half_wave_vertical_touching_perfect_ground_is_half_a_full_wave_dipole(
    outside,
):
    # Balanis 4.5, 4.6: a full-wave dipole has 199 ohm at its current maximum and a
    # directivity of 2.41, 3.82 dBi; with its lower half replaced by the image half
    # the resistance is left and twice the gain.
    power = half_wave_vertical_power(FREQUENCY, 0.0, PERFECT)
    check = outside("Balanis 4.5, 4.6", MEMORY)
    twice = 2 * power.input_ohm * TEXTBOOK
    what = "half-wave vertical touching perfect ground, twice [ohm]"
    check.near(what, twice, 199.0, abs=0.5, why=LAST_DIGIT)
    pattern = half_wave_vertical_pattern(FREQUENCY, 0.0, PERFECT)
    gain = pattern.gain(0.0, 0.0)
    check.near("its gain at the horizon", gain, 2 * 2.41, abs=0.01, why=LAST_DIGIT)


@pytest.mark.parametrize("gap", [0.1, 0.25, 0.6])
def test_vertical_over_perfect_ground_has_carters_collinear_mutual(outside, gap):
    # Balanis equation (8-71a), half-waves in line with centres h apart; v0 = kh,
    # v1 = 2k(h + l), v2 = 2k(h - l), v3 = (h² - l²)/h². The image runs the same way.
    h, half = 2 * gap + 0.5, 0.5
    k = 2 * np.pi
    _, (ci0, ci1, ci2) = special.sici(
        np.array([2 * k * h, 2 * k * (h + half), 2 * k * (h - half)])
    )
    si0, si1, si2 = special.sici(
        np.array([2 * k * h, 2 * k * (h + half), 2 * k * (h - half)])
    )[0]
    v0, v3 = k * h, (h**2 - half**2) / h**2
    mutual = -15 * np.cos(v0) * (-2 * ci0 + ci2 + ci1 - np.log(v3))
    mutual += 15 * np.sin(v0) * (2 * si0 - si2 - si1)
    power = half_wave_vertical_power(FREQUENCY, gap * WAVE, PERFECT)
    outside("Carter 1932; Balanis equation (8-71a)", APART).near(
        "half-wave vertical over perfect ground, three gaps [ohm]",
        power.input_ohm * TEXTBOOK,
        73.1296 + mutual,
        abs=1e-3,
        why="73.1296 is rounded",
    )


@pytest.mark.parametrize(
    ("height", "lowest", "highest", "angle", "slack"),
    [(0.5, 7.0, 7.8, 28.0, 1.5), (0.25, 5.5, 6.0, None, None), (0.1, 2.0, 4.0, 90, 0)],
)
def test_dipole_over_average_ground(
    outside, lobe_deg, height, lowest, highest, angle, slack
):
    # Handbook plots: 7.0-7.8 dBi at 28 degrees half a wave up; 5.5-6 dBi, broad
    # about the zenith, a quarter wave up; 2-4 dBi straight up at a tenth.
    pattern = dipole_pattern(FREQUENCY, height * WAVE, AVERAGE)
    check = outside("handbook plots", MEMORY)
    peak = pattern.peak().gain_dbi
    what = f"peak {height:g} wavelengths up, average ground [dBi]"
    check.between(what, peak, lowest, highest)
    best = lobe_deg(pattern, 90.0)
    if angle is None:
        below = peak - pattern.gain_dbi(90.0, 0.0)
        check.between("a quarter wave up: zenith under the peak [dB]", below, high=1.0)
    elif slack:
        what = "its angle, half a wave up [deg]"
        check.near(what, best, angle, abs=slack, why="read off a plot")
    else:
        check.equal("its angle, a tenth up [deg]", float(best), float(angle))


def test_ground_mounted_vertical_over_average_ground_and_sea(outside, lobe_deg):
    # Handbook plots: -1 to +1 dBi near 25-27 degrees over average ground with good
    # radials, 4.5-5 dBi at 10 degrees or less over salt water.
    inland = quarter_wave_vertical_pattern(FREQUENCY, AVERAGE, 2.0)
    check = outside("handbook plots", MEMORY)
    what = "quarter-wave vertical, average ground, good radials [dBi]"
    check.between(what, inland.peak().gain_dbi, -1.0, 1.0)
    angle = lobe_deg(inland, 0.0)
    check.between("its angle [deg]", angle, 24.0, 28.0, why="25 to 27, read off plots")
    at_sea = quarter_wave_vertical_pattern(7.1, SEA, 0.0)
    check.between("over salt water [dBi]", at_sea.peak().gain_dbi, 4.5, 5.0)
    low = lobe_deg(at_sea, 0.0)
    check.between("its angle over salt water [deg]", low, high=10.0)


# Pseudo-Brewster angle at 1.85, 3.6, 7.1, 14.1, 28.5 and 50.1 MHz, worked apart from
# this project; curves of it are in the handbooks and in ITU-R BS.705.
@pytest.mark.parametrize(
    ("ground", "angles"),
    [
        (Ground("salt water", 81.0, 5.0, ""), (0.3, 0.4, 0.5, 0.7, 1.0, 1.4)),
        (Ground("fresh water", 80.0, 0.003, ""), (6.2, 6.3, 6.4, 6.4, 6.4, 6.4)),
        (ground_by_name("rich"), (3.3, 4.6, 6.4, 8.7, 10.8, 11.9)),
        (ground_by_name("wet ground"), (5.7, 7.5, 9.1, 10.0, 10.2, 10.3)),
        (AVERAGE, (8.1, 10.8, 13.3, 14.8, 15.3, 15.4)),
        (ground_by_name("poor"), (11.8, 14.0, 15.0, 15.4, 15.5, 15.5)),
        (ground_by_name("city"), (17.2, 21.0, 23.1, 23.8, 24.0, 24.1)),
        (ground_by_name("very dry"), (29.6, 29.9, 30.0, 30.0, 30.0, 30.0)),
    ],
    ids=lambda value: getattr(value, "name", ""),
)
def test_pseudo_brewster_angle(outside, ground, angles):
    elevation = np.linspace(0.05, 45.0, 9000)
    eps = complex_permittivity(ground, [1.85, 3.6, 7.1, 14.1, 28.5, 50.1])
    size = abs(reflection_vertical(elevation[:, None], eps))
    found = elevation[np.argmin(size, axis=0)]
    check = outside("pseudo-Brewster angle; curves in BS.705 and handbooks", APART)
    # The steps of the search are 0.005 degrees.
    why = LAST_DIGIT
    check.near(
        "least vertical reflection, six bands [deg]", found, angles, abs=0.06, why=why
    )


def test_brewster_angle_of_a_lossless_ground(outside):
    # Any textbook of optics: no reflection at arctan(1/√ε) above the surface.
    eps = np.array([3.0, 13.0, 81.0])
    angle = np.degrees(np.arctan(1 / np.sqrt(eps)))
    left = abs(reflection_vertical(angle, eps))
    check = outside("Brewster's law, any textbook of optics", MEMORY)
    what = "reflection at arctan(1/sqrt(eps)), lossless"
    check.near(what, left, 0.0, abs=1e-12, why=ROUNDING)


@pytest.mark.parametrize("azimuth", [0.0, 36.0, 90.0])
@pytest.mark.parametrize("name", ["average", "very dry", "sea water"])
def test_field_over_real_ground_has_the_structure_of_bs705(outside, name, azimuth):
    # ITU-R BS.705 and Balanis 4.8: direct wave and its Fresnel reflection, written
    # out with the textbook coefficients; relative to 30 degrees, so that no input
    # power enters.
    height = 0.7
    eps = complex_permittivity(ground_by_name(name), FREQUENCY)
    takeoff = np.array([10.0, 30.0, 55.0, 80.0])
    sine, cosine = np.sin(np.radians(takeoff)), np.cos(np.radians(takeoff))
    q = np.sqrt(eps - cosine**2)
    horizontal = (sine - q) / (sine + q)
    vertical = (eps * sine - q) / (eps * sine + q)
    delay = np.exp(-4j * np.pi * height * sine)
    turn = np.radians(azimuth)
    along = cosine * np.cos(turn)
    element = np.cos(np.pi / 2 * along) / (1 - along**2)
    e_h = element * np.sin(turn) * abs(1 + horizontal * delay)
    e_v = element * np.cos(turn) * sine * abs(1 - vertical * delay)
    pattern = dipole_pattern(FREQUENCY, height * WAVE, ground_by_name(name))
    found = pattern.gain(takeoff, azimuth)
    wanted = e_h**2 + e_v**2
    outside("ITU-R BS.705; Balanis 4.8", APART).near(
        "field over real ground against that at 30 degrees",
        found / found[1],
        wanted / wanted[1],
        rel=1e-9,
        why=ROUNDING,
    )
