"""The sun's place against astropy and a printed formula; rise, set and their flags."""

import re
import subprocess
import sys
from importlib.resources import as_file, files

import numpy as np
import pytest

from geo.errors import InputError
from geo.sphere import distance_km
from geo.sun import (
    _timescale,
    horizon_deg,
    local_mean_hour,
    rise_and_set,
    subsolar_minutes,
    subsolar_point,
    sun_events,
    zenith_deg,
)

# A year of this decade by odd steps, and dates outside the Earth-rotation tables
# that come with the libraries.
HOURS_OF_2026 = np.datetime64("2026-01-01T00:30", "s") + np.arange(0, 8760, 211) * (
    np.timedelta64(3600, "s")
)
FAR_DATES = np.array(
    ["1950-02-12T05:00", "1976-07-02T18:00", "2031-05-10T06:00", "2049-11-01T21:00"],
    "M8[s]",
)


def degrees_apart(first, second):
    """Angle between two sets of points on the Earth. [deg]"""
    return np.degrees(distance_km(*first, *second) / 6371.0)


def astropy_subsolar(times):
    """Subsolar point by astropy: apparent place of date, apparent sidereal time."""
    from astropy.utils import iers

    with (
        iers.conf.set_temp("auto_download", False),
        iers.conf.set_temp("auto_max_age", None),
    ):
        from astropy.coordinates import TETE, get_sun
        from astropy.time import Time

        moment = Time(times, scale="utc")
        place = get_sun(moment).transform_to(TETE(obstime=moment))
        sidereal = moment.sidereal_time("apparent", "greenwich")
        return place.dec.deg, (place.ra - sidereal).wrap_at("180d").deg


def almanac_subsolar(times):
    """
    Subsolar point by the low-precision formula of the Astronomical Almanac.

    U.S. Naval Observatory and H.M. Nautical Almanac Office, The Astronomical
    Almanac, page C5, "Low precision formulas for the Sun" (0.01 deg from 1950 to
    2050), with the equation of time from the same page. Typed from memory.
    """
    days = (times - np.datetime64("2000-01-01T12:00", "s")) / np.timedelta64(1, "D")
    mean_lon = (280.460 + 0.9856474 * days) % 360.0
    anomaly = np.radians(357.528 + 0.9856003 * days)
    ecliptic = np.radians(
        mean_lon + 1.915 * np.sin(anomaly) + 0.020 * np.sin(2.0 * anomaly)
    )
    obliquity = np.radians(23.439 - 4.0e-7 * days)
    right_ascension = np.degrees(
        np.arctan2(np.cos(obliquity) * np.sin(ecliptic), np.cos(ecliptic))
    )
    declination = np.degrees(np.arcsin(np.sin(obliquity) * np.sin(ecliptic)))
    equation_deg = (mean_lon - right_ascension + 180.0) % 360.0 - 180.0
    noon_lon = 180.0 - 360.0 * ((days + 0.5) % 1.0) - equation_deg
    return declination, (noon_lon + 180.0) % 360.0 - 180.0


@pytest.mark.slow
@pytest.mark.filterwarnings("ignore:Tried to get polar motions")
@pytest.mark.filterwarnings("ignore:.*dubious year")
@pytest.mark.parametrize(
    ("times", "most_deg"),
    # In 1950 there was no UTC yet: one library counts 10 s from atomic time, the
    # other takes UT1, 13 s or 0.054 deg apart.
    [(HOURS_OF_2026, 0.01), (FAR_DATES[:1], 0.06), (FAR_DATES[1:], 0.01)],
    ids=["2026", "1950", "far"],
)
def test_subsolar_point_agrees_with_astropy(outside, times, most_deg):
    """0.01 deg is 2.4 s of the day or 1 km on the ground: far below what HF feels."""
    apart = degrees_apart(subsolar_point(times), astropy_subsolar(times))
    why = "2.4 s of the day" if most_deg < 0.02 else "no UTC yet in 1950"
    check = outside("astropy, apparent place and sidereal time", "second library")
    what = "point under the sun, apart [deg]"
    check.near(what, apart, 0.0, abs=most_deg, why=why)


@pytest.mark.parametrize(
    ("times", "most_deg"),
    [(HOURS_OF_2026, 0.02), (FAR_DATES[:1], 0.06), (FAR_DATES[1:], 0.02)],
    ids=["2026", "1950", "far"],
)
def test_subsolar_point_agrees_with_the_almanac_formula(outside, times, most_deg):
    apart = degrees_apart(subsolar_point(times), almanac_subsolar(times))
    why = "0.01 each way is claimed" if most_deg < 0.05 else "no UTC yet in 1950"
    check = outside("Astronomical Almanac, low-precision formula", "from memory")
    what = "point under the sun, apart [deg]"
    check.near(what, apart, 0.0, abs=most_deg, why=why)


def test_equinox_and_solstice_of_2026(outside):
    """
    Moments of the seasons of 2026, published to the minute by national almanacs.

    Equinox 2026-03-20 14:46 UTC, solstice 2026-06-21 08:25 UTC (from memory); the
    declination moves 0.4 deg a day in March.
    """
    lat, _ = subsolar_point(np.array(["2026-03-20T14:46", "2026-06-21T08:25"], "M8[s]"))
    check = outside("national almanacs, seasons of 2026", "from memory")
    what, why = "declination at the equinox [deg]", "moments to the minute"
    check.near(what, lat[0], 0.0, abs=0.0005, why=why)
    what, why = "declination at the solstice [deg]", "nutation"
    check.near(what, lat[1], 23.437, abs=0.002, why=why)


def test_the_sun_is_overhead_at_its_own_point():
    lat, lon = subsolar_point(HOURS_OF_2026)
    assert zenith_deg(lat, lon, lat, lon).max() < 1e-5
    assert zenith_deg(-lat, lon + 180.0, lat, lon).min() > 180.0 - 1e-5


@pytest.mark.parametrize("day", ["1950-02-12", "2028-02-28T17:20:30", "2026-10-31"])
def test_the_minutes_between_two_hours_lie_on_a_line(day):
    """Any minute worked out by itself is where the line between the hours has it."""
    start = np.datetime64(day, "s")
    lat, lon = subsolar_minutes(start)
    minute = np.array([0, 1, 29, 60, 755, 1411, 1440])
    own_lat, own_lon = subsolar_point(start + minute.astype("timedelta64[m]"))
    np.testing.assert_allclose(lat[minute], own_lat, rtol=0.0, atol=3e-6)
    turns = (lon[minute] - own_lon) / 360.0
    np.testing.assert_allclose(turns, np.rint(turns), rtol=0.0, atol=3e-6 / 360.0)


def test_the_same_times_have_the_same_sun():
    times = HOURS_OF_2026[:3].copy()
    before = subsolar_point(times)
    times += np.timedelta64(100, "D")
    after, again = subsolar_point(times), subsolar_point(HOURS_OF_2026[:3])
    assert np.abs(after[0] - before[0]).min() > 1.0
    for one, other in zip(before, again, strict=True):
        np.testing.assert_array_equal(one, other)
        assert not other.flags.writeable


def test_zenith_agrees_with_the_great_circle():
    """The zenith angle is the arc from the place to the subsolar point."""
    lat, lon = subsolar_point(HOURS_OF_2026[:5])
    places = np.array([-90.0, -42.9, 0.0, 51.5, 78.2])
    zenith = zenith_deg(places, 10.0, lat[:, None], lon[:, None])
    assert zenith.shape == (5, 5)
    arc = np.degrees(distance_km(places, 10.0, lat[:, None], lon[:, None]) / 6371.0)
    np.testing.assert_allclose(zenith, arc, atol=1e-6)


def test_zenith_of_nothing_is_nan():
    assert np.isnan(zenith_deg(np.nan, 0.0, 0.0, 0.0))


def test_local_mean_hour_wraps_both_ways():
    times = np.array(["2026-01-01T23:00", "2026-01-02T01:00"], "M8[s]")
    hours = local_mean_hour(np.array([30.0, -30.0]), times[:, None])
    np.testing.assert_allclose(hours, [[1.0, 21.0], [3.0, 23.0]])


@pytest.mark.parametrize("day", ["1899-07-28", "2053-10-09", "NaT"])
def test_a_date_outside_the_kernel_is_refused_in_one_line(day):
    with pytest.raises(InputError, match=r"sun's place") as refusal:
        subsolar_point(np.array([day], "M8[s]"))
    assert "\n" not in str(refusal.value)


def test_a_date_at_the_ends_of_the_kernel_works():
    ends = np.array(["1899-07-30", "2053-10-08T23:59:59"], "M8[s]")
    lat, _ = subsolar_point(ends)
    np.testing.assert_allclose(lat, almanac_subsolar(ends)[0], atol=0.01)


@pytest.mark.slow
def test_works_without_network_and_with_a_clock_in_2031(tmp_path):
    """A fresh interpreter whose sockets are shut and whose clock is years on."""
    script = tmp_path / "offline.py"
    script.write_text(
        "import socket, time, datetime, warnings\n"
        "warnings.simplefilter('error')\n"
        "def shut(*a, **k): raise OSError('network used')\n"
        "socket.socket.connect = shut\n"
        "socket.getaddrinfo = shut\n"
        "time.time = lambda: 1936000000.0  # 2031-05-08\n"
        "real = datetime.datetime\n"
        "class Late(real):\n"
        "    @classmethod\n"
        "    def now(cls, tz=None): return real.fromtimestamp(1936000000.0, tz)\n"
        "    @classmethod\n"
        "    def utcnow(cls): return real(2031, 5, 8)\n"
        "datetime.datetime = Late\n"
        "import numpy as np\n"
        "from geo.sun import subsolar_point, sun_events\n"
        "days = np.array(['2031-05-08T12', '1950-05-08T12'], 'M8[s]')\n"
        "lat, lon = subsolar_point(days)\n"
        "rise = sun_events(51.5, 0.0, np.datetime64('2031-05-08')).rise\n"
        "print(*lat.round(1), rise)\n"
    )
    root = str(files("geo").joinpath(".."))
    done = subprocess.run(
        [sys.executable, "-W", "error", str(script)],
        capture_output=True,
        text=True,
        check=False,
        env={"PYTHONPATH": root, "PATH": ""},
    )
    assert done.returncode == 0, done.stderr
    # Low-precision formula: 17.11 and 17.01 deg; London sees the sun soon after 4.
    assert done.stdout.startswith("17.1 17.0 2031-05-08T04:")


def skyfield_rise_and_set(lat, lon, start):
    """First rise and set in the day after a moment, by the search of skyfield."""
    from skyfield import almanac
    from skyfield.api import load, load_file, wgs84

    scale = load.timescale(builtin=True)
    year, month, day, hour = (int(part) for part in re.split("[-T]", start))
    limits = scale.utc(year, month, day, hour), scale.utc(year, month, day, hour + 24)
    found = []
    with as_file(files("skyfield_data") / "data" / "de421.bsp") as path:
        kernel = load_file(str(path))
        observer = kernel["earth"] + wgs84.latlon(lat, lon)
        for search in (almanac.find_risings, almanac.find_settings):
            moments, real = search(
                observer, kernel["sun"], *limits, horizon_degrees=-0.833
            )
            stamps = [m.utc_strftime("%Y-%m-%dT%H:%M:%S") for m in moments[real]]
            found.append(np.datetime64(stamps[0] if stamps else "NaT", "s"))
        kernel.close()
    return found


@pytest.mark.slow
def test_rise_and_set_agree_with_the_search_of_skyfield(outside):
    """Another way to look for them, with the observer placed on the ellipsoid."""
    places = [(-77.8, 166.7), (-65.7, -60.0), (-42.9, 147.3), (0.0, 180.0)]
    places += [(51.5, -0.1), (66.5, -180.0), (70.0, 20.0)]
    starts = ["1904-02-29T00", "1972-07-01T06", "2026-12-05T18", "2028-02-29T00"]
    apart = []
    for place in places:
        for start in starts:
            ours = rise_and_set(*place, np.datetime64(start))
            theirs = skyfield_rise_and_set(*place, start)
            assert [*np.isnat(ours)] == [*np.isnat(theirs)], (place, start)
            apart += [a - b for a, b in zip(ours, theirs, strict=True)]
    seconds = np.array([a / np.timedelta64(1, "s") for a in apart if not np.isnat(a)])
    assert 40 < seconds.size < len(apart)
    check = outside("skyfield, search for rise and set", "second library")
    what, why = "rise and set, apart [s]", "both rounded to the second"
    check.near(what, seconds, 0.0, abs=1.0, why=why)


@pytest.mark.parametrize("lat", [-60.0, 0.0, 52.0])
def test_rise_and_set_have_the_sun_on_the_horizon(lat):
    """By own zenith angles, 0.01 deg is about 4 s of the day or less."""
    for height_km in (0.0, 110.0, 300.0):
        events = sun_events(lat, 25.0, np.datetime64("2026-10-03"), height_km)
        sub_lat, sub_lon = subsolar_point(np.array([events.rise, events.set]))
        elevation = 90.0 - zenith_deg(lat, 25.0, sub_lat, sub_lon)
        np.testing.assert_allclose(elevation, horizon_deg(height_km), atol=0.01)


def test_equinox_at_the_equator(outside):
    """
    Day and night are equal but for refraction and the sun's radius.

    Each end of the day is earlier or later by 0.833 deg / 15 deg per hour = 3.3
    minutes; the equation of time on 20 March is -7.5 minutes (almanacs).
    """
    events = sun_events(0.0, 0.0, np.datetime64("2026-03-20"))
    half_day = (events.set - events.rise) / np.timedelta64(60, "s") / 2.0
    check = outside("almanacs, equinox at the equator", "from memory")
    what, why = "half of the day [min]", "rounded"
    check.near(what, half_day, 360.0 + 3.33, abs=0.2, why=why)
    noon = events.rise + (events.set - events.rise) / 2
    from_twelve = (noon - np.datetime64("2026-03-20T12:00")) / np.timedelta64(60, "s")
    what, why = "equation of time, 20 March [min]", "told to half a minute"
    check.near(what, from_twelve, 7.5, abs=0.3, why=why)


def test_sunrise_and_sunset_at_greenwich_on_the_longest_day(outside):
    """
    Greenwich, 21 June: 03:43 and 20:21 UTC in printed almanacs (from memory).

    The dates of the leap-year cycle move them by less than a minute.
    """
    events = sun_events(51.48, 0.0, np.datetime64("2026-06-21"))
    minute = np.timedelta64(60, "s")
    late = [
        (events.rise - np.datetime64("2026-06-21T03:43")) / minute,
        (events.set - np.datetime64("2026-06-21T20:21")) / minute,
    ]
    check = outside("printed almanacs, Greenwich, 21 June", "from memory")
    what = "sunrise after 03:43, sunset after 20:21 UTC [min]"
    check.near(what, late, 0.0, abs=1.5, why="whole minutes, leap-year cycle")


def test_twilights_are_in_order():
    events = sun_events(47.0, 8.0, np.datetime64("2026-12-05"))
    order = [
        events.nautical_dawn,
        events.civil_dawn,
        events.rise,
        events.set,
        events.civil_dusk,
        events.nautical_dusk,
    ]
    assert order == sorted(order)
    assert not events.always_up
    assert not events.always_down


def test_the_sun_rises_earlier_at_layer_height(outside):
    """
    At 300 km the horizon is 17.25 deg lower: at the equator 69 minutes.

    acos(6371 / 6671) = 17.25 deg by hand; at equinox the sun moves 15 deg an hour
    straight up.
    """
    start = np.datetime64("2026-03-20")
    ground, high = (sun_events(0.0, 0.0, start, h) for h in (0.0, 300.0))
    earlier = (ground.rise - high.rise) / np.timedelta64(60, "s")
    check = outside("by hand: acos(6371/6671) is 17.25 degrees", "worked apart")
    what, why = "sunrise at 300 km, earlier by [min]", "worked to the minute"
    check.near(what, earlier, 69.0, abs=0.2, why=why)
    assert high.set > ground.set


@pytest.mark.parametrize(
    ("day", "lat", "always_up", "always_down"),
    [
        ("2026-12-21", 75.0, False, True),
        ("2026-06-21", 75.0, True, False),
        ("2026-12-21", -75.0, True, False),
        ("2026-06-21", -90.0, False, True),
        ("2026-06-21", 60.0, False, False),
    ],
)
def test_polar_day_and_night_are_flagged(day, lat, always_up, always_down):
    events = sun_events(lat, 20.0, np.datetime64(day))
    assert (events.always_up, events.always_down) == (always_up, always_down)
    assert np.isnat(events.rise) == (always_up or always_down)
    assert np.isnat(events.set) == (always_up or always_down)


def test_a_layer_can_be_lit_in_polar_night():
    """75 N on 5 December: the sun, 7.4 deg down at noon, still reaches 300 km."""
    start = np.datetime64("2026-12-05")
    assert sun_events(75.0, 5.0, start).always_down
    assert not np.isnat(sun_events(75.0, 5.0, start, 300.0).rise)


def test_the_window_starts_where_asked():
    start = np.datetime64("2026-12-05T18:00", "s")
    events = sun_events(-42.9, 147.3, start)
    assert start <= events.rise < start + np.timedelta64(1, "D")
    assert start <= events.set < start + np.timedelta64(1, "D")


@pytest.mark.parametrize(("lat", "height"), [(91.0, 0.0), (np.nan, 0.0), (0.0, -1.0)])
def test_impossible_places_are_refused(lat, height):
    with pytest.raises(InputError, match=r"outside|below the ground"):
        sun_events(lat, 0.0, np.datetime64("2026-12-05"), height)


@pytest.mark.slow
def test_no_kernel_is_left_open():
    """Under errors for warnings an open kernel would fail; here it is looked for."""
    with as_file(files("skyfield_data") / "data" / "de421.bsp") as path:
        name = path.name
    code = (
        "import os, numpy as np\n"
        "from geo.sun import sun_events\n"
        "sun_events(10.0, 20.0, np.datetime64('2026-12-05'))\n"
        "held = [os.readlink(f'/proc/self/fd/{n}') for n in os.listdir('/proc/self/fd')"
        " if os.path.exists(f'/proc/self/fd/{n}')]\n"
        f"print(sum({name!r} in one for one in held))\n"
    )
    if not sys.platform.startswith("linux"):
        pytest.skip("looks into /proc")
    done = subprocess.run(
        [sys.executable, "-c", code],
        capture_output=True,
        text=True,
        check=True,
        env={"PYTHONPATH": str(files("geo").joinpath(".."))},
    )
    assert done.stdout.strip() == "0"


def test_the_time_scale_is_that_of_skyfield():
    """Made here of the same data, for skyfield's own way loads what nobody needs."""
    from skyfield.api import load

    theirs, ours = load.timescale(builtin=True), _timescale()
    years = np.arange(1900, 2053)
    one, other = (each.utc(years, 7, 1.25) for each in (theirs, ours))
    np.testing.assert_array_equal(one.tt, other.tt)
    np.testing.assert_array_equal(one.gast, other.gast)


def test_the_module_alone_loads_no_heavy_library():
    code = "import sys, geo.sun; print({'skyfield', 'astropy'} & set(sys.modules))"
    done = subprocess.run(
        [sys.executable, "-c", code],
        capture_output=True,
        text=True,
        check=True,
        env={"PYTHONPATH": str(files("geo").joinpath(".."))},
    )
    assert done.stdout.strip() == "set()"
