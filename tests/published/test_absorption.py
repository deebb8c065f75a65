"""Closed-form absorption: printed values of the vertical traverse."""

import numpy as np
import pytest

from advisor.link.loss import (
    absorption_db,
    absorption_index,
    reflection_loss_db,
    spreading_db,
)


@pytest.mark.parametrize(
    ("zenith_deg", "r12", "worked"),
    [
        (0.0, 0.0, [35.1, 20.8, 8.9, 2.9, 0.8]),
        (0.0, 100.0, [48.1, 28.5, 12.2, 4.0, 1.1]),
        (60.0, 100.0, [25.0, 14.8, 6.3, 2.1, 0.6]),
        (85.0, 100.0, [8.4, 5.0, 2.1, 0.7, 0.2]),
    ],
)
def test_vertical_traverse(zenith_deg, r12, worked):
    """
    Lucas and Haydon, ESSA IER 1-ITSA 1 (1966), as revised (form from memory).

    Worked for fH 1.2 MHz at 1.85, 3.6, 7.1, 14.1 and 28.5 MHz, straight up and
    down: 677.2 (1 + 0.0037 R) cos^1.3(0.881 chi) / ((f + 1.2)^1.98 + 10.2).
    """
    frequency = np.array([1.85, 3.6, 7.1, 14.1, 28.5])
    index = absorption_index(zenith_deg, r12)
    assert absorption_db(frequency, 90.0, 1, index, 1.2) == pytest.approx(
        worked, abs=0.06
    )


def test_night_floor():
    """A tenth of the overhead value remains at night: 2 to 4 dB on 1.85 MHz."""
    assert absorption_index([100.0, 150.0, 180.0], 50.0) == pytest.approx(0.1)
    assert 2.0 < absorption_db(1.85, 90.0, 1, 0.1, 1.2) < 4.0


def test_slant_multiplies():
    """At low angles the traverse is the secant times longer; hops add up."""
    steep = absorption_db(7.1, 90.0, 1, 1.0, 1.2)
    low = absorption_db(7.1, 5.0, 2, 1.0, 1.2)
    secant = 1.0 / np.sqrt(1.0 - (6371.0 * np.cos(np.radians(5.0)) / 6471.0) ** 2)
    assert low == pytest.approx(2.0 * secant * steep)


def test_free_space():
    """ITU-R P.525-4: 32.45 + 20 log f + 20 log d is (4 pi d / lambda)^2."""
    exact = 20 * np.log10(4 * np.pi * 1234e3 * 14.1e6 / 299792458.0)
    assert spreading_db(14.1, 1234.0) == pytest.approx(exact, abs=0.01)


def test_ground_reflection():
    """
    P.533-14 section 5.2 (from memory) has 2 dB for each touch of the ground.

    That is what land and sea in equal parts give from 5 to 30 degrees on every band
    from 3.6 MHz up; one of them alone is 1.1 to 1.9 dB off it.
    """
    frequency, angle = np.meshgrid([3.6, 7.1, 14.1, 28.5], [5.0, 8.0, 12.0, 20.0, 30.0])
    land, sea = (
        reflection_loss_db(frequency, angle, kind) for kind in ("land", "sea water")
    )
    assert 0.5 * (land + sea) == pytest.approx(2.0, abs=0.5)
    assert np.mean(0.5 * (land + sea)) == pytest.approx(2.0, abs=0.1)
    assert np.all((land > 2.5) & (land < 4.0))
    assert np.all((sea > 0.09) & (sea < 1.1))


def test_ground_reflection_at_normal_incidence():
    """Textbook: the wave straight down sees (1 - n)/(1 + n) on both polarisations."""
    index = np.sqrt(22.0 - 18000.0j * 0.003 / 14.1)
    expected = -20.0 * np.log10(abs((1.0 - index) / (1.0 + index)))
    assert reflection_loss_db(14.1, 90.0, "land") == pytest.approx(expected, abs=0.01)
    assert reflection_loss_db(14.1, 0.0, "land") == pytest.approx(0.0, abs=1e-9)
