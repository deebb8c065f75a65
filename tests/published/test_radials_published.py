"""
A quarter-wave mast over n radials against published tables.

J. Stanley, "Optimum ground systems for vertical antennas", QST, December 1976, as
handbooks print it (from memory): six systems from 16 radials of a tenth of a wave to
120 of 0.4, the resistance at the foot, and how much weaker each is at low angles than
the last. Soil and height are not stated: average soil, radials lying 2 cm up.
"""

import numpy as np
import pytest

from advisor.antenna.ground import Ground
from advisor.antenna.solver.currents import solve
from advisor.antenna.solver.farfield import pattern_of
from advisor.antenna.wires import Source, Wire, WireModel

AVERAGE = Ground("average", 13.0, 0.005, "handbook")
MHZ = 3.65
LAMBDA_M = 299.792458 / MHZ
# Radials, their length in wavelengths, resistance in ohm, loss in dB.
SYSTEMS = (
    (16, 0.1, 52.0, 3.0),
    (24, 0.125, 46.0, 2.0),
    (36, 0.15, 43.0, 1.5),
    (60, 0.2, 40.0, 1.0),
    (90, 0.25, 37.0, 0.5),
    (120, 0.4, 35.0, 0.0),
)


def mast_over(count, length_m, up_m):
    """A mast at its resonance over that many radials, lying or buried."""
    foot, hub = (0.0, 0.0, max(up_m, 0.0)), (0.0, 0.0, up_m)
    wires = [Wire(foot, (0.0, 0.0, 0.238 * LAMBDA_M + foot[2]), 0.005)]
    if up_m < 0.0:
        wires.append(Wire(foot, hub, 0.001))
    for turn in 2.0 * np.pi * np.arange(count) / count:
        tip = (length_m * np.sin(turn), length_m * np.cos(turn), up_m)
        wires.append(Wire(hub, tip, 0.001))
    return WireModel(tuple(wires), (Source(0, 0.025),))


def told(count, waves, up_m):
    solution = solve(mast_over(count, waves * LAMBDA_M, up_m), MHZ, AVERAGE)
    gain_dbi = float(pattern_of(solution).gain_dbi(10.0, 0.0))
    return float(solution.z_in_ohm[0].real), gain_dbi


@pytest.mark.slow
@pytest.mark.parametrize(("where", "up_m"), [("lying", 0.02), ("buried", -0.05)])
def test_resistance_and_loss_fall_with_the_number_of_radials(outside, where, up_m):
    check = outside("J. Stanley, QST, December 1976: ground systems", "from memory")
    ours = [told(count, waves, up_m) for count, waves, _, _ in SYSTEMS]
    best_dbi = ours[-1][1]
    soil = "the soil is not stated; rounded figures"
    for (ohm, dbi), (count, waves, expected, loss) in zip(ours, SYSTEMS, strict=True):
        what = f"{count} {where} radials of {waves:g} wavelengths"
        check.near(f"{what} [ohm]", ohm, expected, abs=7.0, why=soil)
        if loss:
            check.near(
                f"{what}: loss over 120 of 0.4 [dB]",
                best_dbi - dbi,
                loss,
                abs=1.2,
                why=soil,
            )
    assert np.all(np.diff([ohm for ohm, _ in ours[:-1]]) < 0.0)
    assert np.all(np.diff([dbi for _, dbi in ours]) > 0.0)
