"""Losses of a hop but for the D region: spreading and the ground between hops."""

import numpy as np

from advisor.propagation.losses import (
    reflection_loss_db,
    spreading_db,
)

MEMORY = "from memory"
ROUNDING = "rounding of the machine"


def test_free_space(outside):
    """ITU-R P.525-4: 32.45 + 20 log f + 20 log d is (4 pi d / lambda)^2."""
    exact = 20 * np.log10(4 * np.pi * 1234e3 * 14.1e6 / 299792458.0)
    outside("ITU-R P.525-4: (4 pi d / lambda)^2", "worked apart").near(
        "free-space loss over 1234 km on 14.1 MHz [dB]",
        spreading_db(14.1, 1234.0),
        exact,
        abs=0.01,
        why="32.45 is rounded",
    )


def test_ground_reflection(outside):
    """
    P.533-14 section 5.2 (from memory) has 2 dB for each touch of the ground.

    That is what land and sea in equal parts give from 5 to 30 degrees on every band
    from 3.6 MHz up; one of them alone is 1.1 to 1.9 dB off it.
    """
    frequency, angle = np.meshgrid([3.6, 7.1, 14.1, 28.5], [5.0, 8.0, 12.0, 20.0, 30.0])
    land, sea = (
        reflection_loss_db(frequency, angle, kind) for kind in ("land", "sea water")
    )
    check = outside("ITU-R P.533-14 section 5.2", MEMORY)
    halves = 0.5 * (land + sea)
    why = "one figure for all angles and bands"
    check.near(
        "ground reflection, half land, half sea [dB]", halves, 2.0, abs=0.5, why=why
    )
    mean = np.mean(halves)
    check.near(
        "its mean, 5 to 30 degrees, 3.6 MHz up [dB]", mean, 2.0, abs=0.1, why=why
    )
    why = "1.1 to 1.9 dB off the mean of both"
    check.between("off land [dB]", land, 2.5, 4.0, why=why)
    check.between("off sea [dB]", sea, 0.09, 1.1, why=why)


def test_ground_reflection_at_normal_incidence(outside):
    """Textbook: the wave straight down sees (1 - n)/(1 + n) on both polarisations."""
    index = np.sqrt(22.0 - 18000.0j * 0.003 / 14.1)
    expected = -20.0 * np.log10(abs((1.0 - index) / (1.0 + index)))
    check = outside(
        "Fresnel, normal and grazing incidence, any textbook", "worked apart"
    )
    straight = reflection_loss_db(14.1, 90.0, "land")
    why = "18000 for 17975 in the permittivity"
    check.near("loss straight down, land [dB]", straight, expected, abs=0.01, why=why)
    grazing = reflection_loss_db(14.1, 0.0, "land")
    check.near("loss along the ground [dB]", grazing, 0.0, abs=1e-9, why=ROUNDING)
