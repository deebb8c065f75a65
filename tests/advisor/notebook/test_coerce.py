"""Units, zones and places at the edge: every form asks the same, others are refused."""

from __future__ import annotations

import socket
from datetime import date, datetime, timedelta, timezone

import astropy.units as u
import numpy as np
import pandas as pd
import pytest
from astropy.coordinates import EarthLocation, Latitude, Longitude
from astropy.time import Time
from astropy.utils import iers
from astropy.utils.exceptions import AstropyWarning

from advisor import (
    InputError,
    example_station,
    make_question,
    make_setup,
    make_station,
    sky_hours,
)
from advisor.antenna.shapes.registry import SHAPES
from advisor.commands.common import start_time
from advisor.notebook.coerce import plain, unit_of, utc_time, utc_times
from advisor.station.setup import shape_keys

START = "2026-12-05T08:00Z"


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


@pytest.mark.parametrize("text", ["2026-12-05T18:00", "2026-12-05 18", "soon", ""])
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
        np.datetime64("NaT", "s"),
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
    assert found >= {"m", "deg"}
    assert unit_of("choke_ohm") == "Ohm"


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
