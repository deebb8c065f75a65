"""The solar index: its relations, its months, its scale, its range."""

import importlib.util
import warnings
from pathlib import Path

import numpy as np
import pytest
from astropy.table import Table

from geo import solar
from geo.errors import InputError
from geo.ionosphere import index
from geo.tables import read_table, table_root

BUILDER = Path(__file__).resolve().parents[2] / "docs" / "studies" / "build_solar.py"
MONTH = np.timedelta64(2629800, "s")


def at(*moments):
    return np.array(moments, dtype="datetime64[s]")


@pytest.fixture(scope="module")
def builder():
    spec = importlib.util.spec_from_file_location("build_solar", BUILDER)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="module")
def table():
    return read_table("solar_monthly")


def test_flux_of_round_sunspot_numbers(outside):
    """63.75 + 0.728 R + 8.9e-4 R^2, worked by hand for each (ITU-R P.1239)."""
    # 100: 63.75 + 72.8 + 8.9 = 145.45; 200: 63.75 + 145.6 + 35.6 = 244.95
    outside("ITU-R P.1239; as PyIRI has it", "quoted").near(
        "solar flux of six R12, 0 to 200 [sfu]",
        solar.flux_from_r12([0, 10, 50, 100, 150, 200]),
        [63.75, 71.119, 102.375, 145.45, 192.975, 244.95],
        abs=1e-9,
        why="rounding of the machine",
    )


def test_flux_relation_is_the_one_an_open_model_uses(outside):
    """The constants as PyIRI took them from the code of IRI-2020."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        from PyIRI.main_library import R12_2_F107

    spots = np.linspace(0.0, 200.0, 21)
    check = outside("PyIRI 0.1.7, R12_2_F107", "second library")
    ours, theirs = solar.flux_from_r12(spots), R12_2_F107(spots)
    what, why = "solar flux, R12 0 to 200 [sfu]", "rounding of the machine"
    check.near(what, ours, theirs, abs=1e-9, why=why)


def test_flux_relation_agrees_with_another_published_one(outside):
    """
    67 + 0.97 R + 17.6 (exp(-0.035 R) - 1), Holland and Vaughan (1984).

    As quoted in Living Reviews in Solar Physics. That one was fitted to other
    years; 6 sfu is the distance the two forms keep below R = 150.
    """
    spots = np.linspace(0.0, 150.0, 31)
    other = 67.0 + 0.97 * spots + 17.6 * np.expm1(-0.035 * spots)
    outside(
        "Holland and Vaughan (1984), Living Reviews in Solar Physics", "quoted"
    ).near(
        "solar flux by another relation, R12 0 to 150 [sfu]",
        solar.flux_from_r12(spots),
        other,
        abs=6.0,
        why="fitted to other years",
    )


def test_out_of_range_is_nan():
    assert np.isnan(solar.flux_from_r12(-1.0))


def test_astropy_reads_the_table_with_its_unit():
    frame = Table.read(table_root() / "solar_monthly.ecsv", format="ascii.ecsv")
    assert frame["f107_smoothed13"].unit.to("W / (Hz m2)") == pytest.approx(1e-22)
    row = frame[frame["month"] == "2025-12"][0]
    assert (row["f107_smoothed13"], row["r12_ccir"]) == (140.98, 74.77)


def test_months_follow_each_other(table):
    months = np.array(table.columns["month"], "M8[M]")
    assert (np.diff(months).astype(int) == 1).all()
    assert np.isfinite(table.numbers("r12_ccir")).all()


def test_old_scale_is_seven_tenths_of_the_new(table):
    np.testing.assert_allclose(
        table.numbers("r12_ccir"), 0.7 * table.numbers("r12_version2"), atol=0.0101
    )


@pytest.mark.parametrize(
    ("month", "old_scale"),
    # Smoothed maxima of cycles 20 to 24 as SILSO published them before July 2015
    # (from memory): the number the maps want.
    [
        ("1968-11", 110.6),
        ("1979-12", 164.5),
        ("1989-07", 158.5),
        ("2000-04", 120.8),
        ("2014-04", 81.9),
    ],
)
def test_scale_against_the_numbers_printed_before_2015(
    outside, table, month, old_scale
):
    """
    0.7 is a mean: single cycles are up to 8 % off it. Unscaled they are 40 % off.
    """
    row = table.columns["month"].index(month)
    outside("SILSO, before July 2015", "from memory").near(
        "R12, maxima of five cycles on the old scale",
        table.numbers("r12_ccir")[row],
        old_scale,
        rel=0.08,
        why="0.7 is a mean",
    )


@pytest.mark.parametrize(
    ("month", "version_2"),
    # Smoothed extremes of cycles 21 to 24 on the new scale, SILSO (from memory).
    [
        ("1979-12", 232.9),
        ("1989-11", 212.5),
        ("2001-11", 180.3),
        ("2008-12", 2.2),
        ("2014-04", 116.4),
    ],
)
def test_new_scale_against_published_extremes(outside, table, month, version_2):
    row = table.columns["month"].index(month)
    outside("SILSO, version 2", "from memory").near(
        "smoothed sunspot number, five extremes",
        table.numbers("r12_version2")[row],
        version_2,
        abs=0.3,
        why="revised a little since",
    )


def test_linear_between_mid_months_and_equal_there():
    first, second, half = solar.r12_at(
        at("2024-03-15T12:00", "2024-04-15T12:00", "2024-03-31T00:00")
    )[0]
    assert first != second
    assert half == pytest.approx((first + second) / 2.0, abs=1e-9)


def test_kinds_by_date():
    times = at(
        "2025-12-15T12:00", "2025-12-20", "2030-12-15", "2030-12-16", "2041-04-30"
    )
    _, kind = solar.r12_at(times)
    assert kind.tolist() == [
        "observed",
        "predicted",
        "predicted",
        "predicted, average cycle",
        "predicted, average cycle",
    ]


@pytest.mark.parametrize("moment", ["1958-03-31", "2041-05-01", "NaT"])
def test_months_not_in_the_table_are_refused(moment):
    with pytest.raises(InputError, match=r"1958-04 to 2041-04; give .* --r12"):
        solar.r12_at(at("2026-01-01", moment))


def test_the_range_is_nothing_where_the_number_was_observed():
    low, high = solar.r12_range(at("1990-01-01", "2025-12-15"))
    r12, _ = solar.r12_at(at("1990-01-01", "2025-12-15"))
    np.testing.assert_array_equal(low, r12)
    np.testing.assert_array_equal(high, r12)


def test_the_range_widens_with_lead_and_never_goes_below_nothing():
    times = at("2026-01-15") + np.arange(180) * MONTH
    low, high = solar.r12_range(times)
    r12, _ = solar.r12_at(times)
    assert (np.diff(high - r12) > 0.0).all()
    assert (low >= 0.0).all()
    assert (low <= r12).all()


def test_the_range_covers_how_far_forecasts_of_2025_missed():
    """Issued in 2025, ten months on they ran 14 sfu high, about 15 in R12."""
    then = at("2025-12-15T12")
    missed = index.r12_from_flux(then, 133.0) - index.r12_from_flux(then, 119.0)
    assert missed == pytest.approx(solar.forecast_half_width(10.0), rel=0.2)


def test_the_error_rule_is_that_of_the_study():
    """The rule stays within 2.5 of forecasts made afresh, to a lead of five years."""
    path = BUILDER.with_name("solar_forecast_error.py")
    spec = importlib.util.spec_from_file_location("solar_forecast_error", path)
    study = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(study)
    course = study.cycles()
    for lead in (1, 3, 6, 12, 24, 36, 60):
        low, high = np.quantile(study.errors(course, lead), [0.1, 0.9])
        assert solar.forecast_half_width(lead) == pytest.approx(
            (high - low) / 2.0, abs=2.5
        )


def test_builder_smooths_by_thirteen_months(builder):
    """Definition of R12: (n1/2 + n2 + ... + n12 + n13/2) / 12."""
    rng = np.random.default_rng(12)
    values = rng.uniform(0.0, 200.0, 13)
    by_hand = (values[0] / 2.0 + values[1:12].sum() + values[12] / 2.0) / 12.0
    assert builder.smooth13(values) == pytest.approx([by_hand])


def day_line(day, spots, flux):
    """One line of the source: only the columns that the builder reads are filled."""
    return f"{day}{spots:>{92 - len(day)}}{'':20}{flux:6.1f}"


def test_builder_reads_fixed_columns_and_fills_the_gap(builder, tmp_path):
    old, new = tmp_path / "old.txt", tmp_path / "new.txt"
    # The old file's forecast for a later month must not survive the new file.
    old.write_text(
        "BEGIN OBSERVED\n"
        + day_line("2020 01 01", 10, 70.0)
        + "\nEND OBSERVED\nBEGIN MONTHLY_PREDICTED\n"
        + day_line("2020 03 01", 99, 99.0)
        + "\nEND MONTHLY_PREDICTED\n"
    )
    new.write_text(
        "BEGIN OBSERVED\n"
        + day_line("2020 01 01", 20, 80.0)
        + "\n"
        + day_line("2020 01 02", 40, 90.0)
        + "\nEND OBSERVED\nBEGIN DAILY_PREDICTED\n"
        + day_line("2020 01 03", 500, 500.0)
        + "\nEND DAILY_PREDICTED\nBEGIN MONTHLY_PREDICTED\n"
        + day_line("2020 04 01", 60, 115.0)
        + "\nEND MONTHLY_PREDICTED\n"
    )
    months, (flux, spots), seen = builder.monthly(*builder.read_files([old, new]))
    assert months.astype(str).tolist() == ["2020-01", "2020-02", "2020-03", "2020-04"]
    np.testing.assert_allclose(spots, [30.0, 40.0, 50.0, 60.0])
    np.testing.assert_allclose(flux, [85.0, 95.0, 105.0, 115.0])
    assert seen.tolist() == [True, False, False, False]
