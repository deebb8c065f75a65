"""Layers that several tests of the rays share, and an integration done apart."""

from itertools import pairwise

import numpy as np
import pytest
from scipy.optimize import brentq

from geo.ionosphere.profile import layered_profile

NONE = float("nan")
EARTH_KM = 6371.0

LAYERS = {
    "A": (3.46, 4.80, 6.10, 270.0, 75.0, 1.0),  # summer noon
    "A0": (3.46, 4.80, 6.10, 270.0, 75.0, 0.0),  # the same without the ledge
    "B": (2.6, NONE, 9.0, 260.0, 70.0, None),  # winter noon
    "C": (0.5, NONE, 4.0, 320.0, 80.0, None),  # night
    "D": (1.5, NONE, 5.0, 290.0, 75.0, None),  # sunrise
    "H": (0.8, NONE, 12.0, 380.0, 110.0, None),  # high evening layer
}


@pytest.fixture(scope="session")
def example():
    """Named layers: foE, foF1, foF2, height and semi-thickness of F2, share of F1."""
    return {name: layered_profile(*given) for name, given in LAYERS.items()}


@pytest.fixture(scope="session")
def random_profile():
    """Draw profiles by chance."""
    return _random_profile


@pytest.fixture(scope="session")
def integrated():
    """Trace a ray by quadrature."""
    return _integrated


def _random_profile(rng):
    """A profile out of the whole range of layers, with a ledge now and then."""
    foe = rng.uniform(0.3, 4.2)
    return layered_profile(
        foe,
        rng.choice([NONE, foe * rng.uniform(1.25, 1.5)]),
        rng.uniform(2.0, 14.0),
        rng.uniform(210.0, 420.0),
        None,
        rng.choice([1.0, rng.uniform(0.0, 1.0)]),
    )


# Tanh-sinh quadrature: at home with poles and peaks at the ends of the interval.
_T = np.linspace(-3.3, 3.3, 661)
_AT = np.tanh(0.5 * np.pi * np.sinh(_T))
_WEIGHT = (
    0.5
    * np.pi
    * np.cosh(_T)
    / np.cosh(0.5 * np.pi * np.sinh(_T)) ** 2
    * (_T[1] - _T[0])
)


def _integrated(profile, frequency, takeoff_deg):
    """
    Ground range, group and phase path and apogee by quadrature over the index.

    Asks the profile for nothing but the plasma frequency at a height. None where the
    ray is not turned.
    """
    edges = profile.edge_km()
    k = EARTH_KM * np.cos(np.radians(takeoff_deg))

    def square(height):
        index = 1.0 - (profile.plasma_mhz(height) / frequency) ** 2
        return index - (k / (EARTH_KM + height)) ** 2

    heights = np.unique(np.concatenate([np.linspace(edges[0], edges[-1], 4001), edges]))
    seen = square(heights)
    if seen.min() > 0.0:
        return None
    first = int(np.argmax(seen <= 0.0))
    top = brentq(square, heights[first - 1], heights[first], xtol=1e-12, rtol=1e-14)
    marks = [0.0, *edges[edges < top - 1e-9], top]
    total = np.zeros(3)
    for low, high in pairwise(marks):
        # Substituting top - height = w^2 takes the pole out.
        ends = np.sqrt(top - high), np.sqrt(top - low)
        w = 0.5 * (ends[1] + ends[0]) + 0.5 * (ends[1] - ends[0]) * _AT
        height = top - w * w
        step = (
            (ends[1] - ends[0])
            * w
            * _WEIGHT
            / np.sqrt(np.maximum(square(height), 1e-99))
        )
        index = 1.0 - (profile.plasma_mhz(height) / frequency) ** 2
        each = (k / (EARTH_KM + height) ** 2, np.ones(w.size), index)
        total += [(step * part)[square(height) > 0.0].sum() for part in each]
    return (2.0 * EARTH_KM * total[0], 2.0 * total[1], 2.0 * total[2], top)
