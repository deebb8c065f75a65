"""Public names for notebooks: the same answers as the commands, units at the edge."""

from __future__ import annotations

import json
import os
import pkgutil
import re
import socket
import subprocess
import sys
from datetime import UTC, date, datetime, timedelta, timezone
from pathlib import Path

import astropy.units as u
import numpy as np
import pandas as pd
import pytest
from astropy.coordinates import EarthLocation, Latitude, Longitude
from astropy.time import Time
from astropy.utils import iers
from astropy.utils.exceptions import AstropyWarning
from click.testing import CliRunner

import advisor
from advisor import (
    InputError,
    band_hours,
    bearings,
    best_bearings,
    chances,
    compare_setups,
    example_station,
    explain_figure,
    feed_by_frequency,
    gain_by_bearing,
    hop_angles,
    hop_modes,
    make_question,
    make_station,
    make_wire,
    path_hours,
    rank_setups,
    sky_hours,
    where_power_lands,
    wire_figures,
    wire_pattern,
)
from advisor.antenna.shapes.registry import SHAPES
from advisor.cli import main
from advisor.commands.common import start_time
from advisor.notebook.coerce import place_text, plain, unit_of, utc_time
from advisor.station.setup import shape_keys

ROOT = Path(__file__).resolve().parents[3]

STATION = """
place = "-21.5,165.25"
power_w = 20
noise = "quiet rural"
time_zone = "Pacific/Noumea"
to = ["AU"]

[[setups]]
name = "low dipole"
shape = "dipole"
height_m = 6.5
bearing_deg = 30
bands = ["20 m", "15 m"]

[[setups]]
name = "upright"
shape = "ground-mounted vertical"
bands = ["20 m"]
"""
START = "2026-12-05T08:00Z"


@pytest.fixture(scope="module")
def file(tmp_path_factory):
    path = tmp_path_factory.mktemp("api") / "own.toml"
    path.write_text(STATION, encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def station(file):
    return make_station(file=file)


@pytest.fixture(scope="module")
def cache():
    return os.environ["SKIPLOBE_CACHE_DIR"]


@pytest.fixture
def told(file):
    """What a command prints as JSON for the station of the file."""

    def run(command, *words):
        start = [] if command in ("why", "wire", "hops") else ["--date", START]
        own = [] if command == "hops" else ["--station", str(file)]
        words = [command, *own, *start, *map(str, words), "--json"]
        result = CliRunner().invoke(main, words, catch_exceptions=False)
        assert result.exit_code == 0, result.stderr
        return json.loads(result.stdout)

    return run


def as_json(frame, **index):
    """Rows of a frame as the JSON of a command has them."""
    rows = frame.reset_index(**index).to_dict("records")
    for row in rows:
        row.pop("index", None)
        for key, value in row.items():
            if isinstance(value, pd.Timestamp):
                assert value.utcoffset() == timedelta(0)
                row[key] = value.strftime("%Y-%m-%dT%H:%MZ")
            elif isinstance(value, float) and not np.isfinite(value):
                row[key] = None
    return rows


def assert_same(ours, theirs):
    """Equal keys, and values equal but for the last digits of floats."""
    assert len(ours) == len(theirs) > 0
    for one, other in zip(ours, theirs, strict=True):
        assert one.keys() == other.keys()
        for key, value in other.items():
            if isinstance(value, float):
                assert one[key] == pytest.approx(value, rel=1e-12), key
            else:
                assert one[key] == value, key


# --- the same answers as the commands ------------------------------------------------


def test_chances_are_those_of_tonight(told, station, cache):
    question = make_question(station, start=START, hours=3)
    theirs = told("tonight", "--hours", 3)["results"]
    frame = chances(question, cache_dir=cache)
    assert_same(as_json(frame), theirs)
    assert str(frame.index.tz) == "UTC"


@pytest.mark.slow
def test_band_hours_are_the_table_of_tonight(told, station, cache):
    question = make_question(station, start=START, hours=3)
    rows = told("tonight", "--hours", 3)["results"]
    best = rows[0]["setup"]
    whole = band_hours(question, cache_dir=cache)
    assert whole.attrs["setup"] == best
    assert band_hours(question, setup=best, cache_dir=cache).equals(whole)
    for name in ("low dipole", "upright"):
        frame = band_hours(question, setup=name, cache_dir=cache)
        assert frame.columns.to_list() == ["20 m", "15 m"]
        shown = {
            (f"{hour:%Y-%m-%dT%H:%MZ}", band): chance
            for hour, line in frame.iterrows()
            for band, chance in line.items()
            if not np.isnan(chance)
        }
        theirs = {
            (row["utc"], row["band"]): row["chance"]
            for row in rows
            if row["setup"] == name
        }
        assert shown == pytest.approx(theirs, rel=1e-12)
    assert frame["15 m"].isna().all()


@pytest.mark.slow
def test_set_ups_are_compared_as_by_compare(told, station, cache):
    question = make_question(station, start=START, hours=2)
    theirs = told("compare", "--hours", 2)
    assert_same(as_json(compare_setups(question, cache_dir=cache)), theirs["results"])
    frame = rank_setups(question, cache_dir=cache)
    flat = [
        {key: value for key, value in row.items() if key != "bands"}
        for row in theirs["ranking"]
    ]
    assert_same(as_json(frame), flat)
    assert frame.attrs["varied"] == theirs["varied"]


def test_bearings_are_those_of_aim(told, station, cache):
    question = make_question(station, ["AU", "NZ"], START, 2)
    theirs = told("aim", "--to", "AU", "--to", "NZ", "--hours", 2)
    assert_same(as_json(bearings(question, cache_dir=cache)), theirs["results"])
    frame = best_bearings(question, cache_dir=cache)
    assert frame.index.to_list() == list(theirs["bearing"])
    for name, told_of in theirs["bearing"].items():
        own = frame.loc[name]
        for key in ("best_deg", "chance", "declination_deg", "good_from_deg"):
            value = np.nan if told_of[key] is None else told_of[key]
            assert own[key] == pytest.approx(value, rel=1e-12, nan_ok=True), key
    assert not {"targets", "two"} & set(frame.columns)


@pytest.mark.parametrize("towards", [True, False])
def test_power_lands_as_by_reach(told, station, cache, towards):
    question = make_question(station, "AU" if towards else "within 2500 km", START, 2)
    words = ["--to", "AU"] if towards else []
    theirs = told("reach", "--hours", 2, *words)["results"]
    frame = where_power_lands(question, towards=towards, cache_dir=cache)
    assert_same(as_json(frame), theirs)


@pytest.mark.slow
def test_one_figure_is_that_of_why(told, station, cache):
    question = make_question(station, start=START, hours=1, bands="20 m")
    theirs = told("why", "--at", START, "--band", "20 m")
    assert_same(as_json(explain_figure(question, cache_dir=cache)), theirs["results"])
    frame = hop_modes(question, cache_dir=cache)
    assert set(frame["band"]) == {"20 m"}
    assert set(frame["setup"]) == {theirs["why"]["setup"]}
    modes = frame.drop(columns=["band", "setup"]).reset_index(drop=True)
    assert_same(as_json(modes), theirs["why"]["modes"])


@pytest.mark.slow
def test_hop_modes_are_told_for_every_hour_and_band(station, cache):
    question = make_question(station, start=START, hours=2, bands=["20 m", "15 m"])
    frame = hop_modes(question, cache_dir=cache)
    cells = frame.groupby([frame.index, "band"]).size()
    assert len(cells) == 4
    alone = make_question(station, start="2026-12-05T09:00Z", hours=1, bands="15m")
    there = frame[(frame["band"] == "15 m") & (frame.index.hour == 9)]
    pd.testing.assert_frame_equal(hop_modes(alone, cache_dir=cache), there)


def test_hops_and_sky_are_those_of_the_commands(told, station):
    heights, distances = [250.0, 300.0], [500.0, 4500.0]
    words = [*("--height-km", 250, "--height-km", 300)]
    words += [*("--distance-km", 500, "--distance-km", 4500)]
    assert_same(
        as_json(hop_angles(heights, distances)), told("hops", *words)["results"]
    )
    in_metres = hop_angles(heights * u.km, [5e5, 4.5e6] * u.m)
    pd.testing.assert_frame_equal(in_metres, hop_angles(heights, distances))

    theirs = told("sky", "--hours", 2, "--to", "AU")
    frame = sky_hours(station, START, 2)
    path = path_hours(make_question(station, "AU", START, 2))
    assert_same(as_json(frame.join(path)), theirs["results"])
    assert frame.attrs["sun"] == theirs["sun"]
    assert path.attrs["distance_km"] == theirs["path"]["distance_km"]
    assert path.attrs["circuit"] == theirs["path"]["circuit"]


def test_a_wire_is_that_of_the_command(told, station, cache):
    words = ["--set-up", "low dipole", "--band", "20 m", "--quick"]
    theirs = told("wire", *words, "--takeoff-deg", 12, "--takeoff-deg", 30)
    frame = wire_figures(
        station, "20m", takeoffs_deg=[30, 12] * u.deg, quick=True, cache_dir=cache
    )
    ours = as_json(frame)
    assert_same(ours, [{key: row[key] for key in ours[0]} for row in theirs["results"]])
    assert set(ours[0]) == set(theirs["results"][0])

    sweep = theirs["wires"][0]["bands"][0]["sweep"]
    feed = feed_by_frequency(station, "20 m", cache_dir=cache)
    assert_same(
        as_json(feed),
        [
            dict(zip(sweep, cells, strict=True))
            for cells in zip(*sweep.values(), strict=True)
        ],
    )
    gain = gain_by_bearing(station, "20 m", 12, cache_dir=cache)["gain_dbi"]
    assert gain.max() == pytest.approx(frame["gain_dbi_at_12_deg"].item(), abs=0.01)
    # A dipole that runs 030-210 has its lobes at 120 and 300.
    assert gain[120.0] == pytest.approx(gain.max(), abs=0.05)
    assert gain[30.0] < gain.max() - 6.0


def test_pattern_holds_the_power_that_its_efficiency_states(station, cache):
    """Mean gain over the upper half of the sphere, by a sum of our own."""
    frame = wire_pattern(station, "20 m", cache_dir=cache)
    height = np.radians(frame["elevation_deg"])
    area = np.cos(height) * np.radians(1.0) * np.radians(2.0)
    power = (10.0 ** (frame["gain_dbi"] / 10.0) * area).sum() / (4.0 * np.pi)
    assert power == pytest.approx(frame.attrs["efficiency"], rel=0.01)
    parts = (frame["vertical"] + frame["horizontal"]).to_numpy()
    gain = frame["gain_dbi"].to_numpy()
    strong = gain > -50.0
    assert parts[strong] == pytest.approx(10.0 ** (gain[strong] / 10.0))
    turned = (frame["bearing_deg"] - frame["azimuth_deg"]) % 360.0
    assert set(turned) == {30.0}


def test_a_wire_can_be_turned_and_a_free_one_has_no_bearing(station):
    east = gain_by_bearing(station, "20 m", 15, wire_deg=0.25 * u.cycle)
    assert east.index.name == "bearing_deg"
    assert east["gain_dbi"].idxmax() in (0.0, 180.0)
    free = make_station("KF07jo", setups=make_wire("dipole", height_m=8, bands="20 m"))
    frame = gain_by_bearing(free, "20 m", 15)
    assert frame.index.name == "azimuth_deg"
    assert frame["gain_dbi"].idxmax() in (90.0, 270.0)
    assert wire_pattern(free, "20 m")["bearing_deg"].isna().all()


# --- units, zones and places at the edge ----------------------------------------------


FORMS = (
    "text", "datetime", "pandas", "pandas, nanoseconds", "numpy", "numpy, nanoseconds",
    "astropy", "astropy tdb", "astropy tai, Julian date", "astropy ut1",
)  # fmt: skip


@pytest.fixture(scope="module")
def moments():
    """One moment in every form that is taken."""
    plus_eleven = timezone(timedelta(hours=11))
    utc = Time("2026-12-05T08:00:00", scale="utc")
    with (
        iers.conf.set_temp("auto_download", False),
        iers.conf.set_temp("auto_max_age", None),
    ):
        ut1 = utc.ut1
    return {
        "text": "2026-12-05T19:00+11:00",
        "datetime": datetime(2026, 12, 5, 19, tzinfo=plus_eleven),
        "pandas": pd.Timestamp("2026-12-05 19:00", tz="Pacific/Noumea"),
        "pandas, nanoseconds": pd.Timestamp("2026-12-05T08:00:00.000000001Z"),
        "numpy": np.datetime64("2026-12-05T08:00"),
        "numpy, nanoseconds": np.datetime64("2026-12-05T08:00:00.000000000"),
        "astropy": utc,
        "astropy tdb": utc.tdb,
        "astropy tai, Julian date": Time(utc.tai.jd, format="jd", scale="tai"),
        "astropy ut1": ut1,
    }


@pytest.mark.parametrize("form", FORMS)
def test_every_form_of_a_moment_asks_the_same(moments, form):
    start = moments[form]
    assert utc_time(start) == np.datetime64("2026-12-05T08:00:00")
    frame = sky_hours("-21.5,165.25", start, 0.125 * u.day, r12=58)
    pd.testing.assert_frame_equal(
        frame, sky_hours("-21.5,165.25", START, 3, r12=58), check_exact=True
    )


def test_a_date_starts_at_00_utc():
    assert utc_time(date(2026, 12, 5)) == np.datetime64("2026-12-05T00:00:00")
    assert utc_time("2026-12-05") == np.datetime64("2026-12-05T00:00:00")


@pytest.mark.parametrize(
    "text",
    ["2026-12-05", "2026-12-05T18:00Z", "2026-12-05T18:00:59+02:00", "20261205T18Z"],
)
def test_texts_are_read_as_on_the_command_line(text):
    assert utc_time(text) == start_time(text)


@pytest.mark.parametrize("text", ["2026-12-05T18:00", "2026-12-05 18", "tomorrow", ""])
def test_texts_are_refused_as_on_the_command_line(text):
    for read in (utc_time, start_time):
        with pytest.raises(InputError):
            read(text)


@pytest.mark.parametrize(
    "start",
    [
        "2026-12-05T18:00",
        datetime(2026, 12, 5, 18),
        pd.Timestamp("2026-12-05 18:00"),
        Time("2026-12-05T18:00", scale="local"),
    ],
    ids=["text", "datetime", "pandas", "astropy"],
)
def test_a_time_without_its_zone_is_refused(start):
    with pytest.raises(InputError, match=r"does not say in which zone: add Z"):
        make_question(example_station(), "KE", start)


@pytest.mark.parametrize(
    "start",
    [
        pd.NaT,
        np.datetime64("NaT"),
        Time(["2026-12-05", "2026-12-06"]),
        pd.Timedelta("1h"),
        1_780_000_000,
        3 * u.hour,
        datetime(1, 1, 1, tzinfo=timezone(timedelta(hours=5))),
    ],
    ids=str,
)
def test_what_is_no_moment_is_refused(start):
    with pytest.raises(InputError, match=r"start: .* is no date: give one moment"):
        make_question(example_station(), "KE", start)


def test_a_question_needs_its_start_and_whole_hours():
    with pytest.raises(InputError, match="no start is given"):
        make_question(example_station(), "KE")
    with pytest.raises(InputError, match="give a whole number, 1 to 72"):
        make_question(example_station(), "KE", START, 90 * u.min)
    with pytest.raises(InputError, match="ask for 1 to 72"):
        make_question(example_station(), "KE", START, 4 * u.day)
    with pytest.raises(InputError, match="no target: name one"):
        make_question(make_station("KF07jo"), start=START)


@pytest.mark.parametrize(
    "place",
    [
        "-21.5,165.25",
        (-21.5, 165.25),
        [np.float64(-21.5), np.float32(165.25)],
        (-21.5 * u.deg, 165.25 * u.deg),
        (Latitude("-21d30m"), Longitude("165d15m")),
        ((-21.5 * 60.0) * u.arcmin, 11.016666666667 * u.hourangle),
        EarthLocation.from_geodetic(165.25 * u.deg, -21.5 * u.deg, 400 * u.m),
    ],
    ids=["text", "pair", "numpy", "degrees", "angles", "minutes", "location"],
)
def test_every_form_of_a_place_is_the_same(place):
    assert make_station(place).place == "-21.5,165.25"
    question = make_question(make_station("KF07jo"), place, START, 1)
    assert question.targets[0].lat_deg == pytest.approx(-21.5)
    assert question.targets[0].lon_deg == pytest.approx(165.25)


@pytest.mark.parametrize(
    ("place", "words"),
    [
        ((1.0,), "place: .* give a locator or 'lat,lon'"),
        ((np.nan, 3.0), "give a locator"),
        ((1 * u.m, 2 * u.deg), r"latitude_deg came in m \(length\): give it in deg"),
        ((95.0, 200.0), "latitude 95 must be -90 to 90"),
        (7, "give a locator"),
    ],
)
def test_what_is_no_place_is_refused(place, words):
    with pytest.raises(InputError, match=words):
        make_station(place)


def test_a_target_list_may_mix_kinds():
    station = make_station("KF07jo", to=["KE", (-1.3, 36.8)])
    assert station.to == ("KE", "-1.3,36.8")
    question = make_question(station, ["ZW", (-17.8 * u.deg, 31.0 * u.deg)], START, 1)
    assert [target.kind for target in question.targets] == ["country", "point"]


def test_quantities_make_the_same_station_as_numbers():
    plain_one = make_station(
        (-21.5, 165.25),
        power_w=5.0,
        horizon_deg=4.5,
        far_end={"power_w": 50.0},
        setups=[
            make_wire("dipole", height_m=7.5, bearing_deg=45.0, wire_mm=2.0),
            make_wire("free wire", points_m=[[0, 0, 1], [0, 8, 6]], bands=["20 m"]),
        ],
    )
    with_units = make_station(
        (-21.5 * u.deg, 165.25 * u.deg),
        power_w=5000 * u.mW,
        horizon_deg=270 * u.arcmin,
        far_end={"power_w": 0.05 * u.kW},
        setups=[
            make_wire(
                "dipole",
                height_m=0.0075 * u.km,
                bearing_deg=0.125 * u.cycle,
                wire_mm=0.2 * u.cm,
            ),
            make_wire(
                "free wire",
                points_m=[[0, 0, 100], [0, 800, 600]] * u.cm,
                bands=["14.1 MHz"],
            ),
        ],
    )
    assert with_units == plain_one


def test_numpy_numbers_are_numbers():
    wire = make_wire("dipole", height_m=np.int64(7), line_m=np.float32(12))
    assert wire["height_m"] == 7.0
    assert wire["line_m"] == 12.0


def test_flux_may_have_its_unit():
    station = example_station()
    with_unit = make_question(station, "KE", START, 1, flux=1.2e6 * u.Jy)
    assert with_unit.solar.r12 == pytest.approx(
        make_question(station, "KE", START, 1, flux=120.0).solar.r12
    )


def test_conditions_are_those_of_the_command(told, station):
    sounding = (8.1 * u.MHz, (-21.5, 165.25), Time("2026-12-05T07:00"))
    frame = sky_hours(station, START, 2, kp=6, soundings=[sounding])
    words = ["--kp", 6, "--fof2-now", "8.1@-21.5,165.25@2026-12-05T07:00Z"]
    theirs = told("sky", "--hours", 2, *words)
    assert_same(as_json(frame), theirs["results"])
    assert frame.attrs["assumed"] == theirs["inputs"]["assumed"]
    with pytest.raises(InputError, match="list of foF2 in MHz, the place and the time"):
        make_question(station, start=START, soundings=[(8.1, "KF07jo")])


@pytest.mark.parametrize(
    ("values", "words"),
    [
        (
            {"height_m": 7 * u.s},
            r"height_m came in s \(time\): give it in m or another unit of that kind, "
            r"or as a plain number of m",
        ),
        ({"height_m": 7 * u.dimensionless_unscaled}, r"height_m came \(dimens"),
        ({"height_m": Time("2026-12-05")}, r"height_m: .* give a number of m or a"),
        ({"height_m": [7, 8] * u.m}, r"height_m: \[7.0, 8.0\] is not allowed"),
        ({"height_m": "7 m"}, "give a number from"),
        ({"height_m": True}, "height_m: True is not allowed"),
        ({"heigth_m": 7}, r"heigth_m: .*did you mean 'height_m'"),
        ({"height_m": 7000 * u.km}, "height_m: 7000000.0 is not allowed"),
    ],
)
def test_what_is_of_another_kind_is_refused(values, words):
    with pytest.raises(InputError, match=words) as caught:
        make_wire("dipole", **values)
    assert "\n" not in str(caught.value)


def test_a_station_needs_a_place():
    with pytest.raises(InputError, match="no place is given: name it first"):
        make_station(power_w=5)
    with pytest.raises(InputError, match=r"give a number .* W"):
        make_station("KF07jo", power_w=-5)


def test_a_power_in_other_units_is_refused():
    with pytest.raises(InputError, match=r"power_w came in V \(electrical potential\)"):
        make_station("KF07jo", power_w=5 * u.V)
    with pytest.raises(InputError, match=r"flux came in W \(power.*\): give it in sfu"):
        make_question(example_station(), "KE", START, flux=100 * u.W)


def test_every_key_with_a_unit_is_known_at_the_edge():
    """A key of a station file that ends in a unit takes a quantity of it."""
    keys = {
        name: key.about for shape in SHAPES for name, key in shape_keys(shape).items()
    }
    found = set()
    for name, about in keys.items():
        unit = about.rpartition("[")[2].rstrip("]")
        if unit in ("m", "deg", "ohm", "mm"):
            found.add(unit)
            assert u.Unit(unit_of(name)) == u.Unit(unit), name
            assert plain(2.0 * u.Unit(unit), name) == 2.0
    assert found >= {"m", "deg", "ohm"}


def test_what_is_of_the_wrong_type_is_refused(station):
    """Never a TypeError from inside: one line that says what to give."""
    for bands in (20, 20 * u.m, [20], [None]):
        with pytest.raises(InputError, match=r"bands: .* give a name as text"):
            make_question(station, "AU", START, 1, bands=bands)
    with pytest.raises(InputError, match="flare: 5 is not allowed"):
        make_question(station, "AU", START, 1, flare=5)
    with pytest.raises(InputError, match="kp: '5' is not allowed"):
        make_question(station, "AU", START, 1, kp="5")
    with pytest.raises(InputError, match="station: 'KF07jo' is none: make one"):
        make_question("KF07jo", "AU", START)
    with pytest.raises(InputError, match=r"soundings: 6\.8 is not allowed"):
        make_question(station, "AU", START, soundings=(6.8, "KF07jo", START))
    with pytest.raises(InputError, match="to: 5 is not allowed"):
        make_question(station, 5, START)
    with pytest.raises(InputError, match="astropy cannot turn it into UTC"):
        make_question(station, "AU", Time("2016-12-31T23:59:60"))


def test_answers_name_what_is_unknown(station):
    question = make_question(station, start=START, hours=1, bands="20 m")
    with pytest.raises(InputError, match=r"set-up 'low dipol' is unknown: .*did you"):
        band_hours(question, setup="low dipol")
    with pytest.raises(InputError, match="target 'Kenya' is unknown"):
        band_hours(question, target="Kenya")
    with pytest.raises(InputError, match="set-up 'x' is unknown"):
        wire_pattern(station, "20 m", setup="x")
    with pytest.raises(InputError, match="is not used on 40 m: it has 20 m, 15 m"):
        wire_pattern(station, "40 m")
    with pytest.raises(InputError, match="has no sweep"):
        feed_by_frequency(station, "20 m", setup="upright")
    with pytest.raises(InputError, match="take-off angle 91 is not 0 to 90"):
        gain_by_bearing(station, "20 m", 91)
    with pytest.raises(InputError, match="2 hours to explain"):
        explain_figure(make_question(station, start=START, hours=2, bands="20 m"))


# --- quick and offline ----------------------------------------------------------------

HEAVY = ("numpy", "pandas", "astropy", "matplotlib", "scipy", "skyfield", "click")


def test_import_loads_nothing_and_plain_values_do_not_load_astropy():
    code = (
        "import sys\n"
        "def heavy():\n"
        "    return sorted({n.split('.')[0] for n in sys.modules} & set(HEAVY))\n"
        f"HEAVY = {HEAVY!r}\n"
        "import advisor\n"
        "assert heavy() == [], heavy()\n"
        "assert 'typing' not in sys.modules and 'geo' not in sys.modules\n"
        "import advisor.cli\n"
        "assert heavy() == ['click'], heavy()\n"
        "from advisor import make_station, make_question, sky_hours\n"
        "station = make_station((-21.5, 165.25), power_w=5)\n"
        "make_question(station, 'AU', '2026-12-05', 1)\n"
        "sky_hours(station, '2026-12-05', 1)\n"
        "assert 'astropy' not in sys.modules and 'matplotlib' not in sys.modules\n"
    )
    result = subprocess.run(
        [sys.executable, "-c", code],
        cwd=ROOT,
        capture_output=True,
        text=True,
    )
    assert result.returncode == 0, result.stderr


def test_astropy_stays_offline_and_as_it_was_set(monkeypatch):
    """UT1 to UTC needs the Earth's rotation: the tables at hand serve at any age."""

    def shut(*_, **__):
        raise AssertionError("something reached for the network")

    for name in ("create_connection", "getaddrinfo"):
        monkeypatch.setattr(socket, name, shut)
    monkeypatch.setattr(socket.socket, "connect", shut)
    before = iers.conf.auto_download, iers.conf.auto_max_age
    monkeypatch.setitem(iers.IERS_Auto.open().meta, "predictive_mjd", 60000.0)
    moment = Time("2026-12-05T08:00:00.5", scale="ut1")
    # As astropy comes, a table so old is fetched anew.
    with pytest.raises(AstropyWarning, match="reached for the network"):
        _ = moment.utc
    assert utc_time(moment) == np.datetime64("2026-12-05T08:00:00")
    assert (iers.conf.auto_download, iers.conf.auto_max_age) == before


@pytest.mark.filterwarnings("ignore:.*dubious year")
def test_far_years_do_not_warn():
    later = Time("2045-12-05T08:00", scale="tdb")
    assert abs(utc_time(later) - np.datetime64("2045-12-05T08:00", "s")) < (
        np.timedelta64(2, "m")
    )


# --- the names ------------------------------------------------------------------------


def test_public_names_are_there_and_shadow_no_module():
    modules = {info.name for info in pkgutil.iter_modules(advisor.__path__)}
    assert sorted(advisor.__all__) == advisor.__all__
    assert not modules & set(advisor.__all__)
    for name in advisor.__all__:
        thing = getattr(advisor, name)
        assert thing.__doc__
        assert thing.__name__ == name
        assert name in dir(advisor)
        if name != "InputError":
            assert ">>> " in thing.__doc__, f"{name} has no example"
    with pytest.raises(AttributeError, match="has no attribute 'chance'"):
        _ = advisor.chance


def test_type_checkers_see_every_public_name():
    """The imports for type checkers are the names that are loaded when used."""
    text = (ROOT / "advisor" / "__init__.py").read_text(encoding="utf-8")
    block = text.split("if TYPE_CHECKING:", 1)[1].split("__all__", 1)[0]
    for name in advisor.__all__:
        assert block.count(f" {name}") >= 1, name


def test_the_example_is_the_demonstration():
    station = example_station()
    assert station.name.startswith("demo")
    assert utc_time(datetime(2026, 12, 5, tzinfo=UTC)) == utc_time("2026-12-05")
    assert place_text("KF07jo") == station.place


def test_the_page_lists_every_public_name_once():
    page = (ROOT / "docs" / "api.md").read_text(encoding="utf-8")
    listed = re.findall(r"^\| `(\w+)` \|", page, re.M)
    assert sorted([*listed, "InputError"]) == advisor.__all__
    assert "`InputError`" in page


def test_the_example_of_the_page_runs():
    page = (ROOT / "docs" / "api.md").read_text(encoding="utf-8")
    (block,) = re.findall(r"^```python\n(.*?)^```", page, re.M | re.S)
    names = {}
    *statements, last = block.strip().splitlines()
    exec("\n".join(statements), names)
    frame = eval(last, names)
    assert frame.shape == (6, 2)
    assert frame.index.name == "utc"
