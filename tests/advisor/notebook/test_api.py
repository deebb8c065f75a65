"""Public names for notebooks: the same answers as the commands, units at the edge."""

from __future__ import annotations

import json
import os
import pkgutil
import re
import subprocess
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path

import astropy.units as u
import numpy as np
import pandas as pd
import pytest
from astropy.time import Time
from click.testing import CliRunner

import advisor
from advisor import (
    Advice,
    InputError,
    ask,
    example_station,
    make_question,
    make_setup,
    make_station,
    sky_hours,
    wire_figures,
    wire_pattern,
    wire_sweep,
)
from advisor.cli import main
from advisor.notebook.coerce import place_text, utc_time

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
        start = [] if command in ("why", "wire") else ["--date", START]
        words = [command, "--station", str(file), *start, *map(str, words), "--json"]
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


@pytest.mark.slow
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
    # Without a name: the best wire of each hour and band.
    assert whole.attrs["setup"] is None
    each = [advice.bands(setup=name) for name in ("low dipole", "upright")]
    most = np.fmax(*(frame.to_numpy() for frame in each))
    assert np.array_equal(whole.to_numpy(), most)
    assert advice.bands(setup=best).attrs["setup"] == best
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


@pytest.mark.slow
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


@pytest.mark.slow
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
    question = make_question(
        example_station(), "014", START, 8, bands=["20 m", "10 m"], r12=58
    )
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


@pytest.mark.slow
def test_sky_is_that_of_the_command(told, station):
    theirs = told("sky", "--hours", 2, "--to", "AU")
    frame = sky_hours(station, START, 2)
    path = ask(make_question(station, "AU", START, 2, bands="20 m")).path()
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


# --- refused -------------------------------------------------------------------------


def test_conditions_are_those_of_the_command(told, station):
    sounding = (8.1 * u.MHz, (-21.5, 165.25), Time("2026-12-05T07:00"))
    frame = sky_hours(station, START, 2, kp=6, soundings=[sounding])
    words = ["--kp", 6, "--fof2-now", "8.1@-21.5,165.25@2026-12-05T07:00Z"]
    theirs = told("sky", "--hours", 2, *words)
    assert_same(as_json(frame), theirs["results"])
    assert frame.attrs["assumed"] == theirs["inputs"]["assumed"]
    with pytest.raises(InputError, match="list of foF2 in MHz, the place and the time"):
        make_question(station, start=START, soundings=[(8.1, "KF07jo")])


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


@pytest.mark.slow
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
    with pytest.raises(InputError, match="'KE' is no question: make one with"):
        ask("KE")
    with pytest.raises(InputError, match="'dipole' is no set-up: make one with"):
        wire_pattern("dipole", 14.1)


# --- quick and offline ----------------------------------------------------------------

HEAVY = ("numpy", "pandas", "astropy", "matplotlib", "scipy", "skyfield", "click")


@pytest.mark.slow
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


@pytest.mark.slow
def test_the_example_of_the_page_runs():
    page = (ROOT / "docs" / "api.md").read_text(encoding="utf-8")
    (block,) = re.findall(r"^```python\n(.*?)^```", page, re.M | re.S)
    names = {}
    *statements, last = block.strip().splitlines()
    exec("\n".join(statements), names)
    frame = eval(last, names)
    assert frame.shape == (6, 2)
    assert frame.index.name == "utc"
