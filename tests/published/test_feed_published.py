"""Feed lines against textbook line theory and handbook tables."""

import numpy as np
import pytest
from scipy.special import jv

from advisor.antenna import feed
from advisor.antenna import line as feed_line
from advisor.antenna.line import Line, line_by_name

LIGHT_M_US = 299.792458
IDEAL = Line("ideal", 50.0, 0.66, 0.0, 0.0)
MEMORY = "from memory"
ROUNDING = "rounding of the machine"
LINES = "any textbook on transmission lines"


def length_m(wavelengths: float, line: Line, frequency_mhz: float) -> float:
    """Return a length in wavelengths on the line."""
    return wavelengths * line.velocity_factor * LIGHT_M_US / frequency_mhz


# Every textbook on transmission lines: Z0^2 / ZL, ZL, and j Z0 tan / -j Z0 cot.


@pytest.mark.parametrize("load", [100.0, 12.5 + 30.0j, 2450.0])
def test_a_quarter_wave_inverts(outside, load):
    quarter = length_m(0.25, IDEAL, 7.1)
    z = feed_line.input_impedance(load, IDEAL, 7.1, quarter)
    check = outside(LINES, MEMORY)
    what = "quarter wave of 50 ohm line [ohm]"
    check.near(what, z, 2500.0 / load, rel=1e-6, why=ROUNDING)


@pytest.mark.parametrize("load", [100.0, 12.5 + 30.0j, 2450.0])
@pytest.mark.parametrize("halves", [1, 3])
def test_a_half_wave_repeats(outside, load, halves):
    z = feed_line.input_impedance(load, IDEAL, 7.1, length_m(halves / 2, IDEAL, 7.1))
    check = outside(LINES, MEMORY)
    check.near("half waves of line [ohm]", z, load, rel=1e-6, why=ROUNDING)


def test_stubs(outside):
    eighth = length_m(0.125, IDEAL, 21.1)
    ours = [feed_line.input_impedance(z, IDEAL, 21.1, eighth) for z in (0.0, 1e12)]
    check = outside(LINES, MEMORY)
    what = "an eighth wave, shorted and open [ohm]"
    check.near(what, ours, [50j, -50j], rel=1e-6, why=ROUNDING)


# Antenna handbooks give the loss of a mismatched line as
# 10 log10((a^2 - rho^2) / (a (1 - rho^2))), a = 10^(matched dB / 10), rho at the
# load; it holds for a real characteristic impedance, so for equal conductor and
# dielectric loss.


@pytest.mark.parametrize("swr", [1.0, 2.0, 3.0, 5.0, 10.0, 20.0])
@pytest.mark.parametrize("matched_db", [0.1, 1.0, 3.0, 6.0])
@pytest.mark.parametrize("angle", [0.0, 1.0, 2.5])
def test_additional_loss_of_a_mismatched_line(outside, swr, matched_db, angle):
    frequency_mhz, long_m = 16.0, 100.0
    per_100m = matched_db / 2.0
    line = Line("even", 50.0, 0.8, per_100m / 4.0, per_100m / 16.0)
    rho = (swr - 1.0) / (swr + 1.0)
    echo = rho * np.exp(1j * angle)
    load = 50.0 * (1.0 + echo) / (1.0 - echo)
    a = 10.0 ** (matched_db / 10.0)
    expected = 10.0 * np.log10((a**2 - rho**2) / (a * (1.0 - rho**2)))
    lost = feed_line.line_loss_db(load, line, frequency_mhz, long_m)
    outside("antenna handbooks, loss of a mismatched line", MEMORY).near(
        "loss of a mismatched line, 72 cases [dB]",
        lost,
        expected,
        abs=1e-9,
        why=ROUNDING,
    )


# Widely printed table of SWR against mismatch loss, from memory.
@pytest.mark.parametrize(
    ("swr", "loss_db"),
    [(1.5, 0.18), (2.0, 0.51), (3.0, 1.25), (5.0, 2.55), (10.0, 4.81)],
)
def test_mismatch_loss_table(outside, swr, loss_db):
    ours = [feed.mismatch_loss_db(50.0 * swr), feed.mismatch_loss_db(50.0 / swr)]
    check = outside("widely printed table of SWR and mismatch loss", MEMORY)
    why = "half the last digit"
    check.near("mismatch loss by SWR [dB]", ours, loss_db, abs=0.005, why=why)


# Matched loss in dB per 100 feet at 10 and 100 MHz as handbook tables of coaxial
# cable list it, from memory; makes differ by 15 %.
@pytest.mark.parametrize(
    ("name", "at_10_mhz", "at_100_mhz"),
    [
        ("RG-58", 1.4, 4.9),
        ("RG-8X", 0.9, 3.3),
        ("RG-174", 3.0, 8.8),
        ("RG-213", 0.6, 2.0),
        ("RG-59", 1.1, 3.4),
        ("RG-6", 0.65, 2.0),
        ("RG-11", 0.65, 2.2),
        ("RG-316", 2.7, 8.0),
    ],
)
def test_matched_loss_of_coax(outside, name, at_10_mhz, at_100_mhz):
    loss = feed_line.matched_loss_db(line_by_name(name), [10.0, 100.0], 30.48)
    outside("handbook tables of coaxial cable", MEMORY).near(
        f"{name}, 100 ft at 10 and 100 MHz [dB]",
        loss,
        [at_10_mhz, at_100_mhz],
        rel=0.15,
        why="makes differ so much",
    )


# Exact internal impedance of a round wire, k / (2 pi a sigma) J0(ka) / J1(ka)
# (Ramo, Whinnery and Van Duzer, chapter on skin effect; from memory), two copper
# wires in series; loss in dB/m = 4.343 R / Z0.
@pytest.mark.parametrize(
    ("name", "diameter_m"),
    [("open-wire 600", 2.0e-3), ("open-wire 450", 1.0e-3), ("ribbon 300", 0.8e-3)],
)
def test_conductor_loss_of_parallel_wires(outside, name, diameter_m):
    frequency_mhz, sigma = 10.0, 5.8e7
    line = line_by_name(name)
    k = np.sqrt(-2j * np.pi * frequency_mhz * 1e6 * 4e-7 * np.pi * sigma)
    ka = k * diameter_m / 2.0
    z = k / (np.pi * diameter_m * sigma) * jv(0, ka) / jv(1, ka)
    expected_db = 100.0 * 4.343 * 2.0 * abs(z.real) / line.impedance_ohm
    outside("Ramo, Whinnery and Van Duzer, skin effect", MEMORY).near(
        f"conductor loss of {name} at 10 MHz [dB/100 m]",
        line.k1_db * np.sqrt(frequency_mhz),
        expected_db,
        rel=0.04,
        why="our constants have two digits",
    )


# 100 W on 5 kilohm is 707 V rms: Ohm's law, the usual warning about end-fed wires.
def test_voltage_at_the_end_of_a_wire(outside):
    check = outside("Ohm's law", "worked apart")
    volts, amperes = feed.voltage_v(100.0, 5000.0), feed.current_a(100.0, 5000.0)
    why = "half the last digit"
    check.near("100 W at 5000 ohm [V]", volts, 707.1, abs=0.05, why=why)
    check.near("100 W at 5000 ohm [A]", amperes, 0.1414, abs=5e-5, why=why)
