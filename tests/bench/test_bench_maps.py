"""How fast the numerical maps are read, measured beside PyIRI in one run."""

from __future__ import annotations

import warnings

import numpy as np
import pytest

from geo import magnetic
from geo.ionosphere import maps


@pytest.mark.bench
@pytest.mark.slow
def test_prepared_maps_beside_pyiri(ratio):
    """100 places x 24 hours of a day between two mid-months, R12 60."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import PyIRI
        from PyIRI import main_library

    rng = np.random.default_rng(8)
    lat, lon = rng.uniform(-85, 85, 100), rng.uniform(-180, 180, 100)
    modip = magnetic.modip_deg(lat, magnetic.dip_deg(lat, lon, 300.0, 2026.3))
    points = maps.prepare_points(lat, lon, modip)
    times = np.datetime64("2026-04-22") + np.arange(24) * np.timedelta64(1, "h")
    hours = np.arange(24.0)

    def ours():
        maps.fof2_mhz(points, times, 60.0)
        maps.m3000f2(points, times, 60.0)
        maps.foes_mhz(points, times, 60.0)  # median and both deciles

    def theirs():
        # The least that PyIRI must run for foF2, M(3000)F2 and median foEs on a day:
        # the maps of two months, without its field, E layer, heights and thicknesses.
        for month in (4, 5):
            fof2, _, m3000, foes = main_library.read_ccir_ursi_coeff(
                month, PyIRI.coeff_dir
            )
            main_library.gamma(
                *main_library.diurnal_functions(hours),
                *main_library.set_gl_G(lon, lat, modip),
                fof2,
                m3000,
                foes,
            )

    ours()
    # 100 times as fast is the aim, and about 180 what is measured. The bound is half
    # of the aim: ours is mostly calls of a few microseconds, which a busy machine
    # stretches more.
    ratio(
        "numerical maps",
        lambda: [ours() for _ in range(50)],
        "50 times 100 places, 24 h, five maps; to PyIRI reading them once",
        beside=theirs,
        repeat=5,
        most=1.0,
    )
