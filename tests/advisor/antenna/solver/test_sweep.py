"""A matrix filled three times over a band against one filled on each frequency."""

from dataclasses import replace

import numpy as np
import pytest

from advisor.antenna.ground import PERFECT, ground_by_name
from advisor.antenna.shapes.earth import with_earth
from advisor.antenna.shapes.registry import hang
from advisor.antenna.solver import sweep
from advisor.antenna.solver.currents import reactions, solve

AVERAGE = ground_by_name("average")


def alone(model, mhz, planning_mhz, soil):
    """Solve every frequency by itself, the ground's conductivity as in a sweep."""
    found = []
    for each in mhz.tolist():
        there = replace(soil, sigma_s_m=soil.sigma_s_m * each / planning_mhz)
        there = PERFECT if soil.is_perfect else there
        found.append(solve(model, each, there).z_in_ohm[0])
    return np.array(found)


@pytest.mark.parametrize(
    ("shape", "sizes", "mhz", "soil", "earth"),
    [
        pytest.param("dipole", {"height_m": 30.0}, 28.5, AVERAGE, {},
                     marks=pytest.mark.slow),
        ("dipole", {"height_m": 8.0}, 7.1, PERFECT, {}),
        pytest.param("end-fed half-wave", {"length_m": 41.0}, 14.1, AVERAGE, {},
                     marks=pytest.mark.slow),
        pytest.param("quarter-wave vertical", {"radials_n": 2.0}, 14.1, AVERAGE,
                     {"radials_at_m": -0.05, "stake_m": 1.0}, marks=pytest.mark.slow),
        pytest.param("ground-mounted vertical", {}, 28.5, AVERAGE, {},
                     marks=pytest.mark.slow),
    ],
)  # fmt: skip
def test_three_fills_follow_the_band(shape, sizes, mhz, soil, earth):
    hung = hang(shape, mhz, sizes)
    model = (with_earth(hung, **earth) if earth else hung).model()
    asked = mhz * np.linspace(0.92, 1.08, 4)
    swept = sweep.impedance_over(model, asked, soil, mhz)
    each = alone(model, asked, mhz, soil)
    np.testing.assert_allclose(np.abs(swept / each - 1.0), 0.0, atol=0.005)
    # A band is worth following: what it moves is far more than the error.
    assert abs(each[-1] / each[0] - 1.0) > 0.1


def test_many_frequencies_are_no_more_fills(monkeypatch):
    fills = []

    def counted(*which):
        fills.append(which[1])
        return reactions(*which)

    monkeypatch.setattr(sweep, "reactions", counted)
    model = hang("dipole", 14.1, {"height_m": 8.0}).model()
    sweep.impedance_over(model, np.linspace(13.5, 14.7, 25), AVERAGE, 14.1)
    assert len(fills) == 3
