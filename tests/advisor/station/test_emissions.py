"""What each emission needs, and that no bandwidth is mixed up."""

from __future__ import annotations

import math
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from advisor.station.bands import band_by_name
from advisor.station.cautions import cautions
from advisor.station.emissions import (
    EMISSION_NAMES,
    Emission,
    custom_emission,
    emission_by_name,
)
from geo.errors import InputError
from geo.tables import read_table, table_root


def test_names_are_those_of_the_table():
    assert read_table("emissions").columns["emission"] == EMISSION_NAMES


@pytest.mark.parametrize("name", EMISSION_NAMES)
def test_both_columns_state_the_same_need(name):
    row = next(r for r in read_table("emissions").rows() if r["emission"] == name)
    emission = emission_by_name(name)
    assert emission.snr_db == pytest.approx(float(row["snr_db"]), abs=6e-4)
    assert emission.snr_in_db(2500.0) == pytest.approx(float(row["snr_2500_db"]))
    assert 0.0 < emission.duty_cycle <= 1.0
    assert emission.basis
    assert emission.duty_basis


# ITU Radio Regulations Appendix 1: three figures and a letter in place of the decimal
# point (H for Hz, K for kHz) are the bandwidth, then three symbols the class.
@pytest.mark.parametrize("name", EMISSION_NAMES)
def test_designators_say_the_same_bandwidth(name):
    emission = emission_by_name(name)
    form = re.fullmatch(r"(\w{4})([A-Z]\d[A-Z])", emission.designator)
    assert form
    figures = form[1]
    unit = 1.0 if "H" in figures else 1000.0
    assert float(re.sub("[HK]", ".", figures)) * unit == emission.bandwidth_hz


@pytest.mark.parametrize(
    ("typed", "name"),
    [("usb", "SSB"), ("LSB", "SSB"), (" morse ", "CW"), ("ft8", "FT8")],
)
def test_other_names_are_understood(typed, name):
    assert emission_by_name(typed).name == name


def test_an_unknown_emission_gets_near_names():
    with pytest.raises(
        InputError, match=r"no emission 'FT9' \(did you mean 'FT8'.*give one of SSB, CW"
    ):
        emission_by_name("FT9")


@given(st.floats(0.1, 1e5), st.floats(-60.0, 60.0), st.floats(0.1, 1e5))
def test_a_need_goes_from_one_bandwidth_to_another_and_back(own_hz, snr_db, other_hz):
    emission = custom_emission(own_hz, snr_db)
    assert emission.snr_db == pytest.approx(snr_db, abs=1e-9)
    moved = custom_emission(own_hz, snr_db).snr_in_db(other_hz)
    # ten times the bandwidth holds ten times the noise
    assert moved - snr_db == pytest.approx(10 * math.log10(own_hz / other_hz), abs=1e-9)


@pytest.mark.parametrize(
    ("bandwidth_hz", "snr_db", "duty_cycle", "what"),
    [
        (0.0, 0.0, 1.0, "bandwidth_hz 0 is not allowed: give 0.1 to 100000"),
        (math.nan, 0.0, 1.0, "bandwidth_hz nan"),
        (500.0, math.inf, 1.0, "snr_db inf"),
        (500.0, 0.0, 0.0, "duty_cycle 0"),
        (500.0, 0.0, 1.1, "duty_cycle 1.1"),
    ],
)
def test_an_impossible_emission_is_refused(bandwidth_hz, snr_db, duty_cycle, what):
    with pytest.raises(InputError, match=re.escape(what)):
        custom_emission(bandwidth_hz, snr_db, duty_cycle)


@pytest.mark.parametrize(
    ("emission", "band", "fits"),
    [
        ("SSB", "30 m", False),  # Morse and narrow digital only
        ("CW", "30 m", True),
        ("FT8", "30 m", True),
        ("SSB", "60 m", True),
        ("AM", "60 m", False),
        ("FM", "12 m", False),
        ("FM", "10 m", True),
        ("FM", "6 m", True),
        ("AM", "80 m", True),
    ],
)
def test_emissions_are_used_where_the_band_has_room(emission, band, fits):
    assert emission_by_name(emission).fits(band_by_name(band)) is fits


def test_emissions_cannot_be_altered():
    emission = emission_by_name("CW")
    assert isinstance(emission, Emission)
    with pytest.raises(AttributeError):
        emission.bandwidth_hz = 500.0


def test_cautions_cover_the_dangers_and_end_with_local_rules():
    topics = [caution.topic for caution in cautions()]
    for topic in (
        "power lines",
        "lightning",
        "falls",
        "RF burns",
        "exposure",
        "tripping",
        "sites",
    ):
        assert topic in topics
    last = cautions()[-1].text
    assert "local electrical codes" in last
    assert "licence" in last
    assert all(caution.text.endswith(".") for caution in cautions())


@pytest.mark.parametrize(
    ("table", "column", "unit"),
    [
        ("emissions", "bandwidth_hz", "Hz"),
        ("emissions", "snr_2500_db", "dB"),
        ("man_made_noise", "c_db", "dB"),
        ("man_made_noise", "location_decile_db", "dB"),
        ("cautions", "text", None),
    ],
)
def test_tables_load_in_astropy_with_units(table, column, unit):
    from astropy.table import Table

    read = Table.read(table_root() / f"{table}.ecsv", format="ascii.ecsv")
    assert read[column].unit == unit
    assert len(read) == len(read_table(table))
