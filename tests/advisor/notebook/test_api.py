"""Public names for notebooks: the same answers as the commands, units at the edge."""

from __future__ import annotations

import json
import os
import pkgutil
import re
import socket
import subprocess
import sys
from dataclasses import replace
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
    Advice,
    InputError,
    ask,
    example_station,
    links,
    make_question,
    make_setup,
    make_station,
    sky_hours,
    takeoff_angle_deg,
    wire_figures,
    wire_pattern,
    wire_sweep,
)
from advisor.antenna.shapes.registry import SHAPES
from advisor.cli import main
from advisor.commands.common import start_time
from advisor.notebook.coerce import place_text, plain, unit_of, utc_time, utc_times
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
    frame = ask(question, cache_dir=cache).chances()
    assert_same(as_json(frame), theirs)
    assert str(frame.index.tz) == "UTC"


@pytest.mark.slow
def test_band_hours_are_the_table_of_tonight(told, station, cache):
    question = make_question(station, start=START, hours=3)
    rows = told("tonight", "--hours", 3)["results"]
    best = rows[0]["setup"]
    advice = ask(question, cache_dir=cache)
    whole = advice.bands()
    assert whole.attrs["setup"] == best
    assert advice.bands(setup=best).equals(whole)
    for name in ("low dipole", "upright"):
        frame = advice.bands(setup=name)
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
    advice = ask(question, cache_dir=cache)
    assert_same(as_json(advice.yardsticks()), theirs["results"])
    frame = advice.setups()
    flat = [
        {key: value for key, value in row.items() if key != "bands"}
        for row in theirs["ranking"]
    ]
    assert_same(as_json(frame), flat)
    assert frame.attrs["varied"] == theirs["varied"]


def test_bearings_are_those_of_aim(told, station, cache):
    question = make_question(station, ["AU", "NZ"], START, 2)
    theirs = told("aim", "--to", "AU", "--to", "NZ", "--hours", 2)
    advice = ask(question, cache_dir=cache)
    assert_same(as_json(advice.turns()), theirs["results"])
    frame = advice.bearings()
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
    advice = ask(question, cache_dir=cache)
    frame = advice.reach(advice.record.targets[0].name if towards else None)
    assert_same(as_json(frame), theirs)


@pytest.mark.slow
def test_one_figure_is_that_of_why(told, station, cache):
    question = make_question(station, start=START, hours=1, bands="20 m")
    theirs = told("why", "--at", START, "--band", "20 m", "--set-up", "low dipole")
    advice = ask(question, cache_dir=cache)
    frame = advice.why("20m", START, setup="low dipole")
    assert_same(as_json(frame), theirs["results"])
    frame = advice.modes(setup="low dipole").drop(columns=["band", "setup"])
    assert_same(as_json(frame.reset_index(drop=True)), theirs["why"]["modes"])


@pytest.mark.slow
def test_the_figure_explained_is_the_one_in_the_answer(cache):
    """A free wire hangs as the whole answer turned it, not as that hour would."""
    question = make_question(example_station(), "014", START, 8, r12=58)
    advice = ask(question, cache_dir=cache)
    chances = advice.chances()
    for setup, band, hour in (
        ("linked dipole", "20 m", 8),
        ("linked dipole", "10 m", 15),
        ("20 m vertical", "20 m", 12),
    ):
        row = chances[(chances["setup"] == setup) & (chances["band"] == band)]
        row = row[row.index.hour == hour]
        why = advice.why(band, row.index[0], setup=setup)
        why = why.set_index(["section", "item"])["value"]
        assert why["question", "setup"] == setup
        # The magnetic field is that of the middle of the hours asked about.
        assert why["target", "chance"] == pytest.approx(row["chance"].item(), abs=1e-5)


def test_hops_and_sky_are_those_of_the_commands(told, station):
    words = [*("--height-km", 250, "--height-km", 300)]
    words += [*("--distance-km", 500, "--distance-km", 4500)]
    rows = told("hops", *words)["results"]
    assert len(rows) == 4
    for row in rows:
        angle = takeoff_angle_deg(row["distance_km"], row["height_km"])
        assert row["takeoff_deg"] == (pytest.approx(angle) if angle >= 0.0 else None)

    theirs = told("sky", "--hours", 2, "--to", "AU")
    frame = sky_hours(station, START, 2)
    path = ask(make_question(station, "AU", START, 2)).path()
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
    feed = wire_sweep(station, "20 m", cache_dir=cache)
    assert_same(
        as_json(feed),
        [
            dict(zip(sweep, cells, strict=True))
            for cells in zip(*sweep.values(), strict=True)
        ],
    )
    dipole = station.setups[0]
    pattern = wire_pattern(dipole, frame["frequency_mhz"].item(), cache_dir=cache)
    # A dipole that runs 030-210 has its lobes at 120 and 300.
    gain = pattern.gain_dbi(12.0, np.array([30.0, 120.0, 300.0]) - dipole.bearing_deg)
    assert gain[1:] == pytest.approx(frame["gain_dbi_at_12_deg"].item(), abs=0.05)
    assert gain[0] < gain[1] - 6.0


def test_pattern_holds_the_power_that_its_efficiency_states():
    """Mean gain over the upper half of the sphere, by a sum of our own."""
    pattern = wire_pattern(make_setup("dipole", height_m=650 * u.cm), 17 * u.MHz)
    height = np.radians(pattern.elevation_deg)
    area = np.cos(height)[:, None] * np.radians(1.0) * np.radians(2.0)
    total = pattern.vertical + pattern.horizontal
    power = (total * area).sum() / (4.0 * np.pi)
    assert power == pytest.approx(pattern.efficiency, rel=0.01)
    mean = pattern.mean_over_azimuth()
    assert mean.is_round
    assert mean.sky_power() == pytest.approx(pattern.sky_power(), rel=1e-12)


# --- links to any place on any frequency ----------------------------------------------

FAR = ["KI88", (-1.3, 36.8), "-33.9,151.2", "-21.6,165.3"]
"""A short and a long path, one by the method of long paths, one by the ground wave."""


def test_links_are_those_of_an_answer_to_each_place(station, cache):
    question = make_question(station, FAR, START, 4, bands="20 m", r12=58)
    chances = ask(question, cache_dir=cache).chances()
    chances = chances[chances["setup"] == "low dipole"]
    mhz = chances["frequency_mhz"].iloc[0]
    frame = links(station, FAR, question.times, mhz, r12=58, cache_dir=cache)
    assert len(frame) == len(chances) == 16
    assert (frame.index == chances.index).all()
    pairs = {"chance": "chance", "heard": "chance_heard", "heard_here": "chance_hear"}
    for ours, theirs in pairs.items():
        assert frame[ours].to_numpy() == pytest.approx(chances[theirs].to_numpy())
    hop = (frame["mode"] != "ground wave").to_numpy()
    assert set(frame["place"][~hop]) == {"-21.6, 165.3"}
    assert frame["takeoff_deg"][~hop].isna().all()
    # By their values: older pandas keeps moments in units that differ.
    modes = frame["mode"].to_numpy(), chances["mode"].to_numpy()
    assert (modes[0] == modes[1])[hop].all()
    angles = chances["takeoff_deg"][hop].to_numpy()
    assert frame["takeoff_deg"][hop].to_numpy() == pytest.approx(angles, nan_ok=True)
    # The margin is that of the direction with less to spare.
    worse = np.fmin(frame["snr_db"], frame["snr_here_db"]).to_numpy()
    need = worse - chances["margin_db"].to_numpy()
    assert np.nanmax(need) == pytest.approx(np.nanmin(need))
    assert np.nanmax(need) == pytest.approx(station.emission.snr_in_db())
    assert (frame["snr_db"] < frame["snr_here_db"]).any()


def test_links_hold_their_order_over_places_times_and_frequencies(station, cache):
    times = pd.DatetimeIndex(["2026-06-05T20Z", "2024-12-05T08Z"])
    given = {"cache_dir": cache, "wire_deg": 90 * u.deg}
    whole = links(station, FAR, times, [28.4, 5.36] * u.MHz, **given)
    assert whole.attrs["antenna"] == "low dipole, wire runs 090 true"
    alone = [
        links(station, place, time, mhz, **given)
        for place in FAR
        for time in times
        for mhz in (28.4, 5.36)
    ]
    pd.testing.assert_frame_equal(whole, pd.concat(alone))


def test_links_with_any_antenna(station, cache):
    """Gain is signal, dB for dB; a free wire is the mean over its bearings."""
    given = {"times": START, "frequencies_mhz": 21.2, "r12": 90, "cache_dir": cache}
    flat = links(station, "KI88", setup="isotropic", **given)
    assert flat.attrs["antenna"] == "isotropic without loss"
    wire = make_setup("dipole", height_m=12)
    turned = [
        links(station, "KI88", setup=wire, wire_deg=deg, **given)
        for deg in range(0, 360, 10)
    ]
    free = links(station, "KI88", setup=wire, **given)
    assert free.attrs["antenna"] == "dipole, mean over its bearings"
    snr = np.array([each["snr_db"].item() for each in turned])
    mean = 10.0 * np.log10((10.0 ** (snr / 10.0)).mean())
    assert free["snr_db"].item() == pytest.approx(mean, abs=0.1)
    hung = replace(station, setups=(wire.changed(bearing_deg=200.0, bands=["15 m"]),))
    chances = ask(make_question(hung, "KI88", START, 1, r12=90)).chances()
    more = turned[20]["snr_db"].item() - flat["snr_db"].item()
    assert more == pytest.approx(chances["gain_dbi"].item(), abs=0.3)
    loud = links(replace(station, power_w=200.0), "KI88", setup="isotropic", **given)
    assert loud["snr_db"].item() == pytest.approx(flat["snr_db"].item() + 10.0)
    assert loud["snr_here_db"].item() == pytest.approx(flat["snr_here_db"].item())


def test_links_refuse_what_cannot_be(station):
    for mhz in (1.4, 54.1, 7100.0, float("nan")):
        with pytest.raises(InputError, match=r"MHz is outside 1\.5 to 54"):
            links(station, "KI88", START, mhz)
    with pytest.raises(InputError, match="no time to work on"):
        links(station, "KI88", [], 14.1)
    with pytest.raises(InputError, match="set-up 'low dipol' is unknown"):
        links(station, "KI88", START, 14.1, setup="low dipol")
    with pytest.raises(InputError, match="does not say in which zone"):
        links(station, "KI88", ["2026-12-05T08:00"], 14.1)
    with pytest.raises(InputError, match=r"frequency_mhz came in m \(length"):
        links(station, "KI88", START, 20 * u.m)


@pytest.mark.parametrize(
    "times",
    [
        ["2026-12-05T19:00+11:00", np.datetime64("2026-12-06T08:00")],
        np.array(["2026-12-05T08:00", "2026-12-06T08:00"], dtype="datetime64[m]"),
        pd.date_range("2026-12-05 08:00", periods=2, tz="UTC"),
        Time(["2026-12-05T08:00", "2026-12-06T08:00"]),
    ],
    ids=["list", "numpy", "pandas", "astropy"],
)
def test_times_come_in_every_form(times):
    found = utc_times(times)
    assert found.tolist() == [datetime(2026, 12, 5, 8), datetime(2026, 12, 6, 8)]


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
            make_setup("dipole", height_m=7.5, bearing_deg=45.0, wire_mm=2.0),
            make_setup("free wire", points_m=[[0, 0, 1], [0, 8, 6]], bands=["20 m"]),
        ],
    )
    with_units = make_station(
        (-21.5 * u.deg, 165.25 * u.deg),
        power_w=5000 * u.mW,
        horizon_deg=270 * u.arcmin,
        far_end={"power_w": 0.05 * u.kW},
        setups=[
            make_setup(
                "dipole",
                height_m=0.0075 * u.km,
                bearing_deg=0.125 * u.cycle,
                wire_mm=0.2 * u.cm,
            ),
            make_setup(
                "free wire",
                points_m=[[0, 0, 100], [0, 800, 600]] * u.cm,
                bands=["14.1 MHz"],
            ),
        ],
    )
    assert with_units == plain_one


def test_numpy_numbers_are_numbers():
    wire = make_setup("dipole", height_m=np.int64(7), line_m=np.float32(12))
    assert dict(wire.dimensions)["height_m"] == 7.0
    assert wire.line_m == 12.0


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
        make_setup("dipole", **values)
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
    with pytest.raises(InputError, match="'KF07jo' is no station: make one"):
        make_question("KF07jo", "AU", START)
    with pytest.raises(InputError, match=r"soundings: 6\.8 is not allowed"):
        make_question(station, "AU", START, soundings=(6.8, "KF07jo", START))
    with pytest.raises(InputError, match="to: 5 is not allowed"):
        make_question(station, 5, START)
    with pytest.raises(InputError, match="astropy cannot turn it into UTC"):
        make_question(station, "AU", Time("2016-12-31T23:59:60"))


def test_answers_name_what_is_unknown(station):
    advice = ask(make_question(station, start=START, hours=1, bands="20 m"))
    with pytest.raises(InputError, match=r"set-up 'low dipol' is unknown: .*did you"):
        advice.bands(setup="low dipol")
    with pytest.raises(InputError, match="target 'Kenya' is unknown"):
        advice.bands(target="Kenya")
    with pytest.raises(InputError, match="band '40 m' is unknown: there is '20 m'"):
        advice.why("40 m", START)
    with pytest.raises(InputError, match="hour '2026-12-05T09Z' is unknown"):
        advice.why("20 m", "2026-12-05T09:00Z")
    with pytest.raises(InputError, match="set-up 'x' is unknown"):
        wire_sweep(station, "20 m", setup="x")
    with pytest.raises(InputError, match="is not used on 40 m: it has 20 m, 15 m"):
        wire_figures(station, "40 m")
    with pytest.raises(InputError, match="has no sweep"):
        wire_sweep(station, "20 m", setup="upright")
    with pytest.raises(InputError, match="'KE' is no question: make one with"):
        ask("KE")
    with pytest.raises(InputError, match="'dipole' is no set-up: make one with"):
        wire_pattern("dipole", 14.1)


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
    with iers.conf.set_temp("auto_download", False):
        at_hand = iers.IERS_Auto.open()
    monkeypatch.setitem(at_hand.meta, "predictive_mjd", 60000.0)
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
    made = {"InputError", "Pattern", "Question", "SetUp", "Station"}
    assert not modules & set(advisor.__all__)
    for name in advisor.__all__:
        thing = getattr(advisor, name)
        assert thing.__doc__
        assert thing.__name__ == name
        assert name in dir(advisor)
        if name not in made:
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
    read = re.findall(r"^\| `\.(\w+)\(", page, re.M)
    assert sorted(read) == sorted(
        name
        for name, thing in vars(Advice).items()
        if callable(thing) and not name.startswith("_")
    )


def test_the_example_of_the_page_runs():
    page = (ROOT / "docs" / "api.md").read_text(encoding="utf-8")
    (block,) = re.findall(r"^```python\n(.*?)^```", page, re.M | re.S)
    names = {}
    *statements, last = block.strip().splitlines()
    exec("\n".join(statements), names)
    frame = eval(last, names)
    assert frame.shape == (6, 2)
    assert frame.index.name == "utc"


@pytest.mark.parametrize("wire_deg", [np.nan, np.inf, -20.0, 400.0])
def test_a_bearing_that_is_none_is_refused(wire_deg):
    station = make_station("KF07jo", setups=make_setup("dipole", height_m=8))
    with pytest.raises(InputError, match="0 to 360 degrees"):
        links(station, "KI88", "2026-06-20T09:00Z", 14.1, wire_deg=wire_deg)


def test_what_is_heard_here_does_not_hang_on_my_power():
    """Where it is told at all: fainter routes than the method follows are not."""
    frames = []
    for power_w in (10.0, 1000.0):
        station = make_station(
            (48.1, 11.6), power_w=power_w, setups=make_setup("dipole", height_m=10)
        )
        places = [(10, 180), "KF07jo", (36, -6), (52, 13)]
        times = ["2026-06-20T11:00Z", "2026-06-20T23:00Z"]
        frames.append(links(station, places, times, [7.1, 28.3, 50.1], wire_deg=30.0))
    weak, strong = (frame["snr_here_db"].to_numpy() for frame in frames)
    both = np.isfinite(weak) & np.isfinite(strong)
    assert both.sum() > 5
    np.testing.assert_allclose(weak[both], strong[both], atol=0.05)
    louder = (frames[1]["snr_db"] - frames[0]["snr_db"]).to_numpy()[both]
    np.testing.assert_allclose(louder, 20.0, atol=0.05)
    assert not (np.concatenate([weak, strong]) < -60.0).any()
