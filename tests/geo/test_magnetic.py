"""The magnetic field: another IGRF program, closed forms, invariants."""

from __future__ import annotations

import importlib.util
from datetime import datetime
from pathlib import Path

import numpy as np
import ppigrf
import pytest
from astropy.table import Table

from geo import magnetic
from geo.tables import read_table, table_root

STUDIES = Path(__file__).resolve().parents[2] / "docs" / "studies"


@pytest.fixture(scope="module")
def places():
    """Two thousand places spread evenly over the globe, up to 600 km high."""
    rng = np.random.default_rng(14)
    lat = np.degrees(np.arcsin(rng.uniform(-1.0, 1.0, 2000)))
    return lat, rng.uniform(-180.0, 180.0, 2000), rng.uniform(0.0, 600.0, 2000)


@pytest.fixture
def only_coefficients(monkeypatch):
    """Replace the coefficient table by two epochs of the caller's choice."""

    def replace(years, g, h):
        monkeypatch.setattr(magnetic, "_coefficients", lambda: (np.array(years), g, h))

    return replace


def test_shipped_table_is_what_the_builder_makes_of_the_source():
    spec = importlib.util.spec_from_file_location(
        "build_igrf", STUDIES / "build_igrf.py"
    )
    build = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(build)
    made = build.table_text(*build.read_shc(build.shc_path()))
    assert (table_root() / "igrf14.ecsv").read_text(encoding="utf-8") == made


def test_table_reads_with_units():
    table = Table.read(table_root() / "igrf14.ecsv", format="ascii.ecsv")
    assert len(table) == len(read_table("igrf14")) == 13 * 15
    assert table["nt_2025"].unit == "nT"
    assert table["nt_2025"][0] == -29350.0  # the spot value named in the header


# At an epoch the two programs must agree but for rounding. Between epochs ppigrf
# counts days from epoch to epoch, we parts of a year: up to half a day of secular
# variation (100 nT a year at most) may lie between them.
@pytest.mark.parametrize(
    ("date", "tolerance_nt"),
    [
        (datetime(1950, 1, 1), 0.002),
        (datetime(1985, 1, 1), 0.002),
        (datetime(2025, 1, 1), 0.002),
        (datetime(1963, 5, 17), 0.5),
        (datetime(1997, 12, 31), 0.5),
        (datetime(2024, 7, 1), 0.5),
        (datetime(2029, 11, 20), 0.5),
    ],
)
def test_agrees_with_ppigrf(outside, places, date, tolerance_nt):
    lat, lon, height = places
    east, north, up = (c[0] for c in ppigrf.igrf(lon, lat, height, date))
    ours = magnetic.field_nt(lat, lon, height, float(magnetic.decimal_year_of(date)))
    at_epoch = tolerance_nt < 0.1
    where = "at an epoch" if at_epoch else "between epochs"
    why = "printed to a hundredth" if at_epoch else "half a day of secular variation"
    outside("ppigrf, same coefficients", "second library").near(
        f"field at 2000 places, {where} [nT]",
        np.stack(ours),
        [north, east, -up],
        abs=tolerance_nt,
        why="other rounding" if at_epoch else why,
    )


def test_a_plain_dipole_has_its_closed_form(outside, only_coefficients, places):
    # Chapman and Bartels: B = B0 (a/r)^3 sqrt(1 + 3 sin^2), tan I = 2 tan(lat).
    g, h = np.zeros((2, 14, 14)), np.zeros((2, 14, 14))
    g[:, 1, 0] = -30000.0
    only_coefficients([2000.0, 2005.0], g, h)
    lat, lon, _ = places
    # On the equator and at the poles geodetic and geocentric verticals agree.
    north, east, down = magnetic.field_nt([0.0, 90.0, -90.0], 33.0, 300.0, 2002.0)
    fall_equator = (6371.2 / 6678.137) ** 3
    fall_pole = (6371.2 / (6356.752314 + 300.0)) ** 3
    np.testing.assert_allclose(north, [30000.0 * fall_equator, 0, 0], atol=1e-6)
    np.testing.assert_allclose(
        down, [0, 60000.0 * fall_pole, -60000.0 * fall_pole], rtol=1e-9, atol=1e-6
    )
    assert np.abs(east).max() < 1e-9
    # Anywhere: the geocentric latitude and radius worked out the long way.
    flattening = 1.0 / 298.257223563
    geocentric = np.arctan((1.0 - flattening) ** 2 * np.tan(np.radians(lat)))
    b = 6378.137 * (1.0 - flattening)
    radius = 1.0 / np.sqrt(
        (np.cos(geocentric) / 6378.137) ** 2 + (np.sin(geocentric) / b) ** 2
    )
    strength = np.sqrt(sum(c**2 for c in magnetic.field_nt(lat, lon, 0.0, 2002.0)))
    expected = 30000.0 * (6371.2 / radius) ** 3
    expected *= np.sqrt(1.0 + 3.0 * np.sin(geocentric) ** 2)
    check = outside("Chapman and Bartels, dipole", "from memory")
    why = "rounding of the machine"
    what = "strength of a plain dipole's field, 2000 places [nT]"
    check.near(what, strength, expected, rel=1e-9, why=why)
    latitude = magnetic.geomagnetic_latitude_deg(lat, lon, 2002.0)
    np.testing.assert_allclose(latitude, lat, atol=1e-9)


def test_no_flux_leaves_a_closed_surface():
    # Gauss: the integral of the vertical component over the ellipsoid is zero.
    node, weight = np.polynomial.legendre.leggauss(60)
    lat = np.degrees(np.arcsin(node))[:, None]
    lon = np.arange(0.0, 360.0, 6.0)
    down = magnetic.field_nt(lat, lon, 0.0, 2026.5)[2]
    e2 = (2.0 - 1.0 / 298.257223563) / 298.257223563
    area = weight[:, None] / (1.0 - e2 * node[:, None] ** 2) ** 2
    assert abs((down * area).sum()) < 1e-9 * (np.abs(down) * area).sum()


def test_strength_lies_between_the_known_extremes(places):
    # The South Atlantic minimum is about 22,000 nT, the strongest field about
    # 67,000 nT near the southern dip pole, at the surface in the 2020s.
    lat, lon, _ = places
    strength = np.sqrt(sum(c**2 for c in magnetic.field_nt(lat, lon, 0.0, 2025.0)))
    assert 21_800 < strength.min() < 23_000
    assert 65_500 < strength.max() < 67_500
    gyro = magnetic.gyro_mhz(lat, lon, 0.0, 2025.0)
    np.testing.assert_allclose(gyro, 2.7992e-5 * strength, rtol=1e-12)


@pytest.mark.parametrize("pole", [90.0, -90.0])
def test_poles_are_ordinary_places(pole):
    # Along each meridian the field at the pole is the limit of the field before it.
    lon = np.arange(-180.0, 180.0, 30.0)
    at = np.stack(magnetic.field_nt(pole, lon, 300.0, 2026.0))
    near = np.stack(magnetic.field_nt(pole * (1 - 1e-8), lon, 300.0, 2026.0))
    np.testing.assert_allclose(at, near, atol=0.01)
    assert np.ptp(np.hypot(at[0], at[1])) < 1e-6
    dip = magnetic.dip_deg(pole, lon, 300.0, 2026.0)
    np.testing.assert_allclose(magnetic.modip_deg(pole, dip), pole, atol=1e-6)


def test_modip_is_the_definition_and_near_dip_at_the_magnetic_equator(places):
    lat, lon, _ = places
    dip = magnetic.dip_deg(lat, lon, 300.0, 2026.0)
    modip = magnetic.modip_deg(lat, dip)
    tangent = np.radians(dip) / np.sqrt(np.cos(np.radians(lat)))
    np.testing.assert_allclose(np.tan(np.radians(modip)), tangent, rtol=1e-9)
    assert (np.sign(modip) == np.sign(dip)).all()
    assert np.abs(modip).max() <= 90.0


def test_dip_latitude_inverts_the_dipole_law():
    lat = np.linspace(-90.0, 90.0, 37)
    dip = np.degrees(np.arctan2(2 * np.sin(np.radians(lat)), np.cos(np.radians(lat))))
    np.testing.assert_allclose(magnetic.dip_latitude_deg(dip), lat, atol=1e-9)


def test_geomagnetic_latitude_follows_the_year():
    lat = magnetic.geomagnetic_latitude_deg(40.0, -75.0, [1950.0, 2000.0, 2050.0])
    assert lat.shape == (3,)
    assert np.ptp(lat) > 0.5
    np.testing.assert_array_equal(
        lat[1], magnetic.geomagnetic_latitude_deg(40.0, -75.0, 2000.0)
    )


def test_declination_turns_compass_into_true():
    # Seattle lies east of zero declination, Boston west: signs a walker knows.
    east = magnetic.declination_deg(47.6, -122.3, 0.0, 2025.0)
    west = magnetic.declination_deg(42.4, -71.1, 0.0, 2025.0)
    assert 14.0 < east < 16.0
    assert -15.0 < west < -13.0


def test_dates_before_and_after_the_table():
    years = np.array([1900.0, 1950.0, 2025.0, 2030.0, 2040.0, 2050.0, 2080.0])
    north = magnetic.field_nt(50.0, 10.0, 0.0, years)[0]
    assert north[0] == north[1]
    rate = (north[3] - north[2]) / 5.0
    np.testing.assert_allclose(north[4], north[3] + 10.0 * rate, rtol=1e-9)
    np.testing.assert_allclose(north[5], north[3] + 20.0 * rate, rtol=1e-9)
    assert north[6] == north[5]


def test_continuing_the_rate_beats_holding_the_field(only_coefficients):
    # The rule for dates after 2030, tried from past epochs: 20 years later.
    years, g, h = magnetic._coefficients()
    lat, lon = np.meshgrid(np.arange(-80.0, 81.0, 10.0), np.arange(0.0, 360.0, 15.0))

    def dip_error(i, year):
        return magnetic.dip_deg(lat, lon, 300.0, year) - truth[i]

    truth, errors = {}, {}
    starts = [i for i in range(1, len(years)) if years[i] + 20.0 <= 2025.0]
    for i in starts:
        truth[i] = magnetic.dip_deg(lat, lon, 300.0, years[i] + 20.0)
    for i in starts:
        only_coefficients(years[i - 1 : i + 1], g[i - 1 : i + 1], h[i - 1 : i + 1])
        carried = dip_error(i, years[i] + 20.0)
        held = dip_error(i, years[i])
        errors[i] = np.sqrt([(carried**2).mean(), (held**2).mean()])
    carried, held = np.stack(list(errors.values())).T
    assert (carried < held).all()
    assert carried.max() < 1.0


def test_year_broadcasts_with_place():
    lat = np.array([[10.0], [50.0]])
    year = np.array([1960.0, 2000.0, 2026.0])
    both = np.stack(magnetic.field_nt(lat, 20.0, 100.0, year))
    assert both.shape == (3, 2, 3)
    for i in range(2):
        for k in range(3):
            alone = np.stack(magnetic.field_nt(lat[i, 0], 20.0, 100.0, year[k]))
            np.testing.assert_allclose(both[:, i, k], alone, rtol=1e-12)


def test_longitude_may_turn_freely():
    here = np.stack(magnetic.field_nt(-33.0, [151.0, -209.0, 511.0], 0.0, 2026.0))
    np.testing.assert_allclose(here[:, 1:], here[:, :1] * np.ones(2), rtol=1e-9)


@pytest.mark.parametrize(
    "arguments",
    [
        (91.0, 0.0, 0.0, 2026.0),
        (np.nan, 0.0, 0.0, 2026.0),
        (0.0, np.nan, 0.0, 2026.0),
        (0.0, 0.0, np.nan, 2026.0),
        (0.0, 0.0, 0.0, np.nan),
    ],
)
def test_what_cannot_be_is_nan(arguments):
    assert np.isnan(np.stack(magnetic.field_nt(*arguments))).all()
    good = magnetic.field_nt([0.0, arguments[0]], *arguments[1:])[0]
    assert np.isnan(good[1])


def test_decimal_year_knows_leap_years_and_not_a_time():
    times = np.array(["2024-07-02T00", "2023-07-02T12", "NaT"], dtype="datetime64[s]")
    np.testing.assert_allclose(
        magnetic.decimal_year_of(times), [2024.5, 2023.5, np.nan], rtol=1e-12
    )
