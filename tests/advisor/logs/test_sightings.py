"""Logs and tables of spots: what is read, and what is refused row by row."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from advisor.logs.columns import rows_of
from advisor.logs.sightings import CONTACT, HEARD, HEARD_ME, WAYS, decoded_text, gather
from geo.errors import InputError
from geo.sphere import distance_km

ADIF = """made up
<ADIF_VER:5>3.1.4 <EOH>
<CALL:5>QQ1AB<QSO_DATE:8>20260302<TIME_ON:6>140210<BAND:3>20M<MODE:3>FT8
<GRIDSQUARE:6>KI88jr<MY_GRIDSQUARE:6>KF07jo<RST_SENT:3>-07<RST_RCVD:3>-15<TX_PWR:1>5
<COMMENT:16>a <EOR> in words<EOR>
<CALL:5>QQ2CD<QSO_DATE:8>20260302<TIME_ON:4>1430<FREQ:6>7.0100<MODE:2>CW
<RST_SENT:3>599<LAT:11>S033 18.000<LON:11>E026 30.000<eor>
"""
ARCHIVE = (
    "101,1772460120,QQ9ZZ,KF07jo,-12,14.0971,QQ1AB,KI88,23,0,4000,20,14,1.0,1\n"
    "102,1772460240,QQ9ZZ,KF07jo,-25,7.0401,QQ2CD,KG44,37,0,1500,40,7,1.0,1\n"
    "103,1772460240,QQ3EF,JO62,-20,7.0401,QQ9ZZ,KF07jo,37,0,8900,350,7,1.0,1\n"
)
PLAIN = """time;freq_mhz;where;way;snr_db;power_w;mode
2026-03-02T14:02Z;14.097;KI88;heard;-12;0.2;WSPR
2026-03-02 14:04;20m;-33.3,26.5;Not heard me;;20;SSB
"""


def read(text, name="file", call=""):
    """Sightings of one text."""
    return gather([(name, rows_of(decoded_text(text.encode()), name, call))])


def test_a_log_gives_contacts_with_reports_that_are_decibels():
    """Fields and their forms: ADIF 3.1, section III.B."""
    seen = read(ADIF)
    assert not seen.broken
    assert seen.times.astype(str).tolist() == [
        "2026-03-02T14:02:00",
        "2026-03-02T14:30:00",
    ]
    assert seen.band.tolist() == ["20 m", "40 m"]
    assert seen.emission.tolist() == ["FT8", "CW"]
    assert {WAYS[way] for way in seen.way} == {CONTACT}
    assert seen.hear_db.tolist()[0] == -7.0
    assert seen.heard_db.tolist()[0] == -15.0
    # A report by ear is no ratio.
    assert np.isnan(seen.hear_db[1])
    assert seen.far_lat_deg[1] == pytest.approx(-33.3)
    assert seen.far_lon_deg[1] == pytest.approx(26.5)
    assert seen.own_power_w[0] == 5.0


def test_one_record_that_is_broken_costs_no_other():
    """The same field twice makes the package give up on a whole file."""
    twice = ADIF.replace("<FREQ:6>7.0100", "<FREQ:6>7.0100<FREQ:6>7.0200")
    twice = twice.replace("a <EOR> in words", "nothing to say  ")
    seen = read(twice)
    assert seen.band.tolist() == ["20 m"]
    assert [(each.line, each.why) for each in seen.broken] == [
        (2, "not a record of fields")
    ]


def test_names_in_other_letters_do_not_shift_a_record():
    """Some programs count the bytes of a name, some its letters."""
    for count in (5, 6):
        log = f"<EOH><NAME:{count}>Jör g<QSO_DATE:8>20260302<TIME_ON:4>1430<BAND:3>20m"
        seen = read(f"{log}<GRIDSQUARE:4>KI88<MODE:2>CW<EOR>")
        assert seen.band.tolist() == ["20 m"]


def test_a_small_country_stands_for_a_place_and_a_large_one_does_not():
    """Kenya's capital lies some 200 km from the middle of the country."""
    for country, known in (("Kenya", True), ("Brazil", False), ("Nowhere", False)):
        field = f"<COUNTRY:{len(country)}>{country}"
        seen = read(ADIF.replace("<LAT:11>S033 18.000<LON:11>E026 30.000", field))
        assert seen.times.size == 1 + known
        if known:
            assert distance_km(
                seen.far_lat_deg[1], seen.far_lon_deg[1], -1.29, 36.82
            ) == pytest.approx(0.0, abs=400.0)


def test_the_archive_is_read_as_the_one_in_every_row_saw_it():
    seen = read(ARCHIVE)
    assert [WAYS[way] for way in seen.way] == [HEARD, HEARD, HEARD_ME]
    assert seen.hear_db[:2].tolist() == [-12.0, -25.0]
    assert seen.heard_db[2] == -20.0
    assert seen.far_power_w[0] == pytest.approx(0.2, abs=0.001)  # 23 dBm
    assert seen.own_power_w[2] == pytest.approx(5.0, abs=0.02)  # 37 dBm
    assert seen.times[0] == np.datetime64("2026-03-02T14:02")


def test_the_archive_asks_whose_it_is_only_if_it_must():
    others = ARCHIVE + ARCHIVE.splitlines()[0].replace("QQ9ZZ", "QQ4GH") + "\n"
    with pytest.raises(InputError, match="--call"):
        read(others)
    seen = read(others, call="qq9zz")
    assert seen.times.size == 3
    assert len(seen.broken) == 1


def test_no_call_sign_is_kept():
    """Neither in the rows nor in what is said of broken ones."""
    for text in (ADIF, ARCHIVE, ADIF.replace("20260302", "2026032x")):
        seen = read(text)
        kept = [
            str(each.tolist())
            for each in vars(seen).values()
            if hasattr(each, "tolist")
        ]
        assert "QQ" not in "".join(kept) + str(seen.broken)


def test_a_plain_table_names_failures():
    seen = read(PLAIN)
    assert seen.worked.tolist() == [True, False]
    assert [WAYS[way] for way in seen.way] == [HEARD, HEARD_ME]
    assert seen.far_power_w[0] == 0.2
    assert seen.own_power_w[1] == 20.0


@pytest.mark.parametrize(
    ("was", "instead", "why"),
    [
        ("2026-03-02T14:02Z", "noon", "is not like"),
        ("2026-03-02T14:02Z", "2026-02-30T14:02Z", "there is no time"),
        ("2026-03-02T14:02Z", "1820-02-03T14:02Z", "1820"),
        ("14.097", "11.9", "none of the bands"),
        ("14.097", "", "no band"),
        ("KI88", "ZZ99", "field"),
        ("KI88", "", "no place"),
        ("heard;-12", "asleep;-12", "is none of"),
        ("-12", "loud", "is no number"),
        ("0.2", "-1", "is no number"),
        ("WSPR", "WSPR;more", "columns instead of"),
    ],
)
def test_a_broken_row_is_counted_and_named(was, instead, why):
    seen = read(PLAIN.replace(was, instead, 1), "spots.csv")
    assert seen.times.size == 1
    (broken,) = seen.broken
    assert (broken.file, broken.line) == ("spots.csv", 2)
    assert why in broken.why


def test_what_is_no_log_is_refused_with_the_columns_wanted():
    with pytest.raises(InputError, match="time, band, where, way"):
        read("to be or not to be\n")


@settings(max_examples=20)
@given(
    st.sampled_from([ADIF, ARCHIVE, PLAIN]),
    st.lists(st.tuples(st.integers(0, 900), st.integers(0, 3), st.text(max_size=3))),
)
def test_no_damage_ends_the_reading(text, cuts):
    """Letters lost, put in and changed anywhere: rows, broken rows or a refusal."""
    for place, lost, put in cuts:
        text = text[:place] + put + text[place + lost :]
    try:
        seen = gather([("", rows_of(text, "", "QQ9ZZ"))])
    except InputError:
        return
    assert all(each.line > 0 for each in seen.broken)
