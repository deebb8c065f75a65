"""How fast the ground of all bearings is worked out, beside the yardstick."""

import numpy as np
import pytest

from advisor.antenna.closedform import dipole_pattern
from advisor.antenna.ground import ground_by_name
from advisor.antenna.hills import hills_of
from advisor.antenna.pattern import Centre
from geo.terrain import BEARINGS_DEG, DISTANCES_M, Terrain
from tests.bench.test_bench_wire import TEN_BANDS_MHZ


@pytest.mark.bench
@pytest.mark.slow
def test_a_mountain_on_ten_bands(ratio, monkeypatch):
    """72 profiles of ridges and valleys to 20 km, rough all the way."""
    from dataclasses import replace

    from advisor.antenna import hills

    dice = np.random.default_rng(7)
    waves = dice.uniform(300.0, 4000.0, (BEARINGS_DEG.size, 6, 1))
    phase = dice.uniform(0.0, 6.0, waves.shape)
    ridges = 0.02 * waves * (np.sin(6.28 * DISTANCES_M / waves + phase) - np.sin(phase))
    terrain = Terrain(DISTANCES_M, ridges.sum(axis=1), 20_000.0, "made here")
    soil = ground_by_name("average")
    centre = Centre(9.0, 9.0, is_level=True)
    wires = [
        replace(dipole_pattern(mhz, 9.0, soil), centre=centre) for mhz in TEN_BANDS_MHZ
    ]

    def all_bands():
        monkeypatch.setattr(hills, "_kept", {})
        for wire in wires:
            hills_of(terrain, wire, soil)

    # The aim is 3 s, of which the yardstick takes about 0.1 s.
    found = ratio(
        "hills, cold",
        all_bands,
        "72 bearings of a mountain, ten bands, nothing cached; to the yardstick",
        most=30.0,
        repeat=2,
    )
    assert found > 0.0
