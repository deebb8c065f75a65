"""Bands and radio regions against the band plans and the Radio Regulations."""

from __future__ import annotations

import math
import subprocess
import sys

import pytest
from hypothesis import given
from hypothesis import strategies as st

from advisor.station.bands import (
    BAND_NAMES,
    band_by_name,
    bands_for_region,
    iaru_region_of,
)
from advisor.station.emissions import EMISSION_NAMES, emission_by_name
from advisor.station.segments import segment_words, segments
from geo.errors import InputError
from geo.tables import read_table, table_root


def test_names_are_those_of_the_table():
    assert tuple(dict.fromkeys(read_table("bands").columns["band"])) == BAND_NAMES


@pytest.mark.parametrize("region", [1, 2, 3])
def test_every_region_has_every_band_in_order_without_overlap(region):
    bands = bands_for_region(region)
    assert tuple(band.name for band in bands) == BAND_NAMES
    edges = [edge for band in bands for edge in (band.low_mhz, band.high_mhz)]
    assert edges == sorted(edges)
    for band in bands:
        assert band.low_mhz < band.planning_mhz < band.high_mhz
        assert math.floor(band.low_mhz) <= band.called_mhz <= band.low_mhz
        assert band.reference


# Edges in kHz. IARU Region 1 HF band plan of 16 October 2020 (160 to 40 m), IARU
# Region 2 band plan of 2008 (80 m), ITU Radio Regulations Article 5 (17 to 10 m).
@pytest.mark.parametrize(
    ("region", "name", "low_khz", "high_khz"),
    [
        (1, "160 m", 1810, 2000),
        (1, "80 m", 3500, 3800),
        (2, "80 m", 3500, 4000),
        (1, "60 m", 5351.5, 5366.5),
        (1, "40 m", 7000, 7200),
        (2, "40 m", 7000, 7300),
        (3, "40 m", 7000, 7200),
        (2, "17 m", 18068, 18168),
        (1, "15 m", 21000, 21450),
        (3, "12 m", 24890, 24990),
        (1, "10 m", 28000, 29700),
    ],
)
def test_edges_are_those_of_the_band_plans(outside, region, name, low_khz, high_khz):
    band = band_by_name(name, region)
    source, status = (
        ("IARU Region 1 band plan of 2020", "page at hand")
        if region == 1 and int(name.split()[0]) >= 40
        else ("ITU Radio Regulations Article 5; IARU band plans", "from memory")
    )
    if (region, name) == (2, "80 m"):
        source, status = "IARU Region 2 band plan of 2008", "page at hand"
    ours, edges = (band.low_mhz, band.high_mhz), (low_khz / 1000, high_khz / 1000)
    check = outside(source, status)
    check.equal("edges of amateur bands [MHz]", ours, edges)


def test_region_1_lies_inside_the_other_two():
    for region in (2, 3):
        for inner, outer in zip(
            bands_for_region(1), bands_for_region(region), strict=True
        ):
            assert outer.low_mhz <= inner.low_mhz < inner.high_mhz <= outer.high_mhz


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("20m", "20 m"),
        ("20 M", "20 m"),
        (" 20 ", "20 m"),
        ("14 MHz", "20 m"),
        ("14", "20 m"),
        ("14.06", "20 m"),
        ("14060 kHz", "20 m"),
        ("1.8", "160 m"),
        ("160", "160 m"),
        ("5 MHz", "60 m"),
        ("5.36", "60 m"),
        ("10m", "10 m"),
        ("10 MHz", "30 m"),
        ("10.1", "30 m"),
        ("18", "17 m"),
        ("24.9", "12 m"),
        ("6", "6 m"),
        ("50", "6 m"),
    ],
)
def test_a_band_is_found_by_wavelength_or_frequency(text, name):
    assert band_by_name(text).name == name


def test_a_frequency_is_judged_by_the_region():
    assert band_by_name("7.25", 2).name == "40 m"
    with pytest.raises(InputError, match=r"no amateur band '7\.25'"):
        band_by_name("7.25", 1)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("10", r"'10' could be 10 m or 30 m: write '10m' or '10MHz'"),
        ("11m", r"no amateur band '11m' \(the nearest is 10 m\): give one of 160 m"),
        ("14.4", r"no amateur band '14\.4' \(the nearest is 20 m\): give one of"),
        ("4000 kHz", r"no amateur band '4000 kHz' \(the nearest is 80 m\)"),
        ("0", r"no amateur band '0': give one of"),
        ("", r"no amateur band ''"),
        ("-20m", r"no amateur band"),
        ("20 miles", r"no amateur band"),
        ("nan", r"no amateur band"),
    ],
)
def test_what_is_no_band_is_refused(text, message):
    with pytest.raises(InputError, match=message):
        band_by_name(text)


def test_there_are_three_regions():
    with pytest.raises(InputError, match="no IARU region 4: it is 1, 2 or 3"):
        bands_for_region(4)


@pytest.mark.slow
@given(st.text(max_size=12))
def test_any_text_is_a_band_or_one_line_of_error(text):
    name, refusal = BAND_NAMES[0], "one line"
    try:
        name = band_by_name(text).name
    except InputError as error:
        refusal = str(error)
    assert name in BAND_NAMES
    assert len(refusal.splitlines()) == 1


# Membership by ITU Radio Regulations Article 5, Nos. 5.2 to 5.9: the countries named
# there, and for the islands the side of lines A, B and C they lie on.
@pytest.mark.parametrize(
    ("place", "lat_deg", "lon_deg", "region"),
    [
        ("Cape Town", -33.9, 18.4, 1),
        ("Reykjavik", 64.1, -21.9, 1),
        ("Ponta Delgada, Azores", 37.7, -25.7, 1),
        ("Praia, Cape Verde", 14.9, -23.5, 1),
        ("Ascension", -7.9, -14.4, 1),
        ("Port Louis, Mauritius", -20.2, 57.5, 1),
        ("Muscat", 23.6, 58.4, 1),
        ("Kuwait", 29.4, 48.0, 1),
        ("Baghdad", 33.3, 44.4, 1),
        ("Van, Turkey", 38.5, 43.4, 1),
        ("Yerevan", 40.2, 44.5, 1),
        ("Baku", 40.4, 49.9, 1),
        ("Dushanbe", 38.6, 68.8, 1),
        ("Almaty", 43.2, 76.9, 1),
        ("Ulaanbaatar", 47.9, 106.9, 1),
        ("Vladivostok", 43.1, 131.9, 1),
        ("Yuzhno-Sakhalinsk", 47.0, 142.7, 1),
        ("Petropavlovsk-Kamchatsky", 53.0, 158.7, 1),
        ("Anadyr", 64.7, 177.5, 1),
        ("Provideniya", 64.4, -173.2, 1),
        ("Nome", 64.5, -165.4, 2),
        ("Adak", 51.9, -176.6, 2),
        ("Honolulu", 21.3, -157.9, 2),
        ("Nuuk", 64.2, -51.7, 2),
        ("Natal, Brazil", -5.8, -35.2, 2),
        ("Stanley, Falkland Islands", -51.7, -57.9, 2),
        ("Hanga Roa, Easter Island", -27.1, -109.4, 2),
        ("Papeete", -17.5, -149.6, 3),
        ("Pago Pago", -14.3, -170.7, 3),
        ("Suva", -18.1, 178.4, 3),
        ("Wellington", -41.3, 174.8, 3),
        ("Guam", 13.4, 144.8, 3),
        ("Sapporo", 43.1, 141.4, 3),
        ("Pyongyang", 39.0, 125.8, 3),
        ("Harbin", 45.8, 126.5, 3),
        ("Urumqi", 43.8, 87.6, 3),
        ("Kabul", 34.5, 69.2, 3),
        ("Tehran", 35.7, 51.4, 3),
        ("Ahvaz, Iran", 31.3, 48.7, 3),
        ("Tabriz, Iran", 38.1, 46.3, 3),
        ("Karachi", 24.9, 67.0, 3),
        ("Diego Garcia", -7.3, 72.4, 3),
    ],
)
def test_places_lie_in_their_radio_region(outside, place, lat_deg, lon_deg, region):
    check = outside("ITU Radio Regulations Article 5", "from memory")
    ours = iaru_region_of(lat_deg, lon_deg)
    check.equal(f"radio region {region}, towns", ours, region, shown=place)


@pytest.mark.parametrize(
    ("ends", "west", "east"),
    [
        # lines A, B and C, each between two of its corners
        (((40, 40), (23.43, 60)), 1, 3),
        (((72, -10), (40, -50)), 2, 1),
        (((40, -50), (-10, -20)), 2, 1),
        (((50, 165), (10, -170)), 3, 2),
    ],
)
def test_the_lines_run_along_great_circles(ends, west, east):
    vectors = [
        (
            math.cos(math.radians(lat)) * math.cos(math.radians(lon)),
            math.cos(math.radians(lat)) * math.sin(math.radians(lon)),
            math.sin(math.radians(lat)),
        )
        for lat, lon in ends
    ]
    x, y, z = (sum(parts) for parts in zip(*vectors, strict=True))
    lat = math.degrees(math.atan2(z, math.hypot(x, y)))
    lon = math.degrees(math.atan2(y, x))
    if west == 1:  # the corner of line A inside Iran's outline does not show
        lat, lon = 24.0, 59.35
    assert iaru_region_of(lat, lon - 0.3) == west
    assert iaru_region_of(lat, lon + 0.3) == east


@given(st.floats(-89.9, 89.9), st.floats(-180.0, 180.0))
def test_every_place_lies_in_one_region_whichever_way_round(lat_deg, lon_deg):
    region = iaru_region_of(lat_deg, lon_deg)
    assert region in (1, 2, 3)
    if abs(lon_deg) == 180.0:
        assert region == iaru_region_of(lat_deg, -lon_deg)


@pytest.mark.parametrize("lat_deg", [-60.0, -20.0, 0.0, 30.0, 70.0])
def test_the_date_line_is_no_border(lat_deg):
    assert iaru_region_of(lat_deg, 180.0) == iaru_region_of(lat_deg, -180.0)


@pytest.mark.parametrize(
    ("table", "column", "unit"),
    [
        ("bands", "low_mhz", "MHz"),
        ("bands", "widest_hz", "Hz"),
        ("radio_regions", "latitude_deg", "deg"),
    ],
)
def test_tables_load_in_astropy_with_units(table, column, unit):
    from astropy.table import Table

    read = Table.read(table_root() / f"{table}.ecsv", format="ascii.ecsv")
    assert read[column].unit == unit
    assert read[column].dtype.kind == "f"
    assert len(read) == len(read_table(table))


def test_nothing_heavy_is_loaded():
    code = (
        "import sys, advisor.station.bands, advisor.station.emissions,"
        " advisor.station.cautions,"
        " advisor.station.station, advisor.station.file as s;"
        "s.starter_toml(); advisor.station.bands.band_by_name('20m');"
        "advisor.station.emissions.emission_by_name('CW');"
        "print(sorted({'numpy', 'pandas', 'scipy', 'astropy'} & set(sys.modules)))"
    )
    done = subprocess.run(
        [sys.executable, "-c", code],
        capture_output=True,
        text=True,
        check=True,
        cwd=table_root().parent,
    )
    assert done.stdout.strip() == "[]"


# Band plans.


@pytest.mark.parametrize(
    ("region", "sent", "band", "low_mhz", "high_mhz"),
    [
        # IARU Region 1 HF band plan, in force from 16 October 2020.
        (1, "CW", "40 m", 7.0, 7.04),
        (1, "CW", "80 m", 3.5, 3.57),
        (1, "RTTY", "160 m", 1.838, 1.84),
        # At most 200 Hz lower down, RTTY has 270.
        (1, "RTTY", "80 m", 3.58, 3.6),
        (1, "RTTY", "60 m", 5.354, 5.366),
        (1, "PSK31", "60 m", 5.3515, 5.354),
        # IARU Region 2 band plan (2008).
        (2, "SSB", "80 m", 3.625, 4.0),
        (2, "PSK31", "80 m", 3.58, 3.6),
        # By custom, from memory.
        (3, "FT8", "20 m", 14.074, 14.074),
    ],
)
def test_segments_are_those_of_the_band_plans(region, sent, band, low_mhz, high_mhz):
    (found,) = segments([band_by_name(band, region)], emission_by_name(sent))
    assert (found.low_mhz, found.high_mhz) == (low_mhz, high_mhz)


@pytest.mark.parametrize("region", [1, 2, 3])
def test_every_segment_lies_in_its_band_and_none_is_for_phone_on_30_m(region):
    bands = bands_for_region(region)
    for name in EMISSION_NAMES:
        sent = emission_by_name(name)
        found = {each.band: each for each in segments(bands, sent)}
        assert found
        for band in bands:
            if band.name in found:
                seen = found[band.name]
                assert band.low_mhz <= seen.low_mhz <= seen.high_mhz <= band.high_mhz
        if name in ("SSB", "AM", "FM"):
            assert "30 m" not in found
    morse = emission_by_name("CW")
    said = segment_words(segments(bands, morse), morse)
    assert "60 m: secondary" in said
    assert "licence" in said
