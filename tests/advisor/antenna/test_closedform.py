"""Closed-form antennas: energy, limits, and two other ways to the same power."""

from itertools import product

import numpy as np
import pytest
from scipy import integrate, special

from advisor.antenna.closedform import (
    WAVE_IMPEDANCE_OHM,
    dipole_pattern,
    dipole_power,
    half_wave_vertical_pattern,
    half_wave_vertical_power,
    isotropic_pattern,
    quarter_wave_vertical_pattern,
    quarter_wave_vertical_power,
    wavelength_m,
)
from advisor.antenna.ground import (
    PERFECT,
    Ground,
    complex_permittivity,
    ground_by_name,
    ground_names,
    reflection_te,
    reflection_tm,
)
from geo.errors import InputError

AVERAGE = ground_by_name("average")
AIR = Ground("air", 1.0, 0.0, "no ground at all")
GLASS = Ground("glass", 4.0, 0.0, "lossless")
FREQUENCY = 14.1
WAVE = wavelength_m(FREQUENCY)

# η/(4π) Cin(2π): resistance of a thin half-wave in free space, 73.08 ohm. Textbooks
# print 73.13, with the wave impedance rounded to 120π.
CIN_2PI = np.euler_gamma + np.log(2 * np.pi) - special.sici(2 * np.pi)[1]
FREE_SPACE_OHM = WAVE_IMPEDANCE_OHM / (4 * np.pi) * CIN_2PI

HEIGHTS = [0.0011, 0.01, 0.05, 0.1, 0.25, 0.5, 1.0, 3.0]
GROUNDS = [ground_by_name(name) for name in ground_names()] + [GLASS]


def named(values):
    return [getattr(value, "name", str(value)) for value in values]


@pytest.mark.parametrize("ground", GROUNDS, ids=named(GROUNDS))
def test_pattern_holds_the_power_that_the_efficiency_states(ground):
    # Two integrals with nothing in common but the Fresnel coefficients: the
    # pattern over the hemisphere, and plane waves on graded panels.
    makers = (dipole_pattern, half_wave_vertical_pattern)
    for make, height in product(makers, HEIGHTS):
        pattern = make(FREQUENCY, height * WAVE, ground)
        assert 0.0 < pattern.efficiency <= 1.0 + 1e-12, height
        assert pattern.sky_power() == pytest.approx(pattern.efficiency, rel=2e-3)


@pytest.mark.parametrize("height", HEIGHTS)
def test_perfect_ground_sends_everything_to_the_sky(height):
    for power in (
        dipole_power(FREQUENCY, height * WAVE, PERFECT),
        half_wave_vertical_power(FREQUENCY, height * WAVE, PERFECT),
    ):
        assert power.efficiency == pytest.approx(1.0, abs=1e-12)
    assert quarter_wave_vertical_power(
        FREQUENCY, PERFECT, 0.0
    ).efficiency == pytest.approx(1.0, abs=1e-12)


@pytest.mark.parametrize("height", HEIGHTS)
def test_no_ground_is_free_space_with_half_the_power_going_down(height):
    for power in (
        dipole_power(FREQUENCY, height * WAVE, AIR),
        half_wave_vertical_power(FREQUENCY, height * WAVE, AIR),
    ):
        assert power.input_ohm == pytest.approx(FREE_SPACE_OHM, rel=1e-9)
        assert power.efficiency == pytest.approx(0.5, rel=1e-9)


def test_thin_ground_is_nearly_none():
    power = dipole_power(FREQUENCY, 0.1 * WAVE, Ground("mist", 1.0001, 1e-8, ""))
    assert power.input_ohm == pytest.approx(FREE_SPACE_OHM, rel=1e-3)


@pytest.mark.parametrize("ground", GROUNDS, ids=named(GROUNDS))
def test_far_above_ground_the_resistance_is_that_of_free_space(ground):
    for function in (dipole_power, half_wave_vertical_power):
        found = function(FREQUENCY, 40.0 * WAVE, ground).input_ohm
        assert found == pytest.approx(FREE_SPACE_OHM, rel=2e-3)


def test_good_conductor_tends_to_the_perfect_one():
    copper = Ground("copper", 1.0, 5.8e7, "")
    for function in (dipole_power, half_wave_vertical_power):
        for height in (0.1, 0.3):
            found = function(FREQUENCY, height * WAVE, copper)
            wanted = function(FREQUENCY, height * WAVE, PERFECT)
            assert found.input_ohm == pytest.approx(wanted.input_ohm, rel=1e-4)
            assert found.sky_ohm == pytest.approx(wanted.sky_ohm, rel=1e-3)


def ground_flux_ohm(height, ground):
    """
    Twice the power through the surface z = 0 over the square of the peak current.

    Poynting's vector of the transmitted waves, on plain Simpson grids. In the
    denser, lossless case it is what the ground radiates; no image is involved.
    """
    eps = complex(complex_permittivity(ground, FREQUENCY))
    azimuth = (np.arange(100) + 0.5) * np.pi / 200
    depth = 2 * np.pi * height

    def density(kappa, c):
        along = kappa[:, None] * np.cos(azimuth)
        g = np.cos(np.pi / 2 * along) / (1 - along**2)
        q = np.sqrt(eps - kappa**2 + 0j)
        q = np.where(q.imag > 0, -q, q)
        arrives = np.exp(-2 * np.abs(np.imag(c)) * depth)
        te = abs(1 + reflection_te(c, eps)) ** 2 / abs(c) ** 2 * q.real
        tm = abs(c * (1 - reflection_tm(c, eps))) ** 2 * (eps / q).real
        weight_te = (g**2 * np.sin(azimuth) ** 2).mean(axis=1)
        weight_tm = (g**2 * np.cos(azimuth) ** 2).mean(axis=1)
        return np.pi * kappa * arrives * (weight_te * te + weight_tm * tm)

    angle = np.linspace(1e-9, np.pi / 2 - 1e-9, 4001)
    near = np.linspace(1e-9, np.arcsinh(28 / (2 * depth)), 8001)
    travelling = density(np.sin(angle), np.cos(angle)) * np.cos(angle)
    evanescent = density(np.cosh(near), -1j * np.sinh(near)) * np.sinh(near)
    total = integrate.simpson(travelling, x=angle)
    total += integrate.simpson(evanescent, x=near)
    return WAVE_IMPEDANCE_OHM / (2 * np.pi**2) * total


@pytest.mark.parametrize("ground", [GLASS, AVERAGE], ids=["glass", "average"])
@pytest.mark.parametrize("height", [0.05, 0.1, 0.3])
def test_dipole_power_is_sky_power_and_flux_into_the_ground(height, ground):
    power = dipole_power(FREQUENCY, height * WAVE, ground)
    wanted = power.sky_ohm + ground_flux_ohm(height, ground)
    assert power.input_ohm == pytest.approx(wanted, rel=2e-5)


def sommerfeld(integrand, eps):
    """Integral over λ, in units of k0, along the real axis by adaptive quadrature."""

    def travelling(w):
        lam = np.sin(w)
        return integrand(lam, 1j * np.cos(w)) * np.cos(w)

    def evanescent(v):
        return integrand(np.cosh(v), np.sinh(v) + 0j) * np.sinh(v)

    corner = np.arccosh(np.sqrt(eps).real)
    total = integrate.quad_vec(travelling, 0.0, np.pi / 2, epsrel=1e-8)[0]
    total = total + integrate.quad_vec(evanescent, 0.0, corner, epsrel=1e-8)[0]
    return total + integrate.quad_vec(evanescent, corner, 9.0, epsrel=1e-8)[0]


def half_space(lam, u0, eps):
    """R_TE, R_TM and C of the mixed potentials, from u0 and u1."""
    u1 = np.sqrt(lam**2 - eps)
    total = (u0 + u1) * (eps * u0 + u1)
    return (
        (u0 - u1) / (u0 + u1),
        (eps * u0 - u1) / (eps * u0 + u1),
        2 * (eps - 1) / total,
    )


@pytest.mark.parametrize("name", ["average", "very dry", "sea water"])
@pytest.mark.parametrize("height", [0.02, 0.05, 0.2])
def test_dipole_against_the_sommerfeld_integrals(outside, name, height):
    # Michalski and Mosig, IEEE Trans. Antennas Propag. 45(3), 1997, formulation C:
    # the reaction of the current with its reflection from vector and scalar
    # potential, two line integrals folded into one over the separation s.
    eps = complex(complex_permittivity(ground_by_name(name), FREQUENCY))
    node, weight = np.polynomial.legendre.leggauss(24)
    s, weight = np.pi / 2 * (node + 1), np.pi / 2 * weight
    current = ((np.pi - s) * np.cos(s) + np.sin(s)) / 2
    charge = ((np.pi - s) * np.cos(s) - np.sin(s)) / 2

    def integrand(lam, u0):
        te, _, c = half_space(lam, u0, eps)
        vector = te / u0
        scalar = te / u0 - u0 * c
        shape = special.j0(lam * s)
        line = np.sum(2 * weight * shape * (current * vector - charge * scalar))
        return line * lam * np.exp(-u0 * 4 * np.pi * height)

    reflected = 1j * WAVE_IMPEDANCE_OHM / (4 * np.pi) * sommerfeld(integrand, eps)
    found = dipole_power(FREQUENCY, height * WAVE, ground_by_name(name)).input_ohm
    outside("Michalski and Mosig 1997, Sommerfeld integrals", "worked apart").near(
        "low dipole, three heights, three grounds [ohm]",
        found,
        FREE_SPACE_OHM + reflected.real,
        rel=1e-6,
        why="of the quadrature",
    )


@pytest.mark.parametrize("name", ["average", "sea water"])
def test_half_wave_vertical_against_the_sommerfeld_integrals(outside, name):
    # As above; a vertical current needs all of F_zz, W and F_h and no other shape.
    eps = complex(complex_permittivity(ground_by_name(name), FREQUENCY))
    base = 0.05
    node, weight = np.polynomial.legendre.leggauss(30)
    z, weight = np.pi / 2 * (node + 1), np.pi / 2 * weight
    f, slope = weight * np.sin(z), weight * np.cos(z)
    z = z + 2 * np.pi * base

    def integrand(lam, u0):
        te, tm, c = half_space(lam, u0, eps)
        fade = np.exp(-u0 * z)
        a, b = np.sum(f * fade), np.sum(slope * fade)
        upright = tm / u0 - u0 * c
        scalar = te / u0 - u0 * c
        return lam * (a * a * upright + 2 * a * b * c - b * b * scalar)

    reflected = 1j * WAVE_IMPEDANCE_OHM / (4 * np.pi) * sommerfeld(integrand, eps)
    found = half_wave_vertical_power(FREQUENCY, base * WAVE, ground_by_name(name))
    wanted = FREE_SPACE_OHM + reflected.real
    outside("Michalski and Mosig 1997, Sommerfeld integrals", "worked apart").near(
        "half-wave vertical over three grounds [ohm]",
        found.input_ohm,
        wanted,
        rel=1e-6,
        why="of the quadrature",
    )


def test_a_low_dipole_heats_the_ground():
    # At 0.05 wavelength over average ground several decibels of loss, which the
    # travelling waves alone would not show.
    power = dipole_power(FREQUENCY, 0.05 * WAVE, AVERAGE)
    assert 10 * np.log10(power.efficiency) == pytest.approx(-8.0, abs=1.0)
    # Raising it helps all the way to a quarter wave.
    heights = np.array([0.01, 0.02, 0.05, 0.1, 0.15, 0.2, 0.25])
    share = [dipole_power(FREQUENCY, h * WAVE, AVERAGE).efficiency for h in heights]
    assert (np.diff(share) > 0.0).all()


@pytest.mark.parametrize("height", [0.05, 0.25, 0.75])
def test_dipole_pattern_has_the_symmetry_of_the_wire(height):
    pattern = dipole_pattern(FREQUENCY, height * WAVE, AVERAGE)
    for part in (pattern.vertical, pattern.horizontal):
        np.testing.assert_allclose(part, np.roll(part, 90, axis=1), atol=1e-12)
        np.testing.assert_allclose(part[:, 1:], part[:, :0:-1], atol=1e-12)
    # Off the ends the field is vertical, broadside it is horizontal.
    np.testing.assert_allclose(pattern.horizontal[:, [0, 90]], 0.0, atol=1e-12)
    np.testing.assert_allclose(pattern.vertical[:, [45, 135]], 0.0, atol=1e-12)
    # Straight up there is no azimuth to tell apart.
    zenith = pattern.gain(90.0, pattern.azimuth_deg)
    np.testing.assert_allclose(zenith, zenith[0], rtol=1e-9)


def test_real_ground_silences_the_horizon():
    for pattern in (
        dipole_pattern(FREQUENCY, 10.0, AVERAGE),
        half_wave_vertical_pattern(FREQUENCY, 2.0, AVERAGE),
        quarter_wave_vertical_pattern(FREQUENCY, AVERAGE),
    ):
        np.testing.assert_allclose(pattern.gain(0.0, [0.0, 90.0]), 0.0, atol=1e-20)


def test_only_height_in_wavelengths_matters_over_perfect_ground():
    for function in (dipole_pattern, half_wave_vertical_pattern):
        low = function(3.6, 0.3 * wavelength_m(3.6), PERFECT)
        high = function(28.5, 0.3 * wavelength_m(28.5), PERFECT)
        np.testing.assert_allclose(low.vertical, high.vertical, atol=1e-9)
        np.testing.assert_allclose(low.horizontal, high.horizontal, atol=1e-9)


def test_verticals_radiate_alike_all_round_in_vertical_polarisation():
    for pattern in (
        half_wave_vertical_pattern(FREQUENCY, 1.0, AVERAGE),
        quarter_wave_vertical_pattern(FREQUENCY, AVERAGE),
    ):
        assert (pattern.vertical == pattern.vertical[:, :1]).all()
        assert (pattern.horizontal == 0.0).all()
        assert pattern.lobes(20.0).maxima_deg == ()


def test_ground_system_loss_takes_its_share():
    power = quarter_wave_vertical_power(FREQUENCY, AVERAGE, 15.0)
    better = quarter_wave_vertical_power(FREQUENCY, AVERAGE, 5.0)
    assert power.input_ohm - better.input_ohm == pytest.approx(10.0)
    assert power.sky_ohm == better.sky_ohm
    gain = [
        quarter_wave_vertical_pattern(FREQUENCY, AVERAGE, loss).gain(25.0, 0.0)
        for loss in (15.0, 5.0)
    ]
    assert gain[1] / gain[0] == pytest.approx(power.input_ohm / better.input_ohm)


def test_quarter_wave_energy_closes_over_real_ground():
    for name in ("average", "sea water", "very dry"):
        pattern = quarter_wave_vertical_pattern(FREQUENCY, ground_by_name(name))
        assert pattern.sky_power() == pytest.approx(pattern.efficiency, rel=2e-3)


def test_quarter_wave_against_integration_along_the_wire():
    eps = complex_permittivity(AVERAGE, FREQUENCY)
    sine = np.sin(np.radians(37.0))
    x = np.linspace(0.0, np.pi / 2, 2001)
    direct = integrate.simpson(np.cos(x) * np.exp(1j * x * sine), x=x)
    image = integrate.simpson(np.cos(x) * np.exp(-1j * x * sine), x=x)
    field = np.cos(np.radians(37.0)) * abs(direct + reflection_tm(sine, eps) * image)
    power = quarter_wave_vertical_power(FREQUENCY, AVERAGE)
    wanted = WAVE_IMPEDANCE_OHM / (4 * np.pi * power.input_ohm) * field**2
    found = quarter_wave_vertical_pattern(FREQUENCY, AVERAGE).gain(37.0, 0.0)
    assert found == pytest.approx(wanted, rel=1e-9)


def test_isotropic_is_nought_decibels_everywhere():
    pattern = isotropic_pattern(FREQUENCY)
    np.testing.assert_allclose(pattern.gain_dbi([0.0, 33.3, 90.0], 12.0), 0.0)
    assert pattern.sky_power() == pytest.approx(pattern.efficiency, rel=2e-4)


@pytest.mark.parametrize("frequency", [0.0, -7.0, float("nan"), float("inf")])
def test_impossible_frequency_is_refused(frequency):
    for call in (
        lambda: dipole_pattern(frequency, 10.0, AVERAGE),
        lambda: half_wave_vertical_pattern(frequency, 10.0, AVERAGE),
        lambda: quarter_wave_vertical_pattern(frequency, AVERAGE),
        lambda: wavelength_m(frequency),
        lambda: isotropic_pattern(frequency),
    ):
        with pytest.raises(InputError, match="frequency"):
            call()


@pytest.mark.parametrize("height", [-1.0, float("nan"), float("inf")])
def test_impossible_height_is_refused(height):
    for function in (dipole_pattern, half_wave_vertical_pattern):
        with pytest.raises(InputError, match="height"):
            function(FREQUENCY, height, AVERAGE)


def test_a_dipole_on_the_ground_is_refused_with_the_least_height():
    with pytest.raises(InputError, match=r"lower than 0\.0213 m.*raise it"):
        dipole_pattern(FREQUENCY, 0.0, AVERAGE)


@pytest.mark.parametrize("loss", [-1.0, float("nan"), float("inf")])
def test_impossible_loss_is_refused(loss):
    with pytest.raises(InputError, match="ground-system loss"):
        quarter_wave_vertical_pattern(FREQUENCY, AVERAGE, loss)
