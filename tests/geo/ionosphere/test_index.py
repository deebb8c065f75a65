"""The index of the maps: its months, its relations, what given numbers make of it."""

import importlib.util
import warnings
from pathlib import Path

import numpy as np
import pytest
from astropy.table import Table

from geo import solar
from geo.ionosphere import index
from geo.ionosphere.layers import layers_at
from geo.tables import read_table, table_root

ROOT = Path(__file__).resolve().parents[3]
SOURCE = ROOT.parent / "shared" / "data" / "ig12_monthly.csv"


def at(*moments):
    return np.array(moments, dtype="datetime64[s]")


def mid_months(*months):
    return np.array([f"{month}-15T12" for month in months], dtype="datetime64[s]")


def mid_year(year):
    return mid_months(*(f"{year}-{month:02d}" for month in range(1, 13)))


@pytest.fixture(scope="module")
def builder():
    path = ROOT / "docs" / "studies" / "build_ionospheric_index.py"
    spec = importlib.util.spec_from_file_location(path.stem, path)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_astropy_reads_the_table_and_the_spot_value():
    frame = Table.read(table_root() / "ionospheric_index.ecsv", format="ascii.ecsv")
    assert frame["ig12"][frame["month"] == "2019-06"].item() == -11.8
    months = np.array(frame["month"], dtype="datetime64[M]")
    assert (np.diff(months).astype(int) == 1).all()
    assert months[-1] == np.datetime64("2024-09")
    assert frame["ig12"].min() < -10.0


@pytest.mark.skipif(not SOURCE.is_file(), reason="the source is not here")
def test_the_table_is_what_the_builder_makes(builder):
    made = (table_root() / "ionospheric_index.ecsv").read_text(encoding="utf-8")
    assert builder.table_text(SOURCE) == made


def test_the_relations_are_those_fitted_to_the_tables(builder):
    """Worked out again from both tables: every figure of the three relations."""
    fits = builder.fits()
    one, spots, flux = 1.0, 80.0, 140.0
    both, rms = fits["both"]
    assert index.ig12_by_flux_and_r12(flux, spots) == pytest.approx(
        both @ [one, flux, flux**2, spots], abs=0.01
    )
    assert rms == pytest.approx(4.46, abs=0.01)
    spots_fit, rms = fits["spots"]
    assert index.ig12_by_r12(spots) == pytest.approx(
        spots_fit @ [one, spots, spots**2], abs=0.01
    )
    assert rms == pytest.approx(5.11, abs=0.01)
    flux_fit, rms = fits["flux"]
    assert index._flux_by_r12(spots) == pytest.approx(
        flux_fit @ [one, spots, spots**2], abs=0.01
    )
    assert rms == pytest.approx(6.37, abs=0.01)
    beyond = np.mean(abs(builder.left_over()) > index.FIT_DECILE_IG12)
    assert beyond == pytest.approx(0.2, abs=0.005)


def test_the_relation_is_near_the_one_of_an_open_model(outside):
    """IG12 = -12.349 + 1.46833 R12 - 2.67691e-3 R12^2, as the package PyIRI has it."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        from PyIRI.main_library import R12_2_IG12

    spots = np.linspace(0.0, 150.0, 31)
    outside("PyIRI 0.1.7, R12_2_IG12", "second library").near(
        "ionospheric index by R12, 0 to 150",
        index.ig12_by_r12(spots),
        R12_2_IG12(spots, version=1),
        abs=6.5,
        why="fitted to other years",
    )


@pytest.mark.parametrize(
    ("year", "apart"),
    [
        (2009, -9),
        (2012, 12),
        (2014, 19),
        (2017, -9),
        (2019, -14),
        (2022, 5),
        (2023, 20),
    ],
)
def test_index_less_sunspot_number_by_year(outside, year, apart):
    times = mid_year(year)
    spots, _ = solar.r12_at(times)
    outside("index file of the IRI, 26 April 2025", "page at hand").near(
        "IG12 less R12, means of seven years",
        (index.ig12_at(times, spots) - spots).mean(),
        apart,
        abs=0.6,
        why="printed to the unit",
    )


def test_a_month_of_the_table_has_its_own_index_and_a_later_one_the_relation():
    table = read_table("ionospheric_index")
    row = table.columns["month"].index("2023-07")
    times = mid_months("2023-07", "2026-03")
    spots, _ = solar.r12_at(times)
    known, later = index.ig12_at(times, spots)
    assert known == pytest.approx(table.numbers("ig12")[row])
    month = read_table("solar_monthly").columns["month"].index("2026-03")
    flux = read_table("solar_monthly").numbers("f107_smoothed13")[month]
    assert later == pytest.approx(index.ig12_by_flux_and_r12(flux, spots[1]))


def test_outside_the_table_the_relation_alone_holds():
    for time in ("1950-01-01", "2045-01-01"):
        assert index.ig12_at(at(time), 60.0) == pytest.approx([69.028], abs=0.001)


def test_the_index_grows_with_the_number_given_and_may_be_negative():
    then = at("2019-06-15")
    found = [index.ig12_at(then, r12).item() for r12 in (0.0, 10.0, 100.0, 250.0)]
    assert found[0] < -10.0
    assert (np.diff(found) > 0.0).all()
    assert index.ig12_at(then, 300.0) == index.ig12_at(then, 250.0)
    assert np.isnan(index.ig12_at(at("NaT"), 10.0)).all()


@pytest.mark.parametrize(
    "month", ["1965-03", "1989-06", "2008-12", "2024-06", "2026-12"]
)
def test_the_flux_of_the_table_gives_the_number_of_the_table(month):
    table, times = read_table("solar_monthly"), mid_months(month)
    flux = table.numbers("f107_smoothed13")[table.columns["month"].index(month)]
    r12 = index.r12_from_flux(times, flux)
    assert r12 == pytest.approx(solar.r12_at(times)[0], abs=1e-6)


def test_more_flux_is_more_spots_within_their_range():
    then = at("2024-06-15")
    found = [index.r12_from_flux(then, flux).item() for flux in (60, 100, 180, 300)]
    assert found == sorted(found)
    assert (found[0], found[-1] <= solar.MOST_R12) == (0.0, True)


def test_the_error_is_none_where_the_index_was_measured():
    widths = index.ig12_half_width(mid_months("2000-01", "2024-09", "2024-10"))
    assert widths.tolist() == [0.0, 0.0, index.FIT_DECILE_IG12]


def test_fof2_is_read_for_the_index_and_the_rest_for_the_number():
    """In June 2019 the index is 14 below R12: foF2 falls, M(3000)F2 does not move."""
    from geo.ionosphere import maps

    time = at("2019-06-15T12")
    sky = layers_at(40.0, 15.0, time, 2.5)
    points = maps.prepare_points(sky.lat_deg, sky.lon_deg, sky.modip_deg)
    assert sky.ig12 == pytest.approx([-11.9], abs=0.1)
    np.testing.assert_array_equal(sky.fof2_mhz, maps.fof2_mhz(points, time, sky.ig12))
    assert sky.fof2_mhz < maps.fof2_mhz(points, time, 2.5)
    np.testing.assert_array_equal(sky.m3000f2, maps.m3000f2(points, time, 2.5))
