"""Magnetic field against published positions and test values."""

from __future__ import annotations

import numpy as np
import pytest

from geo import magnetic


# P. Alken et al., "International Geomagnetic Reference Field: the thirteenth
# generation", Earth, Planets and Space 73:49 (2021), dip poles of 2020 (from memory).
# The epoch was a forecast then and is definitive now: allow 0.1 deg.
@pytest.mark.parametrize(
    ("lat_deg", "lon_deg", "dip_deg"),
    [(86.494, 162.867, 90.0), (-64.081, 135.866, -90.0)],
)
def test_the_field_is_vertical_at_the_dip_poles(outside, lat_deg, lon_deg, dip_deg):
    dip = magnetic.dip_deg(lat_deg, lon_deg, 0.0, 2020.0)
    check = outside(
        "Alken et al., Earth, Planets and Space 73:49 (2021)", "from memory"
    )
    why = "forecast then, definitive now"
    check.near("dip at the dip poles of 2020 [deg]", dip, dip_deg, abs=0.1, why=why)


# Same paper: geomagnetic (dipole) pole of 2020 at 80.65 N, 72.68 W, from memory. On
# the sphere; the printed latitude is geodetic or not depending on the list: 0.2 deg.
def test_the_dipole_pole(outside):
    check = outside(
        "Alken et al., Earth, Planets and Space 73:49 (2021)", "from memory"
    )
    ours = magnetic.geomagnetic_latitude_deg([80.65, -80.65], [-72.68, 107.32], 2020.0)
    why = "printed latitude may be geodetic"
    what = "geomagnetic latitude of the dipole poles, north and south [deg]"
    check.between(what, ours * [1.0, -1.0], low=89.8, why=why)


# NOAA and British Geological Survey, World Magnetic Model 2020, technical report,
# test values for 2020.0 at height 0 (from memory). Another model of the same field,
# made in 2019 with a forecast: both models claim 100 nT or so; 30 nT is asked.
@pytest.mark.parametrize(
    ("lat_deg", "lon_deg", "north_nt", "east_nt", "down_nt"),
    [
        (80.0, 0.0, 6570.4, -146.3, 54606.0),
        (0.0, 120.0, 39624.3, 109.9, -10932.5),
        (-80.0, 240.0, 5940.6, 15772.1, -52480.8),
    ],
)
def test_world_magnetic_model_2020(
    outside, lat_deg, lon_deg, north_nt, east_nt, down_nt
):
    field = magnetic.field_nt(lat_deg, lon_deg, 0.0, 2020.0)
    outside("World Magnetic Model 2020, test values", "from memory").near(
        "field at three places [nT]",
        np.stack(field),
        [north_nt, east_nt, down_nt],
        abs=30.0,
        why="another model of the same field; both claim 100 or so",
    )


# IAGA V-MOD, IGRF-14 coefficient file (doi 10.5281/zenodo.14012302): first rows.
def test_leading_coefficients_of_2025(outside):
    years, g, h = magnetic._coefficients()
    at = list(years).index(2025.0)
    check = outside(
        "IAGA, IGRF-14 coefficient file, first rows of 2025", "page at hand"
    )
    first = float(g[at, 1, 0]), float(g[at, 1, 1]), float(h[at, 1, 1])
    check.equal("g10, g11, h11 [nT]", first, (-29350.0, -1410.3, 4545.5))
    count = int((g != 0).any(axis=0).sum() + (h != 0).any(axis=0).sum())
    check.equal("coefficients up to degree 13", count, 13 * 15)
