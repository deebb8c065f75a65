"""
The wire engine against textbook antennas.

Sources, all from memory: C. A. Balanis, "Antenna Theory: Analysis and Design"
(dipoles, monopoles, loops); P. S. Carter, "Circuit relations in radiating systems",
Proc. IRE 20 (1932) 1004 (mutual impedance by induced electromotive force); J. D.
Kraus, "Antennas" (height above ground, long wires); S. Ramo, J. R. Whinnery, T. Van
Duzer, "Fields and Waves in Communication Electronics" (two-wire line).
"""

import itertools

import numpy as np
import pytest
from scipy.optimize import brentq
from scipy.special import sici

from advisor.antenna.ground import PERFECT, Ground
from advisor.antenna.solver.currents import solve
from advisor.antenna.solver.farfield import far_field, pattern_of
from advisor.antenna.solver.kernel import WAVE_IMPEDANCE_OHM
from advisor.antenna.wires import Source, Wire, WireModel

LAMBDA = 10.0
MHZ = 299.792458 / LAMBDA
K = 2 * np.pi / LAMBDA
NO_LOSS = np.inf
# So thin that the current is a sine; the formulas below suppose one.
THREAD = 1e-24 * LAMBDA
# Textbooks feed across next to nothing.
GAP_M = 1e-4 * LAMBDA
AVERAGE = Ground("average", 13.0, 0.005, "handbook")
MEMORY = "from memory"
THIN = "the radius is not nothing"


def wire(start, end, radius=1e-5 * LAMBDA):
    scaled = [tuple(LAMBDA * np.array(point)) for point in (start, end)]
    return Wire(*scaled, radius, NO_LOSS)


def level_dipole(length=0.5, height=0.0, radius=1e-5 * LAMBDA):
    one = wire((0, -length / 2, height), (0, length / 2, height), radius)
    return WireModel((one,), (Source(0, 0.5 * one.length_m, gap_m=GAP_M),))


def ring(points, radius=1e-5 * LAMBDA):
    corners = [*points, points[0]]
    sides = tuple(wire(a, b, radius) for a, b in itertools.pairwise(corners))
    return WireModel(sides, (Source(0, 0.5 * sides[0].length_m, gap_m=GAP_M),))


def gain_dbi(solution, elevation_deg, azimuth_deg):
    fields = far_field(solution, elevation_deg, azimuth_deg)
    power = sum(np.abs(field) ** 2 for field in fields)
    gain = 2 * np.pi * power / (WAVE_IMPEDANCE_OHM * solution.input_w)
    return 10 * np.log10(np.maximum(gain, 1e-12))


def carter_ohm(spacing):
    """Mutual impedance of half-wave dipoles side by side; self at no spacing."""
    if spacing == 0.0:
        si, ci = sici(2 * np.pi)
        return 30 * (np.euler_gamma + np.log(2 * np.pi) - ci + 1j * si)
    root = np.hypot(spacing, 0.5)
    arguments = 2 * np.pi * np.array([spacing, root + 0.5, root - 0.5])
    si, ci = sici(arguments)
    weights = np.array([2.0, -1.0, -1.0])
    return 30 * (weights @ ci - 1j * (weights @ si))


def test_the_half_wave_dipole_goes_to_its_thin_limit_as_the_logarithm(outside):
    # Balanis: 73 + j42.5 ohm for a vanishing radius.
    inverse = 1 / np.log(10.0 ** np.array([8, 12, 16, 24, 40]))
    z = [
        solve(level_dipole(radius=LAMBDA * np.exp(-1 / x)), MHZ, None).z_in_ohm[0]
        for x in inverse
    ]
    limit = np.polyfit(inverse, z, 2)[-1]
    check = outside("Balanis; Carter 1932", MEMORY)
    expected = [73.13 + 42.54j, carter_ohm(0.0)]
    why = "drawn out from five radii"
    check.near(
        "half-wave dipole in the thin limit [ohm]", limit, expected, abs=0.2, why=why
    )
    # Real radii lie well above: the approach is slow and one-sided.
    falling = np.diff(np.real(z)) < 0
    check.holds("resistance as the radius vanishes", falling, "falls to the limit")
    thick = z[0].real
    check.between(
        "resistance at 1e-8 wavelength [ohm]", thick, 75.0, 78.0, why="above it"
    )


def test_the_half_wave_dipole_has_2_15_dbi(outside):
    solution = solve(level_dipole(), MHZ, None)
    ours = gain_dbi(solution, [0.0], [90.0])[0, 0]
    check = outside("Balanis", MEMORY)
    check.near("gain of a half-wave dipole [dBi]", ours, 2.15, abs=0.03, why=THIN)


@pytest.mark.parametrize(
    ("radius", "length"), [(1e-3, 0.476), (1e-4, 0.484), (1e-5, 0.488)]
)
def test_a_dipole_resonates_short_of_half_a_wave(outside, radius, length):
    # Kraus: 0.47 to 0.49 wavelength by thickness, about 72 ohm. As a line of mean
    # impedance Z = 120 (ln(L/a) - 1) that must tune out the thin limit's 42.5 ohm, it
    # is short by 2/π of 42.5 / Z.
    def reactance(x):
        model = level_dipole(x, radius=radius * LAMBDA)
        return solve(model, MHZ, None).z_in_ohm[0].imag

    resonant = brentq(reactance, 0.44, 0.5, xtol=1e-5)
    check = outside("Kraus, length by thickness", MEMORY)
    what, why = "resonant length [wavelengths]", "a unit of the last digit"
    check.near(what, resonant, length, abs=0.001, why=why)
    line = 120 * (np.log(0.5 / radius) - 1)
    by_line = 0.5 * (1 - 2 / np.pi * 42.5 / line)
    # The thicker, the less it is a line: a mesh ten times as fine is 0.0034 off.
    what, why = "the same as a line of mean impedance", "an approximation"
    check.near(what, resonant, by_line, abs=0.004, why=why)
    z = solve(level_dipole(resonant, radius=radius * LAMBDA), MHZ, None).z_in_ohm[0]
    what = "resistance at resonance [ohm]"
    check.near(what, z.real, 72.0, abs=1.0, why="told as about")


def test_the_quarter_wave_monopole_on_perfect_ground(outside):
    # Balanis: 36.5 + j21.25 ohm in the thin limit, 5.16 dBi.
    feed = Source(0, 0.0, gap_m=5 * GAP_M)
    model = WireModel((wire((0, 0, 0), (0, 0, 0.25), THREAD),), (feed,))
    solution = solve(model, MHZ, PERFECT)
    check = outside("Balanis", MEMORY)
    what, ours = "quarter-wave, perfect ground, thin [ohm]", solution.z_in_ohm[0]
    check.near(what, ours, 36.5 + 21.25j, abs=0.5, why=THIN)
    ours = gain_dbi(solution, [0.0], [0.0])[0, 0]
    check.near("its gain [dBi]", ours, 5.16, abs=0.03, why=THIN)


@pytest.mark.parametrize("length", [0.02, 0.05])
def test_a_short_dipole(outside, length):
    # Balanis: 20 π² (L/λ)² for the triangular current of a thin wire, 1.76 dBi.
    solution = solve(level_dipole(length, radius=THREAD), MHZ, None)
    expected = 20 * np.pi**2 * length**2
    check = outside("Balanis, 20 pi^2 (L/lambda)^2", MEMORY)
    ours, why = solution.z_in_ohm[0].real, "the triangle is an approximation"
    check.near("short dipole [ohm]", ours, expected, rel=0.03, why=why)
    ours = gain_dbi(solution, [0.0], [90.0])[0, 0]
    check.near("its gain [dBi]", ours, 1.76, abs=0.02, why="its length is not nothing")


@pytest.mark.parametrize("side", [0.005, 0.01])
def test_a_small_loop(outside, side):
    # Balanis: 320 π⁴ (A/λ²)² ohm, 1.76 dBi; the current is even to (perimeter)².
    solution = solve(
        ring([(0, 0, 0), (side, 0, 0), (side, side, 0), (0, side, 0)]), MHZ, None
    )
    expected = 320 * np.pi**4 * side**4
    check = outside("Balanis, 320 pi^4 (A/lambda^2)^2", MEMORY)
    ours, why = solution.z_in_ohm[0].real, "even current to (perimeter)^2"
    check.near("small loop [ohm]", ours, expected, rel=0.025, why=why)
    ours = gain_dbi(solution, [0.0], [0.0])[0, 0]
    check.near("its gain [dBi]", ours, 1.76, abs=0.03, why=why)


def test_a_full_wave_square_loop(outside):
    # Kraus: about 1 dB above a dipole, broadside; resonant a little over one
    # wavelength round; some 100 to 140 ohm.
    def loop(round_):
        s = round_ / 4
        points = [(-s / 2, 0, 0), (s / 2, 0, 0), (s / 2, 0, s), (-s / 2, 0, s)]
        return solve(ring(points, radius=1e-4 * LAMBDA), MHZ, None)

    resonant = brentq(lambda r: loop(r).z_in_ohm[0].imag, 1.0, 1.15, xtol=1e-4)
    check = outside("Kraus, full-wave square loop", MEMORY)
    what = "resonance, wavelengths round"
    check.between(what, resonant, 1.03, 1.09, why="a little over one")
    solution = loop(resonant)
    ohm = solution.z_in_ohm[0].real
    check.between("resistance [ohm]", ohm, 100.0, 140.0)
    broadside = gain_dbi(solution, [0.0], [0.0])[0, 0]
    what = "gain over a dipole [dB]"
    check.near(what, broadside - 2.15, 1.1, abs=0.25, why="told as about 1")
    everywhere = gain_dbi(solution, np.arange(-90, 91, 10.0), np.arange(0, 360, 10.0))
    strongest = everywhere.max() < broadside + 0.05
    check.holds("direction of the peak", strongest, "broadside")


@pytest.mark.parametrize("spacing", [0.1, 0.25, 0.5, 0.8, 1.5])
def test_two_dipoles_couple_as_carter_says(outside, spacing):
    pair = tuple(wire((x, -0.25, 0), (x, 0.25, 0), THREAD) for x in (0.0, spacing))
    feeds = tuple(Source(n, 0.25 * LAMBDA, gap_m=GAP_M) for n in (0, 1))
    model = WireModel(pair, feeds)
    z = np.linalg.inv(solve(model, MHZ, None).admittance_s)
    check = outside("Carter 1932, closed form", MEMORY)
    why = "sine currents, 2 % low"
    mutual, own = carter_ohm(spacing), carter_ohm(0.0)
    check.near(
        "mutual, 0.1 to 1.5 wavelengths [ohm]", z[0, 1], mutual, abs=1.5, why=why
    )
    check.near("self, beside another [ohm]", z[0, 0], own, abs=1.5, why=why)


# Carter's method, Z11 - Z12(2h), as tabulated for a thin half-wave dipole.
HEIGHTS = [
    (0.05, 5.8, 35.0),
    (0.10, 21.7, 61.7),
    (0.20, 66.9, 80.0),
    (0.25, 85.7, 72.5),
    (0.35, 98.0, 42.8),
    (0.50, 69.1, 24.8),
    (0.75, 75.0, 54.8),
    (1.00, 72.0, 33.2),
]


@pytest.mark.parametrize(("height", "resistance", "reactance"), HEIGHTS)
def test_a_dipole_over_perfect_ground_by_height(outside, height, resistance, reactance):
    solution = solve(level_dipole(height=height, radius=THREAD), MHZ, PERFECT)
    expected = carter_ohm(0.0) - carter_ohm(2 * height)
    check = outside("Carter's method, table and closed form", "worked apart")
    what, why = "closed form against the table [ohm]", "half the last digit"
    check.near(what, expected, resistance + 1j * reactance, abs=0.06, why=why)
    what = "thin dipole over perfect ground, eight heights [ohm]"
    ours, why = solution.z_in_ohm[0], "sine currents, 2 % low"
    check.near(what, ours, expected, abs=1.6, why=why)


@pytest.mark.parametrize("height", [0.5, 0.75, 1.0, 2.0])
def test_the_lowest_lobe_over_perfect_ground_follows_the_height(outside, height):
    # Kraus: sin(elevation) = λ / 4h.
    solution = solve(level_dipole(height=height), MHZ, PERFECT)
    elevation = np.arange(1.0, 45.0, 0.1)
    gain = gain_dbi(solution, elevation, [90.0])[:, 0]
    first = elevation[np.flatnonzero(np.diff(gain) < 0)[0]]
    expected = np.degrees(np.arcsin(0.25 / height))
    check = outside("Kraus, arcsin(lambda/4h)", MEMORY)
    why = "the dipole's own pattern tilts it"
    check.near("lowest lobe, four heights [deg]", first, expected, abs=1.0, why=why)


@pytest.mark.parametrize(
    ("half_waves", "angle", "gain_dbd", "resistance"),
    [
        (2, 53.9, 0.4, 93),
        (3, 42.6, 1.3, 106),
        (4, 36.3, 2.1, 114),
        (6, 29.2, 3.2, 126),
        (8, 25.1, 4.1, 135),
        (16, 17.6, 6.4, 156),
    ],
)
def test_long_wires_radiate_at_their_angles(
    outside, half_waves, angle, gain_dbd, resistance
):
    # Kraus, "Antennas", long wires with a standing wave: lobes of (sine or cosine of
    # nπ/2 cos θ) / sin θ; gains and resistances integrated from the same pattern.
    one = wire((0, 0, 0), (0, half_waves / 2, 0), THREAD)
    solution = solve(WireModel((one,), (Source(0, LAMBDA / 4),)), MHZ, None)
    theta = np.arange(2.0, 89.0, 0.05)
    forward = gain_dbi(solution, [0.0], theta)[0]
    backward = gain_dbi(solution, [0.0], 180.0 - theta)[0]
    # The wave weakens along the wire, which tilts the two main lobes apart a little.
    lobes = theta[np.argmax(forward)], theta[np.argmax(backward)]
    check = outside("Kraus, long wires with a standing wave", "worked apart")
    what = "long wire, angle of the main lobes [deg]"
    check.near(what, np.mean(lobes), angle, abs=0.3, why="the wave weakens")
    mean_gain = 10 * np.log10(
        (10 ** (forward.max() / 10) + 10 ** (backward.max() / 10)) / 2
    )
    ours, why = mean_gain - 2.15, "sine currents, one digit"
    check.near("long wire, gain over a dipole [dB]", ours, gain_dbd, abs=0.25, why=why)
    ours = solution.z_in_ohm[0].real
    check.near("long wire, resistance [ohm]", ours, resistance, rel=0.03, why=why)


@pytest.mark.parametrize("part", [0.05, 0.125, 0.2])
def test_a_shorted_two_wire_line_is_a_known_reactance(outside, part):
    # Ramo, Whinnery, Van Duzer: Z0 = 120 arcosh(D / 2a), X = Z0 tan(2π l / λ).
    spacing, radius = 4e-3, 2e-4
    points = [(0, 0, 0), (spacing, 0, 0), (spacing, part, 0), (0, part, 0)]
    solution = solve(ring(points, radius=radius * LAMBDA), MHZ, None)
    # The short adds about half the spacing to the length, the feed's side as much.
    line = 120 * np.arccosh(spacing / (2 * radius))
    expected = line * np.tan(2 * np.pi * (part + spacing))
    check = outside("Ramo, Whinnery and Van Duzer, two-wire line", MEMORY)
    z = solution.z_in_ohm[0]
    why = "length of short and feed"
    check.near("shorted line, reactance [ohm]", z.imag, expected, rel=0.03, why=why)
    share = abs(z.real) / expected
    check.between("its resistance over its reactance", share, high=0.02, why="no loss")


@pytest.mark.parametrize(
    ("height", "least_dbi", "most_dbi", "least_deg", "most_deg"),
    [(0.5, 7.0, 7.8, 26, 30), (0.25, 5.2, 6.2, 50, 90), (0.1, 2.0, 4.2, 85, 90)],
)
def test_a_dipole_over_average_ground_as_handbooks_plot_it(
    outside, height, least_dbi, most_dbi, least_deg, most_deg
):
    # Ranges read off handbook plots for ground of 13 and 0.005 S/m (from memory).
    model = level_dipole(0.48, height, 5e-5 * LAMBDA)
    pattern = pattern_of(solve(model, MHZ, AVERAGE))
    total = 10 * np.log10(np.maximum(pattern.vertical + pattern.horizontal, 1e-9))
    best = np.unravel_index(np.argmax(total), total.shape)
    check = outside("handbook plots, average ground", MEMORY)
    what = f"dipole {height:g} wavelengths up, peak [dBi]"
    check.between(what, total[best], least_dbi, most_dbi)
    angle = pattern.elevation_deg[best[0]]
    assert least_deg <= angle <= most_deg
    # Straight up is the end of the range, so that the bound itself counts.
    what = f"dipole {height:g} wavelengths up, angle of the peak [deg]"
    check.between(what, angle, least_deg, most_deg + 1e-9)


def test_salt_water_favours_the_vertical_at_the_horizon(outside):
    # A half-wave vertical near salt water keeps within 3 dB of its perfect-ground
    # gain at 5 degrees; over dry soil it loses far more (common practice).
    model = WireModel((wire((0, 0, 0.02), (0, 0, 0.5), 1e-4),), (Source(0, 2.4),))
    sea = Ground("sea water", 70.0, 5.0, "ITU-R P.527")
    dry = Ground("very dry", 3.0, 1e-4, "ITU-R P.527")
    perfect, salt, soil = (
        gain_dbi(solve(model, MHZ, ground), [5.0], [0.0])[0, 0]
        for ground in (PERFECT, sea, dry)
    )
    check = outside("half-wave vertical near the sea", "common practice, no source")
    what = "under its perfect-ground gain at 5 degrees [dB]"
    check.between(what, perfect - salt, 0.0, 3.0)
    check.between("over dry soil, further down [dB]", salt - soil, low=6.0)
