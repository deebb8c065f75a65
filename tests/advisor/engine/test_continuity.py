"""Chances over distance: no step between neighbours, and less the farther."""

import numpy as np
import pytest

from geo.sphere import destination

BANDS = ["80 m", "40 m", "30 m", "20 m", "15 m", "10 m"]
APART_KM = 10.0
LINES, PLACES, HOURS = 6, 19, 4


@pytest.fixture(scope="module")
def lines(ask):
    """
    Chances along random great circles, and those 10 km farther on.

    Shapes (lines, places), and (lines, 2, places, hours, bands).
    """
    far, chance = [], []
    for seed in range(LINES):
        dice = np.random.default_rng(seed)
        lat = np.degrees(np.arcsin(dice.uniform(-0.85, 0.85)))
        lon, bearing = dice.uniform(-180.0, 180.0), dice.uniform(0.0, 360.0)
        # Nearer than 300 km it is the end of the ground wave.
        km = np.sort(dice.uniform(300.0, 15_000.0, PLACES))
        places = zip(
            *destination(lat, lon, bearing, np.append(km, km + APART_KM)), strict=True
        )
        day = np.datetime64("2026-01-15") + dice.integers(0, 340)
        advice = ask(
            f"{lat:.4f},{lon:.4f}",
            [f"{a:.4f},{b:.4f}" for a, b in places],
            str(day),
            hours=HOURS,
            r12=dice.uniform(0.0, 150.0),
            shape="ground-mounted vertical",
            emission="CW",
            power_w=100.0,
            horizon_deg=0.0,
            bands=BANDS,
        )
        far.append(km)
        chance.append(advice.setups[0].chance.reshape(2, PLACES, HOURS, len(BANDS)))
    return np.array(far), np.array(chance)


@pytest.mark.slow
def test_neighbours_have_like_chances(lines):
    """
    Over 0.05 in 10 km only where the last way ends, and that is seldom.

    A hop ends in its shadow at 0.3 dB a kilometre of the wave's own, 3 dB in 10 km,
    which is 0.1 where the margin is near nothing; a ground wave over sea nearly so.
    """
    _, chance = lines
    step = np.abs(np.diff(chance, axis=1))
    assert np.median(step) < 0.001
    assert np.mean(step > 0.05) < 0.003
    assert step.max() < 0.15


@pytest.mark.slow
def test_the_mean_chance_falls_with_distance(lines):
    """From 4000 to 15 000 km, all lines, hours and bands together."""
    far, chance = lines
    mean = chance.mean(axis=(1, 3, 4))
    edges = np.array([4000.0, 6500.0, 9000.0, 12_000.0, 15_000.0])
    inside = np.searchsorted(edges, far) - 1
    means = [mean[inside == k].mean() for k in range(edges.size - 1)]
    assert np.all(np.diff(means) < 0.0), means
