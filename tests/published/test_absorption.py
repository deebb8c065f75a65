"""Closed-form absorption: printed values of the vertical traverse."""

import numpy as np
import pytest

from advisor.propagation.losses import (
    absorption_db,
    absorption_index,
    reflection_loss_db,
    spreading_db,
)

MEMORY = "from memory"
ROUNDING = "rounding of the machine"


@pytest.mark.parametrize(
    ("zenith_deg", "r12", "worked"),
    [
        (0.0, 0.0, [35.1, 20.8, 8.9, 2.9, 0.8]),
        (0.0, 100.0, [48.1, 28.5, 12.2, 4.0, 1.1]),
        (60.0, 100.0, [25.0, 14.8, 6.3, 2.1, 0.6]),
        (85.0, 100.0, [8.4, 5.0, 2.1, 0.7, 0.2]),
    ],
)
def test_vertical_traverse(outside, zenith_deg, r12, worked):
    """
    Lucas and Haydon, ESSA IER 1-ITSA 1 (1966), as revised (form from memory).

    Worked for fH 1.2 MHz at 1.85, 3.6, 7.1, 14.1 and 28.5 MHz, straight up and
    down: 677.2 (1 + 0.0037 R) cos^1.3(0.881 chi) / ((f + 1.2)^1.98 + 10.2).
    """
    frequency = np.array([1.85, 3.6, 7.1, 14.1, 28.5])
    index = absorption_index(zenith_deg, r12)
    outside("Lucas and Haydon, ESSA IER 1-ITSA 1 (1966), as revised", MEMORY).near(
        "absorption straight up and down, five frequencies [dB]",
        absorption_db(frequency, 90.0, 1, index, 1.2),
        worked,
        abs=0.06,
        why="half the last digit worked",
    )


def test_night_floor(outside):
    """A tenth of the overhead value remains at night: 2 to 4 dB on 1.85 MHz."""
    check = outside("Lucas and Haydon 1966 as revised, least index", MEMORY)
    night = absorption_index([100.0, 150.0, 180.0], 50.0)
    check.near("absorption index at night", night, 0.1, rel=1e-6, why=ROUNDING)
    loss = absorption_db(1.85, 90.0, 1, 0.1, 1.2)
    check.between("loss that is left at night on 1.85 MHz [dB]", loss, 2.0, 4.0)


def test_slant_multiplies(outside):
    """At low angles the traverse is the secant times longer; hops add up."""
    steep = absorption_db(7.1, 90.0, 1, 1.0, 1.2)
    low = absorption_db(7.1, 5.0, 2, 1.0, 1.2)
    secant = 1.0 / np.sqrt(1.0 - (6371.0 * np.cos(np.radians(5.0)) / 6471.0) ** 2)
    outside("secant law at 100 km, any textbook", MEMORY).near(
        "absorption of two hops at 5 degrees [dB]",
        low,
        2.0 * secant * steep,
        rel=1e-6,
        why=ROUNDING,
    )


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
