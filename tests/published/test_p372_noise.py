"""ITU-R P.372-16: noise factors and the sum of three sources; lightning by charts."""

import numpy as np
import pytest

from advisor.propagation.lightning import lightning_noise_db
from advisor.propagation.noise import Noise, combine, galactic_noise, man_made_noise

FREQUENCY_MHZ = np.array([1.85, 7.1, 14.1, 28.5])


@pytest.mark.parametrize(
    ("environment", "printed"),
    [
        ("city", [69.4, 53.2, 45.0, 36.5]),
        ("residential", [65.1, 48.9, 40.7, 32.2]),
        ("rural", [59.8, 43.6, 35.4, 26.9]),
        ("quiet rural", [46.0, 29.3, 20.7, 12.0]),
    ],
)
def test_man_made(outside, environment, printed):
    """P.372-16 Part 6: c - d log f, with c and d of each environment."""
    ours = man_made_noise(environment, FREQUENCY_MHZ).factor_db
    outside("ITU-R P.372-16 Part 6: c - d log f", "quoted").near(
        f"noise, {environment}, 1.85 to 28.5 MHz [dB]",
        ours,
        printed,
        abs=0.06,
        why="half the last digit worked",
    )


def test_galactic(outside):
    """P.372-16 Part 4: 52 - 23 log f of the open sky, deciles 2 dB."""
    ours = galactic_noise(FREQUENCY_MHZ, 0.0)
    check = outside("ITU-R P.372-16 Part 4 equation 13", "quoted")
    worked, why = [45.9, 32.4, 25.6, 18.5], "half the last digit worked"
    what = "galactic noise, 1.85 to 28.5 MHz [dB]"
    check.near(what, ours.factor_db, worked, abs=0.06, why=why)
    check.equal("its upper decile [dB]", np.unique(ours.upper_db).tolist(), [2.0])


def test_any_place(outside):
    """
    P.372-16 Part 6: its column of places holds deciles, as that of time does.

    OT Report 74-38 (1974), from memory: root-mean-square deviations from place to place
    of 6.5, 4.4 and 5.2 dB, whose deciles are 8.3, 5.6 and 6.7.
    """
    check = outside("OT Report 74-38 (1974): places, rms times 1.28", "from memory")
    for environment, rms_db in (("city", 6.5), ("residential", 4.4), ("rural", 5.2)):
        here, any_place = (
            man_made_noise(environment, 10.0, any_place=any_place)
            for any_place in (False, True)
        )
        ours = np.sqrt(any_place.upper_db**2 - here.upper_db**2)
        what, why = f"decile from place to place, {environment} [dB]", "its digits"
        check.near(what, ours, 1.2816 * rms_db, abs=0.25, why=why)


def test_sum_of_three(outside):
    """
    P.372-16 Part 8 (from memory), worked for 14.1 MHz.

    Residential 40.7 (10.6 up, 5.3 down), galactic 25.6 (2, 2), atmospheric 25
    (9, 7): about 41 dB, upper decile about 10.5, lower about 5.1. The three are
    nearly one source, so the sum is nearly the strongest.
    """
    residential = Noise(np.array(40.7), np.array(10.6), np.array(5.3))
    galactic = Noise(np.array(25.6), np.array(2.0), np.array(2.0))
    lightning = Noise(np.array(25.0), np.array(9.0), np.array(7.0))
    total = combine([residential, galactic, lightning])
    check = outside("ITU-R P.372-16 Part 8", "from memory")
    why = "worked to the decibel"
    check.near("sum of three sources [dB]", total.factor_db, 40.9, abs=0.3, why=why)
    check.near("its upper decile [dB]", total.upper_db, 10.5, abs=0.2, why=why)
    check.near("its lower decile [dB]", total.lower_db, 5.1, abs=0.2, why=why)


# Remembered levels of the charts of lightning noise, with low confidence.
CHARTS = "atmospheric noise charts of CCIR Report 322 (1963) and later"


def test_lightning_by_night(outside):
    """
    The one free figure of the table was settled by these, so that they must come out.

    Tropical land at night has about 69 dB on 3 MHz and 48 on 10 MHz; 40 degrees north
    in winter at night 30 to 35 on 10 MHz. Places and hours around them: 5 dB.
    """
    check = outside(CHARTS, "from memory")
    tropics = [(-4.3, 15.3), (-23.2, -45.9), (1.3, 103.8)]
    lat, lon = np.array(tropics).T
    hour = 22.0 - lon / 15.0
    why = "remembered to 5 dB; places differ"
    for frequency, chart in ((3.0, 69.0), (10.0, 48.0)):
        ours = lightning_noise_db(frequency, lat, lon, 1.0, hour, 60.0)
        what = f"tropical land at night, {frequency:.0f} MHz [dB]"
        check.near(what, ours.mean(), chart, abs=5.0, why=why)
    north = lightning_noise_db(10.0, 40.0, [-105.0, 0.0, 140.0], 1.0, [5, 22, 13], 60.0)
    check.between("40 degrees north, winter night, 10 MHz [dB]", north, 25.0, 40.0,
                  why="30 to 35, 5 dB aside")  # fmt: skip
